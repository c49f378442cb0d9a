"""Groups that cannot be told apart: what they promise, against the plain definition."""

from __future__ import annotations

from itertools import combinations
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from numpy.typing import NDArray

from analysis.rankings.rank_groups import (
    RankGroups,
    _largest_sets,
    _runs,
    _together,
    letters,
    rank_groups,
    run_from,
    settled,
)
from analysis.rankings.rank_sets import rank_sets

Flags = NDArray[np.bool_]


@st.composite
def tables(draw: st.DrawFn) -> tuple[NDArray[np.float64], Flags]:
    """Published ranks with ties, in any order of products, and any verdicts in either direction."""
    products = draw(st.integers(1, 9))
    values = draw(st.lists(st.integers(1, 6), min_size=products, max_size=products))
    ranks = np.array([1.0 + sum(other < value for other in values) for value in values])
    # Mostly told apart, so that there are several groups.
    told = draw(arrays(bool, (products, products), elements=st.sampled_from([True, True, True, True, False])))
    beats = np.triu(told, 1)
    backwards = draw(arrays(bool, (products, products), elements=st.sampled_from([False, False, False, True])))
    line = np.argsort(np.argsort(ranks, kind="stable"))
    agreed = line[:, None] < line
    return ranks, (beats | beats.T) & np.where(backwards | backwards.T, agreed.T, agreed)


def shares(groups: RankGroups, i: int, j: int) -> bool:
    """Whether two products have a letter in common."""
    return bool(set(groups.letters[i]) & set(groups.letters[j]))


@given(tables())
def test_two_products_share_a_letter_if_and_only_if_they_are_not_told_apart(
    table: tuple[NDArray[np.float64], Flags],
) -> None:
    """The whole promise of the letters."""
    ranks, beats = table
    groups = rank_groups(ranks, beats)
    assert groups.exact
    for i, j in combinations(range(len(ranks)), 2):
        assert shares(groups, i, j) == (not beats[i, j] and not beats[j, i])


@given(tables())
def test_groups_are_the_largest_sets_by_trying_all(table: tuple[NDArray[np.float64], Flags]) -> None:
    """Every set of products tried by the definition."""
    ranks, beats = table
    together = ~(beats | beats.T)
    sets = [
        set(chosen)
        for size in range(1, len(ranks) + 1)
        for chosen in combinations(range(len(ranks)), size)
        if all(together[i, j] for i, j in combinations(chosen, 2))
    ]
    largest = sorted(sorted(one) for one in sets if not any(one < other for other in sets))
    assert sorted(sorted(group.products) for group in rank_groups(ranks, beats).groups) == largest


@given(tables())
def test_groups_go_down_the_table(table: tuple[NDArray[np.float64], Flags]) -> None:
    """In published order, by their first line and then on; every product is in one; lines say where they stand."""
    ranks, beats = table
    groups = rank_groups(ranks, beats)
    lines = np.argsort(ranks, kind="stable").tolist()
    places = [[lines.index(product) for product in group.products] for group in groups.groups]
    assert places == sorted(places)
    assert all(own == sorted(own) for own in places)
    assert [(own[0] + 1, own[-1] + 1) for own in places] == [(group.first, group.last) for group in groups.groups]
    assert all(groups.letters)


def test_groups_too_many_to_print_are_runs() -> None:
    """Of 36 products in pairs, each told apart from its partner alone, 2 to the 18th sets hold together: one run is printed."""
    beats = np.zeros((36, 36), bool)
    for first in range(0, 36, 2):
        beats[first, first + 1] = True
    groups = rank_groups(np.arange(1.0, 37.0), beats)
    assert not groups.exact
    assert [(group.first, group.last) for group in groups.groups] == [(1, 36)]


def test_a_run_ends_before_the_first_that_is_told_apart_from_any_in_it() -> None:
    """Of five, the third is told apart from the fifth, the first from the third."""
    beats = told((0, 2), (2, 4), products=5)
    assert [run_from(beats, line) for line in range(5)] == [1, 3, 3, 4, 4]


def told(*pairs: tuple[int, int], products: int) -> Flags:
    """A matrix of verdicts from pairs better, worse."""
    beats = np.zeros((products, products), bool)
    for better, worse in pairs:
        beats[better, worse] = True
    return beats


CHAIN = [(0, 2), (0, 3), (1, 3)]
CASES: dict[str, tuple[list[float], Flags, list[tuple[str, int, int]], list[tuple[str, ...]]]] = {
    "neighbours overlap": (
        [1, 2, 3, 4], told(*CHAIN, products=4),
        [("a", 1, 2), ("b", 2, 3), ("c", 3, 4)], [("a",), ("a", "b"), ("b", "c"), ("c",)],
    ),
    "products in another order": (
        [4, 3, 2, 1], told((3, 1), (3, 0), (2, 0), products=4),
        [("a", 1, 2), ("b", 2, 3), ("c", 3, 4)], [("c",), ("b", "c"), ("a", "b"), ("a",)],
    ),
    "a far pair leaves out the one between": (
        [1, 2, 3], told((0, 1), (1, 2), products=3), [("a", 1, 3), ("b", 2, 2)], [("a",), ("b",), ("a",)],
    ),
    "of two ties one is told apart": (
        [1, 2, 2], told((0, 1), products=3), [("a", 1, 3), ("b", 2, 3)], [("a",), ("b",), ("a", "b")],
    ),
    "one badly known stands in both groups": (
        [1, 2, 3], told((0, 2), products=3), [("a", 1, 2), ("b", 2, 3)], [("a",), ("a", "b"), ("b",)],
    ),
    "ties told apart from the first": (
        [1, 2, 2], told((0, 1), (0, 2), products=3), [("a", 1, 1), ("b", 2, 3)], [("a",), ("b",), ("b",)],
    ),
    "a verdict against the published order": (
        [1, 2], told((1, 0), products=2), [("a", 1, 1), ("b", 2, 2)], [("a",), ("b",)],
    ),
    "one product": ([1], told(products=1), [("a", 1, 1)], [("a",)]),
    "no product": ([], told(products=0), [], []),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_groups_worked_by_hand(case: str) -> None:
    """Letters, first and last line, and each product's letters."""
    ranks, beats, groups, own = CASES[case]
    found = rank_groups(ranks, beats)
    assert [(group.letters, group.first, group.last) for group in found.groups] == groups
    assert list(found.letters) == own


@pytest.mark.parametrize(
    ("number", "label"),
    [(0, "a"), (25, "z"), (26, "aa"), (27, "ab"), (51, "az"), (52, "ba"), (701, "zz"), (702, "aaa")],
)
def test_labels_run_from_a_to_z_and_on_with_two_letters(number: int, label: str) -> None:
    """As the columns of a sheet are lettered."""
    assert letters(number) == label


def test_labels_are_all_different() -> None:
    """A thousand groups."""
    assert len({letters(number) for number in range(1000)}) == 1000


def test_the_settled_products_are_those_of_one_place() -> None:
    """Of 10, 5, 4.9, 0 and standard deviation 0.5 the first and the last are settled; in published order."""
    estimates = [0.0, 5.0, 4.9, 10.0]
    sets = rank_sets(estimates, np.full(4, 0.5), rng=np.random.default_rng(0))
    assert settled(sets, [4, 2, 3, 1]) == (3, 0)
    groups = rank_groups([4, 2, 3, 1], sets.beats)
    assert [group.products for group in groups.groups] == [(3,), (1, 2), (0,)]


def test_settled_needs_the_joint_sets() -> None:
    """Marginal sets do not hold at once."""
    sets = rank_sets([0.0, 5.0], [1.0, 1.0], rng=np.random.default_rng(0), family="marginal")
    with pytest.raises(ValueError, match="found family marginal, must be joint"):
        settled(sets, [2, 1])


def test_settled_needs_as_many_ranks_as_sets() -> None:
    """A rank for each product."""
    sets = rank_sets([0.0, 5.0], [1.0, 1.0], rng=np.random.default_rng(0))
    with pytest.raises(ValueError, match=r"ranks: found shape \(3,\), must be \(2,\)"):
        settled(sets, [2, 1, 3])


@pytest.mark.parametrize(
    ("ranks", "beats", "message"),
    [
        ([1, 2], np.zeros((3, 3), bool), r"beats: found shape \(3, 3\) for ranks of shape \(2,\)"),
        ([1, float("nan")], np.zeros((2, 2), bool), "ranks: none for product 1"),
    ],
    ids=["another number of products", "a missing rank"],
)
def test_what_does_not_fit_is_refused(ranks: Any, beats: Flags, message: str) -> None:
    """The message says what was found."""
    with pytest.raises(ValueError, match=message):
        rank_groups(ranks, beats)


def joined(count: int, *pairs: tuple[int, int]) -> Flags:
    """A graph by its edges."""
    found = np.eye(count, dtype=bool)
    for one, other in pairs:
        found[one, other] = found[other, one] = True
    return found


def test_the_largest_sets_of_small_graphs_by_hand() -> None:
    """None is within another, none comes twice, and one too many is none at all."""
    star = joined(6, (0, 2), (1, 3), (1, 4), (1, 5))  # after 0 with 2, 2 alone is no largest set
    assert sorted(_largest_sets(star, 4) or []) == [(0, 2), (1, 3), (1, 4), (1, 5)]
    assert _largest_sets(star, 3) is None
    ring = joined(5, (0, 1), (1, 2), (2, 3), (3, 4), (4, 0))
    assert sorted(_largest_sets(ring, 5) or []) == [(0, 1), (0, 4), (1, 2), (2, 3), (3, 4)]
    assert _largest_sets(joined(0), 5) == []
    assert _largest_sets(joined(2), 2) in ([(0,), (1,)], [(1,), (0,)])


@pytest.mark.parametrize(
    ("apart", "runs"),
    [
        ([], [(0, 1, 2, 3)]),
        ([(0, 2), (0, 3), (1, 3)], [(0, 1), (1, 2), (2, 3)]),
        ([(0, 1), (0, 2), (0, 3)], [(0,), (1, 2, 3)]),
        ([(0, 3), (1, 3), (2, 3)], [(0, 1, 2), (3,)]),
        ([(0, 1)], [(0, 1, 2, 3)]),  # 0 and 3 may stand together, and so may all between them
        ([(0, 1), (0, 3)], [(0, 1, 2), (1, 2, 3)]),
    ],
)
def test_runs_by_hand(apart: list[tuple[int, int]], runs: list[tuple[int, ...]]) -> None:
    """Of four lines; that a line should be told apart from itself changes nothing."""
    told = np.zeros((4, 4), bool)
    for pair in apart:
        told[pair] = True
    assert _runs(_together(told)) == runs
    assert _runs(_together(told | np.eye(4, dtype=bool))) == runs
