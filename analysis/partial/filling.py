"""What a partial score stands on, and the score as its missing readings take any value.

It lacks readings, and the share of its weight that they would have had. It is scored by the kernels that score, other
products as they are.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import chain
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from analysis.study.study import Factor, Move, Setting, Stream, Study
from analysis.trials.quantities import Quantities, as_ranked, quantities_of
from analysis.trials.trials import Trials, compile_trials
from scoring.catalogue import State
from scoring.form import Form, Measure, Output
from scoring.numbers.array_types import Array, Flags
from scoring.numbers.ranks import significant
from scoring.numbers.rounding import round_to
from scoring.program.kernel import Kernel, kernel_of
from scoring.program.program import Program
from scoring.table.evaluate import Evaluation, Inputs, evaluate
from scoring.table.missing import Presence, Standing
from scoring.table.table import STATUSES, Column, ScoreTable

PARTIAL = STATUSES.index("partial")


@dataclass(frozen=True, slots=True)
class Lacking:
    """A product whose published score lacks something.

    product: its index in the catalogue; measures: those that were not read; share: of the score's weight that stood on them,
    from 0 to 1
    """

    product: int
    measures: tuple[str, ...]
    share: float


def lacking(table: ScoreTable, program: Program, column: Column, products: Sequence[int]) -> Iterator[Lacking]:
    """Which of some products have a partial score that readings are missing for, best place first."""
    order = sorted(products, key=lambda product: (float(column.rank[product]), product))
    for product in order:
        if column.status[product] != PARTIAL or np.isnan(column.value[product]):
            continue
        names = program.measures_under(column.output.name)
        gone = tuple(name for name in names if table.inputs.states[name][product] == State.MISSING)
        if gone:
            yield Lacking(product, gone, _missing_share(table, program, column.output, product))


def _missing_share(table: ScoreTable, program: Program, output: Output, product: int) -> float:
    """The share of an output's weight that stands on what is missing, through other outputs too; what does not apply has none."""
    presence = table.evaluation.presence
    total = gone = 0.0
    for source, weight in _weighed(output):
        if not _at(presence.applies[source], product):
            continue
        total += weight
        if not _at(presence.here[source], product):
            gone += weight
        elif source in presence.standing and _at(presence.standing[source], product) == Standing.PARTIAL:
            gone += weight * _missing_share(table, program, program.form.output(source), product)
    return gone / total if total > 0 else 0.0


def _weighed(output: Output) -> list[tuple[str, float]]:
    if output.value is not None:
        return [(name, 1.0) for name in output.value.names]
    return [(part.source, part.weight.value if part.weight is not None else 1.0) for part in output.parts]


def _at(array: np.ndarray[tuple[int, ...], np.dtype[np.generic]], product: int) -> int:
    row = array[0]
    return int(row[product if len(row) > 1 else 0])


Kind = TypeVar("Kind", bound=np.generic)
#: So many scores are held at a time, where a reading moves those of other products too.
HELD = 1 << 22


@dataclass(frozen=True, slots=True)
class Axis:
    """One thing that is missing and the ends between which it may lie: a reading, or where no plausible range is declared a
    rating on its scale.

    measures: those that it stands for; measure: the one whose reading it is, None for a rating
    """

    name: str
    low: float
    high: float
    unit: str
    measures: tuple[str, ...]
    measure: Measure | None


@dataclass(frozen=True, slots=True)
class _Anything(Move):
    """What makes trials work every output out anew."""

    factor: Factor

    @property
    def factors(self) -> tuple[Factor, ...]:
        return (self.factor,)

    def apply(self, unit: Array, stream: Stream, setting: Setting) -> None:
        """What is missing is written into settings by hand."""

    def state(self, setting: Setting) -> None:
        """What is missing stays so."""


@dataclass(frozen=True, slots=True, eq=False)
class Filled:
    """One score of a table, ready to be worked out with what products lack; made once, used for each of them.

    live: whether products lean on each other's readings, so that all are worked out and not the one alone
    """

    table: ScoreTable
    program: Program
    trials: Trials
    quantities: Quantities
    gates: Kernel | None
    live: bool
    stated: dict[tuple[str, ...], Mapping[str, Evaluation]] = field(default_factory=dict)

    @property
    def output(self) -> Output:
        return self.quantities.output

    def axes(self, lacks: Lacking) -> tuple[tuple[Axis, ...], tuple[str, ...]]:
        """What may take any value for a product, and the measures that nothing bounds."""
        found, unbounded = list[Axis](), list[str]()
        for name in lacks.measures:
            measure = self.program.form.measure(name)
            if measure.plausible is not None:
                low, high = measure.plausible
                found.append(Axis(name, low.value, high.value, measure.unit, (name,), measure))
                continue
            for output in self._taking(name):
                top = output.scale.high
                if top is None:
                    unbounded.append(name)
                elif output.name not in {axis.name for axis in found}:
                    own = tuple(one for one in lacks.measures if one in output.sources)
                    found.append(Axis(output.name, output.scale.low.value, top.value, "points", own, None))
        return tuple(found), tuple(dict.fromkeys(unbounded))

    def _taking(self, measure: str) -> list[Output]:
        form = self.program.form
        names = (self.output.name, *form.dependencies.under(self.output.name))
        takers = form.dependencies.takers(measure)
        return [form.output(name) for name in names if name in takers]

    def own(self, lacks: Lacking, axes: Sequence[Axis], rows: Array) -> Array:
        """The product's score where what it lacks is as each row says, shape (n,); NaN where it has none.

        Parameters
        ----------
        axes : some of the product's; what the others stand for stays missing
        rows : shape (n, axes)
        """
        return np.concatenate([self._scores(lacks, axes, piece)[:, self._at(lacks)] for piece in self._pieces(rows)])

    def own_places(self, lacks: Lacking, axes: Sequence[Axis], rows: Array) -> Array:
        """The product's place in the same, shape (n,), as the formula ranks; NaN where it has none."""
        if self.live:
            found = [self.places(self._scores(lacks, axes, piece))[:, lacks.product] for piece in self._pieces(rows)]
            return np.concatenate(found)
        others = self.quantities.products[self.quantities.products != lacks.product]
        against = self._key(self.table.column(self.output.name).value[others])
        return _place_among(self._key(self.own(lacks, axes, rows)), against, self.output.ranks.ties.value)

    def values(self, lacks: Lacking, axes: Sequence[Axis], row: Array) -> Array:
        """The score of every product in one such case, shape (1, n_products)."""
        found = self._scores(lacks, axes, row[np.newaxis])
        if self.live:
            return found
        whole = self.table.column(self.output.name).value[np.newaxis].copy()
        whole[:, lacks.product] = found[:, 0]
        return whole

    def places(self, values: Array) -> Array:
        """The place of every product, as the formula ranks them, shape (n, n_products), NaN for one that has none."""
        found = np.full(values.shape, np.nan)
        found[:, self.quantities.products] = self.quantities.ranks(values)
        return found

    def _key(self, values: Array) -> Array:
        """What products are ranked by, of the shape of `values`, the least being best."""
        values = as_ranked(self.output, values)
        return significant(-values if self.output.ranks.best.value == "highest" else values)

    def _at(self, lacks: Lacking) -> int:
        """Where the product stands among those that are worked out."""
        return lacks.product if self.live else 0

    def _pieces(self, rows: Array) -> list[Array]:
        """Rows, shape (n, axes), as many at a time as may be held."""
        step = max(1, HELD // len(self.table.catalogue.products)) if self.live else len(rows)
        return [rows[top : top + step] for top in range(0, len(rows), step)]

    def _scores(self, lacks: Lacking, axes: Sequence[Axis], rows: Array) -> Array:
        """The scores of all products where they lean on each other, shape (n, n_products), else of the one, shape (n, 1)."""
        inputs, at = self.trials.inputs, self._at(lacks)
        own = inputs if self.live else inputs.of_product(lacks.product)
        setting = Setting(len(rows))
        for axis, column in zip(axes, rows.T, strict=True):
            if axis.measure is not None:
                setting.filled[axis.name] = np.full((len(rows), len(own.products)), np.nan)
                setting.filled[axis.name][:, at] = _as_read(axis.measure, column)
        trials = replace(self.trials, inputs=own, settled={})
        rated = {axis.name: column for axis, column in zip(axes, rows.T, strict=True) if axis.measure is None}
        moved = self._moved_by(axes)
        known = self._worked_out(trials, setting, rated, at, moved)
        found = np.array(np.broadcast_to(known, (len(rows), len(own.products))))
        found[self._withheld(own, setting, moved)] = np.nan
        return found

    def _moved_by(self, axes: Sequence[Axis]) -> frozenset[str]:
        """The measures and ratings that axes stand for, and the outputs that lean on them."""
        moved = {axis.name for axis in axes}
        live = {figure.measure for figure in self.program.figures}
        for stage in self.trials.stages:
            if moved.intersection((*stage.output.sources, *(live if self.live else ()))):
                moved.add(stage.output.name)
        return frozenset(moved)

    def _worked_out(
        self, trials: Trials, setting: Setting, rated: dict[str, Array], at: int, moved: frozenset[str]
    ) -> Array:
        """The score's values, with ratings put in place of those that cannot be worked out; what nothing moves as it stands.

        rated : name -> shape (n,), of the product that stands at `at`; the values are of shape (n or 1, products worked out)
        """
        before = self._stated(trials)
        given = dict(before) | {name: _put(before[name], name, at, column) for name, column in rated.items()}
        if self.output.name in rated:
            return given[self.output.name].values[self.output.name]
        return trials.work_out(setting, given, moved - set(rated))[self.output.name].values[self.output.name]

    def _stated(self, trials: Trials) -> Mapping[str, Evaluation]:
        """Every output as it stands, of all products or of the one alone: worked out once for each."""
        key = trials.inputs.products
        if key not in self.stated:
            self.stated[key] = trials.work_out(Setting(1))
        return self.stated[key]

    def _withheld(self, own: Inputs, setting: Setting, moved: frozenset[str]) -> Flags:
        """Where a gate withholds the score for what a missing reading would be, shape (n, products worked out)."""
        shape = (setting.n_draws, len(own.products))
        asked = [gate.when.names for gate in self.program.form.gates if gate.withhold]
        names = set(chain.from_iterable(asked))
        if self.gates is None or not names.intersection(moved):
            return np.zeros(shape, bool)
        values, states = dict(own.values), dict(own.states)
        for name, filled in setting.filled.items():
            values[name] = np.where(np.isnan(filled), own.values[name], filled)
            states[name] = np.where(np.isnan(filled[0]), states[name], State.VALUE).astype(np.uint8)
        found = evaluate(self.gates, replace(own, values=values, states=states)).values
        withheld = [np.broadcast_to(found[name] > 0.5, shape) for name in self.gates.outputs]
        return np.asarray(np.any(withheld, axis=0))


def filled_of(table: ScoreTable, program: Program, name: str) -> Filled:
    """A score of a table, ready to be worked out with what products lack."""
    form = table.form
    factor = Factor("unread", "what was not read", "readings", "", "", "", "", "")
    study = Study("what was not read", "", form, (_Anything(factor),), (name,), 1, (), (), "")
    trials = compile_trials(study, table.catalogue, program=program)
    quantities = quantities_of(form, table.column(name), table.catalogue.products, 1, ())
    return Filled(table, program, trials, quantities, _gates(form, program, name), bool(program.figures))


def _gates(form: Form, program: Program, name: str) -> Kernel | None:
    """The gates that can withhold a score, where it is a score that gates withhold."""
    if form.scores and name not in {output.name for output in form.scores}:
        return None
    own = [f"gate {gate.name}" for gate in form.gates if gate.withhold and (not gate.scores or name in gate.scores)]
    return kernel_of(program, own) if own else None


def _place_among(own: Array, others: Array, ties: str) -> Array:
    """The place of each key among the others', the least being first; NaN for NaN.

    own : shape (n,), as the places; others : shape (others,), without NaN
    """
    ordered = np.unique(others) if ties == "dense" else np.sort(others)
    better, up_to = (np.searchsorted(ordered, own, side=side) for side in ("left", "right"))
    places = 1.0 + better + ((up_to - better) / 2 if ties == "shared-mean" else 0.0)
    return np.where(np.isnan(own), np.nan, places)


def _as_read(measure: Measure, values: Array) -> Array:
    """Readings as they enter the formula, of the same shape, after the measure's own rounding."""
    return round_to(values, measure.round.step.value, measure.round.rule.value) if measure.round else values


def _put(evaluation: Evaluation, name: str, at: int, column: Array) -> Evaluation:
    """An output as it was worked out, but for one product, which has the values of a column and lacks nothing.

    column : shape (n,); what is made of it has the shape (n, products worked out)
    """
    shape = len(column), np.shape(evaluation.values[name])[1]
    presence = evaluation.presence
    values = _with(evaluation.values[name], at, column, shape)
    here = _with(presence.here[name], at, np.array(True), shape)
    applies = _with(presence.applies[name], at, np.array(True), shape)
    standing = _with(presence.standing[name], at, np.array(Standing.RATED, np.uint8), shape)
    return Evaluation({name: values}, Presence({name: here}, {name: applies}, {name: standing}))


def _with(array: NDArray[Kind], at: int, column: NDArray[Kind], shape: tuple[int, int]) -> NDArray[Kind]:
    """An array made of shape `shape`, with a column, shape (n,) or (), in the place `at`."""
    found = np.array(np.broadcast_to(array, shape))
    found[:, at] = column
    return found
