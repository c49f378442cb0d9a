"""What may stand at the keys of a study file, beside the kinds that a formula has: each with its schema and how it is read.

Every key of a study is declared once, with its kind, a sentence and an example, beside what it is about: distributions in
`distributions`, rules for weights in `weight_rules`, items in `items`, the rest in `reader`. The reader, the schema and
the section of the reference page follow from the declarations.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Generic, TypeVar

from scoring import form
from scoring.declaration import Key
from scoring.declaration.kinds import SHARE, Kind, Number, Schema, Text, Word, list_of, object_of
from scoring.reader.fields import Fields
from scoring.texts.document import Sequence
from scoring.units.role import UnitRole

About = TypeVar("About", contravariant=True)
Made = TypeVar("Made", covariant=True)
Keys = Mapping[str, Key]
#: A name, which may look like a number.
NAME = Text(or_number=True)
#: What the numbers of a distribution are counted in, where that is not the same for every address.
COUNTED = {
    UnitRole.ALONG: ", in the unit of the number that varies",
    UnitRole.LENGTH: ", a difference in the unit of the number that varies",
}


@dataclass(frozen=True, slots=True)
class Way:
    """One way in which something varies: the key under which it is written, and keys that stand beside it alone."""

    key: Key
    beside: Keys = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Law(Way, Generic[About, Made]):
    """A way that an item and what varies say between them; `read` gives None, and a fault, where they say nothing."""

    read: Callable[[Fields, About], Made | None] = field(kw_only=True)


@dataclass(frozen=True, slots=True)
class Amount(Number):
    """A number within its bounds. `percent`: `5%` may stand for 0.05; `whole`: a count."""

    percent: bool = False
    whole: bool = False

    def schema(self) -> Schema:
        number = Number.schema(self) | ({"type": "integer"} if self.whole else {})
        found = {"anyOf": [number, dict(SHARE)]} if self.percent else number
        return {**found, "title": self._title()}

    def _title(self) -> str:
        words = (("above", self.above), ("at least", self.least), ("at most", self.most))
        said = " and ".join(f"{word} {bound:g}" for word, bound in words if bound is not None)
        number = f"a {'whole ' if self.whole else ''}number {said}".rstrip()
        counted = ", or a share as `8%`" if self.percent else COUNTED.get(self.role or UnitRole.PLAIN, "")
        return f"{number}{counted}"

    def read(
        self, fields: Fields, name: str, *, default: float | None = None, most: float | None = None
    ) -> form.Number | None:
        """The number under a key; None, and a fault, where there is none. `default`, `most`: those of this study."""
        node, unsaid = fields.node_of(name), self.default if default is None else default
        if node is None and unsaid is not None:
            return fields.default_number(unsaid, name)
        node = fields.required(name)
        bound = self.most if most is None else most
        address, percent = fields.path(name), self.percent
        return fields.reader.number(node, address, least=self.least, above=self.above, most=bound, percent=percent)


@dataclass(frozen=True, slots=True)
class Figures(Kind):
    """A list of so many numbers as it has names, none less than the one before, the last above the first."""

    names: tuple[str, ...]
    role: UnitRole | None = None
    least: float | None = None

    def schema(self) -> Schema:
        bound = "" if self.least is None else f", {self.least:g} or more"
        title = f"`[{', '.join(self.names)}]`, rising{bound}{COUNTED.get(self.role or UnitRole.PLAIN, '')}"
        count = len(self.names)
        return list_of(Number(least=self.least).schema(), title) | {"minItems": count, "maxItems": count}

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
class OneWord(Word):
    """One of several words, each with what it means, of which none is the default."""

    def schema(self) -> Schema:
        return {"oneOf": Word.schema(self)["oneOf"]}

    def read(self, fields: Fields, name: str) -> form.Choice | None:
        """The word under a key that is written; None, and a fault, where it is another."""
        node = fields.node_of(name)
        return fields.reader.choice(node, fields.path(name), self.words) if node is not None else None


@dataclass(frozen=True, slots=True)
class Listed(Kind):
    """A list of things of one kind, `fewest` to `most` of them."""

    of: Kind
    title: str
    fewest: int = 0
    most: int | None = None
    once: bool = False

    def schema(self) -> Schema:
        said: Schema = {"minItems": self.fewest, "maxItems": self.most, "uniqueItems": self.once}
        return list_of(self.of.schema(), self.title) | {word: value for word, value in said.items() if value}


@dataclass(frozen=True, slots=True)
class Address(Kind):
    """An address of the formula."""

    def schema(self) -> Schema:
        return NAME.schema() | {"title": "an address of the formula"}


@dataclass(frozen=True, slots=True)
class Anything(Kind):
    """What the formula may hold at an address: a word, a number, an expression, a curve."""

    def schema(self) -> Schema:
        return {"type": ["string", "number", "boolean", "object"]}


@dataclass(frozen=True, slots=True)
class Defined(Kind):
    """What the schema defines under a name."""

    name: str

    def schema(self) -> Schema:
        return {"$ref": f"#/$defs/{self.name}"}


@dataclass(frozen=True, slots=True)
class Keyed(Kind):
    """A mapping with keys of its own."""

    keys: Keys

    def schema(self) -> Schema:
        said = ", ".join(f"{name}: ..." for name in self.keys)
        return mapping_of(self.keys) | {"title": f"`{{{said}}}`"}

    def read(self, fields: Fields, name: str) -> Fields | None:
        """The fields under a key; None, and a fault, where there is no mapping."""
        return fields.reader.fields(fields.node_of(name), fields.path(name), self.keys, name)


def mapping_of(keys: Keys) -> Schema:
    """A mapping with just these keys, each with its description."""
    properties = {name: key.kind.schema() | {"description": key.says} for name, key in keys.items()}
    return object_of(properties, [name for name, key in keys.items() if key.required])
