"""Wide readings: a row a product, a column a measure (`name`, `name [unit]`) or one repeat of it (`name [unit] #2`).

A column that is neither a measure nor a declared attribute is
  - a problem, where its name is near that of a measure or attribute which the file lacks: it is likely misspelt;
  - a measure that this formula does not use, where some of its cells read as numbers: listed as unused;
  - else words about the product that the formula does not declare (notes, who tested): left out, and named.

The column `session` or `Session` says in which session the readings of a row were taken, whether or not it is declared too. A
product may have a row in each of several sessions: the readings of each are further repeats.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from scoring.catalogue.assembly import Batch, assemble
from scoring.catalogue.cell_hints import yaml_word
from scoring.catalogue.cells import has_number, parse_cells, texts_of
from scoring.catalogue.column_names import ColumnName, as_measures, misspelt, read_column_name, unit_beside
from scoring.catalogue.numbered_repeats import StatedRepeats, numbered_through
from scoring.catalogue.product_columns import (
    SESSION,
    ProductRows,
    ProductTable,
    attributes_and_session,
    attributes_by_column,
    has_row_a_session,
    index_products,
    names_to_miss,
    read_attribute,
    with_session_named,
    without_second_rows,
)
from scoring.catalogue.readings import Contents, Readings
from scoring.catalogue.sheets import UNITS_STALE, Sheet, object_array
from scoring.errors import Place, Problem, nearest
from scoring.form import Form
from scoring.numbers.array_types import Texts
from scoring.texts.file_limits import REPEATS
from scoring.units.conversion import same_unit


def read_wide(table: ProductTable, form: Form, problems: list[Problem]) -> Contents:
    """Read a wide sheet."""
    sheet = with_session_named(table.sheet, form)
    declared = attributes_and_session(form)
    rows = index_products(replace(table, sheet=sheet), problems)
    rows = without_second_rows(rows, problems, by_session=SESSION in declared)
    by_session = SESSION in declared and SESSION in sheet.header and has_row_a_session(rows)
    texts = [text for text in sheet.header if text != table.column and text not in declared]
    names = dict(zip(texts, as_measures(map(read_column_name, texts), form), strict=True))
    known = [measure.name for measure in form.measures]
    n_before = len(problems)
    measured = _repeats({text: name for text, name in names.items() if name.name in known}, sheet, problems)
    unused, left_out = _sorted_out(sheet, [text for text in names if names[text].name not in known], form, problems)
    if known and not measured and len(problems) == n_before:
        hint = nearest("", [measure.heading for measure in form.measures])
        problems.append(Problem(Place(sheet.source), "no column that names a measure of the formula", "one", hint))
    readings: dict[str, Readings] = {}
    extras: dict[str, dict[str, Texts]] = {SESSION: {}} if by_session else {}
    for measure in form.measures:
        columns = {repeat: text for (name, repeat), text in measured.items() if name == measure.name}
        units = {text: _unit_of(sheet, text, measure.name, problems) for text in columns.values()}
        batches = [_batch(rows, text, repeat, units[text]) for repeat, text in columns.items()]
        if batches and by_session:
            batches = _numbered_anew(batches)
        if batches:
            readings[measure.name] = assemble(measure, batches, rows, problems)
        if batches and by_session:
            extras[SESSION][measure.name] = _sessions_beside(sheet, batches, readings[measure.name])
    of_products = [text for text in sheet.header if text in declared and not (by_session and text == SESSION)]
    attributes = {declared[text].name: read_attribute(rows, text, declared[text], problems) for text in of_products}
    if by_session and SESSION in attributes_by_column(form):
        attributes[declared[SESSION].name] = _one_session_each(rows)
    return Contents(sheet.source, rows.products, attributes, readings, unused, left_out, extras)


def _numbered_anew(batches: Sequence[Batch]) -> list[Batch]:
    """The cells of a measure with the repeats of each product numbered through, where it has a row a session."""
    n_rows = len(batches[0].products)
    cells = StatedRepeats(
        products=np.concatenate([batch.products for batch in batches]),
        stated=np.concatenate([batch.repeats for batch in batches]),
        counted=np.concatenate([batch.parsed.said() for batch in batches]),
        order=(np.tile(np.arange(n_rows), len(batches)),),
    )
    repeats = np.split(numbered_through(cells), len(batches))
    return [replace(batch, repeats=own) for batch, own in zip(batches, repeats, strict=True)]


def _sessions_beside(sheet: Sheet, batches: Sequence[Batch], readings: Readings) -> Texts:
    """The session of each reading of a measure, in their shape."""
    texts = np.full(readings.values.shape, "", dtype=object)
    sessions = object_array(texts_of(sheet.column(SESSION)))
    for batch in batches:
        placed = (batch.products >= 0) & (batch.repeats >= 0) & (batch.repeats < readings.values.shape[1])
        texts[batch.products[placed], batch.repeats[placed]] = sessions[placed]
    texts.setflags(write=False)
    return texts


def _one_session_each(rows: ProductRows) -> tuple[str, ...]:
    """The session of each product that was read in one alone, for an attribute that is called so."""
    said: dict[int, list[str]] = {}
    for code, text in zip(rows.codes.tolist(), texts_of(rows.sheet.column(SESSION)), strict=True):
        said.setdefault(code, []).append(text)
    return tuple(said[code][0] if len(said.get(code, ())) == 1 else "" for code in range(len(rows.products)))


def _batch(rows: ProductRows, text: str, repeat: int, unit: str | None) -> Batch:
    """The cells of one column, which holds a repeat of a measure."""
    sheet = rows.sheet
    return Batch(
        unit=unit,
        column=sheet.column_place(sheet.index(text)),
        unit_place=sheet.place(None, text),
        cells=sheet.column(text),
        parsed=parse_cells(sheet.column(text), sheet.rules),
        products=rows.codes,
        repeats=np.full(len(rows.codes), repeat - 1, dtype=np.intp),
        lines=sheet.lines,
    )


def _repeats(names: dict[str, ColumnName], sheet: Sheet, problems: list[Problem]) -> dict[tuple[str, int], str]:
    """The column of every measure's repeat; a column without a number is repeat 1."""
    columns: dict[tuple[str, int], str] = {}
    for text, name in names.items():
        repeat = 1 if name.repeat is None else name.repeat
        if not name.is_sound:
            hint = "Every bracket is closed; the unit stands first, the repeat behind it."
            problems.append(
                Problem(sheet.place(None, text), f"a column of `{name.name}`", "`name [unit] #repeat`", hint)
            )
            continue
        if not 1 <= repeat <= REPEATS:
            expected = f"repeats numbered from 1 to {REPEATS}"
            problems.append(Problem(sheet.place(None, text), f"repeat {repeat}", expected))
            continue
        other = columns.setdefault((name.name, repeat), text)
        if other != text:
            found = f"repeat {repeat} of `{name.name}`, which the column `{other}` holds already"
            problems.append(Problem(sheet.place(None, text), found, "one column a repeat"))
    return columns


def _unit_of(sheet: Sheet, text: str, measure: str, problems: list[Problem]) -> str | None:
    """The unit of a column: the one in its name, or beside the table; a problem where both are there and differ."""
    name = read_column_name(text)
    beside = sheet.unit_beside(text, name.name, measure)
    if name.unit and beside and not same_unit(name.unit, beside):
        found = f"the unit `{name.unit}`, and `{beside}` beside the table"
        problems.append(Problem(sheet.place(None, text), found, "one unit a column", UNITS_STALE))
    return name.unit or beside


def _sorted_out(
    sheet: Sheet, unknown: list[str], form: Form, problems: list[Problem]
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The names of unknown columns that hold unused measures, and of those that hold words."""
    present = {read_column_name(text).name for text in sheet.header} | set(sheet.header)
    known = [measure.heading for measure in form.measures] + names_to_miss(form)
    near = misspelt([read_column_name(text).name for text in unknown], known, present)
    unused, left_out = [], []
    for text in unknown:
        name = read_column_name(text).name
        if name in near:
            unit = unit_beside(text, near[name])
            hint = (
                f"Write `{near[name]} [{unit}]`: the unit stands in square brackets."
                if unit
                else f"Did you mean `{near[name]}`? Another measure is declared under `measures`; a description goes to an "
                "items file, or is declared as an attribute."
            )
            hint += f" Where it is neither, a recipe passes over it: `ignore: [{yaml_word(text)}]`."
            found = "a column that the formula does not know"
            problems.append(Problem(sheet.place(None, text), found, "a measure or an attribute", hint))
        elif has_number(sheet.column(text)):
            unused.append(name)
        else:
            left_out.append(text)
    return tuple(dict.fromkeys(unused)), tuple(left_out)
