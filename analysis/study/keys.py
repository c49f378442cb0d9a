"""What may stand at the keys of a study file: one class a kind, with its bounds, its JSON Schema and how it is read.

Every key of a study is declared once, with its kind, a sentence and an example, beside what it is about: distributions in
`distributions`, rules for weights in `weight_rules`, items in `items`, the rest in `file_keys`. The reader, `study_schema`
and the section of the reference page follow from the declarations.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Generic, TypeVar

from scoring.declaration.kinds import LONGEST_TEXT
from scoring.document import Sequence
from scoring.form import Choice, Number
from scoring.reader.fields import Fields
from scoring.unit_role import UnitRole

Schema = dict[str, Any]
About = TypeVar("About", contravariant=True)
Made = TypeVar("Made", covariant=True)
SHARE: Schema = {"type": "string", "pattern": "^[0-9.eE+-]+\\s*%$"}


class Kind(ABC):
    """What may stand at a key."""

    @abstractmethod
    def schema(self) -> Schema:
        """The JSON Schema of what may stand there; its title says it in words."""


@dataclass(frozen=True, slots=True)
class Key:
    """One key: what may stand there, what it is, in a sentence, and an example that is read."""

    kind: Kind
    says: str
    example: str
    required: bool = False


@dataclass(frozen=True, slots=True)
class Way:
    """One way in which something varies: the key under which it is written, and keys that stand beside it alone."""

    key: Key
    beside: Mapping[str, Key] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Law(Way, Generic[About, Made]):
    """A way that an item and what varies say between them; `read` gives None, and a fault, where they say nothing."""

    read: Callable[[Fields, About], Made | None] = field(kw_only=True)


@dataclass(frozen=True, slots=True)
class Text(Kind):
    """A name or another text."""

    title: str = "text"

    def schema(self) -> Schema:
        return {"type": ["string", "number"], "maxLength": LONGEST_TEXT, "title": self.title}


@dataclass(frozen=True, slots=True)
class Amount(Kind):
    """A number within its bounds (`above`: the bound itself is none). `percent`: `5%` may stand for 0.05."""

    role: UnitRole
    least: float | None = None
    above: float | None = None
    most: float | None = None
    percent: bool = False
    whole: bool = False

    def schema(self) -> Schema:
        said = {"minimum": self.least, "exclusiveMinimum": self.above, "maximum": self.most}
        number: Schema = {"type": "integer" if self.whole else "number"}
        number |= {word: bound for word, bound in said.items() if bound is not None}
        title = self.title()
        return {"anyOf": [number, SHARE], "title": title} if self.percent else {**number, "title": title}

    def title(self) -> str:
        """Its bounds in words."""
        words = (("above", self.above), ("at least", self.least), ("at most", self.most))
        said = " and ".join(f"{word} {bound:g}" for word, bound in words if bound is not None)
        number = f"a {'whole ' if self.whole else ''}number {said}".rstrip()
        return f"{number}, or a share as `8%`" if self.percent else number

    def read(
        self, fields: Fields, name: str, *, default: float | None = None, most: float | None = None
    ) -> Number | None:
        """The number under a key, or its default; None, and a fault, where there is none. `most`: a bound of this study."""
        node = fields.node_of(name)
        if node is None and default is not None:
            return fields.default_number(default, name)
        node = fields.required(name)
        bound = self.most if most is None else most
        address, percent = fields.path(name), self.percent
        return fields.reader.number(node, address, least=self.least, above=self.above, most=bound, percent=percent)


@dataclass(frozen=True, slots=True)
class Figures(Kind):
    """A list of so many numbers as it has names, none less than the one before, the last above the first."""

    role: UnitRole
    names: tuple[str, ...]
    least: float | None = None

    def schema(self) -> Schema:
        number: Schema = {"type": "number"} | ({} if self.least is None else {"minimum": self.least})
        count = len(self.names)
        bound = "" if self.least is None else f", {self.least:g} or more"
        title = f"`[{', '.join(self.names)}]`, rising{bound}"
        return {"type": "array", "items": number, "minItems": count, "maxItems": count, "title": title}

    def read(self, fields: Fields, name: str) -> tuple[float, ...] | None:
        """The figures under a key; None, and a fault, where they are other ones."""
        node, path = fields.node_of(name), fields.path(name)
        nodes = fields.reader.items(node, path, "numbers")
        numbers = [fields.reader.number(one, path, least=self.least) for one in nodes]
        values = tuple(number.value for number in numbers if number is not None)
        if node is None or not isinstance(node, Sequence) or len(values) < len(numbers):
            return None
        if len(values) != len(self.names):
            fields.reader.fault(node.place, f"{len(values)} numbers for {path}", f"{len(self.names)} in a list")
            return None
        if list(values) != sorted(values) or values[0] == values[-1]:
            told = ", ".join(f"{value:g}" for value in values)
            fields.reader.fault(node.place, f"{path} of {told}", "rising figures")
            return None
        return values


@dataclass(frozen=True, slots=True)
class Word(Kind):
    """One of several words, each with what it means."""

    means: Mapping[str, str]

    def schema(self) -> Schema:
        return {"oneOf": [{"const": word, "description": says} for word, says in self.means.items()]}

    def read(self, fields: Fields, name: str) -> Choice | None:
        """The word under a key that is written; None, and a fault, where it is another."""
        node = fields.node_of(name)
        return fields.reader.choice(node, fields.path(name), tuple(self.means)) if node is not None else None


@dataclass(frozen=True, slots=True)
class Listed(Kind):
    """A list of things of one kind."""

    of: Kind
    title: str
    fewest: int = 0
    most: int | None = None
    once: bool = False

    def schema(self) -> Schema:
        said: Schema = {"minItems": self.fewest, "maxItems": self.most, "uniqueItems": self.once}
        kept = {word: value for word, value in said.items() if value}
        return {"type": "array", "items": self.of.schema(), **kept, "title": self.title}


@dataclass(frozen=True, slots=True)
class OneOrMore(Kind):
    """One thing by itself, or a list of such things."""

    of: Kind
    title: str

    def schema(self) -> Schema:
        one = self.of.schema()
        return {"anyOf": [one, {"type": "array", "items": one}], "title": self.title}


@dataclass(frozen=True, slots=True)
class WordOr(Kind):
    """A word that says all, or something else."""

    word: str
    other: Kind
    title: str

    def schema(self) -> Schema:
        return {"anyOf": [{"const": self.word}, self.other.schema()], "title": self.title}


@dataclass(frozen=True, slots=True)
class ByName(Kind):
    """Things of one kind by names that the formula gives."""

    of: Kind
    title: str

    def schema(self) -> Schema:
        return {"type": "object", "additionalProperties": self.of.schema(), "title": self.title}


@dataclass(frozen=True, slots=True)
class Defined(Kind):
    """What the schema defines under a name."""

    name: str

    def schema(self) -> Schema:
        return {"$ref": f"#/$defs/{self.name}"}


@dataclass(frozen=True, slots=True)
class Anything(Kind):
    """What the formula may hold at an address: a word, a number, an expression, a curve."""

    def schema(self) -> Schema:
        return {"type": ["string", "number", "boolean", "object"]}


@dataclass(frozen=True, slots=True)
class Keyed(Kind):
    """A mapping with keys of its own."""

    keys: Mapping[str, Key]

    def schema(self) -> Schema:
        said = ", ".join(f"{name}: ..." for name in self.keys)
        return object_of(self.keys) | {"title": f"`{{{said}}}`"}

    def read(self, fields: Fields, name: str) -> Fields | None:
        """The fields under a key; None, and a fault, where there is no mapping."""
        return fields.reader.fields(fields.node_of(name), fields.path(name), self.keys, name)


def object_of(keys: Mapping[str, Key]) -> Schema:
    """A mapping with just these keys, each with its description."""
    required = [name for name, key in keys.items() if key.required]
    return {
        "type": "object",
        "properties": {name: key.kind.schema() | {"description": key.says} for name, key in keys.items()},
        **({"required": required} if required else {}),
        "additionalProperties": False,
    }
