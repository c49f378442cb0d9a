"""The bench's noise in both editions at once: the same reading errs alike under both formulas, so differences err less."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from analysis.comparison.bridging import Bridge, unbridged
from analysis.study import Setting, Study
from analysis.study.moves import NoiseMove
from analysis.study.study import Factor
from analysis.trials.trials import Trials, compile_trials
from scoring.catalogue import State
from scoring.measurement_error import value_uncertainty
from scoring.measurement_error.components import SYSTEMATIC
from scoring.table import ScoreTable

Array = NDArray[np.float64]
DRAWS = 8192
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
    products judged at once. NaN where no noise of a difference is known.
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
    seed: int,
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
    `called_before` has the old name of each target that was renamed.
    """
    before_of = {name: (called_before or {}).get(name, name) for name in targets}
    editions = [_noisy(old, tuple(before_of.values())), _noisy(new, targets)]
    mapped = {bridge.measure: mapped_uncertainty(old, new, bridge) for bridge in bridges}
    editions[1] = replace(editions[1][0], u={**editions[1][0].u, **mapped}), new
    names = tuple(dict.fromkeys(m for trials, _ in editions for m in trials.u))
    kept = {name: _correlation(old, new, name, products, bridges) for name in names}
    sums = {key: {name: np.zeros((2, len(products))) for name in targets} for key in ("old", "new", "difference")}
    moves = {name: np.empty((DRAWS, len(products)), np.float32) for name in targets}
    for batch in range(DRAWS // BATCH):
        rng = np.random.default_rng([seed, 8, batch])
        first, again = (_errors(table, names, products, rng) for table in (old, new))
        second = {name: kept[name] * first[name] + np.sqrt(1 - kept[name] ** 2) * again[name] for name in names}
        before = _scores(editions[0], first, products, {})
        after = _scores(editions[1], second, products, _off(new, bridges, products, rng))
        drawn = (before, after)
        for name in targets:
            difference = drawn[1][name] - drawn[0][before_of[name]]
            moves[name][batch * BATCH : (batch + 1) * BATCH] = difference
            for key, values in (
                ("old", drawn[0][before_of[name]]),
                ("new", drawn[1][name]),
                ("difference", difference),
            ):
                sums[key][name] += [values.sum(axis=0), (values**2).sum(axis=0)]
    sd = {key: {name: _sd(both) for name, both in sums[key].items()} for key in sums}
    for name in targets:
        if not (_is_known(old, before_of[name]) or _is_known(new, name)):
            sd["difference"][name] = sd["difference"][name] * np.nan
    size = {name: np.nanmax(np.abs(new.evaluation.values[name][0]), initial=0.0) for name in targets}
    critical = {name: _critical(moves[name], sd["difference"][name], DUST * size[name]) for name in targets}
    return SharedNoise(sd["old"], sd["new"], sd["difference"], critical)


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


def _noisy(table: ScoreTable, targets: Sequence[str]) -> tuple[Trials, ScoreTable]:
    factor = Factor("readings", "bench noise", "readings", "", "", "", "", "", columns=0)
    moved = any((u > 0).any() for u in table.uncertainty.values())
    moves = (NoiseMove(factor, table.errors),) if moved else ()
    study = Study("noise", "", table.form, moves, tuple(targets), 1, (), (), "")
    return compile_trials(study, table.catalogue), table


def _errors(
    table: ScoreTable, names: Sequence[str], products: Sequence[str], rng: np.random.Generator
) -> dict[str, Array]:
    """Errors of the values of one edition in their standard uncertainties, (BATCH, products); 0 for what it has not."""
    drawn = table.errors.draw(BATCH, rng)
    here = [place for place, name in enumerate(products) if name in table.catalogue.products]
    rows = [table.catalogue.products.index(products[place]) for place in here]
    found = {}
    for name in names:
        found[name] = np.zeros((BATCH, len(products)))
        if name in drawn:
            u = table.uncertainty[name][rows]
            own = drawn[name][:, rows]
            found[name][:, here] = np.divide(own, u, out=np.zeros_like(own), where=u > 0)
    return found


def _scores(
    edition: tuple[Trials, ScoreTable],
    noise: Mapping[str, Array],
    products: Sequence[str],
    off: Mapping[str, Array],
) -> dict[str, Array]:
    """Scores less the published ones under noise, shape (BATCH, products); NaN for products that are not in the edition."""
    trials, table = edition
    here = [i for i, name in enumerate(products) if name in table.catalogue.products]
    back = [table.catalogue.products.index(products[i]) for i in here]
    order = np.empty(len(back), np.intp)
    order[back] = here
    setting = Setting(BATCH, noise={name: noise[name][:, order] for name in trials.u if name in noise})
    for name, errors in off.items():
        setting.resampled[name] = table.inputs.values[name] + errors[:, order]
    found = {}
    for name, values in trials.scores(setting).items():
        own = np.full((BATCH, len(products)), np.nan)
        own[:, here] = values[:, back] - table.evaluation.values[name][0][back]
        found[name] = own
    return found


def _off(
    new: ScoreTable, bridges: Sequence[Bridge], products: Sequence[str], rng: np.random.Generator
) -> dict[str, Array]:
    """How far mapped readings may be off, by measure, shape (BATCH, products); 0 for products read anew."""
    found = {}
    for bridge in bridges:
        index = [new.catalogue.products.index(name) if name in new.catalogue.products else -1 for name in products]
        mapped = new.inputs.values[bridge.measure][0]
        known = np.array([mapped[i] if i >= 0 else np.nan for i in index])
        old = np.nan_to_num((known - bridge.intercept) / bridge.slope)
        anew = np.array([name in bridge.new for name in products])
        found[bridge.measure] = np.where(anew, 0.0, bridge.errors(old, BATCH, rng))
    return found


def _correlation(
    old: ScoreTable, new: ScoreTable, measure: str, products: Sequence[str], bridges: Sequence[Bridge]
) -> Array:
    """How the errors of each product's two values of a measure are correlated, shape (products,)."""
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


def _sd(sums: Array) -> Array:
    mean = sums[0] / DRAWS
    return np.asarray(np.sqrt(np.maximum(sums[1] / DRAWS - mean**2, 0.0)))
