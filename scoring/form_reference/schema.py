"""The JSON Schema of a formula file, from the declarations that the reader goes by."""

from __future__ import annotations

from scoring.curves import KINDS, CurveKind
from scoring.declaration import kinds
from scoring.declaration.kinds import Schema, object_of
from scoring.form import CURVE, DECLARED, ENDS, FORM, OUTSIDE

DIALECT = "https://json-schema.org/draft/2020-12/schema"
EXPRESSION: Schema = {
    "type": ["string", "number"],
    "title": "an expression",
    "description": "+ - * / **, comparisons, and/or/not, known functions",
}


def formula_schema() -> Schema:
    """The JSON Schema (2020-12) of a formula file."""
    nouns = {found.name: _curve() if found is CURVE else found.schema() for found in DECLARED}
    top = {"$schema": DIALECT, "title": "A steelyard formula"}
    return {**top, **FORM.schema(), "$defs": {"expression": EXPRESSION, **nouns}}


def _curve() -> Schema:
    return {"oneOf": [_curve_of(kind) for kind in KINDS.values()]}


def _curve_of(kind: CurveKind) -> Schema:
    """One kind of curve, with those of the keys beside it that it has."""
    beside = {"outside": bool(kind.outside), "reference": bool(kind.figures)}
    properties = {kind.name: _kind_body(kind) | {"description": kind.says}}
    for name, key in CURVE.keys.items():
        if beside.get(name, True):
            held = _outside(kind) if name == "outside" else key.kind.schema()
            properties[name] = held | {"description": key.says}
    return object_of(properties, [kind.name])


def _outside(kind: CurveKind) -> Schema:
    """One word, or one for each end."""
    word = kinds.Word({word: OUTSIDE[word] for word in kind.outside}).schema()
    ends = {end: word | {"description": f"What holds {says}."} for end, says in ENDS.items()}
    return {"anyOf": [word, object_of(ends)], "default": kind.outside[0]}


def _kind_body(kind: CurveKind) -> Schema:
    if kind.anchored:
        return {"type": "object", "additionalProperties": kinds.Number().schema(), "minProperties": 2}
    told = {key.name: key.kind.schema() | {"description": key.says} for key in kind.keys}
    return object_of(told, [key.name for key in kind.keys if key.required])
