"""Assembly: the read cells of one measure become its readings: converted, checked, put in their places."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from scoring.catalogue.as_read import AsReadCells
from scoring.catalogue.cells import Parsed, shown
from scoring.catalogue.product_columns import ProductRows
from scoring.catalogue.readings import Readings, State
from scoring.catalogue.reporting_limit import count_below, reasons_below, slack
from scoring.catalogue.sheets import problem
from scoring.errors import Place, Problem
from scoring.form import Measure
from scoring.numbers.array_types import Array, Flags, Indices, Integers, Texts
from scoring.texts.file_limits import over_limits
from scoring.units.conversion import PLAIN_NUMBER, UnitError, convert, same_unit
from scoring.units.role import in_unit


@dataclass(frozen=True, slots=True, eq=False)
class Batch:
    """Cells of one measure in one column and one stated unit (None: none stated); arrays of shape (n_cells,).

    `column` is where the column stands, whatever the row.
    `products` and `repeats` count from 0; -1 marks a cell whose product or repeat is faulty, and reported elsewhere.
    """

    unit: str | None
    column: Place
    unit_place: Place
    cells: Texts
    parsed: Parsed
    products: Indices
    repeats: Indices
    lines: Integers


def assemble(measure: Measure, batches: Sequence[Batch], rows: ProductRows, problems: list[Problem]) -> Readings:
    """Make the readings of one measure from its batches; what is wrong with them goes to `problems`."""
    source = batches[0].column.source if batches else rows.sheet.source
    n_products = len(rows.products)
    n_repeats = 1 + max((int(batch.repeats.max(initial=0)) for batch in batches), default=0)
    many = over_limits(Place(source, column_name=measure.name), cells=n_products * n_repeats)
    if many:
        problems += many
        batches, n_repeats = [], 1
    _check_stated(measure, batches, problems)
    shape = (n_products, n_repeats)
    written, marks = np.full(shape, np.nan), np.full(shape, State.NONE, dtype=np.uint8)
    lines, columns = np.zeros(shape, dtype=np.int64), [""] * n_repeats
    origins = _Origins(batches, shape)
    reasons: dict[tuple[int, int], str] = {}
    as_read = AsReadCells(shape)
    for batch in batches:
        parsed = _Check(measure, batch, problems).parsed()
        kept = np.flatnonzero((batch.products >= 0) & (batch.repeats >= 0))
        cells = batch.products[kept], batch.repeats[kept]
        written[cells], marks[cells] = parsed.numbers[kept], parsed.states[kept]
        lines[cells] = batch.lines[kept]
        if batch.unit is not None and not same_unit(batch.unit, measure.unit):
            as_read.put(cells, batch.parsed.numbers[kept], batch.unit)
        for repeat in np.unique(cells[1]).tolist():
            columns[repeat] = batch.column.column_name
        origins.note(batch, cells)
        for i, reason in parsed.reasons.items():
            if batch.products[i] >= 0 and batch.repeats[i] >= 0:
                reasons[int(batch.products[i]), int(batch.repeats[i])] = reason
    values, states = count_below(measure, written, marks)
    reasons |= reasons_below(measure, written, marks, states)
    said = as_read.gathered()
    readings = Readings(values, states, reasons, written, marks, lines, tuple(columns), source, said, *origins.found())
    _check_applicable(measure, readings, problems)
    return readings


class _Origins:
    """Which column each cell stands in, kept only where file and name of one a repeat do not say it."""

    def __init__(self, batches: Sequence[Batch], shape: tuple[int, int]) -> None:
        self.places = {place: number for number, place in enumerate(dict.fromkeys(batch.column for batch in batches))}
        alike = len({place.source for place in self.places}) < 2 and not any(place.sheet for place in self.places)
        self.numbers = None if alike else np.zeros(shape, dtype=np.int64)

    def note(self, batch: Batch, cells: tuple[Indices, Indices]) -> None:
        """Note the column of some cells, by their products and repeats, each of shape (n_cells,)."""
        if self.numbers is not None:
            self.numbers[cells] = self.places[batch.column]

    def found(self) -> tuple[Integers | None, tuple[Place, ...]]:
        """The number of each cell's column, of shape (n_products, n_repeats), and the columns."""
        return (None, ()) if self.numbers is None else (self.numbers, tuple(self.places))


@dataclass(frozen=True, slots=True, eq=False)
class _Check:
    """Holds the cells of one batch against their measure; what is wrong goes to `problems`."""

    measure: Measure
    batch: Batch
    problems: list[Problem]

    @property
    def unit(self) -> str:
        """The unit that the cells are in: the one stated, or the formula's own."""
        return self.measure.unit if self.batch.unit is None else self.batch.unit

    def parsed(self) -> Parsed:
        """The cells in the formula's unit; reports faulty ones, bounds overstepped and limits that nobody states."""
        parsed = self.batch.parsed
        self.problems.extend(problem(self._place(i), fault) for i, fault in parsed.faults.items())
        try:
            numbers = convert(parsed.numbers, self.unit, self.measure.unit)
        except UnitError as fault:
            self.problems.extend(replace(one, place=self.batch.unit_place) for one in fault.problems)
            missing = np.full_like(parsed.states, State.MISSING)
            return replace(parsed, states=missing, numbers=np.full_like(parsed.numbers, np.nan))
        self._check_limits(parsed)
        stated = (parsed.states == State.VALUE) | (parsed.states == State.BELOW)
        self._check_finite(stated & np.isinf(numbers))
        if self.measure.plausible:
            self._check_plausible(numbers, stated, parsed.states == State.BELOW)
        return replace(parsed, numbers=numbers)

    def _check_limits(self, parsed: Parsed) -> None:
        """A reading below a limit that neither the cell nor the formula states."""
        if self.measure.reporting_limit is not None:
            return
        for i in np.flatnonzero((parsed.states == State.BELOW) & np.isnan(parsed.numbers)).tolist():
            found = f"`{self.measure.name}` below a reporting limit that is not stated"
            expected, hint = "a limit, here or in the formula", "Write `< 22`, or the value 22."
            self.problems.append(Problem(self._place(i), found, expected, hint))

    def _check_finite(self, over: Flags) -> None:
        """Readings that no float holds once they are converted; `over` has the shape (n_cells,)."""
        of = "" if self.measure.unit in PLAIN_NUMBER else f" of {self.measure.unit}"
        for i in np.flatnonzero(over).tolist():
            self.problems.append(Problem(self._place(i), self._found(i), f"a finite number{of}"))

    def _check_plausible(self, numbers: Array, stated: Flags, below: Flags) -> None:
        """Readings outside the plausible range; one below the reporting limit may lie down to that limit.

        Parameters
        ----------
        numbers : shape (n_cells,), in the formula's unit
        stated, below : shape (n_cells,), which cells hold a number, and which of them a limit that the reading is below
        """
        assert self.measure.plausible is not None  # only called where there is one
        low, high = (bound.value for bound in self.measure.plausible)
        limit = self.measure.reporting_limit.value if self.measure.reporting_limit else low
        least = np.where(below, min(low, limit), low)
        outside = stated & (numbers < least - slack(low, self.measure.unit))
        outside |= stated & (numbers > high + slack(high, self.measure.unit)) & np.isfinite(numbers)
        expected = f"{low:.10g} to {in_unit(f'{high:.10g}', self.measure.unit)}, the plausible range"
        hint = "Check the reading, its decimal point and its unit. A true one needs a wider `plausible`."
        converted = not same_unit(self.unit, self.measure.unit)
        for i in np.flatnonzero(outside).tolist():
            beside = f" ({in_unit(f'{numbers[i]:.6g}', self.measure.unit)})" if converted else ""
            self.problems.append(Problem(self._place(i), self._found(i) + beside, expected, hint))

    def _place(self, i: int) -> Place:
        return replace(self.batch.column, line=int(self.batch.lines[i]))

    def _found(self, i: int) -> str:
        return f"`{self.measure.name}` of {in_unit(shown(self.batch.cells[i]), self.unit)}"


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
        there = str(other) if other.sheet else f"row {other.line}, column {other.column_name}"
        found = f"`{measure.name}` not applicable, and a reading of it in {there}"
        problems.append(Problem(place, found, "either of the two for one product", "Write `missing` for a gap."))
