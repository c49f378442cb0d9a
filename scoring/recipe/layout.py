"""Reading what a recipe says of all its tables, and what a table says again for itself."""

from __future__ import annotations

from typing import Any

from scoring.reader.declared import made, named_nouns, read_key
from scoring.reader.fields import Fields
from scoring.reader.wording import clip
from scoring.recipe.columns import (
    COLUMN_OF_ATTRIBUTE,
    COLUMNS_OF_MEASURE,
    SESSIONS,
    WORDS_OF,
    ColumnOfAttribute,
    ColumnsOfMeasure,
    Sessions,
    Words,
)
from scoring.recipe.nouns import RECIPE, Layout

#: The three lists of words.
KINDS_OF_WORDS = tuple(WORDS_OF.fields)


def read_layout(fields: Fields, above: Layout | None) -> dict[str, Any]:
    """Each field of a layout: as it is written here, else as `above`, else as where nothing is said.

    Words, columns to ignore and the columns of measures and attributes join those above.
    """
    read = {
        "words": _words(fields, above),
        "ignore": (*(above.ignore if above else ()), *fields.words("ignore")),
        "sessions": _sessions(fields, above),
        "measures": {**(above.measures if above else {}), **_measures(fields)},
        "attributes": {**(above.attributes if above else {}), **_attributes(fields)},
    }
    for name in ("decimal", "duplicates", "product", "fill", "specimens", "dates", "long"):
        taken = above is not None and name not in fields
        read[name] = getattr(above, name) if taken else read_key(RECIPE.fields[name], fields)
    if above is None or {"duplicates", "specimens"} & fields.keys:
        _check_specimens(fields, read)
    return read


def _words(fields: Fields, above: Layout | None) -> Words | None:
    own: Words | None = read_key(RECIPE.fields["words"], fields)
    other = above.words if above else None
    if own is None or other is None:
        words = own or other
    else:
        joined = {name: (*getattr(own, name), *getattr(other, name)) for name in KINDS_OF_WORDS}
        words = Words(**joined)
    said: dict[str, str] = {}
    for name in KINDS_OF_WORDS if own is not None else ():
        for word in getattr(own, name):
            first = said.setdefault(word.casefold(), name)
            if first != name:
                found = f"the word `{clip(word)}` under {first} and {name}"
                fields.reader.fault(fields.place_of("words"), found, "one meaning a word")
            if not word:
                found = f"an empty word under {fields.path('words')}.{name}"
                fields.reader.fault(fields.place_of("words"), found, "a word", "An empty cell is missing anyway.")
    return words


def _sessions(fields: Fields, above: Layout | None) -> Sessions | None:
    node = fields.node_of("sessions")
    if node is None:
        return above.sessions if above else None
    own = fields.reader.noun(node, fields.path("sessions"), SESSIONS)
    if own is None:
        return None
    ways = [way for way in SESSIONS.fields if way in own]
    if len(ways) != 1:
        found = f"{' and '.join(ways) or 'nothing'} under {own.address}"
        own.reader.fault(own.place, found, f"one of {', '.join(SESSIONS.fields)}")
    each = own.choice("each", SESSIONS.fields["each"].kind.words) if "each" in own else None  # type: ignore[attr-defined]
    return made(SESSIONS, own, each=each)


def _measures(fields: Fields) -> dict[str, ColumnsOfMeasure]:
    found = {}
    section = fields.path("measures")
    for name, own in named_nouns(fields.reader, fields.node_of("measures"), section, COLUMNS_OF_MEASURE):
        if "column" in own and "columns" in own:
            own.reader.fault(own.place, f"`column` and `columns` in {own.address}", "one of the two")
        columns = made(COLUMNS_OF_MEASURE, own)
        if columns is not None:
            found[name] = columns
    return found


def _attributes(fields: Fields) -> dict[str, ColumnOfAttribute]:
    section = fields.path("attributes")
    nouns = named_nouns(fields.reader, fields.node_of("attributes"), section, COLUMN_OF_ATTRIBUTE)
    read = {name: made(COLUMN_OF_ATTRIBUTE, own) for name, own in nouns}
    return {name: column for name, column in read.items() if column is not None}


def _check_specimens(fields: Fields, read: dict[str, Any]) -> None:
    """A column of specimens says which they are: rows are then no specimens of their own."""
    if read["duplicates"].value == "specimens" and read["specimens"] is not None:
        found = f"`duplicates: specimens` and a column of specimens in {fields.address or 'the recipe'}"
        fields.reader.fault(fields.place_of("duplicates"), found, "one of the two")
