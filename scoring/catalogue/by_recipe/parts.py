"""One table of a recipe, read: its products, the cells of each measure, and what stands beside them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from scoring.catalogue.assembly import Batch
from scoring.catalogue.by_recipe.header import header_name, one_line
from scoring.catalogue.by_recipe.raw_table import RawTable
from scoring.catalogue.by_recipe.roles import HeldColumn, Roles, bare_names, spec_of
from scoring.catalogue.cells import CellRules, Fault, name_fault, number_and_unit, parse_cells, shown, text_of, texts_of
from scoring.catalogue.corrected import CorrectedCell
from scoring.catalogue.long import CodedRows, batches_of_measure, measure_codes, unit_codes
from scoring.catalogue.numbered_repeats import CONDITIONS, stated_repeats
from scoring.catalogue.product_columns import ProductRows, ProductTable, index_products
from scoring.catalogue.sheets import Sheet, object_array, problem
from scoring.errors import Problem
from scoring.form import Form
from scoring.numbers.array_types import Indices, Texts
from scoring.units.in_name import is_unit

PRODUCT = "product"


@dataclass(slots=True, eq=False)
class Part:
    """One table on one sheet.

    rows : its rows with their products; the sheet of it has the columns that a role names alone, by their roles
    batches : measure -> its cells; repeats are those that the table states, -1 where it states none
    beside : "session", "specimen", "date", "operator" -> a text a row, shape (n_rows,)
    unused : measures of a long table that the formula does not know
    remarks : sentences on what its reading passed over
    """

    raw: RawTable
    roles: Roles
    rows: ProductRows
    batches: dict[str, list[Batch]] = field(default_factory=dict)
    beside: dict[str, Texts] = field(default_factory=dict)
    unused: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()

    @property
    def holds_readings(self) -> bool:
        """Whether it has a column of readings."""
        return bool(self.roles.measures or self.roles.long)


def part_of(raw: RawTable, roles: Roles, problems: list[Problem]) -> Part:
    """A table with its products; what stands beside its readings is read, its readings are not yet."""
    sheet = _words_checked(_picked(raw.sheet, {PRODUCT: roles.product, **roles.attributes, **roles.beside}), problems)
    sheet, remarks = _ids_trimmed(sheet)
    part = Part(raw, roles, index_products(ProductTable(sheet, PRODUCT), problems), remarks=remarks)
    for name in roles.beside:
        part.beside[name] = object_array(texts_of(sheet.column(name)))
        _check_names(sheet, name, problems)
    _constant_session(part)
    return part


def read_batches(part: Part, form: Form, problems: list[Problem]) -> None:
    """The cells of every measure that the table holds; those of a row without a product, or of a surplus row, are of none."""
    if part.roles.long:
        _read_long(part, form, problems)
        return
    for measure, columns in part.roles.measures.items():
        whole = [_wide_batch(part, column) for column in columns]
        part.batches[measure] = [one for batch in whole for one in by_unit(batch, part.raw.sheet.rules)]


def by_unit(batch: Batch, rules: CellRules) -> list[Batch]:
    """The batch, and one more for each unit that cells of it state behind their numbers, as `31.5 dB`."""
    own = {i: found for i in batch.parsed.faults if (found := number_and_unit(batch.cells[i], rules)) is not None}
    own = {i: (number, unit) for i, (number, unit) in own.items() if is_unit(unit)}
    if not own:
        return [batch]
    rest = np.setdiff1d(np.arange(len(batch.cells)), list(own))
    units: dict[str, list[int]] = {}
    for i, (_, unit) in own.items():
        units.setdefault(unit, []).append(i)
    stated = [
        replace(
            _some(batch, np.array(at, dtype=np.intp)),
            unit=unit,
            parsed=parse_cells(object_array([own[i][0] for i in at]), rules),
        )
        for unit, at in units.items()
    ]
    return [replace(_some(batch, rest), parsed=parse_cells(batch.cells[rest], rules)), *stated] if rest.size else stated


def _some(batch: Batch, at: Indices) -> Batch:
    """Some cells of a batch, by their numbers, of shape (n_taken,)."""
    return replace(
        batch,
        cells=batch.cells[at],
        products=batch.products[at],
        repeats=batch.repeats[at],
        lines=batch.lines[at],
    )


def corrected_cells(parts: Sequence[Part]) -> Iterator[CorrectedCell]:
    """The cells that the recipe corrects, each with the product of its row and what its column holds."""
    for part in parts:
        lines = part.raw.sheet.lines.tolist()
        for cell in part.raw.corrected:
            code = int(part.rows.codes[lines.index(cell.place.line)]) if cell.place.line in lines else -1
            product = part.rows.products[code] if code >= 0 else ""
            yield replace(cell, product=product, of=part.roles.of(cell.index))


def _ids_trimmed(sheet: Sheet) -> tuple[Sheet, tuple[str, ...]]:
    """Ids without blanks at their edges, and a sentence on those that had some."""
    cells = sheet.column(PRODUCT)
    edged = [
        row for row, cell in enumerate(cells.tolist()) if type(cell) is str and cell.strip() and cell != cell.strip()
    ]
    if not edged:
        return sheet, ()
    trimmed = cells.copy()
    trimmed[edged] = [cells[row].strip() for row in edged]
    index = sheet.index(PRODUCT)
    columns = tuple(trimmed if i == index else column for i, column in enumerate(sheet.columns))
    more = f", and {len(edged) - 1} more" if len(edged) > 1 else ""
    said = f"Read without the blank at its edge: the id {shown(trimmed[edged[0]])} in {sheet.place(edged[0], PRODUCT)}{more}."
    return replace(sheet, columns=columns), (said,)


def row_of(part: Part, batch: Batch) -> Indices:
    """The row of each cell of a batch in its table, counted from 0; shape (n_cells,)."""
    return np.searchsorted(part.rows.sheet.lines, batch.lines).astype(np.intp)


def _picked(sheet: Sheet, columns: Mapping[str, int]) -> Sheet:
    """Some columns of a sheet, by new names; places go on telling the names that the file has."""
    picked = list(columns.values())
    return replace(
        sheet,
        header=tuple(columns),
        columns=tuple(sheet.columns[index] for index in picked),
        numbers=tuple(index + 1 for index in picked),
        titles=tuple(sheet.header[index] for index in picked),
    )


def _words_checked(sheet: Sheet, problems: list[Problem]) -> Sheet:
    """Report cells of words that a format could not read; they are empty from here on."""
    columns = list(sheet.columns)
    for index, cells in enumerate(columns if sheet.sheet else ()):
        faulty = [row for row, cell in enumerate(cells.tolist()) if isinstance(cell, Fault)]
        if faulty:
            problems += [problem(sheet.place_at(row, index), cells[row]) for row in faulty]
            columns[index] = cells.copy()
            columns[index][faulty] = None
    return replace(sheet, columns=tuple(columns))


def _check_names(sheet: Sheet, name: str, problems: list[Problem]) -> None:
    """Report names of sessions and specimens that are too long to print or do not show; `name` is the column."""
    if name not in CONDITIONS:
        return
    first: dict[str, int] = {}
    for row, text in enumerate(texts_of(sheet.column(name))):
        first.setdefault(text, row)
    for text, row in first.items():
        fault = name_fault(text, f"the {name}")
        if fault is not None:
            problems.append(problem(sheet.place(row, name), fault))


def _constant_session(part: Part) -> None:
    """The session that the recipe says of the whole table."""
    sessions = part.raw.table.sessions
    if sessions is None or sessions.column:
        return
    called = sessions.called
    if sessions.each is not None:
        by_sheet = sessions.each.value == "sheet"
        called = one_line(part.raw.grid.sheet) if by_sheet else Path(part.raw.sheet.source).stem
    if not called:  # every sheet is a session, and this format has none
        return
    part.beside["session"] = np.full(len(part.rows.codes), called, dtype=object)


def _wide_batch(part: Part, column: HeldColumn) -> Batch:
    sheet = part.raw.sheet
    cells = sheet.columns[column.index]
    return Batch(
        unit=column.unit,
        column=sheet.column_place(column.index),
        unit_place=sheet.place_at(None, column.index),
        cells=cells,
        parsed=parse_cells(cells, sheet.rules),
        products=part.rows.codes,
        repeats=np.full(len(cells), column.repeat, dtype=np.intp),
        lines=sheet.lines,
    )


def _read_long(part: Part, form: Form, problems: list[Problem]) -> None:
    """The cells of a long table, by its measures."""
    sheet = _picked(part.raw.sheet, part.roles.long)
    sheet = _with_known_measures(part, sheet, form)
    rows = replace(part.rows, sheet=sheet)
    measures, part.unused = measure_codes(sheet, form, problems)
    repeats = stated_repeats(rows, measures, problems)
    coded = CodedRows(rows, measures, repeats, *unit_codes(sheet, measures, form, problems))
    for number, measure in enumerate(form.measures):
        own = np.flatnonzero(measures == number)
        if not own.size:
            continue
        spec = spec_of(part.raw.table, measure)
        unit = spec.unit if spec is not None else ""
        found = batches_of_measure(coded, own, problems)
        own_units = [replace(batch, unit=batch.unit or unit or None) for batch in found]
        part.batches[measure.name] = [one for batch in own_units for one in by_unit(batch, sheet.rules)]


def _with_known_measures(part: Part, sheet: Sheet, form: Form) -> Sheet:
    """The long table with its measures under the formula's names, where the recipe or their units keep them apart."""
    meant = {name: measure.name for measure in form.measures for name in bare_names(part.raw.table, measure)}
    index = sheet.index("measure")
    cells = sheet.columns[index]
    words = {text: meant.get(header_name(text).name, text) for text in set(texts_of(cells))}
    renamed = object_array([words[text_of(cell)] for cell in cells.tolist()])
    return replace(sheet, columns=tuple(renamed if i == index else column for i, column in enumerate(sheet.columns)))
