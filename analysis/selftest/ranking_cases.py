"""Rankings: rank sets of countries as printed, chances of places worked out as areas, and how far two rankings agree.

Where all weights are alike, chances of places are areas. Agreement is Kendall's correlation and distance, average and
rank-biased overlap.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import partial
from math import sqrt

import numpy as np

from analysis.rankings.agreement import average_overlap, kendall_tau_b, partial_kendall
from analysis.rankings.rank_biased_overlap import agreement_by_depth, overlap_of_lists, prefix_weight
from analysis.rankings.rank_sets import rank_sets, tau_best
from analysis.rankings.stability import RankStability, rank_stability
from analysis.selftest.closed_case import ClosedCase, scored, studied, written

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


RESAMPLES = 20_000
#: Room of an estimate in its standard errors: right code misses one time in 16,000.
ERRORS = 4

MOGSTAD = (
    "Mogstad, Romano, Shaikh and Wilhelm 2024, Inference for ranks, mathematics in PISA 2018: scores, errors and sets read in "
    "the authors' R package csranks"
)
AREAS = "Lahdelma and Salminen 2001, SMAA-2: method from memory, figures worked out as lengths and areas"

#: Mean and standard error of each country.
MATHEMATICS = {
    "Australia": (491.3600252, 1.939833031), "Austria": (498.9423138, 2.970998694),
    "Belgium": (508.0703063, 2.262662011), "Canada": (512.0169429, 2.357475749),
    "Chile": (417.4065563, 2.41588757), "Colombia": (390.9322732, 2.989559274),
    "Czech Republic": (499.4676508, 2.460661531), "Denmark": (509.3983746, 1.735002337),
    "Estonia": (523.4145802, 1.743602224), "Finland": (507.3013618, 1.967920411),
    "France": (495.4075794, 2.320214487), "Germany": (500.0437805, 2.647083096),
    "Greece": (451.3703438, 3.091228197), "Hungary": (481.0826364, 2.319596741),
    "Iceland": (495.1873762, 1.953082603), "Ireland": (499.632894, 2.198621128),
    "Israel": (463.0345488, 3.498563228), "Italy": (486.5898573, 2.780045867),
    "Japan": (526.9732502, 2.471475318), "Korea": (525.933002, 3.121394315),
    "Latvia": (496.1263306, 1.962766789), "Lithuania": (481.1911884, 1.953282039),
    "Luxembourg": (483.421485, 1.097632409), "Mexico": (408.8014734, 2.493225544),
    "Netherlands": (519.2309824, 2.632277885), "New Zealand": (494.489676, 1.705942856),
    "Norway": (500.9637885, 2.219044878), "Poland": (515.6478747, 2.602085176),
    "Portugal": (492.4874062, 2.684570081), "Slovak Republic": (486.1648542, 2.555595707),
    "Slovenia": (508.8975441, 1.363877596), "Spain": (481.3926126, 1.462417763),
    "Sweden": (502.3877022, 2.654250935), "Switzerland": (515.3147131, 2.908003898),
    "Turkey": (453.5077774, 2.260406789), "United Kingdom": (501.7698992, 2.564428111),
    "United States": (478.2447174, 3.235444099),
}  # fmt: skip
#: Printed at 95 %; at 90 % without Sweden.
TOP_FIVE = frozenset({
    "Belgium", "Canada", "Denmark", "Estonia", "Finland", "Japan",
    "Korea", "Netherlands", "Poland", "Slovenia", "Sweden", "Switzerland",
})  # fmt: skip


def countries(seed: int) -> Iterator[ClosedCase]:
    """Which of 37 countries could be among the first five, and the places of one."""
    names = list(MATHEMATICS)
    scores, errors = np.array(list(MATHEMATICS.values())).T
    why = f"a count, in which nothing lies within the error of {RESAMPLES:,} resamples: equal"
    case = partial(ClosedCase, "ranking", source=MOGSTAD, within=0.0, why=why)
    for coverage, printed in ((0.95, TOP_FIVE), (0.9, TOP_FIVE - {"Sweden"})):
        rng = np.random.default_rng([seed, 21])
        top = tau_best(scores, errors, 5, rng=rng, coverage=coverage, resamples=RESAMPLES)
        members = {names[place] for place in np.flatnonzero(top.members)}
        level = f"{100 * coverage:.0f} %"
        said = f"countries that could be among the first five at {level}, how many"
        yield case(name=said, published=float(len(printed)), ours=float(len(members)))
        said = f"countries that could be among the first five at {level}, how many of those printed"
        yield case(name=said, published=float(len(printed)), ours=float(len(members & printed)))
    kingdom = names.index("United Kingdom")
    rng = np.random.default_rng([seed, 22])
    sets = rank_sets(scores, errors, rng=rng, family="marginal", resamples=RESAMPLES)
    said = "lowest place in the United Kingdom's own set at 95 %"
    yield case(name=said, published=23.0, ours=float(sets.high[kingdom]))


def accepted(rule: str, readings: Mapping[str, Sequence[float]], seed: int) -> tuple[RankStability, list[int]]:
    """What a rule for the weights of a mean makes of products p1, p2, ...; and where each of them stands in it."""
    measures = ", ".join(f'{name}: {{unit: "1"}}' for name in readings)
    ratings = "".join(f"  r_{name}: {{measure: {name}, curve: {{line: {{worst: 0, best: 1}}}}}}\n" for name in readings)
    weights = ", ".join(f"r_{name}: {len(readings) - place}" for place, name in enumerate(readings))
    form = written(
        f"formula: closed-case\nscale: {{from: 0, to: 1}}\nmeasures: {{{measures}}}\nratings:\n{ratings}"
        f"scores:\n  s: {{blend: weighted mean, weights: {{{weights}}}}}\n"
    )
    products = [f"p{place + 1}" for place in range(len(next(iter(readings.values()))))]
    table = scored(form, readings, products)
    study = studied(f"study: all weights\nvary:\n  - {{weights: s, {rule}}}\n", table)
    (found,) = rank_stability(study, table, seed=seed)
    return found.by_source["judgement"], [found.quantities.ids.index(name) for name in products]


def chance(name: str, exact: float, ours: float, n_draws: int) -> ClosedCase:
    """The case of a chance that so many independent draws estimate."""
    room = ERRORS * sqrt(exact * (1 - exact) / n_draws)
    return ClosedCase("ranking", name, AREAS, exact, room, f"{n_draws:,} draws: four standard errors", ours)


def two_criteria(seed: int) -> Iterator[ClosedCase]:
    """A = (1, 0), B = (0, 1), C = (0.6, 0.6), weight w on the first, uniform on 0 to 1.

    A is first above w = 0.6, so that its typical first weight is the middle of 0.6 to 1. In order of weight w is uniform on
    0.5 to 1.
    """
    readings = {"x": [1, 0, 0.6], "y": [0, 1, 0.6]}
    found, (a, _, _) = accepted("simplex: uniform", readings, seed)
    yield chance("two criteria, A first", 0.4, float(found.acceptability[a, 0]), found.n_draws)
    room = ERRORS * 0.4 / sqrt(12 * 0.4 * found.n_draws)
    why = f"two fifths of {found.n_draws:,} draws: four standard errors"
    name = "two criteria, typical first weight of A"
    yield ClosedCase("ranking", name, AREAS, 0.8, room, why, float(found.typical[a, 0]))
    found, (a, _, _) = accepted("simplex: uniform, order: stated", readings, seed)
    name = "two criteria in order of weight, A first"
    yield chance(name, 0.8, float(found.acceptability[a, 0]), found.n_draws)


def three_criteria(seed: int) -> Iterator[ClosedCase]:
    """Three products best in one criterion each, and D = (0.45, 0.45, 0.45), which always scores 0.45.

    D is beaten by two in 3 (1 - 0.9)^2 = 0.03 of the triangle of weights, by exactly one in 3 (0.55)^2 - 0.06 = 0.8475, by
    none in 0.1225; A is first in (1 - 0.1225) / 3.
    """
    d = 0.45
    found, places = accepted("simplex: uniform", {"x": [1, 0, 0, d], "y": [0, 1, 0, d], "z": [0, 0, 1, d]}, seed)
    a, last = places[0], places[3]
    yield chance("three criteria, A first", 0.2925, float(found.acceptability[a, 0]), found.n_draws)
    yield chance("three criteria, D second", 0.8475, float(found.acceptability[last, 1]), found.n_draws)


GROUPS = (countries, two_criteria, three_criteria, correlations, rank_biased)
