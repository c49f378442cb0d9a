"""The shape of a record's sections: what must stand where, so that a record is read or refused, and nothing is guessed."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from math import isfinite
from typing import Any

from scoring.reader.form import BANDS_ON, BEST, RANKS_ON, TIES
from scoring.rounding import RULES
from scoring.table import STATUSES

Shape = Any
#: Faults of one record that are named.
MOST_NAMED = 20


def number(value: object) -> bool:
    """A finite number."""
    return isinstance(value, int | float) and not isinstance(value, bool) and isfinite(value)


def above_zero(value: object) -> bool:
    """A finite number above zero."""
    return isinstance(value, int | float) and number(value) and value > 0


def word(value: object) -> bool:
    """A text."""
    return isinstance(value, str)


def nothing(value: object) -> bool:
    """A null."""
    return value is None


EXPECTED: dict[Callable[[object], bool], str] = {
    number: "a finite number",
    above_zero: "a number above 0",
    word: "a text",
    nothing: "null",
}
ANY = "*"
STANDING = {
    "value": (number, nothing),
    "shown": (number, nothing),
    "rank": (number, nothing),
    "band": (word, nothing),
    "status": frozenset(STATUSES),
    "remarks": [word],
}
READING = {"value": (number, nothing), "state": word, "repeats": ([(number, word, nothing)], nothing)}
SHOWN = {"section": frozenset(("ratings", "scores")), "label": word, "step": above_zero, "rule": frozenset(RULES)}
SECTION_SHAPES: dict[str, Shape] = {
    "formula": {
        "name": word,
        "version": word,
        "title": word,
        "sha256": word,
        "settings": [word],
        "texts": [{"name": word, "text": word}],
    },
    "addresses": {ANY: word},
    "rules": {
        "outputs": {ANY: SHOWN},
        "ranks": {"on": frozenset(RANKS_ON), "ties": frozenset(TIES), "best": frozenset(BEST)},
        "bands_on": frozenset(BANDS_ON),
        "bands": [{"name": word, "from": number}],
    },
    "catalogue": {"sha256": word, "products": number, "unused": [word]},
    "readings": [{"id": word, "digest": word, "attributes": {ANY: word}, "measures": {ANY: READING}}],
    "reference": [{"measure": word, "statistic": word, "share": number, "value": [(number, nothing)]}],
    "figures": [{"id": word, "ratings": {ANY: STANDING}, "scores": {ANY: STANDING}}],
    "cautions": [word],
    "tool": {ANY: word},
}
CHANGED = {"product": word, "output": word, "old": (STANDING, nothing), "new": (STANDING, nothing)}
PUBLICATION = {"date": word, "sections": {ANY: lambda _: True}, "hashes": {ANY: word}, "seal": word}
CORRECTION = PUBLICATION | {"cause": word, "previous": word, "changed": [CHANGED]}


def misfits(shape: Shape, value: object, where: str) -> Iterator[tuple[str, str]]:
    """Where a value does not fit a shape, and what was expected there.

    A shape is a test, a frozenset of words, a tuple of shapes of which one must fit, a list of one shape for every item, or
    a mapping of keys to shapes (one key `*`: any keys).
    """
    if isinstance(shape, dict):
        yield from _of_mapping(shape, value, where)
    elif isinstance(shape, list):
        if isinstance(value, list):
            for index, item in enumerate(value, start=1):
                yield from misfits(shape[0], item, f"{where}.{index}")
        else:
            yield where, "a list"
    elif isinstance(shape, tuple):
        if not any(next(misfits(one, value, where), None) is None for one in shape):
            yield where, " or ".join(_expected(one) for one in shape)
    elif isinstance(shape, frozenset):
        if not isinstance(value, str) or value not in shape:
            yield where, _expected(shape)
    elif not shape(value):
        yield where, _expected(shape)


def _of_mapping(shape: dict[str, Shape], value: object, where: str) -> Iterator[tuple[str, str]]:
    if not isinstance(value, dict):
        yield where, "an object"
        return
    if ANY not in shape and set(shape) != set(value):
        yield where, "the keys " + ", ".join(shape)
        return
    for key, item in value.items():
        yield from misfits(shape.get(key, shape.get(ANY)), item, f"{where}.{key}")


def _expected(shape: Shape) -> str:
    if isinstance(shape, dict | list):
        return "an object" if isinstance(shape, dict) else "a list"
    return "one of " + ", ".join(sorted(shape)) if isinstance(shape, frozenset) else EXPECTED.get(shape, "something")


def section_misfits(sections: dict[str, Any]) -> Iterator[tuple[str, str]]:
    """Where the sections of a state are not as they should be: each by itself, then products and outputs together."""
    found = False
    for name, shape in SECTION_SHAPES.items():
        if name not in sections:
            found = True
            yield name, "this section"
            continue
        for misfit in misfits(shape, sections[name], name):
            found = True
            yield misfit
    if not found:
        yield from _of_products(sections)


def _of_products(sections: dict[str, Any]) -> Iterator[tuple[str, str]]:
    read = [one["id"] for one in sections["readings"]]
    if len(set(read)) != len(read) or [one["id"] for one in sections["figures"]] != read:
        yield "figures", "the products of the section readings, each once and in their order"
        return
    names = {
        section: [name for name, rule in sections["rules"]["outputs"].items() if rule["section"] == section]
        for section in ("ratings", "scores")
    }
    for index, one in enumerate(sections["figures"], start=1):
        for section, outputs in names.items():
            if list(one[section]) != outputs:
                yield f"figures.{index}.{section}", "the outputs of the section rules, in their order"
    measures = [set(one["measures"]) for one in sections["readings"]]
    words = [set(one["attributes"]) for one in sections["readings"]]
    if any(one != measures[0] for one in measures) or any(one != words[0] for one in words):
        yield "readings", "the same measures and attributes for every product"
