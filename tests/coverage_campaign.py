"""Whether joint rank sets hold as often as they say: simulated truth, whole chain from readings to sets; by hand.

    python tests/coverage_campaign.py --replications 1000 [--only CONDITION]

Each condition is a truth and a bench. In every replication readings are drawn, the catalogue is scored, and the joint sets
of the score are held against the true places: they hold where no product is told to be better than one that is truly as
good or better. Printed is the share of replications in which all sets held at once, with its standard error.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from written_forms import form_of

from analysis.rankings.distinguishable import bench_of
from analysis.rankings.stability import rank_stability
from analysis.study import default_study
from scoring.catalogue import Catalogue, from_arrays
from scoring.form import Form
from scoring.table.table import score_catalogue

Array = NDArray[np.float64]
DRAWS = 4096


@dataclass(frozen=True)
class Read:
    """What a bench reads: measure -> (products, repeats), the session of every reading where there are any, and the true
    scores where they are others than the condition's."""

    readings: dict[str, Array]
    sessions: NDArray[np.object_] | None = None
    true: Array | None = None


@dataclass(frozen=True)
class Condition:
    """A form, the true score of each product, and how the bench reads them; nominal coverage 95 %."""

    says: str
    form: str
    true: Array
    read: Callable[[np.random.Generator], Read]
    draws: int = DRAWS

    def made(self) -> Form:
        """The form, read."""
        return form_of(self.form)


def form_text(repeatability: Sequence[str], extra: str = "", score: str = "") -> str:
    """Measures x0, x1, ... on the scale itself, each a rating, and their mean as the score."""
    measures = "".join(
        f'  x{i}: {{unit: "1", plausible: [-1000, 1000], {own}}}\n' for i, own in enumerate(repeatability)
    )
    ratings = "".join(
        f"  r{i}: {{measure: x{i}, curve: {{line: {{worst: -1000, best: 1000}}}}}}\n" for i in range(len(repeatability))
    )
    weights = ", ".join(f"r{i}: 1" for i in range(len(repeatability)))
    return (
        f"formula: trial\nscale: {{from: -1000, to: 1000}}\nmeasures:\n{measures}ratings:\n{ratings}"
        f"scores:\n  s: {{blend: weighted mean, weights: {{{weights}}}{score}}}\n{extra}"
    )


def plain(
    true: Array, n_measures: int, n_repeats: int, sd: float | Array = 1.0, correlation: float = 0.0
) -> Callable[[np.random.Generator], Read]:
    """Readings that err normally, measures of one run with a common correlation."""

    def read(rng: np.random.Generator) -> Read:
        shape = len(true), n_repeats
        common = rng.standard_normal(shape)
        size = np.broadcast_to(np.reshape(sd, (-1, 1)), shape)
        found = {}
        for i in range(n_measures):
            own = rng.standard_normal(shape)
            errors = math.sqrt(correlation) * common + math.sqrt(1 - correlation) * own
            found[f"x{i}"] = true[:, np.newaxis] + size * errors
        return Read(found)

    return read


def in_sessions(true: Array, sessions: Array, n_repeats: int, shift: float) -> Callable[[np.random.Generator], Read]:
    """One measure; every product read `n_repeats` times in each of its sessions, shape (products, sessions of each)."""

    def read(rng: np.random.Generator) -> Read:
        shifts = shift * rng.standard_normal(int(sessions.max()) + 1)
        own = np.repeat(sessions, n_repeats, axis=1).astype(int)
        readings = true[:, np.newaxis] + shifts[own] + rng.standard_normal(own.shape)
        return Read({"x0": readings}, np.char.add("S", own.astype(str)).astype(object))

    return read


def on_an_edge(true: Array) -> Callable[[np.random.Generator], Read]:
    """Two measures, one reading each: x0 of half the products lies exactly on the edge of a limit."""

    def read(rng: np.random.Generator) -> Read:
        errors = rng.standard_normal((2, len(true)))
        first = np.where(np.arange(len(true)) < len(true) // 2, 40.0, 60.0)
        second = 2 * true - first
        return Read({"x0": (first + errors[0])[:, np.newaxis], "x1": (second + errors[1])[:, np.newaxis]})

    return read


def partial_leader(n_products: int, spread: float) -> Callable[[np.random.Generator], Read]:
    """Three measures that go together over the products; who leads by two of them has no reading of the third."""

    def read(rng: np.random.Generator) -> Read:
        common = rng.standard_normal((n_products, 1))
        true = 50 + spread * (math.sqrt(0.5) * common + math.sqrt(0.5) * rng.standard_normal((n_products, 3)))
        readings = true + rng.standard_normal(true.shape)
        leader = int(np.argmax(readings[:, :2].sum(axis=1)))
        readings[leader, 2] = np.nan
        return Read({f"x{i}": readings[:, [i]] for i in range(3)}, true=true.mean(axis=1))

    return read


def conditions() -> dict[str, Condition]:
    """Every condition by its name."""
    equal, four, twelve = np.zeros(8), np.zeros(4), np.zeros(12)
    quarter = np.where(np.arange(16) % 4 == 0, 4.0, 1.0)
    declared, pooled = "repeatability: 1", "repeatability: pooled"
    capped = ", limits: [{when: r0 < 40, at_most: 30}]"
    correlated = "error_correlations: {plate: {measures: [x0, x1, x2], component: repeatability, coefficient: 0.8}}\n"
    shift = f"{declared}, between_sessions: 1"
    ties = np.arange(8) * 0.02
    each_in_one = np.arange(12)[:, np.newaxis] % 4
    in_two = np.stack([np.arange(12) % 6, (np.arange(12) + 1) % 6], axis=1)
    return {
        "equal": Condition("sd declared, 8 equal products", form_text([declared] * 2), equal, plain(equal, 2, 1)),
        "near-ties": Condition(
            "sd declared, 8 products 0.02 standard errors apart", form_text([declared] * 2), ties, plain(ties, 2, 1)
        ),
        "16 degrees": Condition(
            "pooled, 16 degrees of freedom a measure", form_text([pooled] * 3), equal, plain(equal, 3, 3)
        ),
        "4 degrees": Condition(
            "pooled, 4 degrees of freedom, one measure", form_text([pooled]), four, plain(four, 1, 2)
        ),
        "unequal": Condition(
            "a quarter of 16 products with 4 times the sd, pooled, 4 repeats, one measure",
            form_text([pooled]),
            np.zeros(16),
            plain(np.zeros(16), 1, 4, quarter),
        ),
        "unequal, two": Condition(
            "the same with two measures",
            form_text([pooled] * 2),
            np.zeros(16),
            plain(np.zeros(16), 2, 4, quarter),
        ),
        "correlated": Condition(
            "errors of three measures of one run correlated 0.8, declared",
            form_text([declared] * 3, correlated),
            equal,
            plain(equal, 3, 2, correlation=0.8),
        ),
        "sessions": Condition(
            "a session shift as large as s_r, declared; 12 products in 4 sessions",
            form_text([shift]),
            twelve,
            in_sessions(twelve, each_in_one, 2, 1.0),
        ),
        "sessions pooled": Condition(
            "the same, pooled from 12 products read in 2 of 6 sessions each",
            form_text([f"{pooled}, between_sessions: pooled"]),
            twelve,
            in_sessions(twelve, in_two, 2, 1.0),
        ),
        "edge": Condition(
            "4 of 8 equal products truly on the edge of a limit",
            form_text([declared] * 2, score=capped),
            np.full(8, 50.0),
            on_an_edge(np.full(8, 50.0)),
        ),
        "partial leader": Condition(
            "the leader of 20 products, spread as wide as the noise, lacks one of three readings",
            form_text([declared] * 3, score=", missing: {absent_above: 0.5}"),
            np.zeros(20),
            partial_leader(20, 1.0),
        ),
    }


def holds(condition: Condition, form: Form, seed: int) -> bool:
    """Whether all sets of one replication hold."""
    rng = np.random.default_rng([seed, 99])
    read = condition.read(rng)
    ids = [f"P{i:02d}" for i in range(len(condition.true))]
    catalogue = _catalogue(ids, read.readings, read.sessions)
    table = score_catalogue(form, catalogue)
    told = bench_of(table, seed, draws=condition.draws)["s"]
    order = np.argsort(table.column("s").rank, kind="stable")
    true = (condition.true if read.true is None else read.true)[order]
    false = told.sets.beats & (true[:, np.newaxis] <= true)
    return not false.any()


def _catalogue(ids: list[str], readings: Mapping[str, Array], sessions: NDArray[np.object_] | None) -> Catalogue:
    if sessions is None:
        return from_arrays(ids, readings)
    return from_arrays(ids, readings, sessions=dict.fromkeys(readings, sessions))


def chance_of_first(form: Form, seed: int, draws: int = 1024) -> tuple[float, bool]:
    """The chance that the partial leader is first, as `stability` says it of the bench alone, and whether it is."""
    read = partial_leader(20, 1.0)(np.random.default_rng([seed, 99]))
    assert read.true is not None
    catalogue = _catalogue([f"P{i:02d}" for i in range(20)], read.readings, None)
    table = score_catalogue(form, catalogue)
    study = default_study(form, catalogue, ("s",))
    study = study.of_moves(tuple(move for move in study.moves if move.is_bench))
    (found,) = rank_stability(study, table, draws=draws, seed=seed)
    leader = int(np.flatnonzero(np.isnan(read.readings["x2"][:, 0]))[0])
    place = found.quantities.products.tolist().index(leader)
    return float(found.by_source["bench"].first[place]), leader == int(read.true.argmax())


def coverage(condition: Condition, replications: int, first: int = 0) -> float:
    """The share of replications in which all sets hold."""
    form = condition.made()
    return float(np.mean([holds(condition, form, first + number) for number in range(replications)]))


def main() -> None:
    """Print the coverage of every condition."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--replications", type=int, default=1000)
    parser.add_argument("--first", type=int, default=0, help="the seed of the first replication")
    parser.add_argument("--only", nargs="*", default=None)
    asked = parser.parse_args()
    for name, condition in conditions().items():
        if asked.only is None or name in asked.only:
            share = coverage(condition, asked.replications, asked.first)
            error = math.sqrt(share * (1 - share) / asked.replications)
            print(f"{name:18} {100 * share:5.1f} % (+- {100 * error:.1f})  {condition.says}", flush=True)
    if asked.only is None or "partial leader" in asked.only:
        form = conditions()["partial leader"].made()
        both = np.array([chance_of_first(form, asked.first + number) for number in range(asked.replications)])
        print(
            f"{'':18} partial leaders: first in {100 * both[:, 0].mean():.1f} % of draws, in truth {100 * both[:, 1].mean():.1f} %"
        )


if __name__ == "__main__":
    main()
