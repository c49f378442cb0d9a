"""What may stand at a key, one class a kind: each holds its bounds, its default and its words, and knows its JSON Schema.

A kind is data alone. What it becomes, read from a text or left unsaid, stands in `scoring.reader.declared`, for nouns are
declared by kinds, and the reader makes nouns.
"""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, ClassVar

from scoring.units.role import UnitRole

Schema = dict[str, Any]
LONGEST_TEXT, LONGEST_COLUMN = 2_000, 300
NAME = "[A-Za-z_][A-Za-z0-9_]{0,59}"
SHARE: Schema = {"type": "string", "pattern": "^[0-9.eE+-]+\\s*%$"}


class Kind(ABC):
    """What may stand at a key."""

    #: What a number of this kind is a number of.
    role: UnitRole | None = None
    #: Whether `null` may stand there, and says that nothing is meant.
    may_be_null: ClassVar[bool] = False

    @abstractmethod
    def schema(self) -> Schema:
        """The JSON Schema of what may stand there, with the default where there is one."""


@dataclass(frozen=True, slots=True)
class Null(Kind):
    """`null`, which says that nothing is meant."""

    def schema(self) -> Schema:
        return {"type": "null"}


@dataclass(frozen=True, slots=True)
class Text(Kind):
    """A text; `or_number`: what looks like a number is one too."""

    or_number: bool = False
    fewest: int = 0

    def schema(self) -> Schema:
        least = {"minLength": self.fewest} if self.fewest else {}
        return {"type": ["string", "number"] if self.or_number else "string", "maxLength": LONGEST_TEXT, **least}


@dataclass(frozen=True, slots=True)
class Label(Kind):
    """A name in print: by default the noun's own with blanks for `_`, and with a capital where `capital`."""

    capital: bool = False

    def schema(self) -> Schema:
        return Text().schema()


@dataclass(frozen=True, slots=True)
class Column(Kind):
    """A column of a catalogue by its name alone, without unit and repeat."""

    def schema(self) -> Schema:
        return {"type": "string", "maxLength": LONGEST_COLUMN, "pattern": r"^[^\[\]#]+$"}


@dataclass(frozen=True, slots=True)
class NameOf(Kind):
    """The name of something else of the form, which is one of the `things`."""

    things: tuple[str, ...]

    def schema(self) -> Schema:
        *before, last = self.things
        said = f"{', '.join(before)} or {last}" if before else last
        return Text().schema() | {"title": f"the name of a {said}"}


@dataclass(frozen=True, slots=True)
class AttributeOrNone(Kind):
    """A choice among the attributes that the form declares, by name; or none of them, which is the default."""

    none: str = "none"

    def schema(self) -> Schema:
        title = f"the name of an attribute, or `{self.none}`"
        return {"type": "string", "maxLength": LONGEST_TEXT, "default": self.none, "title": title}


@dataclass(frozen=True, slots=True)
class Number(Kind):
    """A plain number within its bounds (`above`: the bound itself is none). The default holds where it is left unsaid.

    never: a number within them that it may not be, and `instead`: what is written in that case.
    """

    role: UnitRole | None = None
    least: float | None = None
    above: float | None = None
    most: float | None = None
    default: float | None = None
    never: float | None = None
    instead: str = ""

    @property
    def ends(self) -> tuple[float, float]:
        """From where to where it may lie."""
        lowest = [bound for bound in (self.least, self.above) if bound is not None]
        return max(lowest, default=-math.inf), math.inf if self.most is None else self.most

    def schema(self) -> Schema:
        said = {"minimum": self.least, "exclusiveMinimum": self.above, "maximum": self.most, "default": self.default}
        return {"type": "number", **{word: value for word, value in said.items() if value is not None}}


@dataclass(frozen=True, slots=True)
class NumberOrNull(Number):
    """A number, or `null`, as where it is left unsaid."""

    may_be_null: ClassVar[bool] = True

    def schema(self) -> Schema:
        return {**Number.schema(self), "type": ["number", "null"], "default": None}


@dataclass(frozen=True, slots=True)
class Pair(Kind):
    """Two numbers, the lesser first, or `null`."""

    role: UnitRole | None = None
    may_be_null: ClassVar[bool] = True

    def schema(self) -> Schema:
        two = {**list_of(Number().schema(), "two numbers"), "minItems": 2, "maxItems": 2}
        return {"anyOf": [Null().schema(), two], "default": None, "title": "[least, greatest], the lesser first"}


@dataclass(frozen=True, slots=True)
class Share(Kind):
    """A share as `8%`."""

    def schema(self) -> Schema:
        return dict(SHARE)


@dataclass(frozen=True, slots=True)
class Word(Kind):
    """One of several words, each with what it means; the first is the default. `old` has the words of before."""

    means: Mapping[str, str]
    old: Mapping[str, str] = field(default_factory=dict)

    @property
    def words(self) -> tuple[str, ...]:
        """The words alone."""
        return tuple(self.means)

    def schema(self) -> Schema:
        return {"oneOf": constants_of(self.means), "default": next(iter(self.means))}


@dataclass(frozen=True, slots=True)
class WordIfSaid(Word):
    """One of several words, or nothing: where it is left unsaid, what holds hangs on what stands beside it."""

    def schema(self) -> Schema:
        return {"oneOf": constants_of(self.means)}


@dataclass(frozen=True, slots=True)
class BareWord(Word):
    """One of several words that speak for themselves; the first is the default."""

    def schema(self) -> Schema:
        return {"enum": list(self.words), "default": self.words[0]}


@dataclass(frozen=True, slots=True)
class Just(Kind):
    """One word, where something else may stand too."""

    word: str

    def schema(self) -> Schema:
        return {"const": self.word}


@dataclass(frozen=True, slots=True)
class Role(Kind):
    """One of several words, each with what it means, or none. It has no address: nobody argues about it."""

    means: Mapping[str, str]

    def schema(self) -> Schema:
        return {"oneOf": constants_of(self.means)}


@dataclass(frozen=True, slots=True)
class Flag(Kind):
    """true or false; the default holds where it is left unsaid."""

    default: bool = False

    def schema(self) -> Schema:
        return {"type": "boolean", "default": self.default}


@dataclass(frozen=True, slots=True)
class YesOrNo(Flag):
    """A flag that a sentence would answer: `yes` and `no` are read too."""

    def schema(self) -> Schema:
        return {"enum": [True, False, "yes", "no"], "default": self.default}


@dataclass(frozen=True, slots=True)
class Expression(Kind):
    """A written expression: of a number, or a condition."""

    condition: bool = False

    def schema(self) -> Schema:
        return {"$ref": "#/$defs/expression"} | ({"title": "a condition"} if self.condition else {})


@dataclass(frozen=True, slots=True)
class Curve(Kind):
    """A curve: of one kind, with what may stand beside it."""

    def schema(self) -> Schema:
        return {"$ref": "#/$defs/curve"}


@dataclass(frozen=True, slots=True)
class Either(Kind):
    """One of several kinds."""

    of: tuple[Kind, ...]
    title: str = ""
    default: Any = None

    def schema(self) -> Schema:
        said = {"title": self.title or None, "default": self.default}
        return {"anyOf": [kind.schema() for kind in self.of]} | {w: v for w, v in said.items() if v is not None}


@dataclass(frozen=True, slots=True)
class Several(Kind):
    """A list. `spoken`: what its items are called together; `empty`: whether it is an empty list where it is left unsaid."""

    of: Kind
    spoken: str
    empty: bool = False
    fewest: int = 0
    once: bool = False

    def schema(self) -> Schema:
        said: Schema = {"default": []} if self.empty else {}
        said |= {"minItems": self.fewest} if self.fewest else {}
        said |= {"uniqueItems": True} if self.once else {}
        return list_of(self.of.schema(), f"a list of {self.spoken}") | said


@dataclass(frozen=True, slots=True)
class Sections(Kind):
    """A list of sections by their names, each with what it means; `default`: those that are meant where none is named."""

    means: Mapping[str, str]
    default: tuple[str, ...]

    def schema(self) -> Schema:
        items = list_of({"oneOf": constants_of(self.means)}, f"a list of {', '.join(self.means)}")
        return items | {"default": list(self.default)}


@dataclass(frozen=True, slots=True)
class Named(Kind):
    """Things by name. `fewest`: how many at least; `any_text`: whether a name may be any text, and not one word."""

    of: Kind
    title: str
    fewest: int = 0
    any_text: bool = False

    def schema(self) -> Schema:
        said: Schema = {"type": "object"}
        said |= {} if self.any_text else {"patternProperties": {f"^{NAME}$": self.of.schema()}}
        said |= {"additionalProperties": self.of.schema() if self.any_text else False, "title": self.title}
        return said | ({"minProperties": self.fewest} if self.fewest else {})


def constants_of(means: Mapping[str, str]) -> list[Schema]:
    """Each word with what it means."""
    return [{"const": word, "description": says} for word, says in means.items()]


def list_of(schema: Schema, title: str) -> Schema:
    """A list of what a schema holds."""
    return {"type": "array", "items": schema, "title": title}


def object_of(properties: Schema, required: Sequence[str] = ()) -> Schema:
    """A mapping with these keys and no other."""
    found: Schema = {"type": "object", "properties": properties, "additionalProperties": False}
    return found | ({"required": list(required)} if required else {})
