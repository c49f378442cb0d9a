"""Arrow IPC, files and streams, which Feather is as well: a column store as a grid."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pyarrow
import pyarrow.ipc

from scoring.catalogue.formats.arrow_columns import BROKEN, grid_of, is_text
from scoring.catalogue.formats.arrow_sizes import Size, size_of
from scoring.catalogue.formats.grid import Grid, TableFile
from scoring.errors import Place, Problem
from scoring.texts.file_limits import over_limits

_arrow: Any = pyarrow  # the library states no types of its own

_MAGIC = b"ARROW1\0\0"  # a file begins with it, and is a stream from there on


def read(file: TableFile, problems: list[Problem]) -> list[Grid]:
    """Read an Arrow file or stream as typed cells; nulls are empty cells. A broken file goes to `problems`.

    What each piece of the file says of its size is looked at before any of it is unpacked. A file is read as the stream that it
    holds, so that what was looked at is what is read.
    """
    try:
        grid, faults = _grid(file)
    except BROKEN as fault:
        found = f"a file that cannot be read as Arrow ({type(fault).__name__})"
        faults, grid = [Problem(Place(file.source), found, "an Arrow IPC or Feather file (version 2)")], None
    problems += faults
    return [] if grid is None else [grid]


def _grid(file: TableFile) -> tuple[Grid | None, list[Problem]]:
    """The grid of a file, or the limits that it oversteps and its columns that hold no cells."""
    stream = _arrow.py_buffer(file.content)
    stream = stream.slice(len(_MAGIC)) if file.content.startswith(_MAGIC) else stream
    with _arrow.ipc.open_stream(stream) as reader:
        faults = _Said(file.source, reader.schema).faults(_size(stream))
        if faults:
            return None, faults
        table = reader.read_all()
    table.validate(full=True)  # the library takes lengths and offsets as they stand, wherever they point
    faults = _too_long(table, file.source)
    return (None, faults) if faults else (grid_of(table, file.source), [])


def _size(stream: Any) -> Size:
    """How much the messages of a stream say that they hold."""
    size = Size()
    for message in _arrow.ipc.MessageReader.open_stream(stream):
        if message.type != "schema":
            size += size_of(message.metadata.to_pybytes(), message.body, is_batch=message.type == "record batch")
    return size


@dataclass(frozen=True, slots=True)
class _Said:
    """What a file says of its columns."""

    source: str
    schema: Any

    def faults(self, size: Size) -> list[Problem]:
        """The limits that the file oversteps, or its columns that hold no cells."""
        n_columns = len(self.schema.names)
        many = over_limits(
            Place(self.source),
            rows=size.rows,
            columns=n_columns,
            cells=size.rows * n_columns,
            unpacked=size.unpacked,
        )
        return many or [self._no_cells(field) for field in self.schema if not _has_cells(field.type)]

    def _no_cells(self, field: Any) -> Problem:
        place = Place(self.source, column_name=str(field.name))
        return Problem(place, f"cells of type {str(field.type)[:60]}", "texts, numbers, truth values, dates or times")


def _has_cells(kind: Any) -> bool:
    kinds = _arrow.types
    if kinds.is_dictionary(kind):
        return _has_cells(kind.value_type)
    plain = (kinds.is_null, kinds.is_boolean, kinds.is_integer, kinds.is_floating, kinds.is_decimal, kinds.is_temporal)
    return is_text(kind) or _is_view(kind) or any(is_plain(kind) for is_plain in plain)


def _is_view(kind: Any) -> bool:
    """Whether texts of a column may share their letters, so that they may be far longer together than the file."""
    return bool(_arrow.types.is_string_view(kind))


def _too_long(table: Any, source: str) -> list[Problem]:
    """The limit that texts which share their letters overstep together."""
    views = [chunk for column in table.columns if _is_view(column.type) for chunk in column.chunks]
    return over_limits(Place(source), unpacked=sum(map(_n_letters, views)))


def _n_letters(chunk: Any) -> int:
    """The bytes of a run of views, each of 16 bytes, the first four of which are its length."""
    views = np.frombuffer(chunk.buffers()[1], dtype="<i4").reshape(-1, 4)[chunk.offset :][: len(chunk)]
    return int(views[:, 0].astype(np.int64).sum())
