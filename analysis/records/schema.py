"""A record's JSON Schema: each section declared once, and all of them put together as a file.

Nothing of a record is guessed: what must stand where is said here, for reading and for whoever checks a record elsewhere.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Any

from analysis.json_shapes import (
    MOST_SHOWN,
    Misfit,
    by_name,
    each,
    keyed,
    misfits,
    number,
    number_or_none,
    one_of,
    or_null,
    said,
    text,
)
from analysis.outputs.guard import RECORD
from scoring.catalogue import State
from scoring.declaration.kinds import Schema
from scoring.form import BANDS_ON, BEST, RANKS_ON, TIES
from scoring.form_reference.schema import DIALECT
from scoring.numbers.rounding import RULES
from scoring.table.table import STATUSES

#: The format that this version writes; older ones are read, newer ones refused.
FORMAT = 2
#: What each format calls a fingerprint. Read records are held under the newest word, whatever the file calls it.
FINGERPRINT_KEYS = {1: "seal", 2: "fingerprint"}
#: Where a formula's outputs stand in it.
OUTPUT_SECTIONS = ("ratings", "scores")


def _states() -> str:
    words = [state.name.lower().replace("_", " ") for state in State if state != State.NONE]
    return ", ".join(words)


def _ranks(says: str) -> Schema:
    rules = {
        "on": one_of("By which figure.", RANKS_ON),
        "ties": one_of("What equal figures share.", TIES),
        "best": one_of("Which figure is first.", BEST),
        "within": text("The attribute within whose words places are counted too; not there where there is none."),
    }
    return keyed(says, rules, optional=("within",))


def _bands(says: str) -> Schema:
    return each(says, keyed("A band.", {"name": text("Its name."), "from": number("Where it begins.")}))


STANDING = keyed(
    "A rating or score of one product.",
    {
        "value": number_or_none("Unrounded; null where there is none."),
        "shown": number_or_none("The value as it is printed, rounded by the output's rule."),
        "rank": number_or_none("The place, by the rules of ranks."),
        "within": keyed(
            "The place within the product's class; not there where none are counted.",
            {
                "attribute": text("Whose words are the classes."),
                "word": said("The product's class, null where it states none.", {"type": ["string", "null"]}),
                "rank": number_or_none("The place within it."),
                "of": number_or_none("How many of the class have a place."),
            },
        ),
        "band": said("The name of the band that the figure lies in.", {"type": ["string", "null"]}),
        "status": one_of("Why there is a figure, or none.", STATUSES),
        "remarks": each("Remarks of gates.", text("A remark.")),
    },
    optional=("within",),
)
READING = keyed(
    "What was read of one measure of one product.",
    {
        "value": number_or_none("The repeats summed up, in the measure's unit."),
        "state": text(f"What the value is: {_states()}."),
        "repeats": or_null(
            each(
                "Each repeat as a catalogue would write it; null where the measure has no column.",
                said(
                    "A number; `< 22.0`, `missing`, `not applicable`, with the reason behind it where the formula publishes "
                    "reasons, as in `missing: why`; null for no such repeat.",
                    {"type": ["number", "string", "null"]},
                ),
            )
        ),
        "sessions": each("The session of each repeat, where errors are shared within one.", text("Its name.")),
        "specimens": each("The specimen of each repeat, where errors are shared within one.", text("Its name.")),
        "as_read": each(
            "What the cell of each repeat says, where the file has it in another unit than the measure's.",
            or_null(
                keyed(
                    "A cell; null where it is in the measure's unit.",
                    {"number": number("As the cell has it."), "unit": text("As the file writes it.")},
                )
            ),
        ),
    },
    optional=("sessions", "specimens", "as_read"),
)
SECTION_SHAPES: dict[str, Schema] = {
    "formula": keyed(
        "The formula that was published.",
        {
            "name": text("Its name."),
            "version": text("Its edition."),
            "title": text("Its name in full."),
            "sha256": text("The SHA-256 of its texts."),
            "draft": each(
                "The files in which guesses stood when it was recorded; not there where it was finished.",
                keyed(
                    "A file, of the formula or the recipe of its readings.",
                    {
                        "file": text("Its name."),
                        "guesses": number("How many guesses stood."),
                        "decisions": number("How many of them said that a human must decide."),
                        "first": number("The line of the first."),
                    },
                ),
            ),
            "settings": each("What `--set` changed of it.", text("ADDRESS=VALUE.")),
            "texts": each(
                "Its files, the formula itself first.",
                keyed("A file.", {"name": text("Where it stands, beside the formula."), "text": text("All of it.")}),
            ),
        },
        optional=("draft",),
    ),
    "addresses": by_name("Every number and choice of the formula, by its address.", text("As it is written.")),
    "rules": keyed(
        "How figures are shown, ranked and banded.",
        {
            "outputs": by_name(
                "Every rating and score, by its name.",
                keyed(
                    "How one is shown.",
                    {
                        "section": one_of("Where it stands in the formula.", OUTPUT_SECTIONS),
                        "label": text("What it is called in tables."),
                        "step": said(
                            "What its figures are whole multiples of.", {"type": "number", "exclusiveMinimum": 0}
                        ),
                        "rule": one_of("How they are rounded.", RULES),
                        "ranks": _ranks("How its places are given, where not as those of all."),
                        "bands": _bands("Its bands, where they are not the formula's."),
                    },
                    optional=("ranks", "bands"),
                ),
            ),
            "ranks": _ranks("How places are given."),
            "bands_on": one_of("Which figure decides the band.", BANDS_ON),
            "bands": _bands("The bands."),
        },
    ),
    "catalogue": keyed(
        "The catalogue that was scored.",
        {
            "sha256": text("The SHA-256 of its files."),
            "products": number("How many products it has."),
            "unused": each(
                "Empty; in records of before, columns that the formula does not declare.", text("A column.")
            ),
        },
    ),
    "readings": each(
        "What was read of every product.",
        keyed(
            "A product; all have the same attributes and measures.",
            {
                "id": text("Its id."),
                "digest": text("The SHA-256 of its attributes and measures."),
                "attributes": by_name(
                    "What is known of it in words.", text("The word; `not published` for one that is kept.")
                ),
                "measures": by_name("Its readings, by measure.", READING),
            },
        ),
    ),
    "reference": each(
        "The statistics of the catalogue that the formula leans on.",
        keyed(
            "A statistic.",
            {
                "measure": text("Of which measure or rating."),
                "statistic": text("Which it is."),
                "share": number("Of a percentile, the share below it."),
                "value": each("What it came to.", number_or_none("A figure.")),
            },
        ),
    ),
    "figures": each(
        "What was published, a product each, in the order of the readings.",
        keyed(
            "A product; it has the outputs of the rules, in their order.",
            {
                "id": text("Its id."),
                "ratings": by_name("Its ratings.", STANDING),
                "scores": by_name("Its scores.", STANDING),
            },
        ),
    ),
    "cautions": each("What was printed with the table.", text("A sentence.")),
    "tool": by_name("The packages that recorded, for information.", text("The version.")),
}


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
    """What no JSON Schema says: that all products have the same outputs, measures and attributes."""
    names = {
        section: [name for name, rule in sections["rules"]["outputs"].items() if rule["section"] == section]
        for section in OUTPUT_SECTIONS
    }
    for index, one in enumerate(sections["figures"], start=1):
        for section, due in names.items():
            where = f"figures.{index}.{section} ({one['id'][:MOST_SHOWN]})"
            expected = "the outputs of the section rules"
            yield from _of_keys(due, list(one[section]), where, expected)
            if set(one[section]) == set(due) and list(one[section]) != due:
                yield Misfit(where, "another order of outputs", f"{expected}, in their order")
    for noun in ("measures", "attributes"):
        counts = Counter(tuple(one[noun]) for one in sections["readings"])
        usual = max(counts, key=counts.__getitem__, default=())  # most products have them
        for index, one in enumerate(sections["readings"], start=1):
            where = f"readings.{index}.{noun} ({one['id'][:MOST_SHOWN]})"
            yield from _of_keys(usual, list(one[noun]), where, f"the same {noun} for every product")


def _of_keys(due: Sequence[str], there: Sequence[str], where: str, expected: str) -> Iterator[Misfit]:
    """Each key that is missing, and each that is unknown."""
    known, found = set(due), set(there)
    for key in due:
        if key not in found:
            yield Misfit(where, f"the key `{key}` is missing", expected)
    for key in there:
        if key not in known:
            yield Misfit(where, f"the unknown key `{key[:MOST_SHOWN]}`", expected)


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
