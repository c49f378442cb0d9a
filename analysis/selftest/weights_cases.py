"""What weights are worth, which would be wanted, how far one is from turning an order round, and the benefit of the doubt."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

import numpy as np

from analysis.flips.found import ONE
from analysis.flips.study import flip_of
from analysis.flips.weights import one_weight
from analysis.importance.benefit_of_the_doubt import benefit_of_the_doubt
from analysis.importance.importance import covariance_split
from analysis.importance.redundancy import redundancy
from analysis.importance.wanted import wanted_weights
from analysis.selftest.closed_case import ClosedCase, scored, written
from analysis.selftest.shelf import published_folder
from scoring.catalogue import read_catalogue
from scoring.numbers.array_types import Array
from scoring.table.table import score_catalogue

PARUOLO = "Paruolo, Saisana and Saltelli 2013, Ratings and rankings: voodoo or science?, section 1.1: read as arXiv:1104.3009v2"
EQUATION_7 = "Paruolo, Saisana and Saltelli 2013, equation 7: read as arXiv:1104.3009v2; digits worked out"
LI = "Li and others 2010, J. Phys. Chem. A 114(19), case 3 (slopes 5 to 1): read in the tests of SALib; digits worked out"
FLIP = "Triantaphyllou and Sanchez 1997, Decision Sciences 28(1): formula and table from memory, digits worked out"
HANDBOOK = "OECD/JRC, Handbook on Constructing Composite Indicators, 2008"
DOUBT = f"{HANDBOOK}, table 23, from the readings of table A.2: read"
COMPONENTS = f"{HANDBOOK}, table 16: read"
ALPHA = f"{HANDBOOK}, section 4.3: read"
EXACT = "a quotient of whole numbers: rounding only"

DEAN = ((1, 0, 0), (0, 1, 0.7), (0, 0.7, 1))
LI_COVARIANCE = ((1, 0.6, 0.2, 0, 0), (0.6, 1, 0.2, 0, 0), (0.2, 0.2, 1, 0, 0), (0, 0, 0, 1, 0.2), (0, 0, 0, 0.2, 1))
FLIP_WEIGHTS = (0.3277, 0.3058, 0.2876, 0.0790)
FLIP_PARTS = ((0.3088, 0.2897, 0.3867, 0.1922), (0.2163, 0.3458, 0.1755, 0.6288))
THREE_PARTS = """
formula: three-parts
scale: {from: 0, to: 10}
measures: {x: {unit: "1"}, y: {unit: "1"}, z: {unit: "1"}}
ratings:
  a: {value: x}
  b: {value: y}
  c: {value: z}
scores: {s: {blend: weighted mean, weights: {a: 0.5, b: 0.3, c: 0.2}}}
"""
INDICATORS = (
    "patents", "royalties", "internet", "exports", "telephones_log10", "electricity_log10", "schooling", "university",
)  # fmt: skip


def importance(seed: int) -> Iterator[ClosedCase]:  # noqa: ARG001
    """Linear main effects of weights that look alike, the weights that would make them alike, and a covariance split."""
    case = partial(ClosedCase, "weights", within=1e-12, why=EXACT)
    linear = covariance_split(np.full(3, 1 / 3), DEAN).linear
    yield case(
        name="the dean's example, effect of the lone part", source=PARUOLO, published=5 / 22, ours=float(linear[0])
    )
    name = "the dean's example, effect of a correlated part"
    yield case(name=name, source=PARUOLO, published=289 / 440, ours=float(linear[1]))
    wanted = wanted_weights(DEAN, [1, 1, 1]).weights
    name = "the dean's example, weight of the lone part for equal importance"
    yield case(name=name, source=EQUATION_7, published=17 / 37, ours=float(wanted[0]))
    name = "the dean's example, weight of a correlated part for equal importance"
    yield case(name=name, source=EQUATION_7, published=10 / 37, ours=float(wanted[1]))
    split = covariance_split([5, 4, 3, 2, 1], LI_COVARIANCE)
    case = partial(ClosedCase, "weights", source=LI, within=5e-7, why="given to 6 decimals")
    yield case(name="covariance split, structural share of part 1", published=0.275938, ours=float(split.structural[0]))
    yield case(
        name="covariance split, correlative share of part 2", published=0.158940, ours=float(split.correlative[1])
    )


def single_weight(seed: int) -> Iterator[ClosedCase]:
    """The least change of one weight that makes the second of two products equal the first."""
    weights, parts = np.array(FLIP_WEIGHTS), np.array(FLIP_PARTS)
    change = one_weight(weights, (parts[1] - parts[0])[np.newaxis], 2)[0]
    ours = float("nan") if change is None else change
    why = "given to 4 decimals, from inputs of 4 decimals"
    name = "change of the third weight by which A2 equals A1"
    yield ClosedCase("weights", name, FLIP, -0.1866, 5e-4, why, ours)
    table = scored(written(THREE_PARTS), {"x": [5, 3], "y": [3, 5], "z": [3, 4]}, ["ahead", "behind"])
    least = flip_of(table, "s", "behind", "ahead", seed=seed).least(ONE)
    ours = float("nan") if least is None else least.exact
    source = "worked out by hand: parts differ by -2, 2 and 1, weights 0.5, 0.3 and 0.2, the lead is 0.2"
    name = "least change of one weight through a formula"
    yield ClosedCase("weights", name, source, -0.1, 1e-9, "proved by arithmetic: rounding only", ours)


def technology(seed: int) -> Iterator[ClosedCase]:  # noqa: ARG001
    """The Technology Achievement Index: the benefit of the doubt, how indicators go together."""
    products, raw, shares = indicators()
    scores = dict(zip(products, benefit_of_the_doubt(shares, 0.10, 0.15)[0].tolist(), strict=True))
    case = partial(ClosedCase, "weights", source=DOUBT, within=0.005, why="printed to 2 decimals")
    for country, printed in (("Netherlands", 0.75), ("Hungary", 0.27)):
        yield case(name=f"benefit of the doubt, {country}", published=printed, ours=scores[country])
    found = redundancy(raw)
    ours = 100 * float(found.eigenvalues[0]) / len(INDICATORS)
    name = "technology index, share of the first principal component in %"
    yield ClosedCase("weights", name, COMPONENTS, 41.9, 0.05, "printed to 1 decimal", ours)
    name = "technology index, Cronbach's alpha"
    yield ClosedCase("weights", name, ALPHA, 0.70, 0.005, "printed to 2 decimals", float(found.alpha))


def indicators() -> tuple[tuple[str, ...], Array, Array]:
    """The 23 countries, their eight indicators, and these as shares of the way from least to greatest; shape (23, 8)."""
    measures = ", ".join(f'{name}: {{unit: "1"}}' for name in INDICATORS)
    ratings = ", ".join(f"r_{name}: {{measure: {name}, curve: {{minmax: {{}}}}}}" for name in INDICATORS)
    form = written(
        f"formula: doubt\nscale: {{from: 0, to: 1}}\nmeasures: {{{measures}}}\nratings: {{{ratings}}}\n"
        "scores: {s: {blend: weighted mean, parts: [r_patents, r_royalties]}}\n"
    )
    table = score_catalogue(form, read_catalogue(published_folder() / "data" / "technology-23-countries.csv", form))
    raw = np.stack([table.inputs.values[name][0] for name in INDICATORS], axis=1)
    return table.catalogue.products, raw, np.stack([column.value for column in table.ratings], axis=1)


GROUPS = (importance, single_weight, technology)
