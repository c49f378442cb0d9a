"""Long readings: a row a reading, with the columns `product` (or `id`), `measure` and `value`.

Further columns: `repeat` (numbered in order where it is absent, and where the repeats of one product and measure are
numbered anew in each session or specimen), `unit` (empty: the formula's own), `flag` (empty, `below`, `missing`,
`not_applicable`), `reason`, `operator`, `session`, `specimen`, `date`, and declared attributes. Under the flag `below`
the value is the limit, or empty. Measures that the formula does not know are passed over and listed as
unused, columns that nobody knows are left out and named, except where the name is near a known one that the file
lacks: it is likely misspelt.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

import numpy as np

from scoring.catalogue.assembly import Batch, assemble
from scoring.catalogue.cells import Fault, Parsed, name_fault, parse_cells, shown, text_fault, text_of, texts_of
from scoring.catalogue.column_names import misspelt, read_column_name
from scoring.catalogue.numbered_repeats import CONDITIONS, repeat_indices
from scoring.catalogue.product_columns import (
    ProductRows,
    ProductTable,
    attributes_by_column,
    index_products,
    read_attribute,
)
from scoring.catalogue.readings import Contents, Readings, State
from scoring.catalogue.sheets import UNITS_STALE, Sheet, problem
from scoring.errors import Place, Problem, nearest
from scoring.form import Form
from scoring.numbers.array_types import Indices, Texts
from scoring.texts.file_limits import limits, too_many
from scoring.units.conversion import same_unit

KEPT = ("operator", *CONDITIONS, "date")
COLUMNS = ("measure", "value", "repeat", "unit", "flag", "reason", *KEPT)
FLAGS = {
    "": State.VALUE,
    "below": State.BELOW,
    "missing": State.MISSING,
    "not_applicable": State.NOT_APPLICABLE,
    "not applicable": State.NOT_APPLICABLE,
}


def is_long(header: tuple[str, ...]) -> bool:
    """Whether a sheet with this header holds a row a reading."""
    return "measure" in header and "value" in header


@dataclass(frozen=True, slots=True, eq=False)
class CodedRows:
    """What every row is of: numbers of measures, repeats and units, each of shape (n_rows,); -1 where faulty."""

    rows: ProductRows
    measures: Indices
    repeats: Indices
    units: Indices
    unit_names: tuple[str | None, ...]

    @property
    def sheet(self) -> Sheet:
        return self.rows.sheet


def read_long(table: ProductTable, form: Form, problems: list[Problem]) -> Contents:
    """Read a long sheet."""
    sheet = table.sheet
    left_out = _left_out(table, form, problems)
    _check_conditions(table, problems)
    rows = index_products(table, problems)
    measures, unused = measure_codes(sheet, form, problems)
    repeats = repeat_indices(rows, measures, problems)
    coded = CodedRows(rows, measures, repeats, *unit_codes(sheet, measures, form, problems))
    readings: dict[str, Readings] = {}
    extras: dict[str, dict[str, Texts]] = {name: {} for name in KEPT if name in sheet.header and name != table.column}
    for number, measure in enumerate(form.measures):
        own = np.flatnonzero(measures == number)
        if own.size:
            held = assemble(measure, batches_of_measure(coded, own, problems), rows, problems)
            readings[measure.name] = held
            for name, texts in extras.items():
                texts[measure.name] = _texts_beside(coded, own, name, held)
    declared = attributes_by_column(form)
    attributes = {
        declared[name].name: read_attribute(rows, name, declared[name], problems)
        for name in sheet.header
        if _is_attribute(rows, name, declared)
    }
    return Contents(sheet.source, rows.products, attributes, readings, unused, left_out, extras)


def _is_attribute(rows: ProductRows, name: str, declared: Collection[str]) -> bool:
    """Whether a column says something of products: it is declared, and no condition that differs from reading to reading."""
    if name not in declared:
        return False
    return name not in CONDITIONS or not _differs_within_a_product(rows, name)


def _differs_within_a_product(rows: ProductRows, column: str) -> bool:
    """Whether the readings of one product stand under two words: these are of readings then, and say nothing of the product."""
    words = {pair for pair in zip(rows.codes.tolist(), texts_of(rows.sheet.column(column)), strict=True) if pair[1]}
    return len(words) > len({code for code, _ in words})


def _left_out(table: ProductTable, form: Form, problems: list[Problem]) -> tuple[str, ...]:
    """The columns that nobody knows; one that is likely misspelt, or that bears a measure's name, is a problem."""
    sheet = table.sheet
    known = [*COLUMNS, *attributes_by_column(form)]
    measures = {name for measure in form.measures for name in (measure.name, measure.heading)}
    unknown = [name for name in sheet.header if name != table.column and name not in known]
    near = misspelt(unknown, known, sheet.header)
    expected = "a column of readings, or an attribute that the formula declares"
    for name in unknown:
        if read_column_name(name).name in measures:
            found = f"a column of the measure `{read_column_name(name).name}` in a long file"
            hint = "Write its readings in rows, or take the columns `measure` and `value` away."
            problems.append(Problem(sheet.place(None, name), found, "a row a reading", hint))
        elif name in near:
            hint = f"Did you mean `{near[name]}`?"
            problems.append(Problem(sheet.place(None, name), "an unknown column", expected, hint))
    return tuple(unknown)


def _check_conditions(table: ProductTable, problems: list[Problem]) -> None:
    """Report names of sessions and specimens that are too long to print or do not show."""
    sheet = table.sheet
    for name in CONDITIONS:
        if name == table.column or name not in sheet.header:
            continue
        texts = texts_of(sheet.column(name))
        first = dict(zip(reversed(texts), range(len(texts) - 1, -1, -1), strict=True))
        faults = {row: name_fault(text, f"the {name}") for text, row in first.items()}
        problems += [problem(sheet.place(row, name), fault) for row, fault in sorted(faults.items()) if fault]


def measure_codes(sheet: Sheet, form: Form, problems: list[Problem]) -> tuple[Indices, tuple[str, ...]]:
    """The number of each row's measure in the form, shape (n_rows,), -1 for none of it; and the names that it does not use."""
    texts = texts_of(sheet.column("measure"))
    numbers = {name: i for i, m in enumerate(form.measures) for name in (m.heading, m.name)}
    first: dict[str, int] = {}
    for row, text in enumerate(texts):
        first.setdefault(text, row)
    if len(first) > limits().columns:  # each would be held against every measure of the formula
        place = sheet.place(None, "measure")
        problems.append(too_many("columns", len(first), place, what="different measures"))
        return np.full(len(texts), -1, dtype=np.intp), ()
    unknown = [text for text in first if text not in numbers]
    faulty = {text: fault for text in unknown if (fault := _measure_fault(text))}
    near = misspelt([text for text in unknown if text not in faulty], numbers, first)
    for text in unknown:
        fault = faulty.get(text)
        if text in near:
            found = f"the measure `{text}`, which the formula does not know"
            fault = Fault(
                found,
                "a measure of the formula",
                f"Did you mean `{near[text]}`? Another measure is declared under `measures`.",
            )
        if fault:
            problems.append(problem(sheet.place(first[text], "measure"), fault))
    if numbers and not near and not any(text in numbers for text in first):
        hint = nearest("", numbers)
        problems.append(Problem(Place(sheet.source), "no reading of a measure of the formula", "some", hint))
    codes = np.array([numbers.get(text, -1) for text in texts], dtype=np.intp)
    return codes, tuple(text for text in unknown if text not in near and text not in faulty)


def _measure_fault(text: str) -> Fault | None:
    if not text:
        return Fault("no measure", "the name of a measure")
    return name_fault(text, "a measure's name")


def unit_codes(
    sheet: Sheet, measures: Indices, form: Form, problems: list[Problem]
) -> tuple[Indices, tuple[str | None, ...]]:
    """The unit of each row as a number, and the units; None is no unit stated.

    A row that states none has the one that stands beside the table for its measure.

    Parameters
    ----------
    measures : shape (n_rows,), the number of each row's measure in the form, -1 for none of it
    """
    n_rows = len(sheet.lines)
    texts = texts_of(sheet.column("unit")) if "unit" in sheet.header else [""] * n_rows
    for number, measure in enumerate(form.measures):
        beside = sheet.unit_beside(measure.heading, measure.name)
        if beside is not None:
            rows = np.flatnonzero(measures == number).tolist()
            _check_beside(sheet, {texts[row]: row for row in reversed(rows)}, beside, problems)
            for row in rows:
                texts[row] = texts[row] or beside
    numbers = {text: i for i, text in enumerate(dict.fromkeys(texts))}
    return np.array([numbers[text] for text in texts], dtype=np.intp), tuple(text or None for text in numbers)


def _check_beside(sheet: Sheet, first: Mapping[str, int], beside: str, problems: list[Problem]) -> None:
    """Report units of one measure that are not the one beside the table; `first` has the first row of each."""
    for unit, row in first.items():
        if unit and not same_unit(unit, beside):
            found = f"the unit `{unit}`, and `{beside}` beside the table"
            problems.append(Problem(sheet.place(row, "unit"), found, "one unit a reading", UNITS_STALE))


def batches_of_measure(coded: CodedRows, own: Indices, problems: list[Problem]) -> list[Batch]:
    """The readings of one measure, which stand in the rows `own`, shape (n_own,): one batch a unit."""
    sheet = coded.sheet
    parsed = _flagged_cells(sheet, own, problems)
    units = coded.units[own]
    batches = []
    for unit in np.unique(units).tolist():
        within = np.flatnonzero(units == unit)
        picked = own[within]
        batches.append(
            Batch(
                unit=coded.unit_names[unit],
                column=sheet.column_place(sheet.index("value")),
                unit_place=sheet.place(int(picked[0]), "unit" if "unit" in sheet.header else "value"),
                cells=sheet.column("value")[picked],
                parsed=_part(parsed, within),
                products=coded.rows.codes[picked],
                repeats=coded.repeats[picked],
                lines=sheet.lines[picked],
            )
        )
    return batches


def _part(parsed: Parsed, within: Indices) -> Parsed:
    """Some of the cells that were read, numbered anew; `within` has their numbers, shape (n_part,)."""
    places = {i: place for place, i in enumerate(within.tolist())}
    return Parsed(
        parsed.numbers[within],
        parsed.states[within],
        {places[i]: reason for i, reason in parsed.reasons.items() if i in places},
        {places[i]: fault for i, fault in parsed.faults.items() if i in places},
    )


def _flagged_cells(sheet: Sheet, rows: Indices, problems: list[Problem]) -> Parsed:
    """Read the values of some rows, of shape (n_taken,), with what their flags and reasons say of them."""
    cells = sheet.column("value")[rows]
    parsed = parse_cells(cells, sheet.rules)
    if "flag" in sheet.header:
        for i, text in enumerate(texts_of(sheet.column("flag")[rows])):
            fault = _flag(parsed, i, text.lower(), not text_of(cells[i])) if text and i not in parsed.faults else None
            if fault:
                problems.append(problem(sheet.place(int(rows[i]), "flag"), fault))
    if "reason" in sheet.header:
        gaps = np.flatnonzero((parsed.states == State.MISSING) | (parsed.states == State.NOT_APPLICABLE))
        for i, reason in zip(gaps.tolist(), texts_of(sheet.column("reason")[rows[gaps]]), strict=True):
            fault = text_fault(reason) or (name_fault(reason, "a reason") if len(reason) > 300 else None)
            if fault:
                problems.append(problem(sheet.place(int(rows[i]), "reason"), fault))
            elif reason:
                parsed.reasons.setdefault(i, reason)
    return parsed


def _flag(parsed: Parsed, i: int, flag: str, is_empty: bool) -> Fault | None:
    """Let a flag say what a cell is; it must not contradict the cell."""
    if flag not in FLAGS:
        return Fault(f"the flag {shown(flag)}", "`below`, `missing`, `not_applicable` or nothing", "")
    state, written = FLAGS[flag], State(parsed.states[i])
    agrees = is_empty or written == state or (state == State.BELOW and written == State.VALUE)
    if not agrees:
        hint = "Empty the value, or clear the flag."
        return Fault(f"the flag `{flag}` on a value that says otherwise", "a value and a flag that agree", hint)
    parsed.states[i] = state
    return None


def _texts_beside(coded: CodedRows, own: Indices, name: str, readings: Readings) -> Texts:
    """Who read a measure, or when: the texts beside its rows `own`, shape (n_own,), in the shape of its readings."""
    products, repeats = coded.rows.codes[own], coded.repeats[own]
    placed = (products >= 0) & (repeats >= 0)
    texts = np.full(readings.values.shape, "", dtype=object)
    texts[products[placed], repeats[placed]] = texts_of(coded.sheet.column(name)[own[placed]])
    texts.setflags(write=False)
    return texts
