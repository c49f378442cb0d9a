"""The JSON Schema of a record's file: what holds its sections together, and all of it for whoever checks a record elsewhere."""

from __future__ import annotations

from typing import Any

from analysis.json_shapes import by_name, each, keyed, one_of, or_null, said, text
from analysis.outputs.marks import RECORD
from analysis.records.record import FINGERPRINT_KEYS, FORMAT
from analysis.records.shapes import SECTION_SHAPES, STANDING
from scoring.declaration.kinds import Schema
from scoring.form_reference.schema import DIALECT

#: At reading a state may hold any sections: fingerprints tell first which of them were edited.
ANY_SECTIONS = by_name("The sections.", {})
CHANGED = keyed(
    "A figure that the correction changed.",
    {
        "product": text("Of which product."),
        "output": text("Which rating or score."),
        "old": or_null(STANDING),
        "new": or_null(STANDING),
    },
)


def envelope(form: int) -> Schema:
    """The shape of a record of a format without that of its sections."""
    return _record(form, ANY_SECTIONS, ANY_SECTIONS)


def record_schema() -> Schema:
    """The JSON Schema (2020-12) of a record, in each format that is read.

    It says what must stand where. That fingerprints hold, that figures follow from readings, and that all products have the
    same outputs and measures is for `verify`.
    """
    sections = keyed("Every section.", {name: _ref(name) for name in SECTION_SHAPES})
    kept = keyed("The sections that the correction changed.", sections["properties"], optional=SECTION_SHAPES)
    definitions = dict(SECTION_SHAPES)
    for form in FINGERPRINT_KEYS:
        definitions[_name(form)] = _record(form, sections, kept)
    return {
        "$schema": DIALECT,
        "title": "A steelyard record of a publication",
        "description": "What `steelyard record` writes. `steelyard verify` also holds its fingerprints and its figures.",
        **_by_format(),
        "$defs": definitions,
    }


def _by_format() -> Schema:
    """The definition of an older format where `format` says so, else that of the newest."""
    found: Schema = {"$ref": f"#/$defs/{_name(FORMAT)}"}
    for form in FINGERPRINT_KEYS:
        if form != FORMAT:
            asked = {"properties": {"format": {"const": form}}, "required": ["format"]}
            found = {"if": asked, "then": _ref(_name(form)), "else": found}
    return found


def _name(form: int) -> str:
    return f"format {form}"


def _ref(name: str) -> Schema:
    return {"$ref": f"#/$defs/{name}"}


def _record(form: int, sections: Schema, kept: Schema) -> Schema:
    """The shape of a record whose publication has `sections`, and whose corrections have `kept`."""
    fingerprint = FINGERPRINT_KEYS[form]
    state: dict[str, Any] = {
        "date": text("The day, as year-month-day.") | {"format": "date"},
        "hashes": by_name("The SHA-256 of each section, of kept ones too.", text("A hash.")),
        fingerprint: text("The SHA-256 that holds the state together."),
    }
    correction = {
        **state,
        "cause": text("Why it was corrected."),
        "previous": text("The fingerprint of the state before."),
        "changed": each("Every figure that is another one.", CHANGED),
        "sections": kept,
    }
    return keyed(
        f"A record of format {form}.",
        {
            "record": one_of("What the file is.", (RECORD,)),
            "format": said("The format of the record.", {"const": form, "type": "number"}),
            fingerprint: text(
                "The SHA-256 over the whole record: a copy kept elsewhere finds a record that was made to fit."
            ),
            "publication": keyed("What was published first.", {**state, "sections": sections}),
            "corrections": each("What was corrected since, in order.", keyed("A correction.", correction)),
        },
    )
