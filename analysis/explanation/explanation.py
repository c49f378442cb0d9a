"""Why a product scores what it scores: readings, trace, contributions, uncertainty, standing, and the next band."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from analysis.asked import unselected
from analysis.explanation.contributions import Contributions, contributions
from analysis.explanation.next_band import BandChange, least_changes, next_band
from analysis.explanation.repeats_by_hand import (
    Converted,
    Disputed,
    converted,
    counted_repeats,
    disputed,
    summed_and_rounded,
)
from analysis.explanation.trace import Line, trace
from analysis.partial.partial_place import PartialPlace, places_of
from scoring.catalogue import Catalogue, State, published_reason, without
from scoring.catalogue.repeats import unrounded
from scoring.errors import AddressError, Place, Problem, nearest
from scoring.form import Form, Measure, Output
from scoring.measurement_error.components import REPEATABILITY
from scoring.program.program import Program
from scoring.table.evaluate import kernel_for, stages
from scoring.table.part import narrowed
from scoring.table.table import Column, ScoreTable, score_catalogue
from scoring.table.uncertainty import correlations_of_results, monte_carlo, uncertainty

DRAWS = 20_000
#: What stands in a publication for a word that the formula keeps to itself.
NOT_PUBLISHED = "not published"


@dataclass(frozen=True, slots=True)
class ErrorPart:
    """What one component of a reading's error makes of the uncertainty of a value, in the measure's unit.

    component: as the form calls it; freedom: infinite where its size is known; origin: where the size comes from.
    """

    component: str
    u: float
    freedom: float
    origin: str


@dataclass(frozen=True, slots=True)
class ReadingNote:
    """One measure of the product: its repeats as text, their summary, and how well it is known, in the measure's unit.

    u is of all components together, on `freedom` effective degrees of freedom; parts: of each.
    numbers: of the repeats, counted from 1; converted: those whose cells are in another unit; arithmetic: how the repeats become
    the value, "" where there is none. said: the repeats as the lead reads them, with the laboratory's own reasons for what is
    missing.
    """

    measure: Measure
    repeats: tuple[str, ...]
    said: tuple[str, ...]
    value: float
    repeat_sd: float | None
    u: float
    freedom: float
    parts: tuple[ErrorPart, ...]
    numbers: tuple[int, ...] = ()
    converted: tuple[Converted, ...] = ()
    arithmetic: str = ""


@dataclass(frozen=True, slots=True)
class Uncertainty:
    """Standard uncertainty of a value from repeatability: first order (GUM) beside Monte Carlo, and the budget.

    budget: measure and |sensitivity| * u, in rating points, the largest first; undefined: the measures at whose reading the
    curve jumps or has a corner, so that they have no sensitivity; correlated: what correlations between measures add to the
    square of the first-order figure, below 0 where they take off; freedom: its effective degrees of freedom, infinite where
    all is known (Welch and Satterthwaite, JCGM 100:2008, G.4.1, from memory).
    """

    first_order: float
    mean: float
    sd: float
    low: float
    high: float
    budget: tuple[tuple[str, float], ...]
    undefined: tuple[str, ...]
    correlated: float = 0.0
    freedom: float = math.inf


@dataclass(frozen=True, slots=True)
class OutputNote:
    """One rating or score of the product; `unstated`: measures that it leans on and whose scatter nobody states."""

    output: Output
    column: Column
    lines: tuple[Line, ...]
    contributions: Contributions | None
    uncertainty: Uncertainty | None
    unstated: tuple[str, ...]
    next_band: tuple[str, float] | None
    changes: tuple[BandChange, ...]


@dataclass(frozen=True, slots=True)
class Shown:
    """What is published of one figure: as text, or the status where there is none; its place and band, "" for none."""

    shown: str
    rank: str
    band: str


@dataclass(frozen=True, slots=True)
class Challenge:
    """A figure with and without the readings that were set aside."""

    output: Output
    before: Shown
    after: Shown
    move: float
    remarks: str


@dataclass(frozen=True, slots=True)
class GateNote:
    """One gate's word on the product: its condition, what stands in it, the guard band's reach, and the remark.

    said: what stands in it as the lead reads it, with words that are not published
    """

    name: str
    condition: str
    values: tuple[tuple[str, str], ...]
    said: tuple[tuple[str, str], ...]
    reach: float | None
    remark: str


@dataclass(frozen=True, slots=True, eq=False)
class Explanation:
    """Everything said about one product.

    partial: each of its scores (or ratings, where they are what is asked for) whose place stands on a missing part; together:
    how the errors of two of its scores are correlated, the same readings going into both, to first order; disputed: the
    readings that are set aside, as they were.
    """

    table: ScoreTable
    product: int
    readings: tuple[ReadingNote, ...]
    gates: tuple[GateNote, ...]
    outputs: tuple[OutputNote, ...]
    challenges: tuple[Challenge, ...]
    set_aside: tuple[str, ...]
    draws: int
    seed: int
    partial: tuple[PartialPlace, ...] = ()
    together: Mapping[tuple[str, str], float] = field(default_factory=dict)
    disputed: tuple[Disputed, ...] = ()


def explanation_of(
    table: ScoreTable,
    product: str,
    *,
    only: str | None = None,
    set_aside: Sequence[str] = (),
    seed: int = 0,
    draws: int = DRAWS,
) -> Explanation:
    """The explanation of one product's ratings and scores.

    Parameters
    ----------
    table : the scores with every reading
    only : name of a rating or score; all by default
    set_aside : readings to leave out, each `MEASURE/REPEAT` (of this product) or `PRODUCT/MEASURE/REPEAT`

    Raises
    ------
    AddressError, CatalogueError
        No such product, output or reading.
    """
    form, program, before = table.form, table.program, table
    if product not in table.catalogue.products:
        hint = table.catalogue.hint_at(product)
        raise AddressError([Problem(Place("PRODUCT"), f"`{product}`", "the id of a product", hint)])
    index = table.catalogue.products.index(product)
    if problems := unselected(table, [product], "PRODUCT"):
        raise AddressError(problems)
    if only is not None:
        _check_score(only, form)
    if set_aside:
        reduced = table.catalogue
        for reading in set_aside:
            reduced = _without(reduced, reading, product)
        again = replace(score_catalogue(form, reduced, program), settings=table.settings)
        table = narrowed(again, table.selected)
    taken_away = table.catalogue.set_aside[len(before.catalogue.set_aside) :]
    wanted = [form.output(only)] if only is not None else list(form.outputs)
    notes = _outputs(program, table, index, wanted, seed, draws)
    challenges = _challenges(before, table, index) if set_aside else ()
    readings = _readings(form, table, index, program, wanted)
    placed = [output.name for output in wanted if only is not None or output.section == "scores" or not table.scores]
    partial = places_of(table, index, placed)
    gates = _gates(table, index)
    together = _together(program, table, index) if only is None else {}
    return Explanation(
        table=table,
        product=index,
        readings=readings,
        gates=gates,
        outputs=notes,
        challenges=challenges,
        set_aside=tuple(set_aside),
        draws=draws,
        seed=seed,
        partial=partial,
        together=together,
        disputed=tuple(disputed(before.catalogue, form, reading) for reading in taken_away),
    )


def _together(program: Program, table: ScoreTable, product: int) -> dict[tuple[str, str], float]:
    """How the errors of each two published scores of a product are correlated; those left out that first order cannot tell."""
    names = [column.output.name for column in table.scores if not np.isnan(column.value[product])]
    if len(names) < 2 or not table.errors.measures:
        return {}
    inputs, errors = table.inputs, table.errors
    at = product
    if not program.figures:
        inputs, errors, at = inputs.of_product(product), errors.of_product(product), 0
    found = correlations_of_results(program, inputs, errors, names)
    return {pair: float(values[at]) for pair, values in found.items() if not np.isnan(values[at])}


def _check_score(name: str, form: Form) -> None:
    if name not in form.outputs_by_name:
        hint = nearest(name, form.outputs_by_name)
        raise AddressError([Problem(Place("--score"), f"`{name}`", "the name of a score or rating", hint)])


def _without(catalogue: Catalogue, reading: str, product: str) -> Catalogue:
    """The catalogue without one reading, written MEASURE/REPEAT or PRODUCT/MEASURE/REPEAT."""
    head, _, repeat = reading.rpartition("/")
    owner, _, measure = head.rpartition("/")
    if not measure or not repeat.isdecimal():
        expected = "MEASURE/REPEAT, or PRODUCT/MEASURE/REPEAT, as noise_dba/3"
        raise AddressError([Problem(Place("--without"), f"`{reading}`", expected)])
    return without(catalogue, owner or product, measure, int(repeat))


def _readings(
    form: Form, table: ScoreTable, product: int, program: Program, wanted: Sequence[Output]
) -> tuple[ReadingNote, ...]:
    needed = set(program.measures_under(*(output.name for output in wanted)))
    needed |= {name for gate in form.gates for name in gate.when.names}
    needed |= {name for output in wanted for name in output.asked_for_bands}
    notes = []
    for measure in form.measures:
        if measure.name not in needed or measure.name not in table.catalogue.readings:
            continue
        readings = table.catalogue.readings[measure.name]
        cells = zip(readings.values[product], readings.states[product], readings.written[product], strict=True)
        there = [(repeat, cell) for repeat, cell in enumerate(cells) if cell[1] != State.NONE]
        said = [_cell(*cell, readings.reasons.get((product, repeat), "")) for repeat, cell in there]
        repeats = [_cell(*cell, published_reason(readings, (product, repeat), form)) for repeat, cell in there]
        value = float(table.inputs.values[measure.name][0, product])
        u = float(table.uncertainty[measure.name][product])
        sd = _repeat_sd(table, measure.name, product)
        freedom, parts = _error_parts(table, measure.name, product)
        counted, made = counted_repeats(readings, product), converted(measure, readings, product)
        arithmetic = summed_and_rounded(measure, counted) if counted else ""
        numbers = tuple((np.flatnonzero(readings.states[product] != State.NONE) + 1).tolist())
        notes.append(
            ReadingNote(measure, tuple(repeats), tuple(said), value, sd, u, freedom, parts, numbers, made, arithmetic)
        )
    return tuple(notes)


def _error_parts(table: ScoreTable, measure: str, product: int) -> tuple[float, tuple[ErrorPart, ...]]:
    """The effective degrees of freedom of a value's uncertainty, and what each component makes of it."""
    errors = table.errors.measures.get(measure)
    if errors is None or np.isnan(errors.u[product]):
        return math.inf, ()
    parts = (
        ErrorPart(one.name, float(errors.component_u(one)[product]), float(one.freedom[product]), one.origin)
        for one in errors.components
    )
    return float(errors.freedom[product]), tuple(parts)


def _repeat_sd(table: ScoreTable, measure: str, product: int) -> float | None:
    """The standard deviation of one reading within a run, in the measure's unit; None where it is not known."""
    errors = table.errors.measures.get(measure)
    if errors is None or all(one.name != REPEATABILITY for one in errors.components):
        return None
    sd = float(errors.component(REPEATABILITY).sd[product])
    return None if math.isnan(sd) else sd


def _gates(table: ScoreTable, product: int) -> tuple[GateNote, ...]:
    """Every gate that says something of the product, or that was judged on a reading of it."""
    notes = []
    for passage in table.passages:
        gate, values = passage.gate, []
        for name in gate.when.names:
            if name in table.inputs.values:
                reading = float(table.inputs.values[name][0, product])
                values.append((name, "missing" if np.isnan(reading) else f"{reading:.7g}"))
            elif name in table.inputs.words:
                values.append((name, table.inputs.words[name][product] or "not stated"))
        reach = None
        if gate.guard is not None:
            reach = gate.guard.value * float(table.uncertainty[gate.when.names[0]][product])
        private = table.catalogue.roles.private
        published = tuple((name, NOT_PUBLISHED if name in private else value) for name, value in values)
        notes.append(GateNote(gate.name, gate.when.text, published, tuple(values), reach, passage.remarks[product]))
    return tuple(notes)


def _cell(value: float, state: int, written: float, reason: str) -> str:
    match State(state):
        case State.VALUE:
            return f"{value:.10g}"
        case State.BELOW:
            return (
                f"below the reporting limit, counts as {value:.10g}" if value == value else "below the reporting limit"
            )
        case State.MISSING:
            if written == written:
                return f"{written:.10g} ({reason})"
            return f"missing ({reason})" if reason else "missing"
    return "not applicable"


def _outputs(
    program: Program, table: ScoreTable, product: int, wanted: Sequence[Output], seed: int, draws: int
) -> tuple[OutputNote, ...]:
    worked = stages(program, table.inputs)
    lines = trace(program, table.inputs, worked, product)
    uncertainties = _uncertainties(program, table, product, seed, draws)
    read = unrounded(table.form, table.catalogue, product)
    notes = []
    for output in wanted:
        column = table.column(output.name)
        traced = {output.name, *(program.form.dependencies.under(output.name) if len(wanted) == 1 else ())}
        band = next_band(output, int(column.band[product])) if not np.isnan(column.value[product]) else None
        notes.append(
            OutputNote(
                output=output,
                column=column,
                lines=tuple(line for line in lines if line.output in traced),
                contributions=contributions(program, output, table.inputs, table.evaluation, worked, product),
                uncertainty=uncertainties.get(output.name) if not np.isnan(column.value[product]) else None,
                unstated=tuple(name for name in program.measures_under(output.name) if _unstated(table, name, product)),
                next_band=band,
                changes=least_changes(program, output, table.inputs, read, product, band) if band else (),
            )
        )
    return tuple(notes)


def _unstated(table: ScoreTable, measure: str, product: int) -> bool:
    """Whether a measure is read of the product and no standard uncertainty of it is known."""
    read = not np.isnan(table.inputs.values[measure][0, product])
    return bool(read and np.isnan(table.uncertainty[measure][product]))


def _uncertainties(program: Program, table: ScoreTable, product: int, seed: int, draws: int) -> dict[str, Uncertainty]:
    """First order and Monte Carlo of every output; none where no measure's repeatability is known."""
    errors = table.errors.of_measures([name for name, u in table.uncertainty.items() if not np.isnan(u[product])])
    if not errors.measures:
        return {}
    inputs = table.inputs if program.figures else table.inputs.of_product(product)
    at = product if program.figures else 0
    errors = errors if program.figures else errors.of_product(product)
    kernel = kernel_for(program, inputs, program.outputs)
    total = uncertainty(program, inputs, errors, kernel)
    drawn = monte_carlo(program, inputs, errors, draws, np.random.default_rng(seed))
    each = {name: uncertainty(program, inputs, errors.of_measures([name]), kernel) for name in errors.measures}
    found = {}
    for output in program.form.outputs:
        name = output.name
        budget = [(m, float(values[name][at])) for m, values in each.items() if values[name][at] > 0]
        spread = drawn[name]
        mean, sd, low, high = (float(a[at]) for a in (spread.mean, spread.sd, spread.low, spread.high))
        ordered = tuple(sorted(budget, key=lambda entry: -entry[1]))
        undefined = tuple(m for m, values in each.items() if np.isnan(values[name][at]))
        first = float(total[name][at])
        squares = sum(own**2 for _, own in budget)
        correlated = first**2 - squares if errors.covariances else 0.0
        spent = sum(own**4 / float(errors.freedom[m][at]) for m, own in budget)
        freedom = first**4 / spent if spent > 0 else math.inf
        found[name] = Uncertainty(first, mean, sd, low, high, ordered, undefined, correlated, freedom)
    return found


def _challenges(before: ScoreTable, after: ScoreTable, product: int) -> tuple[Challenge, ...]:
    """Every figure of the product that the set-aside readings move."""
    found = []
    for old, new in zip(before.ratings + before.scores, after.ratings + after.scores, strict=True):
        move = float(new.value[product] - old.value[product])
        was, now = old.remarks.get(product, ()), new.remarks.get(product, ())
        said = [f"falls away: {remark}" for remark in was if remark not in now]
        said += [f"new: {remark}" for remark in now if remark not in was]
        same = move == 0 or (np.isnan(old.value[product]) and np.isnan(new.value[product]))
        if not same or said or old.status[product] != new.status[product]:
            was_shown, now_shown = _shown(before, old, product), _shown(after, new, product)
            found.append(Challenge(old.output, was_shown, now_shown, move, "; ".join(said)))
    return tuple(found)


def _shown(table: ScoreTable, column: Column, product: int) -> Shown:
    place = column.rank[product]
    shown = column.shown_text(product) or column.status_text(product)
    return Shown(shown, "" if np.isnan(place) else f"{place:g}", table.band_name(column, product))


def sds(explanation: Explanation) -> dict[str, float | None]:
    """The repeat standard deviation of each measure that the explanation lists."""
    return {note.measure.name: note.repeat_sd for note in explanation.readings}
