"""Shapes of JSON, as JSON Schema, and where a document does not fit one: in one line each, with the place in it.

Each shape has a sentence, and no alternatives, so that every fault has one place. The owner of jsonschema.
"""

from __future__ import annotations

import functools
import json
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING, Any

from scoring.declaration.kinds import Schema

if TYPE_CHECKING:
    from jsonschema import ValidationError
    from jsonschema.protocols import Validator


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


#: Faults of one document that are named.
MOST_NAMED = 20
#: Characters of a value or key that a fault shows.
MOST_SHOWN = 40
#: The greatest number of lists and objects inside each other. What is nested deeper is nothing that steelyard wrote.
DEEPEST = 50
TYPES = {
    "number": "a finite number",
    "string": "a text",
    "null": "null",
    "array": "a list",
    "object": "an object",
}


@dataclass(frozen=True, slots=True)
class Misfit:
    """One place where something else stands than should: where, what was found, what was expected."""

    where: str
    found: str
    expected: str


def misfits(schema: Schema, value: object, where: str) -> Iterator[Misfit]:
    """Where a value does not fit a schema, what was found and what was expected there.

    Parameters
    ----------
    schema : a JSON Schema (2020-12) that asks for types, words, bounds, keys and items, and has no alternatives
        (`anyOf` and its kin): then every fault has one place
    value : what `json.loads` gave, no deeper than `DEEPEST`
    where : what the value is called; keys and places in lists, counted from 1, follow after points
    """
    missing_at = None
    for error in _validator(json.dumps(schema)).iter_errors(value):
        path = tuple(error.absolute_path)
        if error.validator == "required":
            # One error a key, each without saying which key: the first of an object stands for all of them.
            if path == missing_at:
                continue
            missing_at = path
        yield from _in_words(error, ".".join([where, *(_step(step) for step in path)]))


def too_deep(value: object) -> bool:
    """Whether lists and objects stand inside each other deeper than `DEEPEST`."""
    level = [value]
    for _ in range(DEEPEST):
        level = [inner for outer in level if isinstance(outer, dict | list) for inner in _inside(outer)]
    return any(isinstance(one, dict | list) for one in level)


def _inside(outer: dict[str, Any] | list[Any]) -> list[Any]:
    return outer if isinstance(outer, list) else list(outer.values())


@functools.lru_cache(maxsize=32)
def _validator(schema: str) -> Validator:
    """The validator of a schema's text. jsonschema takes a sixth of a second to import: only where a file is read."""
    from jsonschema import Draft202012Validator
    from jsonschema.validators import extend

    checker = Draft202012Validator.TYPE_CHECKER.redefine("number", _is_number)
    keywords = {"additionalProperties": functools.partial(_additional, Draft202012Validator.VALIDATORS)}
    validator: Validator = extend(Draft202012Validator, keywords, type_checker=checker)(json.loads(schema))
    return validator


def _additional(keywords: Mapping[str, Any], own: Any, allowed: Any, value: Any, schema: Schema) -> Iterator[Any]:
    """The keyword `additionalProperties` in the order of the document. jsonschema's own goes by a set, which has another
    order in every run."""
    if not isinstance(allowed, dict) or not isinstance(value, dict):
        yield from keywords["additionalProperties"](own, allowed, value, schema)
        return
    for key, inner in value.items():
        if key not in schema.get("properties", ()):
            yield from own.descend(inner, allowed, path=key)


def _is_number(_: object, value: object) -> bool:
    """A finite number, no truth value. Python reads NaN and Infinity from JSON, which knows neither."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return False
    return isinstance(value, int) or isfinite(value)


def _step(step: str | int) -> str:
    return step if isinstance(step, str) else str(step + 1)


def _in_words(error: ValidationError, where: str) -> Iterator[Misfit]:
    """What an error is in our words; jsonschema's own repeat the whole value."""
    schema, value = error.schema, error.instance
    assert isinstance(schema, dict)  # only an object holds the keywords below
    if error.validator == "required":
        expected = _keys(schema["required"])
        for key in schema["required"]:
            if key not in value:
                yield Misfit(where, f"the key `{key}` is missing", expected)
    elif error.validator == "additionalProperties":
        known = schema["properties"]
        for key in value:
            if key not in known:
                yield Misfit(where, f"the unknown key `{key[:MOST_SHOWN]}`", _keys(known))
    else:
        yield Misfit(where, found(value), expected_of(schema))


def _keys(names: Iterable[str]) -> str:
    return f"the keys {', '.join(names)}"


def found(value: object) -> str:
    """A value in few words."""
    if isinstance(value, dict | list):
        return "an object" if isinstance(value, dict) else "a list"
    text = json.dumps(value, ensure_ascii=False)
    return text if len(text) <= MOST_SHOWN else f"{text[:MOST_SHOWN]}..."


def expected_of(schema: Schema) -> str:
    """What a schema of one value asks for, in words."""
    if "enum" in schema:
        return "one of " + ", ".join(sorted(schema["enum"]))
    if "exclusiveMinimum" in schema:
        return f"a number above {schema['exclusiveMinimum']:g}"
    types = schema["type"]
    listed = [types] if isinstance(types, str) else types
    return " or ".join(TYPES[one] for one in listed)
