"""JSON as it is printed and written: the same text for both, piece by piece where a document is long; and as it is hashed."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator, Mapping
from math import isnan
from typing import Any


def json_pieces(document: Any, *, ascii_only: bool = False) -> Iterator[str]:
    """The pieces of a document's text: that of `json.dumps` with an indent of 1, and a line end.

    A value of the document itself may be an iterator: its items are written as a list, one after another, and none is kept.

    Raises
    ------
    ValueError : a number that is not finite
    """

    def text_of(value: Any, depth: int) -> str:
        text = json.dumps(value, ensure_ascii=ascii_only, indent=1, allow_nan=False)
        return text.replace("\n", "\n" + " " * depth)

    if not isinstance(document, Mapping) or not any(isinstance(value, Iterator) for value in document.values()):
        yield text_of(document, 0) + "\n"
        return
    before = "{\n "
    for key, value in document.items():
        yield f"{before}{text_of(key, 0)}: "
        if isinstance(value, Iterator):
            yield from _items(value, text_of)
        else:
            yield text_of(value, 1)
        before = ",\n "
    yield "\n}\n"


def _items(items: Iterator[Any], text_of: Callable[[Any, int], str]) -> Iterator[str]:
    before = "["
    for item in items:
        yield f"{before}\n  {text_of(item, 2)}"
        before = ","
    yield "[]" if before == "[" else "\n ]"


def canonical(content: Any) -> bytes:
    """The one text that a content is hashed by: JSON with sorted keys and no blanks, in UTF-8.

    Raises
    ------
    ValueError : a number that is not finite, or half of a surrogate pair
    """
    text = json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)
    return text.encode()


def digest_of(content: Any) -> str:
    """The SHA-256 of a content's canonical text."""
    return hashlib.sha256(canonical(content)).hexdigest()


def number_or_none(value: float) -> float | None:
    """A float for JSON, None for NaN."""
    return None if isnan(value) else float(value)


def json_bytes(document: Any) -> bytes:
    """A document as a file's bytes: what `--json` prints."""
    return "".join(json_pieces(document)).encode()
