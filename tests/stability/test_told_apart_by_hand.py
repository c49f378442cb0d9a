"""What the bench can tell apart, from scatter that is given: sets, what is uneven, and from how far apart."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from analysis.stability.rank_groups import RankGroups
from analysis.stability.rank_sets import RankSets, rank_sets
from analysis.stability.told_apart import ToldApart, told_apart


def found(values: list[float], sd: list[float], means: list[float] | None = None, **options: int) -> ToldApart:
    """What scores and the scatter of their draws leave open; the highest is best."""
    published = np.argsort(np.argsort(-np.array(values))) + 1.0
    best = SimpleNamespace(ranks=SimpleNamespace(best=SimpleNamespace(value="highest")))
    quantities = SimpleNamespace(values=np.array(values), published=published, form=best)
    bench = SimpleNamespace(score_sd=np.array(sd), score_mean=np.array(means or values))
    return told_apart(quantities, bench, **{"seed": 0, "resamples": 1000, **options})  # type: ignore[arg-type]


@pytest.mark.parametrize("seed", [0, 7])
def test_the_sets_are_those_of_the_scores_and_their_scatter(seed: int) -> None:
    """To the last digit of the critical value: from the study's seed and a number of its own, with the resamples asked for."""
    values, sd = np.array([9.0, 7.0, 6.5]), np.array([0.2, 0.1, 0.3])
    expected = rank_sets(values, sd, rng=np.random.default_rng([seed, 5]), resamples=1000)
    assert found(values.tolist(), sd.tolist(), seed=seed).sets.critical == expected.critical


def test_a_scatter_below_a_millionth_of_a_millionth_of_a_score_is_none() -> None:
    """Against the score's own size, on either side of 0."""
    told = found([1e3, 1.0, 1e-3, -1e3], [0.9e-9, 1.1e-12, 1e-12, 1.1e-9])
    assert told.sd.tolist() == [0, 1.1e-12, 1e-12, 1.1e-9]


def test_a_score_is_uneven_where_its_draws_lie_off_it() -> None:
    """By more than a quarter of their standard deviation, either way; one without scatter is not."""
    told = found([9.0, 8.0, 7.0, 6.0, 5.0], [1.0, 1.0, 1.0, 1.0, 0.0], [9.26, 8.24, 6.74, 6.0, 4.0])
    assert told.uneven == (0, 2)


def told_of(sd: list[float], critical: float) -> ToldApart:
    """A finding of which only the scatter and the critical value matter."""
    none = np.zeros(len(sd), bool)
    sets = RankSets(0.95, "joint", none.astype(int), none.astype(int), np.diag(none), critical, none, none)
    return ToldApart(sets, RankGroups((), ()), (), np.array(sd), ())


def test_from_how_far_apart_neighbours_are_told_apart_by_hand() -> None:
    """Errors 5, 13 and 12 of three differences, then 5 and 4 of two: the median, at 2.5 standard errors or at 1.96."""
    assert told_of([3.0, 4.0, 153**0.5, 0.0], 2.5).distance() == pytest.approx(2.5 * 153**0.5)
    told = told_of([3.0, 4.0, 0.0], 2.5)
    assert told.distance() == pytest.approx(2.5 * 4.5)
    assert told.distance(alone=True) == pytest.approx(1.96 * 4.5)
    assert told_of([3.0, 4.0], 2.5).distance() == pytest.approx(12.5)
    assert np.isnan(told_of([3.0], 2.5).distance())
