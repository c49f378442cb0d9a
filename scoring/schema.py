"""The JSON Schema of a formula file, made from the same key tables and registries that the reader goes by."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from scoring.blends import BLENDS
from scoring.curves import KINDS, CurveKind
from scoring.reader.checklist import CHECKLIST
from scoring.reader.curve import FIGURES
from scoring.reader.form import BANDS_ON, BEST, RANKS_ON, TAKEN, TIES
from scoring.reader.measure import BELOW_FLOOR, BETTER, REPEATS, RULES
from scoring.reader.output import APPLY, OTHERWISE

Schema = dict[str, Any]
DIALECT = "https://json-schema.org/draft/2020-12/schema"
NAME = "^[A-Za-z_][A-Za-z0-9_]{0,59}$"
NUMBER: Schema = {"type": "number"}
TEXT: Schema = {"type": ["string", "number"]}
LABEL: Schema = {"type": "string", "maxLength": 2000}


def formula_schema() -> Schema:
    """The JSON Schema (2020-12) of a formula file."""
    sections = {
        "formula": LABEL,
        "version": TEXT,
        "title": LABEL,
        "note": LABEL,
        "takes": _object({"file": LABEL, "sections": _list(_words(TAKEN))}, ["file"]),
        "scale": {"$ref": "#/$defs/scale"},
        "ranks": _object({"on": _words(RANKS_ON), "ties": _words(TIES), "best": _words(BEST)}),
        "bands": {"type": "object", "additionalProperties": NUMBER},
        "bands_on": _words(BANDS_ON),
        "constants": _named(NUMBER),
        "attributes": _named(_object({"label": LABEL, "values": _list(TEXT)})),
        "measures": _named({"$ref": "#/$defs/measure"}),
        "ratings": _named({"$ref": "#/$defs/rating"}),
        "scores": _named({"$ref": "#/$defs/score"}),
        "gates": _list({"$ref": "#/$defs/gate"}),
        "cautions": _list(LABEL),
        "checklist": _object(dict.fromkeys(CHECKLIST, _object({"waived": LABEL | {"minLength": 1}}, ["waived"]))),
    }
    return {
        "$schema": DIALECT,
        "title": "A steelyard formula",
        **_object(sections, ["formula"]),
        "$defs": _definitions(),
    }


def _object(properties: Schema, required: Iterable[str] = ()) -> Schema:
    found: Schema = {"type": "object", "properties": properties, "additionalProperties": False}
    return found | ({"required": list(required)} if required else {})


def _named(schema: Schema) -> Schema:
    return {"type": "object", "patternProperties": {NAME: schema}, "additionalProperties": False}


def _list(schema: Schema) -> Schema:
    return {"type": "array", "items": schema}


def _words(options: Iterable[str]) -> Schema:
    return {"enum": list(options)}


def _definitions() -> Schema:
    rounding = _object({"step": {"type": "number", "exclusiveMinimum": 0}, "rule": _words(RULES)}, ["step"])
    output = {
        "label": LABEL,
        "note": LABEL,
        "neutral": {"type": "boolean"},
        "scale": {"$ref": "#/$defs/scale"},
        "value": {"$ref": "#/$defs/expression"},
        "blend": {"oneOf": [{"const": name, "description": kind.says} for name, kind in BLENDS.items()]},
        "exponent": NUMBER,
        "missing": {"$ref": "#/$defs/missing"},
        "limits": _list({"$ref": "#/$defs/limit"}),
        "round": {"$ref": "#/$defs/rounding"},
    }
    weight = {"type": "number", "minimum": 0}
    curve = {"$ref": "#/$defs/curve"}
    mix_part = _object({"measure": LABEL, "rating": LABEL, "weight": weight, "curve": curve})
    rating = _object({"measure": LABEL, "curve": curve, "mix": _list(mix_part), **output})
    rating["oneOf"] = [{"required": ["measure", "curve"]}, {"required": ["mix"]}, {"required": ["value"]}]
    parts = {**_list(LABEL), "minItems": 1}
    score = _object({"weights": {**_named(weight), "minProperties": 1}, "parts": parts, **output})
    score["oneOf"] = [{"required": ["weights"]}, {"required": ["parts"]}, {"required": ["value"]}]
    return {
        "expression": {
            "type": ["string", "number"],
            "description": "+ - * / **, comparisons, and/or/not, known functions",
        },
        "rounding": rounding,
        "scale": _object({"from": NUMBER, "to": NUMBER, "show": {"$ref": "#/$defs/rounding"}}),
        "measure": _measure(),
        "curve": _curve(),
        "rating": rating,
        "score": score,
        "limit": _limit(),
        "missing": _object(
            {
                "needs": _list(LABEL),
                "absent_above": {"type": "number", "minimum": 0, "maximum": 1},
                "otherwise": _words(OTHERWISE),
            }
        ),
        "gate": _object(
            {
                "name": LABEL,
                "when": {"$ref": "#/$defs/expression"},
                "guard": {"type": "string", "pattern": "^[0-9.eE+-]+\\s*u$"},
                "withhold": LABEL,
                "remark": LABEL,
                "near": LABEL,
                "missing": LABEL,
                "scores": _list(LABEL),
            },
            ["when"],
        ),
    }


def _measure() -> Schema:
    percent = {"type": "string", "pattern": "^(pooled|pooled relative|[0-9.eE+-]+\\s*%)$"}
    return _object(
        {
            "label": LABEL,
            "unit": LABEL | {"type": ["string", "number"]},
            "better": _words(BETTER),
            "plausible": {"anyOf": [{"type": "null"}, {**_list(NUMBER), "minItems": 2, "maxItems": 2}]},
            "repeats": _words(REPEATS),
            "trim": {"type": "number", "minimum": 0, "maximum": 0.49},
            "repeatability": {"anyOf": [{"type": "null"}, {"type": "number", "exclusiveMinimum": 0}, percent]},
            "reporting_floor": {"type": ["number", "null"]},
            "below_floor": _words(BELOW_FLOOR),
            "round": {"$ref": "#/$defs/rounding"},
            "note": LABEL,
        },
        ["unit"],
    )


def _limit() -> Schema:
    bound = {"anyOf": [NUMBER, {"$ref": "#/$defs/curve"}]}
    limit = _object(
        {
            "name": LABEL,
            "when": {"$ref": "#/$defs/expression"},
            "on": LABEL,
            "at_most": bound,
            "at_least": bound,
            "apply": _words(APPLY),
        }
    )
    limit["allOf"] = [
        {"oneOf": [{"required": ["when"]}, {"required": ["on"]}]},
        {"oneOf": [{"required": ["at_most"]}, {"required": ["at_least"]}]},
    ]
    return limit


def _curve() -> Schema:
    reference = _object({name: _list(NUMBER) if name == "values" else NUMBER for name in FIGURES})
    return {"oneOf": [_curve_of(kind, {"anyOf": [{"const": "live"}, reference]}) for kind in KINDS.values()]}


def _curve_of(kind: CurveKind, reference: Schema) -> Schema:
    if kind.anchored:
        body: Schema = {"type": "object", "additionalProperties": NUMBER, "minProperties": 2}
    else:
        words = {name: _words(options) for name, options in (kind.choices or {}).items()}
        numbers = dict.fromkeys((*kind.numbers, *(kind.optional or {})), NUMBER)
        body = _object({**numbers, **words}, kind.numbers)
    properties = {kind.name: body | {"description": kind.says}}
    if kind.outside:
        properties["outside"] = _words(kind.outside)
    if kind.figures:
        properties["reference"] = reference
    return _object(properties, [kind.name])
