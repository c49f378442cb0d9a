"""The JSON Schema of a study file, from the declarations that the reader goes by."""

from __future__ import annotations

from dataclasses import replace

from analysis.study.file_keys import ITEM, STUDY_KEYS
from analysis.study.items import GROUP, ITEMS, ItemKind
from analysis.study.keys import Keys, mapping_of
from scoring.declaration.kinds import Schema
from scoring.form_reference.schema import DIALECT


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
