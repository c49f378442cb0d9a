"""Parquet: a column store as a grid."""

from __future__ import annotations

from typing import Any

import pyarrow
import pyarrow.parquet

from scoring.catalogue.formats.arrow_columns import BROKEN, grid_of, is_text
from scoring.catalogue.formats.grid import Grid, TableFile
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
        texts = [field.name for field in said.schema_arrow if is_text(field.type)]
        return [grid_of(_arrow.parquet.ParquetFile(_arrow.BufferReader(content), read_dictionary=texts).read(), source)]
    except BROKEN as fault:
        found = f"a file that cannot be read as Parquet ({type(fault).__name__})"
        problems.append(Problem(Place(source), found, "a Parquet file"))
        return []


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
