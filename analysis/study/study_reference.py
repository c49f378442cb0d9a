"""A study file for its writers: its JSON Schema, and the section of the reference page, from the declarations it is read by."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from analysis.study.items import GROUP, ITEMS, ItemKind
from analysis.study.keys import Keyed, Keys, Way, mapping_of
from analysis.study.reader import CORRELATION_KEYS, ITEM, STUDY_KEYS
from scoring.declaration import Key
from scoring.declaration.kinds import Schema
from scoring.form_reference.keyed import entry
from scoring.form_reference.schema import DIALECT
from scoring.form_reference.text import anchor, bullet, code, listed, wrapped


def study_schema() -> Schema:
    """The JSON Schema (2020-12) of a study file.

    It says what stands where. Whether names and addresses are those of the formula, and whether what varies goes together, is
    for the reader, which has the formula.
    """
    return {
        "$schema": DIALECT,
        "title": "A steelyard study",
        **mapping_of(STUDY_KEYS),
        "$defs": {
            ITEM: {"oneOf": [{"$ref": f"#/$defs/{subject}"} for subject in ITEMS]},
            **{subject: item_schema(subject, kind) for subject, kind in ITEMS.items()},
        },
    }


def item_schema(subject: str, kind: ItemKind) -> Schema:
    """One kind of item: its subject, just one of its ways where it has any, and what may stand beside."""
    keys = {subject: kind.key, **kind.beside}
    for name, way in kind.ways.items():
        keys |= {name: way.key, **way.beside}
    schema = mapping_of(optional({**keys, "group": GROUP}))
    schema["required"] = [subject, *(name for name, key in kind.beside.items() if key.required)]
    if kind.ways:
        schema["oneOf"] = [{"required": [name]} for name in kind.ways]
    alone = {name: [way] for way, declared in kind.ways.items() for name in declared.beside}
    return schema | ({"dependentRequired": alone} if alone else {})


def optional(keys: Keys) -> Keys:
    """The keys, none of which must be there."""
    return {name: replace(key, required=False) for name, key in keys.items()}


TITLE, ITEM_TITLE, CORRELATION_TITLE = "Studies", "What varies", "What goes together"
LEAD = (
    "A study file says what varies and how far, for `sensitivity`, `stability` and the appendix (`--study FILE`); `--resolved` "
    "prints what it came to. `steelyard schema --study` prints the same as a JSON Schema. Its keys:"
)
ITEM_LEAD = (
    "In the list under `vary`. An item has one subject, which is one of these keys, and what is named with it. An address varies "
    "once. What can be drawn is held against the formula, so that no draw is refused later."
)


def study_section() -> Iterator[str]:
    """The blocks of the section."""
    yield f"## {TITLE}"
    yield wrapped(LEAD)
    yield "\n".join(_entry(name, key) for name, key in STUDY_KEYS.items())
    yield f"### {ITEM_TITLE}"
    yield wrapped(ITEM_LEAD)
    yield "\n".join([*(_item(subject, kind) for subject, kind in ITEMS.items()), _entry("group", GROUP)])
    for kind in ITEMS.values():
        if kind.ways:
            yield f"### {kind.ways_title}"
            yield "\n".join(_way(name, way) for name, way in kind.ways.items())
    yield f"### {CORRELATION_TITLE}"
    yield wrapped("Each in the list under `correlations`; together they must be ones that things can have.")
    yield "\n".join(_entry(name, key) for name, key in CORRELATION_KEYS.items())


def _item(subject: str, kind: ItemKind) -> str:
    """A subject, with what is needed or may stand beside it."""
    lines = [_entry(subject, kind.key)]
    if kind.ways:
        names, title = listed([code(name) for name in kind.ways], "or"), kind.ways_title
        lines.append(bullet(f"Beside it one of {names}: [{title.lower()}](#{anchor(title)}).", 1))
    lines += [_entry(name, key, 1) for name, key in kind.beside.items()]
    return "\n".join(lines)


def _way(name: str, way: Way) -> str:
    alone = [_entry(beside, key, 1) for beside, key in way.beside.items()]
    return "\n".join([_entry(name, replace(way.key, required=False)), *alone])


def _entry(name: str, key: Key, depth: int = 0) -> str:
    """A key with what may stand there; then its own keys, if it has any."""
    inner = key.kind.keys if isinstance(key.kind, Keyed) else {}
    own = [_entry(name, said, depth + 1) for name, said in inner.items()]
    return "\n".join([entry(replace(key, name=name), key.kind.schema(), key.required, depth), *own])
