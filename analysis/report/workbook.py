"""A report as a workbook: the one table first, then a sheet a table, and last what they are and what they were made from."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from analysis.outputs import table_files
from analysis.report.report import Report
from analysis.report.tables import Table
from scoring.errors import Problem

if TYPE_CHECKING:
    import pandas as pd

#: The last sheet: what the others are.
ABOUT = "about"
ABOUT_COLUMNS = ("sheet", "table", "title", "units", "notes")
_Row = tuple[str, str, str, str, str]
#: What the name of a sheet may be, as spreadsheet programs state it (from memory): so many UTF-16 units, none of these
#: characters, no apostrophe at an end, no two alike whatever the case, and not that of the programs' own sheet of changes.
LONGEST_NAME = 31
NOT_IN_NAMES = re.compile(r"[\[\]:*?/\\]")
RESERVED = "History"
#: Characters that no XML text can hold (Extensible Markup Language 1.0, production 2), and what stands in their place.
NOT_IN_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
UNPRINTABLE = "\N{REPLACEMENT CHARACTER}"


def workbook_bytes(report: Report) -> bytes:
    """The report as an .xlsx file.

    Its first sheet is the one table that .csv and .parquet hold. Each table of the report follows, its fields as columns under
    one row of heads, so that programs read it; titles, units and notes are on the last sheet.

    Raises
    ------
    FileError : the one table is more than a sheet can hold; another that is, is left out, and the last sheet says so
    """
    entries = list(_entries(report))
    sheets = {entry.sheet: entry.frame for entry in entries if entry.frame is not None}
    return table_files.xlsx_bytes(report.frame, {**sheets, ABOUT: _about(report, entries)})


def sheet_names(tables: Iterable[str]) -> dict[str, str]:
    """The name of each table's sheet: its own, cut before its last dot to what the name of a sheet may be; numbered where taken.

    Examples
    --------
    >>> list(sheet_names(["reading.places", "Reading.places", "about", "reading_in_bed_for_a_long_time.typical"]).values())
    ['reading.places', 'Reading.places (2)', 'about (2)', 'reading_in_bed_for_a_lo.typical']
    """
    taken = {_folded(name) for name in (table_files.FIRST_SHEET, ABOUT, RESERVED)}
    names: dict[str, str] = {}
    for table in tables:
        allowed = NOT_IN_NAMES.sub("_", NOT_IN_XML.sub("_", table))
        name, number = _cut(allowed, LONGEST_NAME), 1
        while _folded(name) in taken:
            number += 1
            mark = f" ({number})"
            name = _cut(allowed, LONGEST_NAME - len(mark)) + mark
        taken.add(_folded(name))
        names[table] = name
    return names


def _folded(name: str) -> str:
    """A name as it is compared: programs differ in which letters are alike, and here more are than in any of them."""
    return unicodedata.normalize("NFKC", name).casefold()


def _cut(name: str, most: int) -> str:
    """A name of at most so many UTF-16 units: what stands after its last dot, the table's own name, is kept if it can be."""
    section, dot, own = name.rpartition(".")
    room = most - _units_of(dot + own)
    cut = _beginning(section, room) + dot + own if room > 0 else _beginning(name, most)
    return re.sub("^'|'$", "_", cut) or "_"


def _units_of(text: str) -> int:
    return len(text.encode("utf-16-le")) // 2


def _beginning(text: str, most: int) -> str:
    """The first characters of a text, of at most so many UTF-16 units together."""
    return text.encode("utf-16-le")[: 2 * most].decode("utf-16-le", "ignore")


@dataclass(frozen=True, slots=True, eq=False)
class _Entry:
    """A table of the report: its key, its sheet, and what stands on that; None where no sheet can hold it, with the reason."""

    key: str
    sheet: str
    table: Table
    frame: pd.DataFrame | None
    why_not: str = ""


def _entries(report: Report) -> Iterator[_Entry]:
    """Every table with its sheet, as long as the workbook has room: cells take memory, on whichever sheet they stand."""
    tables = report.tables
    names = sheet_names(tables)
    room = table_files.MOST_CELLS - table_files.cells_of(*report.frame.shape)
    for key, table in tables.items():
        cells = table_files.cells_of(len(table), len(table.fields))
        if cells > room:
            yield _Entry(key, "", table, None, f"its {cells:,} cells are more than this workbook has room for")
            continue
        frame = _frame(table)
        problem = table_files.sheet_problem(frame)
        if problem is not None:
            yield _Entry(key, "", table, None, _in_words(problem))
            continue
        room -= cells
        yield _Entry(key, names[key], table, frame)


def _in_words(problem: Problem) -> str:
    return f"it has {problem.found}, and a sheet {problem.expected}"


def _frame(table: Table) -> pd.DataFrame:
    """The table's fields over its rows, as `Table.frame` has them, with cells that a sheet can hold."""
    import pandas as pd  # slow to import, and most commands make no frame

    order = list(table.order)
    return pd.DataFrame({_cell(key): [_cell(values[row]) for row in order] for key, values in table.fields.items()})


def _cell(value: Any) -> Any:
    """A number, a truth or nothing as it is, and anything else as a text that a sheet can hold."""
    if value is None or isinstance(value, int | float | np.number | np.bool_):
        return value
    if isinstance(value, list | tuple):
        return _cell("; ".join(str(item) for item in value))
    return NOT_IN_XML.sub(UNPRINTABLE, str(value))


def _about(report: Report, entries: Iterable[_Entry]) -> pd.DataFrame:
    """What each sheet is, then what the report was made from, then what it warns of."""
    import pandas as pd  # slow to import, and most commands make no frame

    one_table = "The one table that .csv and .parquet hold, too."
    rows: list[_Row] = [(table_files.FIRST_SHEET, "", report.title, "", one_table)]
    rows += [_described(entry) for entry in entries]
    rows += [("", "", "made from", "", line) for line in report.source.lines()]
    rows += [("", "", "caution", "", line) for line in (*report.closing, *report.source.cautions)]
    return pd.DataFrame([[_short(text) for text in row] for row in rows], columns=list(ABOUT_COLUMNS))


def _described(entry: _Entry) -> _Row:
    """The row of a table: its sheet and key, its title, the unit of each field that has one, and its notes."""
    table = entry.table
    notes = [f"Not in this workbook: {entry.why_not}. A .json has it."] if entry.why_not else []
    units = _units_in_words(table.units)
    return entry.sheet, entry.key, table.title, units, " ".join([*notes, *table.notes])


def _units_in_words(units: Mapping[str, str]) -> str:
    return "; ".join(f"{field}: {unit}" for field, unit in units.items() if unit)


def _short(text: str) -> str:
    """A text as a cell can hold it: the end of one that is too long, as the units of a thousand fields may be, is left out."""
    made = NOT_IN_XML.sub(UNPRINTABLE, text)
    most = table_files.MOST_CHARACTERS - 1  # an apostrophe may come before it
    return made if len(made) <= most else made[: most - 1] + "…"
