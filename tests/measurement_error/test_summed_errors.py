"""The variance of a median or trimmed mean of few normal readings, against tables, draws, and the mean."""

from __future__ import annotations

import math

import numpy as np
import pytest

from scoring.measurement_error.summed_errors import MANY, variance_factor


@pytest.mark.parametrize(
    ("begin", "end", "count", "published"),
    [(1, 2, 3, 0.44867), (2, 3, 5, 0.28683), (3, 4, 7, 0.21045), (4, 5, 9, 0.16610), (1, 3, 4, 0.29820)],
)
def test_medians_of_few_are_those_of_the_tables(begin: int, end: int, count: int, published: float) -> None:
    """Variances of the median of normal samples: Sarhan and Greenberg, Contributions to Order Statistics, 1962, table 10C.1
    (from memory)."""
    assert variance_factor(begin, end, count) == pytest.approx(published, abs=6e-6)


@pytest.mark.parametrize(("begin", "end", "count"), [(1, 9, 10), (2, 5, 7), (3, 36, 39), (2, 48, 50)])
def test_trimmed_means_are_as_draws_have_them(begin: int, end: int, count: int) -> None:
    """100,000 samples: four standard errors of a variance are 1.8 %."""
    drawn = np.sort(np.random.default_rng(3).standard_normal((100_000, count)), axis=1)[:, begin:end].mean(axis=1)
    assert variance_factor(begin, end, count) == pytest.approx(drawn.var(), rel=0.018)


@pytest.mark.parametrize("count", [1, 2, 5, 60])
def test_a_mean_of_all_has_the_variance_of_a_mean(count: int) -> None:
    """1 / n."""
    assert variance_factor(0, count, count) == 1 / count


def test_many_repeats_go_over_into_the_asymptotic_variance() -> None:
    """pi / (2 n) for a median, within 2 % of the exact one where the exact one ends."""
    exact, far = variance_factor(MANY // 2 - 1, MANY // 2, MANY - 1), variance_factor(100, 101, 201)
    assert exact * (MANY - 1) == pytest.approx(math.pi / 2, rel=0.02)
    assert far * 201 == pytest.approx(math.pi / 2, rel=0.005)
