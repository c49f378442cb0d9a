"""A pandas frame as a sheet: its cells are typed as those of a Parquet file are, and are read by the same rules.

Rows are numbered from 1, in the order in which they stand; what the index calls them is told beside. A level of the index
that has a name is a column, before the others, as in a file that pandas writes. What is not there (NaN, None, NaT, `pd.NA`) is
an empty cell. `attrs["units"]` may say units by column or by measure. The frame is left as it is.
"""

from __future__ import annotations

import datetime
import decimal
import hashlib
import json
import math
import sys
from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any, TypeGuard

import numpy as np

from scoring.catalogue.cells import kind_of, shown, text_of
from scoring.catalogue.sheets import Sheet, object_array, with_checked_names
from scoring.errors import Place, Problem
from scoring.numbers.array_types import Texts
from scoring.texts.file_limits import over_limits

if TYPE_CHECKING:
    import pandas as pd

#: What messages call a frame, and a catalogue that was read from one.
THE_FRAME = "the frame"
#: Beside its cells, a frame says units here.
UNITS = "units"

#: What a cell of a file may be, besides nothing.
_CELLS = (str, bool, int, float, decimal.Decimal, datetime.date, datetime.time, datetime.timedelta)
_READY = frozenset({type(None), str, bool, int, float})


def is_frame(given: object) -> TypeGuard[pd.DataFrame]:
    """Whether something is a pandas frame. Where pandas is not loaded nothing is, and it is not loaded to be asked."""
    pandas = sys.modules.get("pandas")
    return pandas is not None and isinstance(given, pandas.DataFrame)


def read_frame(frame: pd.DataFrame, problems: list[Problem]) -> Sheet | None:
    """The sheet of a frame; faults go to `problems`, and None comes back where there is nothing to go on with."""
    fault = _fault_of_shape(frame)
    if fault is not None:
        problems.append(fault)
        return None
    n_rows, n_columns = frame.shape
    many = over_limits(Place(THE_FRAME), rows=n_rows, columns=n_columns, cells=n_rows * n_columns)
    if many:
        problems += many
        return None
    columns = [(text_of(name), _cells(frame.iloc[:, number])) for number, name in enumerate(_labels(frame.columns))]
    levels = [level for level in _named_levels(frame) if _is_new(*level, columns, problems)]
    sheet = Sheet(
        THE_FRAME,
        header=tuple(name for name, _ in (*levels, *columns)),
        columns=tuple(cells for _, cells in (*levels, *columns)),
        lines=np.arange(1, n_rows + 1, dtype=np.int64),
        header_line=0,
        units=_units(frame, problems),
    )
    return with_checked_names(sheet, problems)


def digest_of(sheet: Sheet) -> str:
    """The SHA-256 of what a frame holds; it is that of no file, nor of one that is written from the frame.

    Notes
    -----
    It is taken of lines of JSON in ASCII: one of an object with the units beside the table, then one a column, in their order,
    with a list of its name and of its cells as text. An empty cell is an empty text, a whole number has no point, a date is
    written as in ISO 8601, and of a cell that no file could hold only its type counts.
    """
    digest = hashlib.sha256(json.dumps({UNITS: dict(sorted(sheet.units.items()))}).encode())
    for name, cells in zip(sheet.header, sheet.columns, strict=True):
        texts = [text_of(cell) if _is_cell(cell) else kind_of(cell) for cell in cells.tolist()]
        digest.update(f"\n{json.dumps([name, *texts])}".encode())
    return digest.hexdigest()


def with_words(sheet: Sheet, columns: Collection[str], problems: list[Problem]) -> Sheet:
    """Report the cells of columns of words that no file could hold, such as lists; they are empty from here on."""
    return replace(
        sheet,
        columns=tuple(
            _words(sheet, name, problems) if name in columns else cells
            for name, cells in zip(sheet.header, sheet.columns, strict=True)
        ),
    )


def _words(sheet: Sheet, name: str, problems: list[Problem]) -> Texts:
    """The cells of one column of words, shape (n_rows,)."""
    cells = sheet.column(name).copy()
    for row in [row for row, cell in enumerate(cells.tolist()) if not _is_cell(cell)]:
        found, expected = f"{shown(cells[row])}, {kind_of(cells[row])}", "text, a number, a date or nothing"
        problems.append(Problem(sheet.place(row, name), found, expected))
        cells[row] = None
    return cells


def fault_of_index(frame: pd.DataFrame) -> Problem | None:
    """Say that an index without a name may well hold the products, for a frame that names them nowhere."""
    if frame.index.nlevels > 1 or frame.index.name is not None or frame.index.inferred_type == "integer":
        return None
    first = shown(frame.index[0])
    hint = f'If it names the products ({first} and so on), give `frame.rename_axis("product")`.'
    found, expected = (
        "no column of products, and an index without a name",
        "a column or an index called `product` or `id`",
    )
    return Problem(Place(THE_FRAME), found, expected, hint)


def labelled(problems: Iterable[Problem], frame: pd.DataFrame) -> list[Problem]:
    """The problems, each row of the frame with its label in the index."""
    return [replace(problem, place=_labelled(problem.place, frame)) for problem in problems]


def _is_cell(cell: object) -> bool:
    """Whether a file could hold it."""
    return cell is None or isinstance(cell, _CELLS)


def _labelled(place: Place, frame: pd.DataFrame) -> Place:
    if place.source != THE_FRAME or not place.line:
        return place
    label: Any = frame.index[place.line - 1]
    words = ", ".join(text_of(part) for part in label) if isinstance(label, tuple) else text_of(label)
    return replace(place, label=f"index {shown(words)}")


def _fault_of_shape(frame: pd.DataFrame) -> Problem | None:
    """Say what keeps a frame from being a table with a row of names above it."""
    place, expected = Place(THE_FRAME), "a row for every product or reading"
    if frame.columns.nlevels > 1:
        found, hint = (
            f"columns of {frame.columns.nlevels} levels",
            "Give each column one name, as `noise #2` or `sag [mm]`.",
        )
        return Problem(place, found, "one name a column", hint)
    if not len(frame.columns):
        return Problem(place, "no columns", f"columns with names, and {expected}")
    return None if len(frame) else Problem(place, "columns and no rows", expected)


def _labels(index: pd.Index[Any]) -> list[object]:
    """The names of columns; one that is not there (None, NaN) is an empty text."""
    missing = np.asarray(index.isna())
    return ["" if missing[number] else label for number, label in enumerate(index.tolist())]


def _named_levels(frame: pd.DataFrame) -> list[tuple[str, Texts]]:
    """The levels of the index that have a name, each with its cells, of shape (n_rows,)."""
    names, bare = list(frame.index.names), frame.index.set_names([None] * frame.index.nlevels)
    return [
        (text_of(name), _cells(bare.get_level_values(level).to_series()))
        for level, name in enumerate(names)
        if name is not None
    ]


def _is_new(name: str, cells: Texts, columns: list[tuple[str, Texts]], problems: list[Problem]) -> bool:
    """Whether no column bears the name of a level of the index already; a problem where one does and differs from it.

    All cells have the shape (n_rows,).
    """
    same = [held for called, held in columns if called == name]
    if any(held.tolist() != cells.tolist() for held in same):
        found = f"an index and a column that are both called `{name}`, and differ"
        hint = "Give `frame.reset_index(drop=True)`, or `frame.rename_axis(None)`, where the column is meant."
        problems.append(Problem(Place(THE_FRAME, column_name=name), found, "every name once", hint))
    return not same


def _cells(column: pd.Series[Any]) -> Texts:
    """The cells of a column as a file would give them, shape (n_rows,); None for what is not there."""
    cells = column.tolist()
    for row in np.flatnonzero(np.asarray(column.isna(), dtype=bool)).tolist():
        cells[row] = None
    # a nullable column of floats may hold NaN that is not its own NA: it is what is not equal to itself
    return object_array([cell if type(cell) in _READY and cell == cell else _plain(cell) for cell in cells])


def _plain(cell: object) -> object:
    """A cell as one of Python's own kinds, where there is one for it; times in microseconds, and without a zone."""
    import pandas as pd  # loaded already, for here is a frame

    if isinstance(cell, float):
        return None if math.isnan(cell) else float(cell)
    if isinstance(cell, np.datetime64):
        cell = pd.Timestamp(cell)
    if isinstance(cell, np.timedelta64 | pd.Timedelta):
        return pd.Timedelta(cell).to_pytimedelta()
    if isinstance(cell, pd.Timestamp):
        cell = cell.to_pydatetime(warn=False)
    if isinstance(cell, datetime.datetime) and cell.tzinfo is not None:
        return cell.astimezone(datetime.UTC).replace(tzinfo=None)
    return cell.item() if isinstance(cell, np.generic) else cell


def _units(frame: pd.DataFrame, problems: list[Problem]) -> dict[str, str]:
    """The units that stand beside the frame, by column or by measure."""
    said = frame.attrs.get(UNITS)
    if said is None:
        return {}
    if not isinstance(said, Mapping):
        found = f'`attrs["{UNITS}"]`, {kind_of(said)}'
        problems.append(Problem(Place(THE_FRAME), found, "a mapping from columns, or measures, to their units"))
        return {}
    units: dict[str, str] = {}
    for name, unit in said.items():
        if isinstance(name, str) and isinstance(unit, str):
            units[name] = unit.strip()
            continue
        found = f'`attrs["{UNITS}"]` with {shown(unit)} for {shown(name)}'
        problems.append(Problem(Place(THE_FRAME), found, "the unit as text under a name as text"))
    return units
