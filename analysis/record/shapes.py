"""The shape of a record's sections: what must stand where, so that a record is read or refused, and nothing is guessed."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass
from math import isfinite
from typing import Any

from scoring.form import BANDS_ON, BEST, RANKS_ON, TIES
from scoring.rounding import RULES
from scoring.table import STATUSES

Shape = Any
#: Faults of one record that are named.
MOST_NAMED = 20
#: Characters of a value or key that a fault shows.
MOST_SHOWN = 40


@dataclass(frozen=True, slots=True)
class Misfit:
    """One place where something else stands than should: where, what was found, what was expected."""

    where: str
    found: str
    expected: str


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
ANY, OPTIONAL = "*", "?"
STANDING = {
    "value": (number, nothing),
    "shown": (number, nothing),
    "rank": (number, nothing),
    "band": (word, nothing),
    "status": frozenset(STATUSES),
    "remarks": [word],
}
READING = {
    "value": (number, nothing),
    "state": word,
    "repeats": ([(number, word, nothing)], nothing),
    "sessions?": [word],
    "specimens?": [word],
}
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
PUBLICATION = {"date": word, "sections": {ANY: lambda _: True}, "hashes": {ANY: word}, "fingerprint": word}
CORRECTION = PUBLICATION | {"cause": word, "previous": word, "changed": [CHANGED]}


def misfits(shape: Shape, value: object, where: str) -> Iterator[Misfit]:
    """Where a value does not fit a shape, what was found and what was expected there.

    A shape is a test, a frozenset of words, a tuple of shapes of which one must fit, a list of one shape for every item, or
    a mapping of keys to shapes (one key `*`: any keys; a key that ends in `?` may be left out).
    """
    if isinstance(shape, dict):
        yield from _of_mapping(shape, value, where)
    elif isinstance(shape, list):
        if isinstance(value, list):
            for index, item in enumerate(value, start=1):
                yield from misfits(shape[0], item, f"{where}.{index}")
        else:
            yield Misfit(where, _found(value), "a list")
    elif isinstance(shape, tuple):
        if not any(next(misfits(one, value, where), None) is None for one in shape):
            yield Misfit(where, _found(value), " or ".join(_expected(one) for one in shape))
    elif isinstance(shape, frozenset):
        if not isinstance(value, str) or value not in shape:
            yield Misfit(where, _found(value), _expected(shape))
    elif not shape(value):
        yield Misfit(where, _found(value), _expected(shape))


def _of_mapping(shape: dict[str, Shape], value: object, where: str) -> Iterator[Misfit]:
    if not isinstance(value, dict):
        yield Misfit(where, _found(value), "an object")
        return
    known = {key.removesuffix(OPTIONAL): one for key, one in shape.items()}
    due = [key for key in shape if not key.endswith(OPTIONAL)]
    if ANY not in shape:
        yield from _of_keys(due, list(value), where, f"the keys {', '.join(due)}", known)
    for key, item in value.items():
        if key in known or ANY in shape:
            yield from misfits(known.get(key, shape.get(ANY)), item, f"{where}.{key}")


def _of_keys(
    due: Sequence[str], there: Sequence[str], where: str, expected: str, known: Collection[str] = ()
) -> Iterator[Misfit]:
    """Each key that is missing, and each that is unknown."""
    for key in due:
        if key not in there:
            yield Misfit(where, f"the key `{key}` is missing", expected)
    for key in there:
        if key not in (known or due):
            yield Misfit(where, f"the unknown key `{key[:MOST_SHOWN]}`", expected)


def _found(value: object) -> str:
    """A value in few words."""
    if isinstance(value, dict | list):
        return "an object" if isinstance(value, dict) else "a list"
    text = json.dumps(value, ensure_ascii=False)
    return text if len(text) <= MOST_SHOWN else f"{text[:MOST_SHOWN]}..."


def _expected(shape: Shape) -> str:
    if isinstance(shape, dict | list):
        return "an object" if isinstance(shape, dict) else "a list"
    return "one of " + ", ".join(sorted(shape)) if isinstance(shape, frozenset) else EXPECTED.get(shape, "something")


def section_misfits(sections: dict[str, Any]) -> Iterator[Misfit]:
    """Where the sections of a state are not as they should be: each by itself, then measures and outputs together."""
    found = False
    for name, shape in SECTION_SHAPES.items():
        if name not in sections:
            found = True
            yield Misfit(name, "nothing", "this section")
            continue
        for misfit in misfits(shape, sections[name], name):
            found = True
            yield misfit
    if not found:
        yield from _of_products(sections)


def _of_products(sections: dict[str, Any]) -> Iterator[Misfit]:
    names = {
        section: [name for name, rule in sections["rules"]["outputs"].items() if rule["section"] == section]
        for section in ("ratings", "scores")
    }
    for index, one in enumerate(sections["figures"], start=1):
        for section, due in names.items():
            where, expected = (
                f"figures.{index}.{section} ({one['id'][:MOST_SHOWN]})",
                "the outputs of the section rules",
            )
            yield from _of_keys(due, list(one[section]), where, expected)
            if set(one[section]) == set(due) and list(one[section]) != due:
                yield Misfit(where, "another order of outputs", f"{expected}, in their order")
    for noun in ("measures", "attributes"):
        counts = Counter(tuple(one[noun]) for one in sections["readings"])
        usual = max(counts, key=counts.__getitem__, default=())  # most products have them
        for index, one in enumerate(sections["readings"], start=1):
            where = f"readings.{index}.{noun} ({one['id'][:MOST_SHOWN]})"
            yield from _of_keys(usual, list(one[noun]), where, f"the same {noun} for every product")
