"""Long readings: a row a reading, with the columns `product` (or `id`), `measure` and `value`.

Further columns: `repeat` (numbered in order where it is absent), `unit` (empty: the formula's own), `flag` (empty,
`below`, `missing`, `not_applicable`), `reason`, `operator`, `session`, `date`, and declared attributes. Under the
flag `below` the value is the limit, or empty. Measures that the formula does not know are passed over and listed as
unused, except where the name is near that of a measure that has no row: it is likely misspelt.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scoring.catalogue.assembly import Batch, assemble
from scoring.catalogue.cells import Parsed, texts_of
from scoring.catalogue.column_names import ID_COLUMNS
from scoring.catalogue.long_columns import Codes, flagged_cells, measure_codes, repeat_indices, unit_codes
from scoring.catalogue.product_columns import index_products, read_attribute
from scoring.catalogue.readings import Contents, Readings
from scoring.catalogue.sheets import Sheet
from scoring.errors import Problem, nearest
from scoring.form import Form

KEPT = ("operator", "session", "date")
COLUMNS = ("measure", "value", "repeat", "unit", "flag", "reason", *KEPT)


def is_long(header: tuple[str, ...]) -> bool:
    """Whether a sheet with this header holds a row a reading."""
    return "measure" in header and "value" in header


@dataclass(frozen=True, slots=True, eq=False)
class _Rows:
    """What every row of the sheet is of: numbers of products, measures, repeats and units; -1 where faulty."""

    products: Codes
    measures: Codes
    repeats: Codes
    units: Codes
    unit_names: tuple[str | None, ...]


def read_long(
    sheet: Sheet, column: str, form: Form, listed: tuple[str, ...] | None, problems: list[Problem]
) -> Contents:
    """Read a long sheet whose products stand in `column`; `listed` are the products of an items file."""
    declared = {attribute.name: attribute for attribute in form.attributes}
    _check_columns(sheet, column, declared, problems)
    products, codes = index_products(sheet, column, listed, problems)
    measures, unused = measure_codes(sheet, form, problems)
    rows = _Rows(codes, measures, repeat_indices(sheet, codes, measures, problems), *unit_codes(sheet))
    readings: dict[str, Readings] = {}
    extras: dict[str, dict[str, NDArray[np.object_]]] = {name: {} for name in KEPT if name in sheet.header}
    for number, measure in enumerate(form.measures):
        own = np.flatnonzero(measures == number)
        if own.size:
            batches = _batches(sheet, own, rows, problems)
            readings[measure.name] = assemble(measure, batches, len(products), sheet.source, problems)
            for name, texts in extras.items():
                texts[measure.name] = _extra(sheet, name, own, rows, readings[measure.name].values.shape)
    attributes = {
        name: read_attribute(sheet, name, codes, len(products), declared[name], problems)
        for name in sheet.header
        if name in declared
    }
    return Contents(products, attributes, readings, unused, extras)


def _check_columns(sheet: Sheet, column: str, declared: Iterable[str], problems: list[Problem]) -> None:
    known = [*COLUMNS, *declared]
    for name in sheet.header:
        if name != column and name not in known:
            hint = nearest(name, [*ID_COLUMNS, *known])
            expected = "a column of readings, or an attribute that the formula declares"
            problems.append(Problem(sheet.place(None, name), "an unknown column", expected, hint))


def _batches(sheet: Sheet, own: Codes, rows: _Rows, problems: list[Problem]) -> list[Batch]:
    """The readings of one measure, which stand in the rows `own`: one batch a unit."""
    parsed = flagged_cells(sheet, own, problems)
    units = rows.units[own]
    batches = []
    for unit in np.unique(units).tolist():
        within = np.flatnonzero(units == unit)
        picked = own[within]
        batches.append(
            Batch(
                unit=rows.unit_names[unit],
                column="value",
                unit_place=sheet.place(int(picked[0]), "unit" if "unit" in sheet.header else "value"),
                cells=sheet.column("value")[picked],
                parsed=_part(parsed, within),
                products=rows.products[picked],
                repeats=rows.repeats[picked],
                lines=sheet.lines[picked],
            )
        )
    return batches


def _part(parsed: Parsed, within: Codes) -> Parsed:
    """Some of the cells that were read, numbered anew."""
    places = {i: place for place, i in enumerate(within.tolist())}
    return Parsed(
        parsed.numbers[within],
        parsed.states[within],
        {places[i]: reason for i, reason in parsed.reasons.items() if i in places},
        {places[i]: fault for i, fault in parsed.faults.items() if i in places},
    )


def _extra(sheet: Sheet, name: str, own: Codes, rows: _Rows, shape: tuple[int, ...]) -> NDArray[np.object_]:
    """Who read a measure, or when, as texts in the shape of its readings."""
    placed = own[(rows.products[own] >= 0) & (rows.repeats[own] >= 0)]
    texts = np.full(shape, "", dtype=object)
    texts[rows.products[placed], rows.repeats[placed]] = texts_of(sheet.column(name)[placed])
    texts.setflags(write=False)
    return texts
