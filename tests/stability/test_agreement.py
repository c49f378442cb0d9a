"""Agreement of rankings: hand-worked cases, scipy and plain counting as second methods, absent products and ties."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.stats import kendalltau, rankdata, spearmanr

from analysis.rankings.agreement import (
    average_overlap,
    compared,
    depth_overlaps,
    kendall_tau_b,
    mean_shift,
    partial_kendall,
    spearman,
    top_overlap,
)
from analysis.rankings.rank_biased_overlap import (
    agreement_by_depth,
    overlap_of_lists,
    prefix_weight,
    rank_biased_overlap,
    tied_groups,
)

Array = NDArray[np.float64]
NAN = float("nan")
MEASURES: dict[str, Callable[[Any, Any], Array]] = {
    "tau": kendall_tau_b,
    "partial": partial_kendall,
    "spearman": spearman,
    "shift": mean_shift,
    "top": lambda reference, ranks: top_overlap(reference, ranks, 3),
    "average": lambda reference, ranks: average_overlap(reference, ranks, 3),
    "rank-biased": rank_biased_overlap,
}
#: Fewer than these products leave nothing to measure.
NEEDED = {"tau": 2, "partial": 0, "spearman": 2, "shift": 1, "top": 1, "average": 1, "rank-biased": 1}


def random_ranks(seed: int, draws: int, products: int, absent: float = 0.0) -> tuple[Array, Array]:
    """A reference and draws with many ties, as shared-mean ranks, a share of them absent."""
    rng = np.random.default_rng(seed)
    values = rng.integers(0, products, (draws + 1, products))
    ranks = rankdata(values, axis=1)
    ranks[rng.uniform(size=ranks.shape) < absent] = np.nan
    return ranks[0], ranks[1:]


@pytest.mark.parametrize("absent", [0.0, 0.2], ids=["all present", "some absent"])
@pytest.mark.parametrize("products", [5, 40])
@pytest.mark.parametrize(
    ("measure", "scipy"), [(kendall_tau_b, kendalltau), (spearman, spearmanr)], ids=["tau-b", "spearman"]
)
def test_correlations_are_those_of_scipy(
    measure: Callable[..., Array], scipy: Any, products: int, absent: float
) -> None:
    """Over the products in both, which are handed to scipy alone; NaN where one of the two is all tied."""
    reference, ranks = random_ranks(1, 60, products, absent)
    found = measure(reference, ranks)
    for value, draw in zip(found, ranks, strict=True):
        both = ~np.isnan(reference) & ~np.isnan(draw)
        if len(set(reference[both])) < 2 or len(set(draw[both])) < 2:
            assert np.isnan(value)
        else:
            assert value == pytest.approx(scipy(reference[both], draw[both]).statistic, abs=1e-12)


def test_many_products_and_draws_go_in_blocks() -> None:
    """600 draws of 300 products, two of them held against scipy; the first and the last block."""
    reference, ranks = random_ranks(2, 600, 300)
    found = kendall_tau_b(reference, ranks)
    for draw in (0, 599):
        assert found[draw] == pytest.approx(kendalltau(reference, ranks[draw]).statistic, abs=1e-12)
        assert spearman(reference, ranks)[draw] == pytest.approx(spearmanr(reference, ranks[draw]).statistic, abs=1e-12)


@pytest.mark.parametrize("p", [0.0, 0.5, 1.0])
def test_the_partial_distance_is_counted_pair_by_pair(p: float) -> None:
    """Opposite 1, tied in one p, tied in both or absent 0."""
    reference, ranks = random_ranks(3, 30, 12, 0.1)
    expected = np.zeros(30)
    for i, j in itertools.combinations(range(12), 2):
        one = reference[i] - reference[j]
        for draw, row in enumerate(ranks):
            other = row[i] - row[j]
            if not np.isnan(one + other):
                expected[draw] += 1 if one * other < 0 else p if (one == 0) != (other == 0) else 0
    np.testing.assert_allclose(partial_kendall(reference, ranks, p), expected)


@given(st.integers(0, 10_000), st.floats(0.5, 1.0))
def test_the_partial_distance_obeys_the_triangle(seed: int, p: float) -> None:
    """A metric for p of a half and more: Fagin et al., Comparing partial rankings, SIAM J. Discrete Math. 20(3), 2006
    (from memory)."""
    ranks = np.random.default_rng(seed).integers(1, 4, (3, 5)).astype(float)
    (ab, ac), (bc,) = partial_kendall(ranks[0], ranks[1:], p), partial_kendall(ranks[1], ranks[2:], p)
    assert ac <= ab + bc + 1e-9
    assert ab == partial_kendall(ranks[1], ranks[:1], p)


def test_the_mean_shift_by_hand() -> None:
    """1 2 3 4 against 2 1 3 4: two products by one place each, 0.5; against the reverse 8 / 4."""
    assert mean_shift([1, 2, 3, 4], [[2, 1, 3, 4], [4, 3, 2, 1], [1, 2, 3, 4]]).tolist() == [0.5, 2.0, 0.0]


def test_the_mean_shift_takes_ranks_as_they_stand() -> None:
    """The first has left, so the other two are a place higher, and that counts."""
    assert mean_shift([1, 2, 3], [[NAN, 1, 2]]).tolist() == [1.0]


@pytest.mark.parametrize(
    ("ranks", "share"),
    [
        ([1, 2, 3, 4], 1.0),
        ([3, 2, 1, 4], 0.5),
        ([3, 4, 1, 2], 0.0),
        ([1, 2, 2, 4], 0.8),  # {0, 1} and {0, 1, 2}: 2 * 2 / 5
        ([1, 1, 1, 1], 4 / 6),  # all four tie at the edge: 2 * 2 / 6
        ([1, 2.5, 2.5, 4], 0.8),  # another rule for ties, the same order
    ],
)
def test_the_share_of_the_first_two_by_hand(ranks: list[float], share: float) -> None:
    """All that tie at the edge are in."""
    assert top_overlap([1, 2, 3, 4], [ranks], 2) == pytest.approx([share])


def test_the_average_overlap_is_the_mean_over_depths() -> None:
    """1 2 3 4 against 2 1 3 4: 0, 1, 1, 1."""
    assert depth_overlaps([1, 2, 3, 4], [[2, 1, 3, 4]], 4).tolist() == [[0, 1, 1, 1]]
    assert average_overlap([1, 2, 3, 4], [[2, 1, 3, 4]], 3) == pytest.approx([2 / 3])


def test_the_first_place_alone_is_a_depth() -> None:
    """A tie shares it: of {a, b} and {a} in common 2 * 1 / (2 + 1)."""
    assert top_overlap([1, 2], [[1, 2], [2, 1], [1.5, 1.5]], 1) == pytest.approx([1, 0, 2 / 3])
    assert agreement_by_depth([["a", "b"], "c"], "abc") == pytest.approx([2 / 3, 1, 1])


@pytest.mark.parametrize("measure", MEASURES)
def test_a_ranking_agrees_wholly_with_itself(measure: str) -> None:
    """1, or a distance of 0, with ties and without."""
    reference, _ = random_ranks(4, 1, 12)
    assert MEASURES[measure](reference, reference[None]) == pytest.approx(
        [0.0 if measure in ("partial", "shift") else 1.0]
    )


@pytest.mark.parametrize("measure", MEASURES)
def test_absent_products_leave_the_comparison(measure: str) -> None:
    """As if neither ranking had them, each draw for itself; ranks as given."""
    reference, ranks = random_ranks(5, 25, 15, 0.15)
    found = MEASURES[measure](reference, ranks)
    for value, draw, number in zip(found, ranks, compared(reference, ranks), strict=True):
        both = ~np.isnan(reference) & ~np.isnan(draw)
        assert number == both.sum()
        assert value == pytest.approx(MEASURES[measure](reference[both], draw[None, both])[0])


@pytest.mark.parametrize("measure", MEASURES)
def test_too_few_products_define_nothing(measure: str) -> None:
    """NaN, where the measure says it needs more; no draws give no numbers."""
    reference = [1.0, 2.0, 3.0, 4.0]
    for number in range(3):
        row = [[1.0, 2.0][i] if i < number else NAN for i in range(4)]
        assert np.isnan(MEASURES[measure](reference, [row])[0]) == (number < NEEDED[measure])
    assert MEASURES[measure](reference, np.empty((0, 4))).shape == (0,)


@pytest.mark.parametrize("measure", [kendall_tau_b, spearman], ids=["tau", "spearman"])
def test_a_ranking_that_ties_all_has_no_correlation(measure: Callable[..., Array]) -> None:
    """NaN, whichever of the two it is."""
    assert np.isnan(measure([1, 2, 3], [[2, 2, 2]])[0])
    assert np.isnan(measure([2, 2, 2], [[1, 2, 3]])[0])


@given(st.integers(0, 10_000), st.sampled_from([0.3, 0.8, 0.9]), st.sampled_from([0.0, 0.3]))
def test_the_quick_rank_biased_overlap_is_that_of_the_lists(seed: int, persistence: float, absent: float) -> None:
    """Ties as true equality; most and extrapolated are one, as the same products can only agree further down."""
    reference, ranks = random_ranks(seed, 3, 7, absent)
    found = rank_biased_overlap(reference, ranks, persistence)
    for value, draw in zip(found, ranks, strict=True):
        both = np.flatnonzero(~np.isnan(reference) & ~np.isnan(draw)).tolist()
        if not both:
            assert np.isnan(value)
            continue
        lists = [tied_groups(both, row[both]) for row in (reference, draw)]
        exact = overlap_of_lists(*lists, persistence, "w")
        assert exact.extrapolated == pytest.approx(value, abs=1e-12)
        assert exact.most == pytest.approx(value, abs=1e-12)


def test_an_unknown_order_is_the_mean_over_all_orders() -> None:
    """Variant a: every way of breaking the ties of both lists, which differ in what they hold; least exactly, and
    extrapolated where both hold the same."""

    def orders(groups: tuple[str, ...]) -> list[str]:
        return [
            "".join(map("".join, parts))
            for parts in itertools.product(*(list(itertools.permutations(g)) for g in groups))
        ]

    for x, y in [(("a", "bc", "d"), ("ab", "e", "dfg")), (("ab", "cde"), ("c", "bda", "e"))]:
        broken = [overlap_of_lists(one, other, 0.8) for one in orders(x) for other in orders(y)]
        found = overlap_of_lists(x, y, 0.8, "a")
        assert found.least == pytest.approx(np.mean([value.least for value in broken]))
        if set("".join(x)) == set("".join(y)):
            assert found.extrapolated == pytest.approx(np.mean([value.extrapolated for value in broken]))


@pytest.mark.parametrize("ties", ["w", "a", "b"])
@given(data=st.data())
def test_overlap_is_a_range_between_0_and_1_and_symmetric(ties: str, data: st.DataObject) -> None:
    """Least, extrapolated and most in order, whatever lists; without ties the three treatments agree."""

    def lists() -> list[list[int]]:
        order = data.draw(st.permutations(range(9)))[: data.draw(st.integers(1, 9))]
        cuts = data.draw(st.lists(st.booleans(), min_size=len(order), max_size=len(order)))
        groups: list[list[int]] = []
        for thing, cut in zip(order, cuts, strict=True):
            if cut or not groups:
                groups.append([])
            groups[-1].append(thing)
        return groups

    x, y = lists(), lists()
    found = overlap_of_lists(x, y, 0.85, ties)
    assert -1e-12 <= found.least <= found.extrapolated + 1e-12
    assert found.extrapolated <= found.most + 1e-12
    assert found.most <= 1 + 1e-12
    back = overlap_of_lists(y, x, 0.85, ties)
    assert (back.extrapolated, back.least, back.most) == pytest.approx((found.extrapolated, found.least, found.most))
    single = [[[thing] for group in side for thing in group] for side in (x, y)]
    assert overlap_of_lists(*single, 0.85, ties).most == pytest.approx(overlap_of_lists(*single, 0.85, "w").most)


def test_only_the_corrected_variant_and_equality_give_a_tied_list_1_with_itself() -> None:
    """Corsi and Urbano, The Treatment of Ties in Rank-Biased Overlap, SIGIR 2024 (read): b is corrected so that it does."""
    tied = ("ab", "cde", "f")
    assert overlap_of_lists(tied, tied, 0.9, "w").extrapolated == pytest.approx(1)
    assert overlap_of_lists(tied, tied, 0.9, "b").extrapolated == pytest.approx(1)
    assert overlap_of_lists(tied, tied, 0.9, "a").extrapolated < 0.95


def test_the_weight_of_a_prefix_is_what_a_full_agreement_there_adds() -> None:
    """It grows with depth towards 1, and is the sum of the weights of its places."""
    weights = [prefix_weight(0.9, depth) for depth in (1, 2, 5, 10, 50, 200)]
    assert weights == sorted(weights)
    assert weights[-1] == pytest.approx(1, abs=1e-6)
    # By the sum itself: place i has weight (1 - p) / p sum over d >= i of p^d / d.
    depths = np.arange(1, 3000)
    own = [(0.1 / 0.9) * np.sum(0.9 ** depths[i:] / depths[i:]) for i in range(5)]
    assert prefix_weight(0.9, 5) == pytest.approx(sum(own), abs=1e-12)


def test_groups_of_a_ranking_are_its_ties_and_leave_out_what_has_no_rank() -> None:
    """Best first."""
    assert tied_groups("abcd", [2, 1, NAN, 2]) == (("b",), ("a", "d"))


REFUSALS: dict[str, tuple[Callable[[], object], str]] = {
    "shapes": (lambda: kendall_tau_b([1, 2], [[1, 2, 3]]), r"ranks: found shape \(1, 3\)"),
    "one draw as a row": (lambda: spearman([1, 2], [1, 2]), r"ranks: found shape \(2,\)"),
    "infinite rank": (lambda: mean_shift([1, 2], [[1, np.inf]]), "ranks: an infinite rank"),
    "infinite reference": (lambda: mean_shift([1, np.inf], [[1, 2]]), "reference: an infinite rank"),
    "no depth": (lambda: top_overlap([1, 2], [[1, 2]], 0), "depth: found 0"),
    "too deep": (
        lambda: average_overlap([1, 2], [[1, 2]], 3),
        "depth: found 3, must be 1 to the number of products, 2",
    ),
    "weight of ties": (lambda: partial_kendall([1, 2], [[1, 2]], 1.5), r"p: found 1\.5"),
    "persistence 1": (lambda: rank_biased_overlap([1, 2], [[1, 2]], 1.0), r"persistence: found 1\.0"),
    "persistence 0": (lambda: overlap_of_lists("ab", "ab", 0.0), r"persistence: found 0\.0"),
    "no product": (lambda: rank_biased_overlap([], np.empty((1, 0))), "reference: found no product"),
    "unknown ties": (lambda: overlap_of_lists("ab", "ab", 0.9, "c"), "ties: found 'c'"),
    "unknown ties by depth": (lambda: agreement_by_depth("ab", "ab", "c"), "ties: found 'c'"),
    "twice in a list": (lambda: overlap_of_lists("aba", "ab"), "first: holds a thing twice"),
    "twice in a group": (lambda: overlap_of_lists("ab", [["a", "a"]]), "second: holds a thing twice"),
    "an empty list": (lambda: overlap_of_lists("ab", ""), "second: holds nothing"),
    "names and ranks": (lambda: tied_groups("abc", [1, 2]), r"ranks: found shape \(2,\), must be one for each of 3"),
    "prefix": (lambda: prefix_weight(0.9, 0), "depth: found 0"),
}


@pytest.mark.parametrize("case", REFUSALS)
def test_what_cannot_be_compared_is_refused(case: str) -> None:
    """The message says what was found."""
    call, message = REFUSALS[case]
    with pytest.raises(ValueError, match=message):
        call()
