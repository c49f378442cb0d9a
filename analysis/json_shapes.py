"""Shapes of JSON, as JSON Schema: each with a sentence, and without alternatives, so that every fault has one place."""

from __future__ import annotations

from collections.abc import Collection

from scoring.declaration.kinds import Schema


def said(says: str, shape: Schema) -> Schema:
    """A shape with what it is, in a sentence."""
    return {"description": says, **shape}


def text(says: str) -> Schema:
    """A text."""
    return said(says, {"type": "string"})


def number(says: str) -> Schema:
    """A finite number."""
    return said(says, {"type": "number"})


def number_or_none(says: str) -> Schema:
    """A finite number, or null."""
    return said(says, {"type": ["number", "null"]})


def one_of(says: str, words: Collection[str]) -> Schema:
    """One of the words of a table."""
    return said(says, {"enum": list(words)})


def each(says: str, shape: Schema) -> Schema:
    """A list of things of one shape."""
    return said(says, {"type": "array", "items": shape})


def by_name(says: str, shape: Schema) -> Schema:
    """An object with any keys, whose values have one shape."""
    return said(says, {"type": "object", "additionalProperties": shape})


def keyed(says: str, keys: dict[str, Schema], optional: Collection[str] = ()) -> Schema:
    """An object with just these keys, all of which must be there but the optional ones."""
    return said(
        says,
        {
            "type": "object",
            "required": [key for key in keys if key not in optional],
            "additionalProperties": False,
            "properties": keys,
        },
    )


def or_null(shape: Schema) -> Schema:
    """The same, or null."""
    return {**shape, "type": [shape["type"], "null"]}
