"""How far two rankings agree: Kendall's correlation and distance, average and rank-biased overlap."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from analysis.rankings.agreement import average_overlap, kendall_tau_b, partial_kendall
from analysis.rankings.rank_biased_overlap import agreement_by_depth, overlap_of_lists, prefix_weight
from analysis.selftest.closed_case import ClosedCase

HANDBOOK = "OECD/JRC, Handbook on Constructing Composite Indicators, 2008, box on measures of association: read"
FAGIN = "Fagin and others 2006, Comparing partial rankings: definition from memory, worked out by hand"
SIMILARITY = "Webber, Moffat and Zobel 2010, A similarity measure for indefinite rankings"
WEBBER = f"{SIMILARITY}: read in the doctests of dlukes/rbo"
PREFIX = f"{SIMILARITY}, equation 21: read as a public text quotes it"
BY_HAND = "worked out by hand"
TIES = "Corsi and Urbano 2024, The treatment of ties in rank-biased overlap: read in the README of the authors' implementation"

#: Places of eight things; how many later ones are greater is 5, 4, 5, 4, 3, 1, 0, 0, in all 22.
HANDBOOK_PLACES = (3, 4, 1, 2, 5, 7, 8, 6)
LEFT = ("red", ("blue", "green"), "yellow", "pink")
RIGHT = (("blue", "red"), "white", ("yellow", "black", "purple"), "green")


def correlations(seed: int) -> Iterator[ClosedCase]:  # noqa: ARG001
    """Kendall's correlation and distance, average overlap."""
    case = partial(ClosedCase, "ranking")
    tau = float(kendall_tau_b(range(1, 9), [HANDBOOK_PLACES])[0])
    yield case("Kendall's tau, 22 pairs of 28 in order", HANDBOOK, 0.57, 0.005, "printed to 2 decimals", tau)
    exact = "a count of pairs: exact"
    distance = float(partial_kendall([1, 1, 3, 4], [[2, 1, 4, 3]])[0])
    yield case("Kendall's distance with a tie, one pair turned round", FAGIN, 1.5, 0.0, exact, distance)
    share = float(average_overlap([1, 2, 3, 4], [[2, 1, 3, 4]], 4)[0])
    yield case(
        "average overlap to depth 4, first two exchanged", BY_HAND, 0.75, 0.0, "mean of 0, 1, 1, 1: exact", share
    )
    mean = float(agreement_by_depth("abcdefg", "zcavwxy").mean())
    yield case("average overlap to depth 7", WEBBER, 0.312, 5e-4, "printed to 3 decimals", mean)


def rank_biased(seed: int) -> Iterator[ClosedCase]:  # noqa: ARG001
    """Rank-biased overlap without ties, with ties counted in three ways, and the weight of the first places."""
    case = partial(ClosedCase, "ranking")
    three = "printed to 3 decimals"
    found = overlap_of_lists("abcdefg", "bacdefg", 0.9)
    yield case("rank-biased overlap at 0.9, first two exchanged", WEBBER, 0.9, 5e-4, three, found.extrapolated)
    seven = "printed to 7 decimals"
    for ties, printed in (("w", 0.7068257), ("a", 0.6922853), ("b", 0.7207131)):
        tied = overlap_of_lists(groups(LEFT), groups(RIGHT), 0.95, ties)
        yield case(f"rank-biased overlap at 0.95, ties by rule {ties}", TIES, printed, 5e-8, seven, tied.extrapolated)
    weight = prefix_weight(0.9, 10)
    name = "weight of the first 10 places at 0.9"
    yield case(name, PREFIX, 0.8555854467473518, 1e-10, "given to 16 digits, terms of a sum of ten", weight)


def groups(ranking: tuple[str | tuple[str, ...], ...]) -> list[list[str]]:
    """A ranking as groups of ties."""
    return [[place] if isinstance(place, str) else list(place) for place in ranking]


GROUPS = (correlations, rank_biased)
