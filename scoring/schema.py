"""The JSON Schema of a formula file, made from the same key tables and registries that the reader goes by."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from scoring import renamed
from scoring.blends import BLENDS
from scoring.curves import KINDS, CurveKind
from scoring.reader import keys, options
from scoring.reader.keys import Keys

Schema = dict[str, Any]
DIALECT = "https://json-schema.org/draft/2020-12/schema"
NAME = "^[A-Za-z_][A-Za-z0-9_]{0,59}$"
NUMBER: Schema = {"type": "number"}
TEXT: Schema = {"type": ["string", "number"]}
LABEL: Schema = {"type": "string", "maxLength": 2000}
COLUMN: Schema = {"type": "string", "maxLength": 300, "pattern": r"^[^\[\]#]+$"}
MEASURE: Schema = LABEL | {"title": "the name of a measure"}
RATING: Schema = LABEL | {"title": "the name of a rating"}
NULL: Schema = {"type": "null"}
NONE = tuple(options.NO_ERROR)
POOLED = tuple(options.POOLED)
ABOVE_ZERO: Schema = {"type": "number", "exclusiveMinimum": 0}
SHARE: Schema = {"type": "string", "pattern": "^[0-9.eE+-]+\\s*%$"}


def formula_schema() -> Schema:
    """The JSON Schema (2020-12) of a formula file."""
    steps = {
        step: _keyed(keys.WAIVER, {"waived": LABEL | {"minLength": 1}}, ["waived"]) | {"description": says}
        for step, says in options.CHECKLIST.items()
    }
    sections = {
        "formula": LABEL,
        "version": TEXT,
        "title": LABEL,
        "note": LABEL,
        "takes": _ref("takes"),
        "scale": _ref("scale"),
        "ranks": _ref("ranks"),
        "bands": {"type": "object", "additionalProperties": NUMBER, "title": "figures by name"},
        "product_column": COLUMN,
        "bands_on": _words(options.BANDS_ON),
        "constants": _named(NUMBER, "numbers by name"),
        "attributes": _named(_ref("attribute"), "attributes by name"),
        "measures": _named(_ref("measure"), "measures by name"),
        "error_correlations": _named(_ref("error_correlation"), "correlations by name"),
        "ratings": _named(_ref("rating"), "ratings by name"),
        "scores": _named(_ref("score"), "scores by name"),
        "gates": _list(_ref("gate"), "a list of gates"),
        "cautions": _list(LABEL, "a list of texts"),
        "checklist": _object(steps) | {"title": "steps by name"},
    }
    return {
        "$schema": DIALECT,
        "title": "A steelyard formula",
        **_keyed(keys.TOP, sections, ["formula"]),
        "anyOf": _one_of("ratings", "scores", "takes"),
        "$defs": _definitions(),
    }


def _definitions() -> Schema:
    return {
        "expression": {
            "type": ["string", "number"],
            "title": "an expression",
            "description": "+ - * / **, comparisons, and/or/not, known functions",
        },
        "takes": _takes(),
        "scale": _scale(),
        "ranks": _keyed(
            keys.RANKS,
            {"on": _words(options.RANKS_ON), "ties": _words(options.TIES), "best": _words(options.BEST)},
        ),
        "rounding": _keyed(
            keys.ROUNDING,
            {"step": dict(ABOVE_ZERO), "rule": _words(options.RULES)},
            ["step"],
        ),
        "attribute": _keyed(
            keys.ATTRIBUTE, {"label": LABEL, "values": _list(TEXT, "a list of words") | {"default": []}}
        ),
        "measure": _measure(),
        "scatter": _keyed(
            keys.SCATTER,
            {"standard_deviation": _amount(), "degrees_of_freedom": dict(ABOVE_ZERO)},
            ["standard_deviation"],
        ),
        "systematic": _systematic(),
        "error_correlation": _error_correlation(),
        "curve": _curve(),
        "reference": _keyed(
            keys.REFERENCE,
            {name: _list(NUMBER, "a list of numbers") if name == "values" else NUMBER for name in keys.REFERENCE},
        ),
        "mix_part": _mix_part(),
        "rating": _rating(),
        "score": _score(),
        "limit": _limit(),
        "missing": _missing(),
        "gate": _gate(),
    }


def _object(properties: Schema, required: Iterable[str] = ()) -> Schema:
    found: Schema = {"type": "object", "properties": properties, "additionalProperties": False}
    return found | ({"required": list(required)} if required else {})


def _keyed(table: Keys, properties: Schema, required: Iterable[str] = ()) -> Schema:
    """An object with just the keys of a table, in its order, each with its description."""
    assert properties.keys() == table.keys(), properties.keys() ^ table.keys()
    return _object({name: properties[name] | {"description": key.says} for name, key in table.items()}, required)


def _ref(name: str) -> Schema:
    return {"$ref": f"#/$defs/{name}"}


def _named(schema: Schema, title: str) -> Schema:
    return {"type": "object", "patternProperties": {NAME: schema}, "additionalProperties": False, "title": title}


def _list(schema: Schema, title: str) -> Schema:
    return {"type": "array", "items": schema, "title": title}


def _words(says: Mapping[str, str]) -> Schema:
    """One of several words, the first being the default."""
    return {
        "oneOf": [{"const": word, "description": meaning} for word, meaning in says.items()],
        "default": next(iter(says)),
    }


def _takes() -> Schema:
    taken = [{"const": name, "description": says} for name, says in options.TAKEN.items()]
    sections = _list({"oneOf": taken}, "a list of " + ", ".join(options.TAKEN))
    default = {"default": ["constants", "attributes", "measures"]}
    return _keyed(keys.TAKES, {"file": LABEL, "sections": sections | default}, ["file"])


def _scale() -> Schema:
    show = _ref("rounding") | {"default": {"step": 0.1, "rule": "half-up"}}
    return _keyed(keys.SCALE, {"from": NUMBER | {"default": 1}, "to": NUMBER | {"default": 10}, "show": show})


def _measure() -> Schema:
    pair = {"anyOf": [NULL, {**_list(NUMBER, "two numbers"), "minItems": 2, "maxItems": 2}], "default": None}
    properties = {
        "label": LABEL,
        "column": COLUMN,
        "unit": LABEL | {"type": ["string", "number"]},
        "better": _words(options.BETTER),
        "plausible": pair | {"title": "[least, greatest], the lesser first"},
        "repeats": _words(options.REPEATS),
        "trim": {"type": "number", "minimum": 0, "maximum": 0.49, "default": 0.1},
        "repeatability": _error(POOLED, "scatter") | {"default": None},
        "between_sessions": _error((*NONE, *POOLED), "scatter") | {"default": NONE[0]},
        "between_specimens": _error((*NONE, *POOLED), "scatter") | {"default": NONE[0]},
        "systematic": _error(NONE, "systematic") | {"default": NONE[0]},
        "reporting_limit": {"type": ["number", "null"], "default": None},
        "below_limit": _words(options.BELOW_LIMIT),
        "round": _ref("rounding"),
        "note": LABEL,
    }
    schema = _keyed(keys.MEASURE, properties, ["unit"])
    old = {
        name: {"deprecated": True, "description": f"Renamed `{new}`; the old name is still read."}
        for name, new in renamed.MEASURE_KEYS.items()
    }
    return schema | {"properties": schema["properties"] | old}


def _amount() -> Schema:
    return {"anyOf": [ABOVE_ZERO, SHARE], "title": "a number above 0, or a share as `8%`"}


def _error(words: tuple[str, ...], mapping: str) -> Schema:
    """A component of a measure's errors: a figure, a word, or a mapping."""
    return {"anyOf": [NULL, ABOVE_ZERO, SHARE, {"enum": list(words)}, _ref(mapping)]}


def _systematic() -> Schema:
    properties = {
        "standard_uncertainty": _amount(),
        "half_width": _amount(),
        "distribution": _words(options.DISTRIBUTIONS),
        "degrees_of_freedom": dict(ABOVE_ZERO),
    }
    beside = {"distribution": ["half_width"], "degrees_of_freedom": ["standard_uncertainty"]}
    ways = {"oneOf": _one_of("standard_uncertainty", "half_width"), "dependentRequired": beside}
    return _keyed(keys.SYSTEMATIC, properties) | ways


def _error_correlation() -> Schema:
    properties = {
        "measures": _list(MEASURE, "a list of two or more measures") | {"minItems": 2, "uniqueItems": True},
        "component": _words(options.ERROR_COMPONENTS),
        "coefficient": {"anyOf": [{"type": "number", "minimum": -1, "maximum": 1}, {"const": "pooled"}]},
    }
    return _keyed(keys.ERROR_CORRELATION, properties, ["measures", "coefficient"])


def _output() -> Schema:
    """What ratings and scores have in common."""
    blends = {name: kind.says for name, kind in BLENDS.items()}
    return {
        "label": LABEL,
        "note": LABEL,
        "neutral": {"type": "boolean", "default": False},
        "scale": _ref("scale"),
        "value": _ref("expression"),
        "blend": _words(blends),
        "exponent": {"type": "number", "minimum": -64, "maximum": 64},
        "missing": _ref("missing"),
        "limits": _list(_ref("limit"), "a list of limits") | {"default": []},
        "round": _ref("rounding"),
    }


def _one_of(*ways: str) -> list[Schema]:
    return [{"required": way.split()} for way in ways]


def _weight() -> Schema:
    return {"type": "number", "minimum": 0}


def _mix_part() -> Schema:
    properties = {"measure": MEASURE, "rating": RATING, "weight": _weight() | {"default": 1}, "curve": _ref("curve")}
    return _keyed(keys.MIX, properties) | {"oneOf": _one_of("measure curve", "rating")}


def _rating() -> Schema:
    mix = _list(_ref("mix_part"), "a list of parts")
    rating = _keyed(keys.RATING, {"measure": MEASURE, "curve": _ref("curve"), "mix": mix, **_output()})
    return rating | {"oneOf": _one_of("measure curve", "mix", "value")}


def _score() -> Schema:
    parts = {**_list(LABEL, "a list of names"), "minItems": 1}
    weights = {**_named(_weight(), "numbers by name, 0 or more, one of them above 0"), "minProperties": 1}
    score = _keyed(keys.SCORE, {"weights": weights, "parts": parts, **_output()})
    return score | {"oneOf": _one_of("weights", "parts", "value")}


def _missing() -> Schema:
    properties = {
        "needs": _list(LABEL, "a list of names") | {"default": []},
        "absent_above": {"type": "number", "minimum": 0, "maximum": 1, "default": 0},
        "otherwise": _words(options.OTHERWISE),
    }
    return _keyed(keys.MISSING, properties)


def _limit() -> Schema:
    bound = {"anyOf": [NUMBER, _ref("curve")]}
    properties = {
        "name": LABEL,
        "when": _ref("expression") | {"title": "a condition"},
        "on": LABEL | {"title": "the name of a rating, score or measure"},
        "at_most": bound,
        "at_least": bound,
        "apply": _words(options.APPLY),
    }
    ways = [{"oneOf": _one_of("when", "on")}, {"oneOf": _one_of("at_most", "at_least")}]
    return _keyed(keys.LIMIT, properties) | {"allOf": ways}


def _gate() -> Schema:
    properties = {
        "name": LABEL,
        "when": _ref("expression") | {"title": "a condition"},
        "guard": {"type": "string", "pattern": "^[0-9.eE+-]+\\s*u$", "title": "a number above 0 and `u`"},
        "withhold": LABEL,
        "remark": LABEL,
        "near": LABEL,
        "missing": LABEL,
        "unknown": _words(options.UNKNOWN),
        "scores": _list(LABEL, "a list of names") | {"default": []},
    }
    ways = {"anyOf": _one_of("withhold", "remark"), "dependentRequired": {"guard": ["near"]}}
    return _keyed(keys.GATE, properties, ["when"]) | ways


def _curve() -> Schema:
    return {"oneOf": [_curve_of(kind) for kind in KINDS.values()]}


def _curve_of(kind: CurveKind) -> Schema:
    properties = {kind.name: _kind_body(kind) | {"description": kind.says}}
    if kind.outside:
        outside = _words({word: options.OUTSIDE[word] for word in kind.outside})
        properties["outside"] = outside | {"description": keys.CURVE["outside"].says}
    if kind.figures:
        reference = {"anyOf": [{"const": "live"}, _ref("reference")], "default": "live"}
        properties["reference"] = reference | {"description": keys.CURVE["reference"].says}
    return _object(properties, [kind.name])


def _kind_body(kind: CurveKind) -> Schema:
    if kind.anchored:
        return {"type": "object", "additionalProperties": NUMBER, "minProperties": 2}
    numbers: Schema = {name: dict(NUMBER) for name in kind.numbers}
    numbers |= {name: NUMBER | {"default": value} for name, value in (kind.optional or {}).items()}
    words = {name: {"enum": list(known), "default": known[0]} for name, known in (kind.choices or {}).items()}
    told = {name: field | {"description": kind.tells[name]} for name, field in {**numbers, **words}.items()}
    return _object(told, kind.numbers)
