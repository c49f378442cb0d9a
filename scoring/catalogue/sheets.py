"""Sheets: a table as named columns of cells, every cell kept as it is written."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from scoring.catalogue.cells import BLANKS, POINT, CellRules, Fault, name_fault, text_of
from scoring.errors import Place, Problem
from scoring.numbers.array_types import Integers, Texts
from scoring.texts.file_limits import over_limits

#: What to try where the units beside a table are not those in it.
UNITS_STALE = "Units beside a frame stay as they are when its numbers are worked on: take away what no longer holds."

#: What is said of a column with content and no name; where the header stands further down, it says nothing.
NAMELESS = "a column without a name"

_LETTER = re.compile(r"[^\W\d]")
#: So many rows of another length than the header are told one by one.
_MOST_UNEVEN = 3
_UPPER_ROWS = 40  # among so many of these a header is looked for
_CHUNK = 300  # rows turned into arrays at a time: few enough that the garbage collector never walks them


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """A table: `columns` in the order of `header`, each an object array of shape (n_rows,).

    `lines` numbers the rows as the source does: in a file of any format the header is row 1 and the rows follow; a frame's
    header has no number, and its rows begin with 1. `units` are those that stand beside the table, by column or by measure.
    `sheet` is the sheet of a spreadsheet that it stands on; `numbers` are the columns' own numbers there, counted from 1, and
    `titles` what the file calls them, where that is not the header. `rules` say how its texts are written.
    """

    source: str
    header: tuple[str, ...]
    columns: tuple[Texts, ...]
    lines: Integers
    header_line: int = 1
    units: Mapping[str, str] = field(default_factory=dict)
    sheet: str = ""
    numbers: tuple[int, ...] = ()
    titles: tuple[str, ...] = ()
    rules: CellRules = POINT
    _numbers: dict[str, int] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        numbers = {name: number for number, name in reversed(list(enumerate(self.header)))}
        object.__setattr__(self, "_numbers", numbers)

    def column(self, name: str) -> Texts:
        """The cells of the column called `name`, shape (n_rows,)."""
        return self.columns[self._numbers[name]]

    def unit_beside(self, *names: str) -> str | None:
        """The unit that stands beside the table under the first of these names that has one."""
        return next((self.units[name] for name in names if self.units.get(name)), None)

    def place(self, row: int | None, name: str) -> Place:
        """Where a cell stands: its row's index from 0, or None for the header, and its column's name."""
        index = self._numbers.get(name)
        return self.place_at(row, index) if index is not None else Place(self.source, self._line(row), column_name=name)

    def place_at(self, row: int | None, index: int) -> Place:
        """Where a cell stands: its row's index or None for the header, and its column's index, both from 0."""
        return replace(self.column_place(index), line=self._line(row))

    def column_place(self, index: int) -> Place:
        """A column by its index from 0, whatever the row."""
        name = self.titles[index] if self.titles else self.header[index]
        if not self.sheet:
            return Place(self.source, column_name=name or str(index + 1))
        number = self.numbers[index] if self.numbers else index + 1
        return Place(self.source, column=number, column_name=name, sheet=self.sheet)

    def index(self, name: str) -> int:
        """The index of the column called `name`, counted from 0."""
        return self._numbers[name]

    def _line(self, row: int | None) -> int:
        return self.header_line if row is None else int(self.lines[row])


def problem(place: Place, fault: Fault) -> Problem:
    """A fault at its place."""
    return Problem(place, fault.found, fault.expected, fault.hint)


def object_array(cells: Sequence[object]) -> Texts:
    """Cells as an object array of shape (n_cells,)."""
    return np.fromiter(cells, dtype=object, count=len(cells))


def sheet_of(
    source: str, records: Iterator[tuple[int, Sequence[object]]], problems: list[Problem], hint: str
) -> Sheet | None:
    """Make a sheet of numbered records, a header and equally long ones; others are reported and left out.

    Reading stops, and None comes back, where there are more columns, rows or cells than the limits say.
    """
    n_before = len(problems)
    header_line, header = next(records, (0, ()))
    if not header:
        if len(problems) == n_before:
            problems.append(Problem(Place(source), "nothing but blanks", "a header row and rows below it"))
        return None
    many = over_limits(Place(source, header_line), columns=len(header))
    if many:
        problems += many
        return None
    columns: list[list[Texts]] = [[np.empty(0, dtype=object)] for _ in header]
    lines: list[int] = []
    uneven: list[tuple[int, Sequence[object]]] = []
    while chunk := list(itertools.islice(records, _CHUNK)):
        kept = [record for record in chunk if len(record[1]) == len(header)]
        uneven += [record for record in chunk if len(record[1]) != len(header)] if len(kept) < len(chunk) else []
        lines += (line for line, _ in kept)
        many = over_limits(Place(source), so_far=True, rows=len(lines), cells=len(lines) * len(header))
        if many:
            problems += many
            return None
        for column, cells in zip(columns, zip(*(record for _, record in kept), strict=True), strict=False):
            column.append(object_array(cells))
    problems += _uneven_rows(source, uneven, len(header), hint)
    names = tuple(text_of(cell) for cell in header)
    whole = tuple(np.concatenate(parts) for parts in columns)
    return Sheet(source, names, whole, np.array(lines, dtype=np.int64), header_line)


def _uneven_rows(
    source: str, uneven: Sequence[tuple[int, Sequence[object]]], width: int, hint: str
) -> Iterator[Problem]:
    """Rows that are longer or shorter than the header: a fault each, or one for all where they are many."""
    expected = f"{width}, as in the header"
    header = next((line for line, cells in uneven[:_UPPER_ROWS] if _reads_as_header(cells)), None)
    if len(uneven) > _MOST_UNEVEN and header is not None:
        line, cells = uneven[0]
        found = f"a row of {_n_cells(cells)}, and {len(uneven) - 1} more rows of another length than the header"
        is_below = f"Is the header in row {header}? A recipe says so with `header: {header}`."
        yield Problem(Place(source, line), found, expected, is_below)
        return
    for line, cells in uneven:
        try_this = hint if len(cells) > width else "An empty cell still has its comma."
        yield Problem(Place(source, line), f"a row of {_n_cells(cells)}", expected, try_this)


def _n_cells(cells: Sequence[object]) -> str:
    return "1 cell" if len(cells) == 1 else f"{len(cells)} cells"


def _reads_as_header(cells: Sequence[object]) -> bool:
    """Whether a row may be the names of columns: three or more texts with letters, each once."""
    texts = [text_of(cell) for cell in cells]
    return len(texts) > 2 and len(set(texts)) == len(texts) and all(_LETTER.search(text) for text in texts)


def with_checked_names(sheet: Sheet, problems: list[Problem]) -> Sheet:
    """Trim the names of the columns, report bad and repeated ones; drop a nameless, empty column."""
    kept: dict[str, int] = {}
    for index, name in enumerate(name.strip(BLANKS) for name in sheet.header):
        fault = name_fault(name, "a column name")
        if fault:
            problems.append(problem(_unnamed(sheet, index), fault))
        elif name in kept:
            found = f"a second column of this name (columns {kept[name] + 1} and {index + 1})"
            hint = f"Repeats of one measure are called `{name} #1`, `{name} #2`."
            place = replace(sheet.place_at(None, index), column_name=name)
            problems.append(Problem(place, found, "every name once", hint))
        elif name:
            kept[name] = index
        elif any(text_of(cell) for cell in sheet.columns[index].tolist()):
            place = replace(sheet.place_at(None, index), column_name="" if sheet.sheet else str(index + 1))
            problems.append(Problem(place, NAMELESS, "a name in the header"))
    numbers = sheet.numbers or tuple(range(1, len(sheet.header) + 1))
    return replace(
        sheet,
        header=tuple(kept),
        columns=tuple(sheet.columns[i] for i in kept.values()),
        numbers=tuple(numbers[i] for i in kept.values()),
    )


def _unnamed(sheet: Sheet, index: int) -> Place:
    """A column of the header by its number alone."""
    if sheet.sheet:
        return replace(sheet.place_at(None, index), column_name="")
    if sheet.header_line:
        return Place(sheet.source, sheet.header_line, index + 1)
    return Place(sheet.source, column_name=str(index + 1))
