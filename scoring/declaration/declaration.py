"""How a noun of the form is written: every key is said once, as the metadata of the field that holds what is read.

From the declaration follow the reader (`scoring.reader.declared`), the JSON Schema, the reference page, and the unit roles
of numbers (`scoring.addresses.number_units`).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import MISSING, dataclass, field, fields, replace
from functools import cached_property
from typing import Any, Generic, TypeVar, dataclass_transform, overload

from scoring.declaration.kinds import Kind, Number, Schema, object_of
from scoring.units.role import UnitRole

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Key:
    """One key.

    kind: what may stand there; says: what it is, in a sentence; example: a line in which it is written; required: whether
    it must be written, and `hint` how, where it is not; name: what it is called, where not as its field; old: what it was
    called before, as which it is still read.
    """

    kind: Kind
    says: str
    example: str
    required: bool = False
    hint: str = ""
    name: str = ""
    old: str = ""


@dataclass(frozen=True, slots=True)
class NumberKey(Key):
    """A key at which a number stands, and which is not the field of a noun: a blend declares those of its own."""

    kind: Number

    @property
    def words(self) -> str:
        """What it is called in print."""
        return self.name.replace("_", " ")


def key(kind: Kind, says: str, example: str, *, default: Any = MISSING, **more: Any) -> Any:
    """A field that is read from a key; `more` as in `Key`. `default` is the field's own, for nouns that are made by hand."""
    said: dict[str, Any] = {"key": Key(kind, says, example, **more), "unit_role": kind.role}
    return field(metadata=said) if default is MISSING else field(default=default, metadata=said)


def counted(role: UnitRole) -> Any:
    """A field of numbers that no one key holds, and what they are numbers of."""
    return field(metadata={"unit_role": role})


@overload
def noun(cls: type[T]) -> type[T]: ...
@overload
def noun(*, kw_only: bool = False, slots: bool = True) -> Callable[[type[T]], type[T]]: ...
@dataclass_transform(frozen_default=True, field_specifiers=(field, key, counted))
def noun(
    cls: type[T] | None = None, *, kw_only: bool = False, slots: bool = True
) -> type[T] | Callable[[type[T]], type[T]]:
    """A frozen dataclass whose fields are declared by `key` where they are read from one."""
    made = dataclass(frozen=True, slots=slots, kw_only=kw_only)
    return made if cls is None else made(cls)


@dataclass(frozen=True, slots=True)
class OneOf:
    """Just one of these ways is needed; a way is one key, or several with blanks between."""

    ways: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SomeOf:
    """At least one of these ways is needed."""

    ways: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Beside:
    """A key that stands only beside another one."""

    key: str
    needed: str


Rule = OneOf | SomeOf | Beside


@dataclass(frozen=True)
class Declaration(Generic[T]):
    """How a noun is written.

    noun: the class whose fields hold what is read; name: what the schema calls it; title, lead: the heading of the
    reference, and what is to be known of it first; called: what faults call it, and short: what links of the reference do,
    where that is not its name with an article; as_in: what may stand in the place of a mapping that is not there; more: keys
    of which no one field holds what is read; rules: how keys go together; order: keys in the order in which the reference
    tells them (then the others, as the fields go); instead: what a fault says to write for keys that are another noun's.
    """

    noun: type[T]
    name: str
    title: str
    lead: str = ""
    called: str = ""
    short: str = ""
    as_in: str = ""
    more: Mapping[str, Key] = field(default_factory=dict)
    rules: tuple[Rule, ...] = ()
    order: str = ""
    instead: Mapping[str, str] = field(default_factory=dict)

    @property
    def what(self) -> str:
        """What faults call it."""
        return self.called or f"a {self.name}"

    @cached_property
    def fields(self) -> dict[str, Key]:
        """The key of each field that is read from one."""
        return keys_of(self.noun)

    def fields_of(self, *kinds: type[Kind]) -> tuple[str, ...]:
        """The fields whose keys are of these kinds."""
        return tuple(name for name, key in self.fields.items() if isinstance(key.kind, kinds))

    @cached_property
    def keys(self) -> dict[str, Key]:
        """Every key by its name."""
        found = {**self.more, **{key.name: key for key in self.fields.values()}}
        first = [*(name for name in self.more if name not in self.order.split()), *self.order.split()]
        return {name: found[name] for name in dict.fromkeys([*first, *found])}

    @cached_property
    def renamed(self) -> dict[str, str]:
        """The keys of today by those of before."""
        return {key.old: name for name, key in self.keys.items() if key.old}

    @cached_property
    def own_fields(self) -> frozenset[str]:
        """The fields of the noun, read from keys or not."""
        return frozenset(one.name for one in fields(self.noun))  # type: ignore[arg-type]  # every noun is a dataclass

    def schema(self) -> Schema:
        """The JSON Schema: just these keys, each with its description."""
        properties = {name: key.kind.schema() | {"description": key.says} for name, key in self.keys.items()}
        properties |= {
            old: {"deprecated": True, "description": f"Renamed `{new}`; the old name is still read."}
            for old, new in self.renamed.items()
        }
        required = [name for name, key in self.keys.items() if key.required]
        return object_of(properties, required) | rules_schema(self.rules)


@dataclass(frozen=True, slots=True)
class Noun(Kind):
    """A noun of the form, in a mapping of its own. `always`: it is there unsaid, too, with the defaults of its keys."""

    declaration: Declaration[Any]
    always: bool = False
    default: Any = None

    def schema(self) -> Schema:
        default = {} if self.default is None else {"default": self.default}
        return {"$ref": f"#/$defs/{self.declaration.name}"} | default


@dataclass(frozen=True, slots=True)
class Keyed(Kind):
    """Nouns by names that are given, each with what it means."""

    declaration: Declaration[Any]
    means: Mapping[str, str]
    title: str

    def schema(self) -> Schema:
        known = {name: self.declaration.schema() | {"description": says} for name, says in self.means.items()}
        return object_of(known) | {"title": self.title}


def keys_of(noun: type[Any]) -> dict[str, Key]:
    """The keys of a noun's fields, by the field; each with its name."""
    found: dict[str, Key] = {}
    for one in fields(noun):
        said = one.metadata.get("key")
        if isinstance(said, Key):
            found[one.name] = replace(said, name=said.name or one.name)
    return found


def rules_schema(rules: tuple[Rule, ...]) -> Schema:
    """How keys go together, in a JSON Schema."""
    found: Schema = {}
    ones = [{"oneOf": _ways(rule.ways)} for rule in rules if isinstance(rule, OneOf)]
    if len(ones) == 1:
        found |= ones[0]
    elif ones:
        found["allOf"] = ones
    for rule in rules:
        if isinstance(rule, SomeOf):
            found["anyOf"] = _ways(rule.ways)
        elif isinstance(rule, Beside):
            found["dependentRequired"] = {**found.get("dependentRequired", {}), rule.key: [rule.needed]}
    return found


def _ways(ways: tuple[str, ...]) -> list[Schema]:
    return [{"required": way.split()} for way in ways]
