"""One table of readings written in every format that is read."""

from __future__ import annotations

import csv
import io
import sqlite3
from collections.abc import Callable, Sequence

import openpyxl
import pyarrow as pa
import pyarrow.feather
import pyarrow.ipc
import pyarrow.parquet
from spreadsheets import ods_of_xml, row

Rows = Sequence[Sequence[object]]

#: A row of names and rows of cells: a text, numbers, a reading below its limit, gaps.
READINGS: Rows = (
    ("product", "noise [dB] #1", "noise [dB] #2", "heat_flux [W/m2]", "class", "notes"),
    ("A", 31.5, 30, 50.25, "foam", "seen by K."),
    ("B", "< 22", 33.0, None, "coil", None),
    ("007", "missing: mute", 29.5, "not applicable", None, "é, ;\t\""),
)  # fmt: skip
ITEMS: Rows = (("id", "class"), ("007", "coil"), ("B", "coil"), ("A", "foam"))


def separated(separator: str) -> Callable[[Rows], bytes]:
    """What writes rows with a separator between cells."""

    def written(rows: Rows) -> bytes:
        stream = io.StringIO()
        csv.writer(stream, delimiter=separator).writerows(rows)
        return stream.getvalue().encode()

    return written


def xlsx(rows: Rows) -> bytes:
    """A workbook of one sheet."""
    book, stream = openpyxl.Workbook(), io.BytesIO()
    assert book.active is not None
    for cells in rows:
        book.active.append(cells)
    book.save(stream)
    return stream.getvalue()


def ods(rows: Rows) -> bytes:
    """A spreadsheet of one sheet."""
    return ods_of_xml(Sheet="".join(map(row, rows)))


def arrow_table(rows: Rows) -> pa.Table:
    """Columns of one type each: of numbers where all cells are, else of texts."""
    columns = {}
    for name, *cells in zip(*rows, strict=True):
        is_numeric = all(cell is None or isinstance(cell, int | float) for cell in cells)
        kept = cells if is_numeric else [cell if cell is None else str(cell) for cell in cells]
        columns[str(name)] = pa.array(kept, pa.float64() if is_numeric else pa.string())
    return pa.table(columns)


def parquet(rows: Rows) -> bytes:
    """A Parquet file."""
    stream = io.BytesIO()
    pyarrow.parquet.write_table(arrow_table(rows), stream)
    return stream.getvalue()


def feather(rows: Rows) -> bytes:
    """A Feather file, which is a compressed Arrow IPC file."""
    stream = io.BytesIO()
    pyarrow.feather.write_feather(arrow_table(rows), stream, compression="lz4")
    return stream.getvalue()


def arrow_stream(rows: Rows) -> bytes:
    """An Arrow IPC stream, which is what a file holds."""
    stream, table = io.BytesIO(), arrow_table(rows)
    with pa.ipc.new_stream(stream, table.schema) as writer:
        writer.write_table(table)
    return stream.getvalue()


def sqlite(rows: Rows) -> bytes:
    """A database of one table, whose columns have no types."""
    names, *cells = rows
    listed = ", ".join(f'"{name}"' for name in names)
    with sqlite3.connect(":memory:") as connection:
        connection.execute(f'create table "bench" ({listed})')
        connection.executemany(f'insert into "bench" values ({", ".join("?" * len(names))})', cells)
        connection.commit()
        return connection.serialize()


WRITTEN: dict[str, Callable[[Rows], bytes]] = {
    ".csv": separated(","),
    ".tsv": separated("\t"),
    ".xlsx": xlsx,
    ".ods": ods,
    ".parquet": parquet,
    ".arrow": arrow_stream,
    ".feather": feather,
    ".sqlite": sqlite,
    ".sqlite3": sqlite,
    ".db": sqlite,
}
