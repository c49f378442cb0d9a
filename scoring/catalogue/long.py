"""Long readings: a row a reading, with the columns `product` (or `id`), `measure` and `value`.

Further columns: `repeat` (numbered in order where it is absent, and where the repeats of one product and measure are
numbered anew in each session or specimen), `unit` (empty: the formula's own), `flag` (empty, `below`, `missing`,
`not_applicable`), `reason`, `operator`, `session`, `specimen`, `date`, and declared attributes. Under the flag `below`
the value is the limit, or empty. Measures that the formula does not know are passed over and listed as
unused, columns that nobody knows are left out and named, except where the name is near a known one that the file
lacks: it is likely misspelt.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scoring.catalogue.assembly import Batch, assemble
from scoring.catalogue.cells import Parsed, texts_of
from scoring.catalogue.column_names import misspelt, read_column_name
from scoring.catalogue.long_columns import (
    Codes,
    check_conditions,
    flagged_cells,
    measure_codes,
    repeat_indices,
    unit_codes,
)
from scoring.catalogue.product_columns import index_products, read_attribute
from scoring.catalogue.readings import Contents, Readings
from scoring.catalogue.sheets import Sheet
from scoring.errors import Problem
from scoring.form import Form

CONDITIONS = ("session", "specimen")
KEPT = ("operator", *CONDITIONS, "date")
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
    left_out = _left_out(sheet, column, form, problems)
    check_conditions(sheet, column, problems)
    products, codes = index_products(sheet, column, listed, problems)
    measures, unused = measure_codes(sheet, form, problems)
    repeats = repeat_indices(sheet, column, codes, measures, problems)
    rows = _Rows(codes, measures, repeats, *unit_codes(sheet, measures, form, problems))
    readings: dict[str, Readings] = {}
    extras: dict[str, dict[str, NDArray[np.object_]]] = {
        name: {} for name in KEPT if name in sheet.header and name != column
    }
    for number, measure in enumerate(form.measures):
        own = np.flatnonzero(measures == number)
        if own.size:
            batches = _batches(sheet, own, rows, problems)
            readings[measure.name] = assemble(measure, batches, len(products), sheet.source, problems)
            for name, texts in extras.items():
                texts[measure.name] = _extra(sheet, name, own, rows, readings[measure.name].values.shape)
    attributes = {
        name: read_attribute(sheet, name, codes, len(products), form.attributes_by_name[name], problems)
        for name in sheet.header
        if name in form.attributes_by_name
        and not (name in CONDITIONS and _differs_within_a_product(sheet, name, codes))
    }
    return Contents(products, attributes, readings, unused, left_out, extras)


def _differs_within_a_product(sheet: Sheet, column: str, codes: Codes) -> bool:
    """Whether the readings of one product stand under two words: these are of readings then, and say nothing of the product."""
    words = {(code, text) for code, text in zip(codes.tolist(), texts_of(sheet.column(column)), strict=True) if text}
    return len(words) > len({code for code, _ in words})


def _left_out(sheet: Sheet, column: str, form: Form, problems: list[Problem]) -> tuple[str, ...]:
    """The columns that nobody knows; one that is likely misspelt, or that bears a measure's name, is a problem."""
    known = [*COLUMNS, *(attribute.name for attribute in form.attributes)]
    measures = {name for measure in form.measures for name in (measure.name, measure.heading)}
    unknown = [name for name in sheet.header if name != column and name not in known]
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
