"""Arrow files and streams: what they say of their size, held against the library, and what is hostile."""

from __future__ import annotations

import datetime
import decimal
import io
import random
import struct
from collections.abc import Iterator

import pyarrow as pa
import pyarrow.feather
import pyarrow.ipc
import pytest

from scoring.catalogue.formats.arrow_sizes import Size, size_of
from scoring.catalogue.sheet_file import read_sheet
from scoring.errors import Problem
from scoring.texts.file_limits import lifted

TABLE = pa.table({
    "product": ["A", "B", None],
    "words": pa.array(["x", None, "x"]).dictionary_encode(),
    "long": pa.array(["lo" * 20, "y", None], pa.string_view()),
    "whole": [1, None, 3],
    "half": pa.array([1.5, None, 2.5], pa.float32()),
    "exact": pa.array([decimal.Decimal("1.50"), None, None]),
    "is": [True, None, False],
    "when": pa.array([0, None, 1_500_000_000], pa.timestamp("ns", "UTC")),
    "day": [datetime.date(2026, 11, 27), None, None],
    "none": pa.nulls(3),
})  # fmt: skip


def file_of(table: pa.Table, compression: str = "uncompressed", rows: int | None = None) -> bytes:
    """A table as an Arrow IPC file, in batches of so many rows."""
    stream = io.BytesIO()
    pyarrow.feather.write_feather(table, stream, compression=compression, chunksize=rows)
    return stream.getvalue()


def stream_of(table: pa.Table) -> bytes:
    stream = io.BytesIO()
    with pa.ipc.new_stream(stream, table.schema) as writer:
        writer.write_table(table)
    return stream.getvalue()


def said(content: bytes) -> list[str]:
    problems: list[Problem] = []
    assert read_sheet(content, "bench.arrow", problems) is None
    return [str(problem) for problem in problems]


@pytest.mark.parametrize("compression", ["uncompressed", "lz4", "zstd"])
@pytest.mark.parametrize("rows", [None, 2])
def test_typed_cells_stay_typed(compression: str, rows: int | None) -> None:
    """Nulls are empty cells; times are in microseconds and without a zone, as Python's."""
    problems: list[Problem] = []
    sheet = read_sheet(file_of(TABLE, compression, rows), "bench.arrow", problems)
    assert sheet is not None
    cells = {name: column.tolist() for name, column in zip(sheet.header, sheet.columns, strict=True)}
    moments = [datetime.datetime(1970, 1, 1), None, datetime.datetime(1970, 1, 1, 0, 0, 1, 500_000)]
    assert cells == {name: TABLE[name].to_pylist() for name in TABLE.column_names if name != "when"} | {"when": moments}
    assert (sheet.lines.tolist(), problems) == ([2, 3, 4], [])


def messages(content: bytes) -> Iterator[pa.Message]:
    yield from pa.ipc.MessageReader.open_stream(pa.py_buffer(content).slice(8))


@pytest.mark.parametrize("compression", ["uncompressed", "lz4", "zstd"])
def test_sizes_are_those_that_the_library_unpacks(compression: str) -> None:
    """Read from the bytes of messages, and counted once the library has unpacked the same."""
    table = pa.table({"a": [0.0] * 10_000, "b": ["x" * 50] * 10_000})
    content = file_of(table, compression, 3_000)
    batches = [message for message in messages(content) if message.type == "record batch"]
    sizes = [size_of(message.metadata.to_pybytes(), message.body, is_batch=True) for message in batches]
    assert [size.rows for size in sizes] == [3_000, 3_000, 3_000, 1_000]
    unpacked = pa.ipc.open_file(pa.py_buffer(content)).read_all().get_total_buffer_size()
    assert sum(size.unpacked for size in sizes) == pytest.approx(unpacked, rel=0.01)  # but for padding
    assert len(content) < unpacked / 10 or compression == "uncompressed"


def test_words_of_a_dictionary_are_no_rows() -> None:
    """They count among the bytes."""
    table = pa.table({"a": pa.array(["long word" * 1000, "b"]).dictionary_encode()})
    (words,) = (message for message in messages(file_of(table)) if message.type == "dictionary")
    size = size_of(words.metadata.to_pybytes(), words.body, is_batch=False)
    assert (size.rows, size.unpacked >= 9_000) == (0, True)


@pytest.mark.parametrize(
    ("lower", "says"),
    [({"rows": 999}, "1 000 rows; expected at most 999"), ({"cells": 1_999}, "2 000 cells"), ({"columns": 1}, "2 columns"), ({"unpacked": 15_999}, "bytes once unpacked")],
)  # fmt: skip
def test_a_file_is_held_to_what_it_says_of_itself(lower: dict[str, int], says: str) -> None:
    """Before any of it is unpacked."""
    with lifted(**lower):
        (told,) = said(file_of(pa.table({"a": [0.0] * 1_000, "b": [0.0] * 1_000}), "zstd"))
    assert says in told


def test_a_size_that_is_claimed_is_never_allocated() -> None:
    """A compressed buffer that says it holds an exabyte."""
    content = file_of(pa.table({"a": [0.0] * 1_000}), "zstd")
    claimed = struct.pack("<q", 8_000)
    assert content.count(claimed) == 1
    (told,) = said(content.replace(claimed, struct.pack("<q", 1 << 60)))
    assert "1 152 921 504 606 846 976 bytes once unpacked" in told


def test_texts_that_share_their_letters_are_counted_as_long_as_they_are() -> None:
    """A view is sixteen bytes; a thousand of them may be of one long text."""
    views = pa.StringViewArray.from_buffers(
        pa.string_view(),
        1_000,
        [None, pa.py_buffer(struct.pack("<i4sii", 5_000, b"xxxx", 0, 0) * 1_000), pa.py_buffer(b"x" * 5_000)],
    )
    with lifted(unpacked=4_999_999):
        assert "5 000 000 bytes once unpacked" in said(stream_of(pa.table({"a": views})))[0]


@pytest.mark.parametrize(
    ("column", "kind"),
    [([[1]], "list<"), ([{"a": 1}], "struct<"), ([b"raw"], None), ([[["x"]]], "list<")],
)  # fmt: skip
def test_a_column_of_no_cells_is_a_fault(column: list[object], kind: str | None) -> None:
    """Lists and structures; bytes are cells that no reading can be."""
    content = file_of(pa.table({"a": column}))
    if kind is None:
        assert read_sheet(content, "bench.arrow", []) is not None
        return
    (told,) = said(content)
    assert told.startswith(f"bench.arrow, column a: cells of type {kind}")


def test_offsets_that_point_elsewhere_are_a_fault() -> None:
    """The library takes them as they stand, and would read whatever memory is there."""
    content = bytearray(file_of(pa.table({"a": ["first", "second"]})))
    offsets = struct.pack("<3i", 0, 5, 11)
    assert bytes(content).count(offsets) == 1
    told = said(bytes(content).replace(offsets, struct.pack("<3i", 0, 1 << 28, 11)))
    assert told == [
        "bench.arrow: a file that cannot be read as Arrow (ArrowInvalid); expected an Arrow IPC or Feather file (version 2)."
    ]


@pytest.mark.parametrize("metadata", [b"", b"\x04", b"\xff" * 40, b"\x10\0\0\0" + b"\0" * 40])
def test_a_broken_message_is_a_fault(metadata: bytes) -> None:
    """Wherever it ends, and whatever it points at."""
    try:
        assert size_of(metadata, b"", is_batch=True) == Size()
    except ValueError as fault:
        assert str(fault)  # noqa: PT017 - either will do, and nothing else


def test_a_broken_file_is_a_fault_whatever_is_broken() -> None:
    """Bytes changed by chance: a fault or a table, and nothing else."""
    drawn = random.Random(0)
    for compression in ("uncompressed", "zstd"):
        whole = file_of(TABLE, compression)
        for _ in range(200):
            broken = bytearray(whole)
            for _ in range(drawn.choice([1, 2, 5])):
                broken[drawn.randrange(len(broken))] = drawn.randrange(256)
            problems: list[Problem] = []
            sheet = read_sheet(bytes(broken), "bench.arrow", problems)
            assert sheet is not None or problems
