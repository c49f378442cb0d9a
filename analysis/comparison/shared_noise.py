"""The bench's noise in both editions at once: the same reading errs alike under both formulas, so differences err less."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from analysis.comparison.bridging import Bridge, unbridged
from analysis.rankings.distinguishable import noise_of
from analysis.runs import Block, Executor, blocks_of, run, serially
from analysis.study import Setting, Study
from analysis.study.moves import NoiseMove
from analysis.study.study import Factor
from analysis.trials.trials import Trials, compile_trials
from scoring.catalogue import State
from scoring.measurement_error import value_uncertainty
from scoring.measurement_error.components import SYSTEMATIC
from scoring.numbers.array_types import Array, Flags
from scoring.table.table import ScoreTable

DRAWS = 8192
#: Draws of one block; each has a generator of its own, by its number.
BATCH = 1024
#: The share of catalogues in which no move of noise alone is taken for one.
COVERAGE = 0.95
#: A scatter below this share of the score is the dust of binary arithmetic, and none.
DUST = 1e-12


@dataclass(frozen=True, slots=True, eq=False)
class SharedNoise:
    """Standard deviations under noise, score name to array over the products of both editions, NaN where there is no score.

    old, new: of the score in each edition; difference: of new less old; critical: how many of its standard deviations a move
    must exceed, so that of catalogues in which nothing moves but by noise, no more than one in twenty has a move that does, all
    products judged at once. NaN where no noise of a difference is known: where no draw moves it and it may stand on measures of
    whose errors nothing is known.
    """

    old: Mapping[str, Array]
    new: Mapping[str, Array]
    difference: Mapping[str, Array]
    critical: Mapping[str, float]


def shared_noise(
    old: ScoreTable,
    new: ScoreTable,
    targets: Sequence[str],
    products: Sequence[str],
    *,
    bridges: Sequence[Bridge] = (),
    called_before: Mapping[str, str] | None = None,
    chosen: Flags | None = None,
    seed: int,
    execute: Executor = serially,
) -> SharedNoise:
    """Draw the noise of every reading, the same for both editions where the reading is, and see how scores scatter.

    Notes
    -----
    Each value errs by the error model of its edition. Values of the same readings have one error, whatever either formula
    makes of them; of readings taken again another, but for what is systematic. Where k of n old and m new repeats are the
    same, the rest of the errors is correlated by k / sqrt(n m), as those of two means are. The standard deviation of the
    difference over draws is its uncertainty; NaN where no repeatability is known of anything that leads to the score. The
    critical value is the 95 % point of the largest |difference| of all products over draws, each in its own standard
    deviation. Readings that were mapped from
    another method err as those they were mapped from, times the slope of the map, and as the map does on top.
    `called_before` has the old name of each target that was renamed; `chosen` the products whose moves are judged, shape
    (products,), None for all; `execute` works the blocks of draws out.
    """
    before_of = {name: (called_before or {}).get(name, name) for name in targets}
    before, after = _noisy(old, tuple(before_of.values())), _noisy(new, targets)
    mapped = {bridge.measure: mapped_uncertainty(old, new, bridge) for bridge in bridges}
    after = replace(after, trials=replace(after.trials, u={**after.trials.u, **mapped}))
    names = tuple(dict.fromkeys(m for edition in (before, after) for m in edition.trials.u))
    drawn = BothEditions(
        old=before,
        new=after,
        measures=names,
        products=tuple(products),
        before_of=before_of,
        kept={name: _correlation((old, new), name, products, bridges) for name in names},
        bridges=tuple(bridges),
        seed=seed,
    )
    known = {name for name in targets if _is_known(old, before_of[name]) or _is_known(new, name)}
    whole = {name for name in known if not noise_of(old, before_of[name]).unknown and not noise_of(new, name).unknown}
    size = {name: np.nanmax(np.abs(new.evaluation.values[name][0]), initial=0.0) for name in targets}
    asked = Scatter(frozenset(known), frozenset(whole), size, chosen)
    return run(drawn, asked, blocks_of(DRAWS, BATCH), execute=execute)


@dataclass(frozen=True, slots=True, eq=False)
class Noisy:
    """One edition with the bench's noise: its trials and its table."""

    trials: Trials
    table: ScoreTable

    def errors(
        self, names: Sequence[str], products: Sequence[str], n: int, rng: np.random.Generator
    ) -> dict[str, Array]:
        """n errors of the values in their standard uncertainties, (n, products); 0 for what it has not."""
        table = self.table
        drawn = table.errors.draw(n, rng)
        here = [place for place, name in enumerate(products) if name in table.catalogue.products]
        rows = [table.catalogue.products.index(products[place]) for place in here]
        found = {}
        for name in names:
            found[name] = np.zeros((n, len(products)))
            if name in drawn:
                u = table.uncertainty[name][rows]
                own = drawn[name][:, rows]
                found[name][:, here] = np.divide(own, u, out=np.zeros_like(own), where=u > 0)
        return found

    def scores(
        self, noise: Mapping[str, Array], off: Mapping[str, Array], products: Sequence[str], n: int
    ) -> dict[str, Array]:
        """Scores less the published ones under noise, shape (n, products); NaN for products that are not in the edition."""
        trials, table = self.trials, self.table
        here = [i for i, name in enumerate(products) if name in table.catalogue.products]
        back = [table.catalogue.products.index(products[i]) for i in here]
        order = np.empty(len(back), np.intp)
        order[back] = here
        setting = Setting(n, noise={name: noise[name][:, order] for name in trials.u if name in noise})
        for name, errors in off.items():
            setting.resampled[name] = table.inputs.values[name] + errors[:, order]
        found = {}
        for name, values in trials.scores(setting).items():
            own = np.full((n, len(products)), np.nan)
            own[:, here] = values[:, back] - table.evaluation.values[name][0][back]
            found[name] = own
        return found


@dataclass(frozen=True, slots=True, eq=False)
class BothEditions:
    """Draws of both editions' scores, the same reading erring alike.

    measures: of either; products: of both; before_of: each target's name in the old edition; kept: how the errors of each
    product's two values of a measure are correlated, shape (products,).
    """

    old: Noisy
    new: Noisy
    measures: tuple[str, ...]
    products: tuple[str, ...]
    before_of: Mapping[str, str]
    kept: Mapping[str, Array]
    bridges: tuple[Bridge, ...]
    seed: int

    def pieces(self, block: Block) -> Iterator[dict[str, Moves]]:
        """By target, less what is published."""
        rng, n = np.random.default_rng([self.seed, 8, block.number]), len(block)
        first, again = (edition.errors(self.measures, self.products, n, rng) for edition in (self.old, self.new))
        second = {m: kept * first[m] + np.sqrt(1 - kept**2) * again[m] for m, kept in self.kept.items()}
        before = self.old.scores(first, {}, self.products, n)
        after = self.new.scores(second, self._off(n, rng), self.products, n)
        yield {name: Moves(before[was], after[name], after[name] - before[was]) for name, was in self.before_of.items()}

    def _off(self, n: int, rng: np.random.Generator) -> dict[str, Array]:
        """How far mapped readings may be off, by measure, shape (n, products); 0 for products read anew."""
        new, products, found = self.new.table, self.products, {}
        for bridge in self.bridges:
            index = [new.catalogue.products.index(name) if name in new.catalogue.products else -1 for name in products]
            mapped = new.inputs.values[bridge.measure][0]
            known = np.array([mapped[i] if i >= 0 else np.nan for i in index])
            old = np.nan_to_num((known - bridge.intercept) / bridge.slope)
            anew = np.array([name in bridge.new for name in products])
            found[bridge.measure] = np.where(anew, 0.0, bridge.errors(old, n, rng))
        return found


@dataclass(frozen=True, slots=True, eq=False)
class Moves:
    """A score in both editions and the difference, less what is published of them, shape (n, products) each."""

    old: Array
    new: Array
    difference: Array


@dataclass(slots=True, eq=False)
class Scattered:
    """One score over draws: sums and sums of squares by what is summed, shape (2, products); the differences of every draw,
    shape (draws, products), batch by batch; n_draws: how many there were."""

    sums: dict[str, Array]
    moves: list[NDArray[np.float32]]
    n_draws: int


@dataclass(frozen=True, slots=True, eq=False)
class Scatter:
    """How scores and their differences scatter.

    known: the scores that a repeatability is known of; whole: those of them that stand on no measure without one
    size: the greatest published figure of each; chosen: the products whose moves are judged, None for all.
    """

    known: frozenset[str]
    whole: frozenset[str]
    size: Mapping[str, float]
    chosen: Flags | None = None

    def start(self) -> dict[str, Scattered]:
        """Nothing."""
        return {}

    def add(self, sums: dict[str, Scattered], piece: Mapping[str, Moves]) -> dict[str, Scattered]:
        """Take in some draws."""
        return self.merge(sums, {name: _scattered(moves) for name, moves in piece.items()})

    def merge(self, sums: dict[str, Scattered], after: dict[str, Scattered]) -> dict[str, Scattered]:
        """The sums of both."""
        return {name: _both(sums[name], own) if name in sums else own for name, own in after.items()}

    def finish(self, sums: dict[str, Scattered]) -> SharedNoise:
        """Standard deviations, and how large the largest move of noise alone is."""
        old, new, difference = (
            {name: _sd(own.sums[key], own.n_draws) for name, own in sums.items()}
            for key in ("old", "new", "difference")
        )
        for name in sums.keys() - self.known:
            difference[name] = difference[name] * np.nan
        for name in self.known - self.whole:  # a move that no known noise reaches may stand on what is not known
            still = difference[name] <= DUST * self.size[name]
            difference[name] = np.where(still, np.nan, difference[name])
        critical = {
            name: _critical(np.concatenate(own.moves), self._judged(difference[name]), DUST * self.size[name])
            for name, own in sums.items()
        }
        return SharedNoise(old, new, difference, critical)

    def _judged(self, sd: Array) -> Array:
        """Standard deviations, shape (products,); NaN for products that are not judged."""
        return sd if self.chosen is None else np.where(self.chosen, sd, np.nan)


def _scattered(moves: Moves) -> Scattered:
    each = {"old": moves.old, "new": moves.new, "difference": moves.difference}
    sums = {key: np.array([values.sum(axis=0), (values**2).sum(axis=0)]) for key, values in each.items()}
    return Scattered(sums, [moves.difference.astype(np.float32)], len(moves.difference))


def _both(one: Scattered, after: Scattered) -> Scattered:
    sums = {key: own + after.sums[key] for key, own in one.sums.items()}
    return Scattered(sums, [*one.moves, *after.moves], one.n_draws + after.n_draws)


def mapped_uncertainty(old: ScoreTable, new: ScoreTable, bridge: Bridge) -> Array:
    """The standard uncertainty of the new edition's readings of a bridged measure, shape (products of the new edition,).

    A mapped reading errs as the old one, times the size of the slope: u(a + b x) = |b| u(x). What the old edition has is taken
    from there; of other products the reading is mapped back. A product read anew has its new reading's own.
    """
    name = bridge.measure
    measure = new.form.measure(name)
    before = value_uncertainty(measure, unbridged(new.catalogue, bridge))
    rows = {product: row for row, product in enumerate(old.catalogue.products)}
    found = new.uncertainty[name].copy()
    for row, product in enumerate(new.catalogue.products):
        if product not in bridge.new:
            is_old = product in rows and name in old.uncertainty
            u = old.uncertainty[name][rows[product]] if is_old else before[row]
            found[row] = abs(bridge.slope) * u
    return found


def _noisy(table: ScoreTable, targets: Sequence[str]) -> Noisy:
    factor = Factor("readings", "bench noise", "readings", "", "", "", "", "", columns=0)
    moved = any((u > 0).any() for u in table.uncertainty.values())
    moves = (NoiseMove(factor, table.errors),) if moved else ()
    study = Study("noise", "", table.form, moves, tuple(targets), 1, (), (), "")
    return Noisy(compile_trials(study, table.catalogue), table)


def _correlation(
    editions: tuple[ScoreTable, ScoreTable], measure: str, products: Sequence[str], bridges: Sequence[Bridge]
) -> Array:
    """How the errors of each product's two values of a measure are correlated, shape (products,)."""
    old, new = editions
    mapped = [bridge for bridge in bridges if bridge.measure == measure]
    found = []
    for name in products:
        if name not in old.catalogue.products or name not in new.catalogue.products:
            found.append(0.0)
        elif mapped:
            found.append(0.0 if any(name in bridge.new for bridge in mapped) else 1.0)
        elif old.catalogue.sha256 == new.catalogue.sha256:
            found.append(1.0)
        else:
            one, other = _repeats(old, measure, name), _repeats(new, measure, name)
            found.append((one & other).total() / np.sqrt(max(one.total() * other.total(), 1)))
    same = np.array(found)
    return np.asarray(
        same + (1 - same) * np.sqrt(_systematic(old, measure, products) * _systematic(new, measure, products))
    )


def _systematic(table: ScoreTable, measure: str, products: Sequence[str]) -> Array:
    """The share of the variance of each product's value that is systematic, and so the same however often it is read."""
    errors = table.errors.measures.get(measure)
    found = np.zeros(len(products))
    if errors is None or not any(one.name == SYSTEMATIC for one in errors.components):
        return found
    square, u = errors.component_u(errors.component(SYSTEMATIC)) ** 2, errors.u
    shares = np.divide(square, u**2, out=np.zeros_like(u), where=u > 0)
    for place, name in enumerate(products):
        if name in table.catalogue.products:
            found[place] = shares[table.catalogue.products.index(name)]
    return found


def _repeats(table: ScoreTable, measure: str, product: str) -> Counter[tuple[float, int]]:
    """A product's readings of a measure, as written and marked."""
    readings = table.catalogue.readings.get(measure)
    if readings is None:
        return Counter()
    row = table.catalogue.products.index(product)
    both = zip(readings.written[row].tolist(), readings.marks[row].tolist(), strict=True)
    return Counter((value, mark) for value, mark in both if mark in (State.VALUE, State.BELOW))


def _is_known(table: ScoreTable, name: str) -> bool:
    """Whether a repeatability is known of any measure that leads to a score."""
    under = table.form.dependencies.under(name)
    return any((table.uncertainty[measure] > 0).any() for measure in under if measure in table.uncertainty)


def _critical(moves: NDArray[np.float32], sd: Array, dust: float) -> float:
    """The 95 % point of the largest move in a draw, in standard deviations of each; NaN where noise makes no move."""
    err = np.flatnonzero(np.nan_to_num(sd) > dust)
    if not len(err):
        return float("nan")
    largest = np.max(np.abs(moves[:, err]) / sd[err], axis=1)
    return float(np.sort(largest)[int(np.ceil(COVERAGE * (len(largest) + 1))) - 1])


def _sd(sums: Array, n_draws: int) -> Array:
    mean = sums[0] / n_draws
    return np.asarray(np.sqrt(np.maximum(sums[1] / n_draws - mean**2, 0.0)))
