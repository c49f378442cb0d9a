"""Ranks: ties, gaps, and which end is best."""

from __future__ import annotations

import numpy as np
import pytest
from extent import examples
from hypothesis import example, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from scoring.form import BEST, TIES
from scoring.numbers import ranks
from scoring.numbers.ranks import rank, rank_rows, significant

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


#: Round figures, far and near, that a draw may move by a little dust or by a step that counts.
SIZES = (
    0.0,
    -0.0,
    1.0,
    -1.0,
    5.5,
    0.3,
    0.1 + 0.2,
    10.0,
    9.99999999999,
    0.999999999999,
    1e9,
    -1e9,
    1e-9,
    123456789.0123,
    1e-320,
    1e300,
    NAN,
)
DUST = (0.0, 1e-13, -1e-13, 4e-13, 1e-12, -1e-12, 3e-12, 4.9e-12, 5.1e-12, 1e-11, 4e-11, 1e-10)


@st.composite
def tables(draw: st.DrawFn) -> NDArray[np.float64]:
    """Up to five rows of up to forty values: with ties, near-ties and gaps."""
    rows, columns = draw(st.integers(1, 5)), draw(st.integers(0, 40))
    near = st.builds(lambda size, dust: size * (1 + dust), st.sampled_from(SIZES), st.sampled_from(DUST))
    value = st.one_of(near, near, st.floats(-1e12, 1e12), st.integers(1, 9).map(float))
    row = st.lists(value, min_size=columns, max_size=columns)
    return np.array(draw(st.lists(row, min_size=rows, max_size=rows)), float).reshape(rows, columns)


def row_by_row(values: NDArray[np.float64], best: str, ties: str) -> NDArray[np.float64]:
    """The slow way."""
    return np.array([rank(row, best, ties) for row in values]).reshape(values.shape)


@pytest.mark.parametrize("best", BEST)
@pytest.mark.parametrize("ties", TIES)
@settings(max_examples=examples(40))
@given(values=tables())
@example(values=np.array([[0.1 + 0.2, 0.3, NAN], [1.0, 1.0 + 1e-13, 1.0 - 1e-13]]))
@example(values=np.array([[NAN, NAN], [NAN, 1.0]]))
@example(values=np.array([[1.0, -np.inf, np.inf], [np.inf, np.inf, NAN]]))
@example(values=np.empty((3, 0)))
def test_many_rows_are_ranked_as_each_is_alone(values: NDArray[np.float64], best: str, ties: str) -> None:
    """By every tie rule, both ways round: also where near neighbours may be one value in 12 digits."""
    given_values = values.copy()
    np.testing.assert_array_equal(rank_rows(values, best, ties), row_by_row(values, best, ties))
    np.testing.assert_array_equal(values, given_values)


@pytest.mark.parametrize("ties", TIES)
@pytest.mark.parametrize("shape", [(2000, 60), (4, 20_000), (1, 40_000), (1500, 1)], ids=str)
def test_tables_larger_than_what_is_ranked_at_a_time(shape: tuple[int, int], ties: str) -> None:
    """Rows fall into several pieces; plain draws, draws on a grid of tenths, and gaps."""
    rng = np.random.default_rng(6)
    values = rng.uniform(1, 10, shape)
    values[1::3] = np.round(values[1::3], 1)
    values[rng.random(shape) < 0.02] = NAN
    some = rng.permutation(shape[0])[:60]
    np.testing.assert_array_equal(rank_rows(values, "highest", ties)[some], row_by_row(values[some], "highest", ties))


def test_a_chain_of_near_ties_is_cut_where_rounding_cuts_it() -> None:
    """Each is nearer to the next than 12 digits can tell, the first and the last are not: places are those of the figures.

    By hand: 1 + k * 4e-12 in 12 digits is 1.00000000000 for k of 0 and 1, 1.00000000001 for 2 and 3, then 1.00000000002.
    """
    chain = 1 + 4e-12 * np.arange(5)
    assert rank_rows(chain[np.newaxis], "lowest", "shared-best").tolist() == [[1, 1, 3, 3, 5]]
    assert rank_rows(chain[np.newaxis, ::-1], "highest", "shared-mean").tolist() == [[1, 2.5, 2.5, 4.5, 4.5]]


@pytest.fixture
def rounded_rows(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """How many rows were sorted and rounded whole, in each piece of the work."""
    seen: list[int] = []
    whole = ranks._rounded
    monkeypatch.setattr(ranks, "_rounded", lambda keys, ties: seen.append(len(keys)) or whole(keys, ties))
    return seen


# Rows of three and whether the quick way must leave them: tied, near in 12 digits, or with a value too large beside a gap.
ROWS = [
    ([3.0, 1.0, 2.0], False),
    ([2.0, 2.0, 5.0], True),
    ([2.0, 9.0, 2.0 + 1e-12], True),
    ([NAN, 7.0, NAN], False),
    ([NAN, NAN, NAN], False),
    ([NAN, 7.0, 6.0], False),
    ([NAN, 7.0, 7.0], True),
    ([NAN, 1e308, 6.0], True),
    ([4.0, -4.0, 0.0], False),
    ([2.0, 2.0 + 1e-9, 1.0], False),
]


@pytest.mark.parametrize("best", BEST)
def test_only_rows_with_near_neighbours_are_sorted_and_rounded_whole(best: str, rounded_rows: list[int]) -> None:
    """The quick way takes the rest, and its places are the same; the last of a row and the first of the next are no neighbours."""
    values = np.array([row for row, _ in ROWS])
    np.testing.assert_array_equal(rank_rows(values, best), row_by_row(values, best, "shared-best"))
    assert rounded_rows == [sum(near for _, near in ROWS)]
    finite = np.array([[1.0, 3.0], [3.0, 1.0], [1.0, 5.0], [5.0, 9.0], [9.0, 5.0]])
    assert rank_rows(finite, best).tolist() == row_by_row(finite, best, "shared-best").tolist()
    assert len(rounded_rows) == 1


def test_rows_too_wide_for_the_bits_of_a_column_are_sorted_and_rounded_whole(
    monkeypatch: pytest.MonkeyPatch, rounded_rows: list[int]
) -> None:
    """With two bits for the column, rows of four go the quick way, and rows of five do not."""
    monkeypatch.setattr(ranks, "MOST_BITS", 2)
    assert rank_rows(np.array([[4.0, 8.0, 6.0, 2.0]])).tolist() == [[3, 1, 2, 4]]
    assert rounded_rows == []
    assert rank_rows(np.array([[4.0, 8.0, 6.0, 2.0, 9.0]])).tolist() == [[4, 2, 3, 5, 1]]
    assert rounded_rows == [1]


@pytest.mark.parametrize("ties", TIES)
def test_ranks_of_rows_are_numbers_with_a_point_and_the_highest_is_best_by_itself(ties: str) -> None:
    """Whatever the rule, places are floats; without a word, the highest is best and ties share the best place."""
    values = np.array([[5.0, 7.0, 7.0, 9.0]])
    assert rank_rows(values, "highest", ties).tolist() == [WORKED[ties]]
    assert rank_rows(values, "highest", ties).dtype == float
    assert rank_rows(values).tolist() == [rank(values[0]).tolist()] == [WORKED["shared-best"]]


def test_pieces_of_the_work_are_as_large_as_the_cache_holds(monkeypatch: pytest.MonkeyPatch) -> None:
    """Room for 6 values and rows of 2: pieces of 3, 3 and 1 rows."""
    monkeypatch.setattr(ranks, "PIECE", 6)
    seen = []
    quick = ranks._Packing.rank
    monkeypatch.setattr(
        ranks._Packing, "rank", lambda self, keys, *others: seen.append(len(keys)) or quick(self, keys, *others)
    )
    assert rank_rows(np.tile([2.0, 1.0], (7, 1))).tolist() == [[1, 2]] * 7
    assert seen == [3, 3, 1]
