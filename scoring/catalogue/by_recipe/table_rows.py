"""The rows of a sheet that a recipe takes for a table: header, what belongs to it, what is passed over."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np

from scoring.catalogue.by_recipe.correcting import Cells, Where, correct
from scoring.catalogue.by_recipe.header import header_name, header_text, one_line, read_together
from scoring.catalogue.by_recipe.raw_table import RawTable
from scoring.catalogue.cells import CellRules, Fault, name_fault, text_of
from scoring.catalogue.column_names import ColumnName, near_name
from scoring.catalogue.corrected import CorrectedCell
from scoring.catalogue.formats.grid import Grid, Row
from scoring.catalogue.readings import State
from scoring.catalogue.sheets import Sheet, object_array, problem
from scoring.errors import CatalogueError, Place, Problem, column_letters
from scoring.numbers.array_types import Flags, Integers, Texts
from scoring.recipe import Table
from scoring.texts.file_limits import over_limits

_CHUNK = 300  # rows turned into arrays at a time, as in `sheets`
_UPPER_ROWS = 40  # among so many a header is looked for


@dataclass(slots=True, eq=False)
class _Walked:
    """What a walk through the rows of a sheet found: the header, then columns of cells below it.

    uneven : of a text file, rows that are longer or shorter than the header, with how many cells they have
    beyond : of a spreadsheet, the columns right of the header that hold anything
    """

    header: list[tuple[int, Sequence[object]]] = field(default_factory=list)
    columns: list[Texts] = field(default_factory=list)
    lines: list[int] = field(default_factory=list)
    uneven: dict[int, int] = field(default_factory=dict)
    beyond: set[int] = field(default_factory=set)


def raw_table(grid: Grid, table: Table, problems: list[Problem]) -> RawTable | None:
    """Cut a table out of a sheet; faults go to `problems`, and None comes back where there is nothing to go on with."""
    walked = _walked(grid, table, problems)
    if walked is None:
        return None
    raw = _with_names(walked, grid, table)
    corrected = _corrected(raw, walked, problems)
    raw = replace(_with_names(walked, grid, table), corrected=corrected) if corrected else raw
    sheet = raw.sheet
    for index, text in enumerate(sheet.header):
        fault = name_fault(text, "a column name")
        if fault:
            problems.append(problem(sheet.place_at(None, index), fault))
    raw = _with_units(raw, problems)
    kept = _kept(raw, problems)
    _check_lengths(raw, walked.uneven, kept, problems)
    columns = tuple(column[kept] for column in raw.sheet.columns)
    raw = replace(raw, sheet=replace(raw.sheet, columns=columns, lines=raw.sheet.lines[kept]))
    return _filled(raw)


def _with_names(walked: _Walked, grid: Grid, table: Table) -> RawTable:
    """All rows below the header, under its names."""
    texts = read_together([cells for _, cells in walked.header])
    texts += [""] * (len(walked.columns) - len(texts))
    sheet = Sheet(
        grid.source,
        header=tuple(texts),
        columns=tuple(walked.columns),
        lines=np.array(walked.lines, dtype=np.int64),
        header_line=walked.header[-1][0],
        sheet=grid.sheet if grid.is_spreadsheet else "",
        rules=rules_of(table),
    )
    names = tuple(header_name(text) if text else ColumnName("") for text in texts)
    beside = tuple(f"column {column_letters(column + 1)}" for column in sorted(walked.beyond))
    return RawTable(table, grid, sheet, names, beside, below=sheet.lines)


def _corrected(raw: RawTable, walked: _Walked, problems: list[Problem]) -> tuple[CorrectedCell, ...]:
    """What the recipe corrects on this sheet; the cells that were walked through say it from here on."""
    own = [one for one in raw.table.corrections if not one.sheet or one.sheet == raw.grid.sheet]
    if not own:
        return ()

    def place(row: int, index: int) -> Place:
        return replace(raw.sheet.column_place(index), line=row)

    cells = Cells(walked.header, walked.columns, walked.lines)
    return tuple(correct(cells, own, Where(raw.find, place), problems))


def rules_of(table: Table) -> CellRules:
    """How the table writes its texts."""
    said = {
        State.BELOW: table.words.below if table.words else (),
        State.NOT_APPLICABLE: table.words.not_applicable if table.words else (),
        State.MISSING: table.words.missing if table.words else (),
    }
    words = {word.casefold(): state for state, of in said.items() for word in of}
    return CellRules(table.decimal.value == "comma", words)


def row_of_names(grid: Grid, names: Sequence[str]) -> int:
    """The first of the upper rows in which a cell reads as one of these names; 0 where none does."""
    wanted = {header_name(name).name.casefold() for name in names if name}
    try:
        for line, cells in itertools.islice(grid.rows([]), _UPPER_ROWS):
            if any(header_name(text).name.casefold() in wanted for cell in cells if (text := header_text(cell))):
                return line
    except CatalogueError:
        return 0
    return 0


def _walked(grid: Grid, table: Table, problems: list[Problem]) -> _Walked | None:
    if grid.whole is not None and not table.header:
        whole = grid.whole
        return _Walked([(whole.header_line, whole.header)], list(whole.columns), whole.lines.tolist())
    walked = _Walked()
    try:
        rows = _below_header(grid, table, walked, problems)
        if rows is None:
            return None
        width = max(len(cells) for _, cells in walked.header)
        parts: list[list[Texts]] = [[np.empty(0, dtype=object)] for _ in range(width)]
        while chunk := list(itertools.islice(rows, _CHUNK)):
            even = _even(chunk, width, walked, grid.is_spreadsheet)
            walked.lines += (line for line, _ in chunk)
            for part, cells in zip(parts, zip(*even, strict=True), strict=True):
                part.append(object_array(cells))
            many = over_limits(
                Place(grid.source), so_far=True, rows=len(walked.lines), columns=width, cells=len(walked.lines) * width
            )
            if many:
                problems += many
                return None
    except CatalogueError as fault:
        problems += fault.problems
        return None
    walked.columns = [np.concatenate(part) for part in parts]
    return walked


def _below_header(grid: Grid, table: Table, walked: _Walked, problems: list[Problem]) -> Iterator[Row] | None:
    """The rows below the header, which is noted; None, and a fault, where it is not there."""
    rows = grid.rows(problems)
    first = next(rows, None)
    place = Place(grid.source, sheet=grid.sheet if grid.is_spreadsheet else "")
    if first is None:
        problems.append(Problem(place, "nothing but blanks", "a header row and rows below it"))
        return None
    if not table.header:
        walked.header.append(first)
        return rows
    for line, cells in itertools.chain([first], rows):
        if line in table.header:
            walked.header.append((line, cells))
        if line > table.header[-1]:
            rows = itertools.chain([(line, cells)], rows)
            break
    gone = [line for line in table.header if line not in dict(walked.header)]
    for line in gone:
        expected = f"the names of columns, as `header: {', '.join(map(str, table.header))}` says"
        problems.append(Problem(replace(place, line=line), "a row that holds nothing", expected))
    return None if gone else rows


def _even(chunk: Sequence[Row], width: int, walked: _Walked, is_spreadsheet: bool) -> list[Sequence[object]]:
    """The cells of some rows, each as long as the header; what is longer or shorter is noted."""
    even: list[Sequence[object]] = []
    for line, cells in chunk:
        n_cells = len(cells)
        if n_cells == width:
            even.append(cells)
            continue
        if is_spreadsheet:
            walked.beyond.update(index for index in range(width, n_cells) if text_of(cells[index]))
        else:
            walked.uneven[line] = n_cells
        even.append([*cells[:width], *[None] * (width - n_cells)])
    return even


def _with_units(raw: RawTable, problems: list[Problem]) -> RawTable:
    """Units from a row of their own, for the columns whose names state none; and the table without it."""
    line, sheet = raw.table.units, raw.sheet
    if not line:
        return raw
    at = np.flatnonzero(sheet.lines == line)
    if not at.size:
        place = Place(sheet.source, line, sheet=sheet.sheet)
        problems.append(Problem(place, "a row that holds nothing", f"units, as `units: {line}` says"))
        return raw
    units = [header_text(column[at[0]]) for column in sheet.columns]
    bare = [unit.strip("()[] ") for unit in units]
    names = tuple(replace(name, unit=name.unit or unit or None) for name, unit in zip(raw.names, bare, strict=True))
    rest = sheet.lines != line
    columns = tuple(column[rest] for column in sheet.columns)
    return replace(raw, names=names, sheet=replace(sheet, columns=columns, lines=sheet.lines[rest]))


def _kept(raw: RawTable, problems: list[Problem]) -> Flags:
    """Which rows are of the table, shape (n_rows,)."""
    table, sheet = raw.table, raw.sheet
    kept = ~np.isin(sheet.lines, table.skip)
    for column, words in table.skip_where.items():
        kept &= ~_says(raw, column, words, "skip_where", problems)
    after = _after_the_end(raw, problems)
    if after.any():
        kept[int(np.argmax(after)) :] = False
    return kept


def _after_the_end(raw: RawTable, problems: list[Problem]) -> Flags:
    """Which rows say that the table ended before them, shape (n_rows,)."""
    until, sheet = raw.table.until, raw.sheet
    if isinstance(until, int):
        return np.asarray(sheet.lines >= until)
    if isinstance(until, Mapping):
        said = [_says(raw, column, words, "until", problems) for column, words in until.items()]
        return np.asarray(np.logical_or.reduce(said))
    if until is None:
        return np.zeros(len(sheet.lines), dtype=bool)
    first = max(sheet.header_line, raw.table.units)
    gaps = [later - earlier > 1 for earlier, later in pairwise([first, *sheet.lines.tolist()])]
    return np.array([gap and not _broken_over(sheet, row - 1) for row, gap in enumerate(gaps)], dtype=bool)


def _broken_over(sheet: Sheet, row: int) -> bool:
    """Whether a row of a text file takes several lines, so that no blank one need follow it."""
    return not sheet.sheet and row >= 0 and any("\n" in str(column[row]) for column in sheet.columns)


def _says(raw: RawTable, column: str, words: Sequence[str], key: str, problems: list[Problem]) -> Flags:
    """Which rows say one of some words in a column, shape (n_rows,); a column that is not there is a problem."""
    index = raw.find(column)
    if index is None:
        hint = near_name(column, raw.sheet.header)
        problems.append(Problem(raw.header_place(), f"no column `{column}`", f"one, as `{key}` names it", hint))
        return np.zeros(len(raw.sheet.lines), dtype=bool)
    wanted = {one_line(word).casefold() for word in words}
    cells = raw.sheet.columns[index].tolist()
    texts = [" ".join(cell.split()) if type(cell) is str else header_text(cell) for cell in cells]  # quick for texts
    said = [text.casefold() for text in texts]
    raw.met[key, column] = frozenset(wanted.intersection(said))
    return np.array([text in wanted for text in said], dtype=bool)


def _check_lengths(raw: RawTable, uneven: Mapping[int, int], kept: Flags, problems: list[Problem]) -> None:
    """Rows of a text file that do not have the header's cells; `kept`, shape (n_rows,), are those of the table."""
    if not uneven:
        return
    width = len(raw.sheet.header)
    lines: Integers = raw.sheet.lines[kept]
    for line in lines.tolist():
        n_cells = uneven.get(line)
        if n_cells is not None:
            found = "a row of 1 cell" if n_cells == 1 else f"a row of {n_cells} cells"
            hint = raw.grid.too_long if n_cells > width else "An empty cell still has its separator."
            problems.append(Problem(Place(raw.sheet.source, line), found, f"{width}, as in the header", hint))


def _filled(raw: RawTable) -> RawTable:
    """Empty cells of some columns made to say what stands above them, as in cells that were merged."""
    columns = list(raw.sheet.columns)
    for name in raw.table.fill:
        index = raw.find(name)
        if index is None:
            continue
        cells, above = columns[index].copy(), None
        for row, cell in enumerate(cells.tolist()):
            above = cell if isinstance(cell, Fault) or text_of(cell) else above
            cells[row] = above
        columns[index] = cells
    return replace(raw, sheet=replace(raw.sheet, columns=tuple(columns)))
