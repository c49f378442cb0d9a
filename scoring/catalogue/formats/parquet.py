"""Parquet: a column store as a sheet. The one owner of pyarrow."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from typing import Any

import numpy as np
import pyarrow
import pyarrow.parquet

from scoring.catalogue.formats.grid import Grid, Row, TableFile
from scoring.catalogue.sheets import Sheet, object_array
from scoring.errors import Place, Problem
from scoring.texts.file_limits import over_limits

_arrow: Any = pyarrow  # the library states no types of its own


def read(file: TableFile, problems: list[Problem]) -> list[Grid]:
    """Read a Parquet file as typed cells; nulls are empty cells. A broken file goes to `problems`.

    What the file says of its size is looked at before any of it is unpacked. Texts are unpacked once for each different
    one: a column of one long text, a million times over, is a few bytes in the file and would fill any memory.
    """
    content, source = file.content, file.source
    try:
        said = _arrow.parquet.ParquetFile(_arrow.BufferReader(content))
        many = _over_limits(said.metadata, source)
        if many:
            problems += many
            return []
        texts = [field.name for field in said.schema_arrow if _is_text(field.type)]
        table = _arrow.parquet.ParquetFile(_arrow.BufferReader(content), read_dictionary=texts).read()
        columns = tuple(object_array(_cells(column)) for column in table.columns)
    except (_arrow.ArrowException, OSError, ValueError, OverflowError, KeyError, TypeError) as fault:
        found = f"a file that cannot be read as Parquet ({type(fault).__name__})"
        problems.append(Problem(Place(source), found, "a Parquet file"))
        return []
    lines = np.arange(2, table.num_rows + 2, dtype=np.int64)
    sheet = Sheet(source, tuple(str(name) for name in table.column_names), columns, lines)
    return [Grid(source, partial(_rows, sheet), whole=sheet)]


def _rows(sheet: Sheet, _problems: list[Problem]) -> Iterator[Row]:
    """The names of the columns, and the rows below them."""
    yield sheet.header_line, sheet.header
    yield from zip(sheet.lines.tolist(), zip(*sheet.columns, strict=True), strict=True)


def _over_limits(metadata: Any, source: str) -> list[Problem]:
    """The limits that the file oversteps by what it says of itself."""
    groups = [metadata.row_group(index) for index in range(metadata.num_row_groups)]
    values = sum(group.column(index).num_values for group in groups for index in range(group.num_columns))
    return over_limits(
        Place(source),
        rows=metadata.num_rows,
        columns=metadata.num_columns,
        cells=max(metadata.num_rows * metadata.num_columns, values),
        unpacked=sum(group.total_byte_size for group in groups),
    )


def _is_text(kind: Any) -> bool:
    kinds = _arrow.types
    return bool(kinds.is_string(kind) or kinds.is_large_string(kind) or kinds.is_binary(kind))


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
