"""Ranks: ties, gaps, and which end is best."""

from __future__ import annotations

import numpy as np
import pytest

from scoring.ranks import rank, significant
from scoring.reader.form import BEST, TIES

NAN = float("nan")
# Of 5, 7, 7, 9 with the highest best: 9 is first, the two 7 tie for second, 5 is fourth (third where ranks are dense).
WORKED = {"shared-best": [4, 2, 2, 1], "shared-mean": [4, 2.5, 2.5, 1], "dense": [3, 2, 2, 1]}


@pytest.mark.parametrize("ties", TIES)
def test_tied_values_share_a_place_as_the_rule_says(ties: str) -> None:
    """By hand; by the table of rules, so that a new one is tested."""
    assert rank([5, 7, 7, 9], "highest", ties).tolist() == WORKED[ties]


@pytest.mark.parametrize("ties", TIES)
def test_the_lowest_may_be_best(ties: str) -> None:
    """As of a golfer's score: the ranks of the values are those of their opposites."""
    assert rank([-5, -7, -7, -9], "lowest", ties).tolist() == WORKED[ties]


@pytest.mark.parametrize("best", BEST)
def test_a_missing_value_has_no_place_and_takes_none(best: str) -> None:
    """The others are ranked among themselves."""
    found = rank([NAN, 3.0, NAN, 3.0], best)
    np.testing.assert_array_equal(found, [NAN, 1, NAN, 1])


def test_nothing_to_rank_is_no_fault() -> None:
    """An empty table, or one without a value."""
    assert rank([]).tolist() == []
    assert np.isnan(rank([NAN, NAN])).all()


def test_the_dust_of_binary_arithmetic_separates_nobody() -> None:
    """0.1 + 0.2 and 0.3 tie, at any size; a difference in the 11th digit is one."""
    assert rank([0.1 + 0.2, 0.3]).tolist() == [1, 1]
    assert rank([(0.1 + 0.2) * 1e9, 0.3 * 1e9, 0.0, -0.0]).tolist() == [1, 1, 3, 3]
    assert rank([7.00000000001, 7.0]).tolist() == [1, 2]


@pytest.mark.parametrize(
    ("value", "kept"),
    [
        (0.0, 0.0),
        (123456789.0123456, 123456789.012),
        (-1.23456789012345e-5, -1.23456789012e-5),
        (9.9999999999996, 10.0),
    ],
)
def test_values_are_compared_in_twelve_significant_digits(value: float, kept: float) -> None:
    """Also negative ones, small ones and 0."""
    assert significant(np.array([value])) == pytest.approx([kept], rel=1e-15)


def test_ranks_agree_with_counting() -> None:
    """A second method: one more than the number of better values."""
    values = np.round(np.random.default_rng(3).uniform(1, 10, 300), 1)
    counted = 1 + (values[None, :] > values[:, None]).sum(axis=1)
    assert rank(values).tolist() == counted.tolist()
    assert rank(values, ties="shared-mean").sum() == pytest.approx(300 * 301 / 2)
