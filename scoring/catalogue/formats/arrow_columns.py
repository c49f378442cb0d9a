"""Columns of Arrow, which Parquet files are read to as well, as a grid of typed cells."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from typing import Any

import numpy as np
import pyarrow

from scoring.catalogue.formats.grid import Grid, Row
from scoring.catalogue.sheets import Sheet, object_array
from scoring.errors import Problem

_arrow: Any = pyarrow  # the library states no types of its own

#: What the library raises of files that are broken, or of another format.
BROKEN = (pyarrow.ArrowException, OSError, ValueError, ArithmeticError, KeyError, TypeError)


def is_text(kind: Any) -> bool:
    """Whether a column's type is that of texts or of bytes."""
    kinds = _arrow.types
    return bool(kinds.is_string(kind) or kinds.is_large_string(kind) or kinds.is_binary(kind))


def grid_of(table: Any, source: str) -> Grid:
    """A table of Arrow as a grid; nulls are empty cells, and the names of the columns are row 1."""
    columns = tuple(object_array(_cells(column)) for column in table.columns)
    lines = np.arange(2, table.num_rows + 2, dtype=np.int64)
    sheet = Sheet(source, tuple(str(name) for name in table.column_names), columns, lines)
    return Grid(source, partial(_rows, sheet), whole=sheet)


def _rows(sheet: Sheet, _problems: list[Problem]) -> Iterator[Row]:
    """The names of the columns, and the rows below them."""
    yield sheet.header_line, sheet.header
    yield from zip(sheet.lines.tolist(), zip(*sheet.columns, strict=True), strict=True)


def _cells(column: Any) -> list[object]:
    """The cells of a column; those of a dictionary share its words."""
    if not _arrow.types.is_dictionary(column.type):
        return list(_plain(column).to_pylist())
    cells: list[object] = []
    for chunk in column.chunks:
        words = _plain(_arrow.chunked_array([chunk.dictionary])).to_pylist()
        cells += (None if number is None else words[number] for number in chunk.indices.to_pylist())
    return cells


def _plain(column: Any) -> Any:
    """A column with its times in microseconds, the finest of Python's own dates, and without a zone."""
    kind, kinds = column.type, _arrow.types
    if kinds.is_timestamp(kind):
        return column.cast(_arrow.timestamp("us"), safe=False)
    if kinds.is_duration(kind):
        return column.cast(_arrow.duration("us"), safe=False)
    return column.cast(_arrow.time64("us"), safe=False) if kinds.is_time64(kind) else column
