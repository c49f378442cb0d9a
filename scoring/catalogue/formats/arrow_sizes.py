"""How much a message of Arrow says that it holds, read from its bytes: the library unpacks a message to say so.

References
----------
Apache Arrow Columnar Format 1.5, Serialization and Interprocess Communication: `Message.fbs` (Message, RecordBatch,
DictionaryBatch, Buffer), and buffer compression: eight bytes before each compressed buffer hold its length, -1 where it is stored
as it is. FlatBuffers internals: tables and vtables (from memory; tests hold it against files that the library writes).
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from typing import Any

_HEADER, _LENGTH, _BUFFERS, _COMPRESSION, _BATCH_OF_WORDS = 2, 0, 2, 3, 1


@dataclass(frozen=True, slots=True)
class Size:
    """Rows of a table, and bytes once unpacked."""

    rows: int = 0
    unpacked: int = 0

    def __add__(self, other: Size) -> Size:
        return Size(self.rows + other.rows, self.unpacked + other.unpacked)


def size_of(metadata: bytes, body: Any, *, is_batch: bool) -> Size:
    """The size of a message: a batch of rows, or the words of a dictionary, which are no rows.

    Parameters
    ----------
    metadata : a `Message` as flatbuffer
    body : the buffer that it speaks of

    Raises
    ------
    ValueError : the message is broken
    """
    try:
        header = _Table.root(metadata).table(_HEADER)
        batch = header if is_batch or header is None else header.table(_BATCH_OF_WORDS)
        if batch is None:
            return Size()
        rows = batch.number(_LENGTH) if is_batch else 0
        unpacked = len(body) if batch.at(_COMPRESSION) == 0 else _unpacked(batch, memoryview(body))
    except struct.error as fault:
        raise ValueError("a message that ends too early") from fault
    if rows < 0:
        raise ValueError("a batch of fewer rows than none")
    return Size(rows, unpacked)


def _unpacked(batch: _Table, body: memoryview) -> int:
    """The bytes of the buffers of a compressed batch, once unpacked."""
    total = 0
    for offset, length in batch.pairs(_BUFFERS):
        if length:
            (said,) = struct.unpack_from("<q", body, offset)
            total += length if said < 0 else said
    return total


@dataclass(frozen=True, slots=True)
class _Table:
    """A table of a flatbuffer: where it stands in the bytes."""

    buffer: bytes
    start: int

    @classmethod
    def root(cls, buffer: bytes) -> _Table:
        (start,) = struct.unpack_from("<I", buffer, 0)
        return cls(buffer, start)

    def at(self, field: int) -> int:
        """Where a field stands; 0 where it is left out."""
        (back,) = struct.unpack_from("<i", self.buffer, self.start)
        vtable = self.start - back
        if vtable < 0:
            raise ValueError("a table without a layout")
        (size,) = struct.unpack_from("<H", self.buffer, vtable)
        if 4 + 2 * field >= size:
            return 0
        (ahead,) = struct.unpack_from("<H", self.buffer, vtable + 4 + 2 * field)
        return self.start + int(ahead) if ahead else 0

    def table(self, field: int) -> _Table | None:
        position = self.at(field)
        return None if not position else _Table(self.buffer, position + self._ahead(position))

    def number(self, field: int) -> int:
        """A whole number of eight bytes; 0 where it is left out."""
        position = self.at(field)
        return int(struct.unpack_from("<q", self.buffer, position)[0]) if position else 0

    def pairs(self, field: int) -> list[tuple[int, int]]:
        """A vector of pairs of such numbers."""
        position = self.at(field)
        if not position:
            return []
        start = position + self._ahead(position)
        (count,) = struct.unpack_from("<I", self.buffer, start)
        if start + 4 + 16 * count > len(self.buffer):
            raise ValueError("a vector longer than its message")
        return [struct.unpack_from("<qq", self.buffer, start + 4 + 16 * index) for index in range(count)]

    def _ahead(self, position: int) -> int:
        (ahead,) = struct.unpack_from("<I", self.buffer, position)
        return int(ahead)
