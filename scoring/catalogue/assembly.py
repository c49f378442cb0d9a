"""Assembly: the read cells of one measure become its readings: converted, checked, put in their places."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from scoring.catalogue.cells import Parsed, shown
from scoring.catalogue.readings import Readings, State
from scoring.catalogue.reporting_limit import count_below, reasons_below, slack
from scoring.catalogue.sheets import problem
from scoring.errors import Place, Problem
from scoring.form import Measure
from scoring.texts.file_limits import over_limits
from scoring.units.conversion import UnitError, convert, same_unit


@dataclass(frozen=True, slots=True, eq=False)
class Batch:
    """Cells of one measure in one column and one stated unit (None: none stated); arrays of shape (n_cells,).

    `products` and `repeats` count from 0; -1 marks a cell whose product or repeat is faulty, and reported elsewhere.
    """

    unit: str | None
    column: str
    unit_place: Place
    cells: NDArray[np.object_]
    parsed: Parsed
    products: NDArray[np.intp]
    repeats: NDArray[np.intp]
    lines: NDArray[np.int64]


def assemble(
    measure: Measure, batches: Sequence[Batch], n_products: int, source: str, problems: list[Problem]
) -> Readings:
    """Make the readings of one measure from its batches; what is wrong with them goes to `problems`."""
    n_repeats = 1 + max((int(batch.repeats.max(initial=0)) for batch in batches), default=0)
    many = over_limits(Place(source, column_name=measure.name), cells=n_products * n_repeats)
    if many:
        problems += many
        batches, n_repeats = [], 1
    _check_stated(measure, batches, problems)
    shape = (n_products, n_repeats)
    written, marks = np.full(shape, np.nan), np.full(shape, State.NONE, dtype=np.uint8)
    rows, columns = np.zeros(shape, dtype=np.int64), [""] * n_repeats
    reasons: dict[tuple[int, int], str] = {}
    for batch in (_checked(measure, batch, source, problems) for batch in batches):
        kept = np.flatnonzero((batch.products >= 0) & (batch.repeats >= 0))
        cells = batch.products[kept], batch.repeats[kept]
        written[cells], marks[cells] = batch.parsed.numbers[kept], batch.parsed.states[kept]
        rows[cells] = batch.lines[kept]
        for repeat in np.unique(cells[1]).tolist():
            columns[repeat] = batch.column
        for i, reason in batch.parsed.reasons.items():
            if batch.products[i] >= 0 and batch.repeats[i] >= 0:
                reasons[int(batch.products[i]), int(batch.repeats[i])] = reason
    values, states = count_below(measure, written, marks)
    reasons |= reasons_below(measure, written, marks, states)
    readings = Readings(values, states, reasons, written, marks, rows, tuple(columns), source)
    _check_applicable(measure, readings, problems)
    return readings


def _checked(measure: Measure, batch: Batch, source: str, problems: list[Problem]) -> Batch:
    """The batch in the form's unit; reports faulty cells, bounds overstepped and limits that nobody states."""
    parsed = batch.parsed
    for i, fault in parsed.faults.items():
        problems.append(problem(Place(source, int(batch.lines[i]), column_name=batch.column), fault))
    unit = measure.unit if batch.unit is None else batch.unit
    try:
        numbers = convert(parsed.numbers, unit, measure.unit)
    except UnitError as fault:
        problems += (replace(one, place=batch.unit_place) for one in fault.problems)
        gone = replace(parsed, states=np.full_like(parsed.states, State.MISSING), numbers=parsed.numbers * np.nan)
        return replace(batch, parsed=gone)
    stated = (parsed.states == State.VALUE) | (parsed.states == State.BELOW)
    if measure.reporting_limit is None:
        bare = np.flatnonzero((parsed.states == State.BELOW) & np.isnan(parsed.numbers))
        for i in bare.tolist():
            place = Place(source, int(batch.lines[i]), column_name=batch.column)
            found = f"`{measure.name}` below a reporting limit that is not stated"
            problems.append(Problem(place, found, "a limit, here or in the formula", "Write `< 22`, or the value 22."))
    over = np.flatnonzero(stated & np.isinf(numbers))
    _report(measure, batch, over, source, problems, expected=f"a finite number of {measure.unit}")
    if measure.plausible:
        low, high = (bound.value for bound in measure.plausible)
        below = parsed.states == State.BELOW
        least = np.where(below, min(low, measure.reporting_limit.value if measure.reporting_limit else low), low)
        outside = stated & (numbers < least - slack(low, measure.unit))
        outside |= stated & (numbers > high + slack(high, measure.unit)) & np.isfinite(numbers)
        expected = f"{low:.10g} to {high:.10g} {measure.unit}, the plausible range"
        _report(measure, batch, np.flatnonzero(outside), source, problems, expected=expected, numbers=numbers)
    return replace(batch, parsed=replace(parsed, numbers=numbers))


def _report(
    measure: Measure,
    batch: Batch,
    cells: NDArray[np.intp],
    source: str,
    problems: list[Problem],
    *,
    expected: str,
    numbers: NDArray[np.float64] | None = None,
) -> None:
    """Report cells whose number does not do; `numbers` are the same in the form's unit."""
    unit = measure.unit if batch.unit is None else batch.unit
    hint = "Check the reading, its decimal point and its unit. A true one needs a wider `plausible`."
    for i in cells.tolist():
        found = f"`{measure.name}` of {shown(batch.cells[i])} {unit}"
        if numbers is not None and not same_unit(unit, measure.unit):
            found += f" ({numbers[i]:.6g} {measure.unit})"
        place = Place(source, int(batch.lines[i]), column_name=batch.column)
        problems.append(Problem(place, found, expected, "" if numbers is None else hint))


def _check_stated(measure: Measure, batches: Sequence[Batch], problems: list[Problem]) -> None:
    """Where some readings state another unit than the form's, all must state one."""
    other = [batch.unit for batch in batches if batch.unit and not same_unit(batch.unit, measure.unit)]
    for batch in batches if other else ():
        if batch.unit is None and (batch.parsed.states <= State.BELOW).any():
            found = f"`{measure.name}` without a unit, next to readings in {other[0]}"
            hint = f"Without one, {measure.unit} is meant: say so."
            problems.append(Problem(batch.unit_place, found, "a unit for every reading of it", hint))


def _check_applicable(measure: Measure, readings: Readings, problems: list[Problem]) -> None:
    """A measure applies to a product or it does not: no repeat may say otherwise."""
    absent = readings.marks == State.NOT_APPLICABLE
    read = (readings.marks == State.VALUE) | (readings.marks == State.BELOW)
    for product in np.flatnonzero(absent.any(axis=1) & read.any(axis=1)).tolist():
        place = readings.place(product, int(np.argmax(absent[product])))
        other = readings.place(product, int(np.argmax(read[product])))
        found = f"`{measure.name}` not applicable, and a reading of it in row {other.line}, column {other.column_name}"
        problems.append(Problem(place, found, "either of the two for one product", "Write `missing` for a gap."))
