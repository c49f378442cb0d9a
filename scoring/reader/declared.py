"""What stands at a declared key: read from the text by its kind, or, where it is left unsaid, what holds then."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any, TypeVar

from scoring.declaration import Declaration, Key, Noun, kinds
from scoring.form import Choice, Error, Guard, Number
from scoring.reader.error_component import read_error, unsaid_error
from scoring.reader.fields import Fields, Reader, is_null
from scoring.reader.wording import clip
from scoring.texts.document import Node, Scalar, Sequence
from scoring.texts.source import Spot

T = TypeVar("T")
GUARD = re.compile(r"(?P<number>[0-9.eE+-]+)(?P<unit>\s*u)")
#: Words that stand for true and false where they are read so, in this order.
YES_AND_NO = ("yes", "no")
#: What faults call the things of a section, where not by its key.
SPOKEN = {"error_correlations": "correlations"}


def made(declaration: Declaration[T], fields: Fields, **given: object) -> T | None:
    """The noun that a mapping says: each field by its key, save those that are `given`.

    None where a required key cannot be read; of any other that cannot, what holds where it is left unsaid is taken.
    """
    values: dict[str, Any] = {"address": fields.address, "place": fields.place}
    values = {name: value for name, value in values.items() if name in declaration.own_fields} | given
    read = {name: read_key(key, fields) for name, key in declaration.fields.items() if name not in given}
    if any(read[name] is None and declaration.fields[name].required for name in read):
        return None
    return declaration.noun(**values | read)


def read_key(key: Key, fields: Fields) -> Any:
    """What stands at one key."""
    node = fields.node_of(key.name)
    if node is None and key.required:
        fields.required(key.name, key.hint)
    if node is None or (key.kind.may_be_null and is_null(node)):
        return unsaid(key.kind, fields, key.name)
    found = read_kind(key.kind, node, fields, key.name)
    return unsaid(key.kind, fields, key.name) if found is None and not key.required else found


def read_kind(kind: kinds.Kind, node: Node, fields: Fields, key: str) -> Any:
    """What a node says, by the kind of its key; None, and a fault, where it cannot be read."""
    reader, address = fields.reader, fields.path(key)
    match kind:
        case kinds.Text() | kinds.Label() | kinds.NameOf():
            return reader.text(node, address)
        case kinds.Column():
            return _column(node, fields, address)
        case kinds.Number():
            return _number(kind, node, fields, key)
        case kinds.Pair():
            return _pair(node, fields, address)
        case kinds.Word():
            return _word(kind, node, fields, address)
        case kinds.Role():
            return _role(kind, node, fields, address)
        case kinds.AttributeOrNone():
            return reader.choice(node, address, _attributes(kind, fields))
        case kinds.Flag():
            return fields.flag(key, also=YES_AND_NO if isinstance(kind, kinds.YesOrNo) else (), unread=kind.default)
        case kinds.Several() | kinds.Sections():
            return fields.words(key)
        case kinds.Expression():
            return reader.expression(node, address, condition=kind.condition)
        case Noun():
            own = reader.noun(node, address, kind.declaration)
            return made(kind.declaration, own) if own is not None else None
        case Error():
            return read_error(kind, node, fields, key)
        case Guard():
            return _guard(node, fields, address)
    raise TypeError(f"nothing reads {kind} at {address} by itself")


def unsaid(kind: kinds.Kind, fields: Fields, *keys: str) -> Any:
    """What holds where a key, or a key in keys that are not written either, is left unsaid; None where nothing does."""
    match kind:
        case kinds.Text() | kinds.Column() | kinds.NameOf() | kinds.Role():
            return ""
        case kinds.Label():
            words = fields.address.rpartition(".")[2].replace("_", " ")
            return words.capitalize() if kind.capital else words
        case kinds.Number() if kind.default is not None:
            return fields.default_number(kind.default, *keys)
        case kinds.WordIfSaid():
            return None
        case kinds.Word():
            return fields.default_choice(kind.words, *keys)
        case kinds.AttributeOrNone():
            return fields.default_choice(_attributes(kind, fields), *keys)
        case kinds.Flag():
            return kind.default
        case kinds.Several():
            return ()
        case kinds.Sections():
            return kind.default
        case Noun() if kind.always:
            return kind.declaration.noun(**all_unsaid(kind.declaration, fields, *keys))
        case Error():
            return unsaid_error(kind, fields, *keys)
    return None


def all_unsaid(declaration: Declaration[Any], fields: Fields, *keys: str) -> dict[str, Any]:
    """What each field of a noun holds that is not written under `keys`."""
    return {name: unsaid(key.kind, fields, *keys, key.name) for name, key in declaration.fields.items()}


def named_nouns(
    reader: Reader, node: Node | None, section: str, declaration: Declaration[Any]
) -> Iterator[tuple[str, Fields]]:
    """The fields of every noun under a section, with its name."""
    for key, body, address in reader.named(node, section, SPOKEN.get(section, section)):
        fields = reader.noun(body, address, declaration)
        if fields is not None:
            yield key.text, fields


def _attributes(kind: kinds.AttributeOrNone, fields: Fields) -> tuple[str, ...]:
    """The words that may stand where an attribute is named: none, and every attribute that the form declares."""
    return tuple(dict.fromkeys((kind.none, *fields.reader.names.words)))


def _column(node: Node, fields: Fields, address: str) -> str:
    column = fields.reader.text(node, address)
    if set(column) & set("[]#"):
        hint = "Leave out `[unit]` and `#repeat`, which stand in the catalogue alone."
        fields.reader.fault(node.place, f"`{clip(column)}`", "the column's name alone", hint)
        return ""
    return column


def _number(kind: kinds.Number, node: Node, fields: Fields, key: str) -> Number | None:
    reader = fields.reader
    number = reader.number(node, fields.path(key), least=kind.least, above=kind.above, most=kind.most)
    if number is not None and number.value == kind.never:
        found = f"{key} {kind.never:g} in {fields.address}"
        expected = f"{'an' if key[0] in 'aeiou' else 'a'} {key} other than {kind.never:g}"
        reader.fault(number.place, found, expected, f"Say {kind.instead}." if kind.instead else "")
    return number


def _pair(node: Node, fields: Fields, address: str) -> tuple[Number, Number] | None:
    reader = fields.reader
    items = reader.items(node, address, "two numbers")
    if isinstance(node, Sequence) and len(items) != 2:
        found = f"{len(items)} number{'s' * (len(items) != 1)} for {address}"
        hint = "Write a decimal point, not a comma." if len(items) > 2 else ""
        reader.fault(node.place, found, "two: [least, most]", hint)
    if len(items) != 2:
        return None
    low = reader.number(items[0], f"{address}.from")
    high = reader.number(items[1], f"{address}.to")
    if low is None or high is None:
        return None
    if low.value >= high.value:
        reader.fault(low.place, f"[{low.text}, {high.text}] for {address}", "the lesser number first")
        return None
    return low, high


def _word(kind: kinds.Word, node: Node, fields: Fields, address: str) -> Choice | None:
    reader = fields.reader
    new = kind.old.get(node.text) if isinstance(node, Scalar) else None
    if new is None or not isinstance(node, Scalar):
        return reader.choice(node, address, kind.words)
    reader.note_renamed(node.place, address, node.text, new)
    return Choice(new, kind.words, address, node.place, Spot(reader.source, node.start, node.end))


def _role(kind: kinds.Role, node: Node, fields: Fields, address: str) -> str:
    """One of the words, as a plain text."""
    chosen = fields.reader.choice(node, address, tuple(kind.means))
    return chosen.value if chosen is not None else ""


def _guard(node: Node, fields: Fields, address: str) -> Number | None:
    """The number in front of its unit, `1.645 u`."""
    match = GUARD.fullmatch(node.text.strip()) if isinstance(node, Scalar) else None
    if match is None or not isinstance(node, Scalar) or node.quoted:
        expected = "a number of standard uncertainties, as `1.645 u`"
        fields.reader.fault(node.place, "a guard without its unit", expected)
        return None
    inner = Scalar(match["number"], False, node.place, node.start, node.start + len(match["number"]))
    return fields.reader.number(inner, address, above=0)
