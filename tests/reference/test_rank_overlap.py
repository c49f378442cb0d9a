"""Rank correlations and overlaps: published values."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from analysis.rankings.agreement import kendall_tau_b, partial_kendall
from analysis.rankings.rank_biased_overlap import Overlap, agreement_by_depth, overlap_of_lists, prefix_weight


def groups(text: str) -> list[list[str]]:
    """A ranking as the sources write it: ties in parentheses."""
    found: list[list[str]] = []
    tied = False
    for word in text.split():
        if tied:
            found[-1].append(word.strip("()"))
        else:
            found.append([word.strip("()")])
        tied = (tied or word.startswith("(")) and not word.endswith(")")
    return found


def numbers(overlap: Overlap) -> tuple[float, float, float]:
    """In the order of the sources."""
    return overlap.extrapolated, overlap.least, overlap.most


def test_kendall_by_the_count_of_following_greater_ranks() -> None:
    """P = 22 of n = 8 gives tau = .57: OECD/JRC, Handbook on Constructing Composite Indicators, 2008, ISBN 978-92-64-04345-9,
    box on measures of association; read in full text. The ranking is the one that has the contributions printed there."""
    contributions = [5, 4, 5, 4, 3, 1, 0, 0]
    left, ranks = list(range(8, 0, -1)), []
    for greater in contributions:
        ranks.append(left.pop(greater))
    assert sum(contributions) == sum(b > a for i, a in enumerate(ranks) for b in ranks[i:]) == 22
    tau = kendall_tau_b(range(1, 9), [ranks])[0]
    assert tau == pytest.approx(0.57, abs=0.005)
    assert tau == pytest.approx(4 * 22 / (8 * 7) - 1)


@pytest.mark.parametrize(
    ("one", "other", "distance"),
    [([1, 2, 2, 4], [1, 2, 3, 4], 0.5), ([1, 1, 3, 4], [2, 1, 4, 3], 1.5), ([1, 2, 3, 4], [4, 3, 2, 1], 6)],
)
def test_the_partial_distance_of_small_rankings(one: Any, other: Any, distance: float) -> None:
    """K^(1/2); definition of R. Fagin, R. Kumar, M. Mahdian, D. Sivakumar and E. Vee, Comparing partial rankings, SIAM J. Discrete
    Math. 20(3), 2006 (from memory), values worked out here."""
    assert partial_kendall(one, [other]).tolist() == [distance]


@pytest.mark.parametrize(
    ("one", "other", "extrapolated", "least"),
    [("abcdefg", "abcdefg", 1.0, 0.767), ("abcdefg", "bacdefg", 0.9, None), ("abcdefgh", "abcdefg", 1.0, 0.767)],
)
def test_overlap_without_ties(one: str, other: str, extrapolated: float, least: float | None) -> None:
    """W. Webber, A. Moffat and J. Zobel, A Similarity Measure for Indefinite Rankings, ACM Trans. Inf. Syst. 28(4):20, 2010;
    values read in the doctests of github.com/dlukes/rbo at 620b84e5, rbo.py, p = 0.9.

    The third least value is given there for lists of seven and eight."""
    found = overlap_of_lists(one, other, 0.9)
    assert found.extrapolated == pytest.approx(extrapolated, abs=5e-4)
    if least is not None:
        assert found.least == pytest.approx(least, abs=5e-4)


def test_the_average_overlap_by_depth() -> None:
    """The lists of figure 5 of Webber, Moffat and Zobel (2010): 0, 0, .222, .292, .313, .317, .312, read in the doctests of
    github.com/dlukes/rbo and the tests of github.com/changyaochen/rbo at f062b4c5; extrapolated at p = 0.9 worked out here."""
    agreement = agreement_by_depth("abcdefg", "zcavwxy")
    means = np.cumsum(agreement) / np.arange(1, 8)
    np.testing.assert_allclose(means, [0, 0, 0.222, 0.292, 0.313, 0.317, 0.312], atol=5e-4)
    assert overlap_of_lists("abcdefg", "zcavwxy").extrapolated == pytest.approx(0.2882172857, abs=1e-9)


@pytest.mark.parametrize(
    ("persistence", "depth", "weight"), [(0.9, 10, 0.8555854467473518), (0.98, 50, 0.8522339103194004)]
)
def test_the_weight_of_the_first_places(persistence: float, depth: int, weight: float) -> None:
    """Webber, Moffat and Zobel (2010), eq. 21, as a public text quotes it (read); 86 and 85 %."""
    assert prefix_weight(persistence, depth) == pytest.approx(weight, abs=1e-10)


def test_the_weight_of_five_places_at_four_fifths() -> None:
    """86 % at p = 0.8: worked out here."""
    assert prefix_weight(0.8, 5) == pytest.approx(0.8609, abs=5e-5)


# M. Corsi and J. Urbano, The Treatment of Ties in Rank-Biased Overlap, SIGIR 2024, arXiv:2406.07121; values read in
# github.com/julian-urbano/sigir2024-rbo: rbo/Python/README.md at b400ee47 (the first), rbo/test.csv at 463d6d51 (the others).
# Extrapolated, least, most.
TIED: list[tuple[str, str, float, dict[str, tuple[float, float, float]]]] = [
    (
        "red (blue green) yellow pink", "(blue red) white (yellow black purple) green", 0.95,
        {
            "w": (0.7068257, 0.3429684, 0.9049857),
            "a": (0.6922853, 0.3310519, 0.8930692),
            "b": (0.7207131, 0.3509163, 0.9129336),
        },
    ),
    (
        "(i5 i9 i13 i15 i16 i19 i20) (i3 i8)", "i6 (i4 i18) i2 i7 i8 i17 i14 (i11 i12) i1", 0.958074765324023,
        {
            "w": (0.0816485573277354, 0.0370062754797617, 0.59493569657566),
            "a": (0.0808189832771587, 0.0354671825076603, 0.593396603603558),
            "b": (0.0813693619867344, 0.0356267307324464, 0.593556151828344),
        },
    ),
    (
        "i11 (i8 i21) (i2 i18) (i6 i16 i20) (i4 i10)", "i8 (i9 i20 i21) (i2 i3) i13 i1 i11 i14 i19", 0.93912403977192,
        {
            "w": (0.482369482292872, 0.346394412736983, 0.712103626756557),
            "a": (0.46852753894333, 0.332552469387441, 0.698261683407016),
            "b": (0.486650566878314, 0.350675497322425, 0.716384711341999),
        },
    ),
    (
        "(i4 i7 i15) (i2 i11) i8 i18", "i4 i8 i17 i11 (i2 i3 i5 i7 i9 i13 i14)", 0.955836875418683,
        {
            "w": (0.601671359995661, 0.310498723372055, 0.820912519608734),
            "a": (0.584235464666522, 0.295503371358027, 0.805839323150565),
            "b": (0.632087129618464, 0.322093781902212, 0.833840285843908),
        },
    ),
    (
        "(i3 i6) (i2 i7) i10", "(i3 i6 i7 i10) (i1 i2)", 0.965413635276732,
        {
            "w": (0.946064537517568, 0.343706790399566, 0.958770957517067),
            "a": (0.92051534467649, 0.319428239558438, 0.934492406675939),
            "b": (0.956844651806714, 0.348953051936765, 0.964017219054266),
        },
    ),
    (
        "i13 (i1 i4 i5 i6)", "i3 i14 i11 (i10 i15) i12 (i6 i9) i4 i2", 0.92238320668128,
        {
            "w": (0.117578490431637, 0.0763135264223449, 0.53999366118093),
            "a": (0.114619469221414, 0.0733545052121218, 0.537945108035391),
            "b": (0.11474835409049, 0.0734833900811979, 0.538589532380772),
        },
    ),
    (
        "(i3 i5 i6 i8 i9)", "(i1 i6) (i8 i10) i11 i2 (i3 i4)", 0.946588158477176,
        {
            "w": (0.481477824833812, 0.23269613702392, 0.802226864320287),
            "a": (0.456505385192971, 0.207870074991659, 0.77813269033093),
            "b": (0.482684075039396, 0.233899573241503, 0.804576609682389),
        },
    ),
    (
        "i1 (i15 i16) i10 i12 i2 i14", "i16 (i1 i10 i11 i15) i2 (i4 i5 i6)", 0.988786023528663,
        {
            "w": (0.691527178549045, 0.161742780873865, 0.967889887307834),
            "a": (0.7056986088397, 0.157852652669937, 0.964075955944718),
            "b": (0.718722074850857, 0.163365514575474, 0.96964641663531),
        },
    ),
    (
        "(i4 i14) i10 i9 i16 i1 (i11 i21) i7", "(i4 i7 i9 i10 i14 i16) i21 (i1 i11) (i3 i6 i17 i18)", 0.980350757903177,
        {
            "w": (0.95731778452095, 0.350742506261885, 0.95731778452095),
            "a": (0.939619367902257, 0.336112285552834, 0.939619367902257),
            "b": (0.96333114711547, 0.35963910728389, 0.96333114711547),
        },
    ),
    (
        "i21 i20 (i1 i16 i19) (i5 i10) i4", "(i12 i17) (i2 i3 i8 i11) (i15 i18) (i6 i13) (i7 i14) i9", 0.930074017489188,
        {
            "w": (0, 0, 0.389142712252727),
            "a": (0, 0, 0.38977330351866),
            "b": (0, 0, 0.390116806797613),
        },
    ),
]  # fmt: skip


@pytest.mark.parametrize("ties", ["w", "a", "b"])
@pytest.mark.parametrize("row", range(len(TIED)))
def test_overlap_with_ties(row: int, ties: str) -> None:
    """Lists of unequal length, with things that only one of them holds; the first is printed with seven decimals."""
    one, other, persistence, published = TIED[row]
    found = overlap_of_lists(groups(one), groups(other), persistence, ties)
    assert numbers(found) == pytest.approx(published[ties], abs=1e-7 if row == 0 else 1e-12)
