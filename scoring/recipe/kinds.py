"""What may stand at keys that only a recipe has: rows of a file, sheets, and words by column."""

from __future__ import annotations

from dataclasses import dataclass

from scoring.declaration import kinds
from scoring.declaration.kinds import Schema

#: The last row that a spreadsheet can have; a text file may be longer, and its header stands higher.
LAST_ROW = 2**31 - 1
#: A row by its number.
ROW: Schema = {"type": "integer", "minimum": 1, "maximum": LAST_ROW, "title": "the number of a row"}
WORD = kinds.Text(or_number=True)
WORDS = kinds.Several(WORD, "words")


@dataclass(frozen=True, slots=True)
class Rows(kinds.Kind):
    """Rows by their numbers: a list, or where `one` just as well a single number."""

    one: bool = False

    def schema(self) -> Schema:
        several = kinds.list_of(dict(ROW), "a list of row numbers")
        return {"anyOf": [dict(ROW), several]} if self.one else several


@dataclass(frozen=True, slots=True)
class Row(kinds.Kind):
    """One row by its number."""

    def schema(self) -> Schema:
        return dict(ROW)


@dataclass(frozen=True, slots=True)
class Asked(kinds.Word):
    """One of several words, none of which holds where it is left unsaid."""

    def schema(self) -> Schema:
        return {"oneOf": kinds.constants_of(self.means)}


@dataclass(frozen=True, slots=True)
class WordsIn(kinds.Kind):
    """Words that the cells of a column may hold, by the column: `{Model: [Average, Mean]}`."""

    title: str = "words by column, as `{Model: [Average, Mean]}`"

    def schema(self) -> Schema:
        words = {"anyOf": [WORD.schema(), WORDS.schema()]}
        return {"type": "object", "additionalProperties": words, "minProperties": 1, "title": self.title}


@dataclass(frozen=True, slots=True)
class End(kinds.Kind):
    """Where a table ends: at a row by number, at the first row that holds nothing, or at what a cell says."""

    blank: str = "blank"

    def schema(self) -> Schema:
        return {"anyOf": [dict(ROW), kinds.Just(self.blank).schema(), WordsIn().schema()]}


@dataclass(frozen=True, slots=True)
class Sheets(kinds.Kind):
    """Sheets by their names, or all that show."""

    every: str = "all"

    def schema(self) -> Schema:
        several = kinds.Several(WORD, "names of sheets", fewest=1)
        return {"anyOf": [kinds.Just(self.every).schema(), WORD.schema(), several.schema()]}


@dataclass(frozen=True, slots=True)
class Source(kinds.Kind):
    """A database: a file beside the recipe, or where an environment variable says."""

    from_environment: str = "from_environment"

    def schema(self) -> Schema:
        elsewhere = kinds.object_of({self.from_environment: kinds.Text().schema()}, [self.from_environment])
        title = "a file beside the recipe, or `{from_environment: NAME}`"
        return {"anyOf": [kinds.Text(fewest=1).schema(), elsewhere], "title": title}
