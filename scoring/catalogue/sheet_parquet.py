"""Parquet: a column store as a sheet. The one owner of pyarrow."""

from __future__ import annotations

from typing import Any

import numpy as np
import pyarrow
import pyarrow.parquet

from scoring.catalogue.sheets import Sheet, object_array
from scoring.errors import Place, Problem

MOST_CELLS = 100_000_000  # a file of a few bytes can claim thousands of millions of rows
_arrow: Any = pyarrow  # the library states no types of its own


def read_parquet(content: bytes, source: str, problems: list[Problem]) -> Sheet | None:
    """Read a Parquet file as typed cells; nulls are empty cells. A broken file goes to `problems`."""
    try:
        file = _arrow.parquet.ParquetFile(_arrow.BufferReader(content))
        n_cells = file.metadata.num_rows * file.metadata.num_columns
        if n_cells > MOST_CELLS:
            problems.append(Problem(Place(source), f"{n_cells} cells", f"at most {MOST_CELLS}"))
            return None
        table = file.read()
        columns = tuple(object_array(_plain(column).to_pylist()) for column in table.columns)
    except (_arrow.ArrowException, OSError, ValueError, OverflowError, KeyError, TypeError) as fault:
        found = f"a file that cannot be read as Parquet ({type(fault).__name__})"
        problems.append(Problem(Place(source), found, "a Parquet file"))
        return None
    lines = np.arange(2, table.num_rows + 2, dtype=np.int64)
    return Sheet(source, tuple(str(name) for name in table.column_names), columns, lines)


def _plain(column: Any) -> Any:
    """A column with its times in microseconds, the finest of Python's own dates, and without a zone."""
    kind, kinds = column.type, _arrow.types
    if kinds.is_dictionary(kind):
        return _plain(column.cast(kind.value_type))
    if kinds.is_timestamp(kind):
        return column.cast(_arrow.timestamp("us"), safe=False)
    if kinds.is_duration(kind):
        return column.cast(_arrow.duration("us"), safe=False)
    return column.cast(_arrow.time64("us"), safe=False) if kinds.is_time64(kind) else column
