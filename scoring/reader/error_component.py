"""Reading what the errors of a measure's readings are made of: a figure, a word, or a mapping in which all is said."""

from __future__ import annotations

import re

from scoring.errors import nearest
from scoring.form import DISTRIBUTIONS, NO_ERROR, POOLED, SYSTEMATIC, Choice, Error, ErrorComponent, Number
from scoring.reader.fields import Fields, Reader
from scoring.reader.wording import clip
from scoring.texts.document import Mapping, Node, Scalar
from scoring.texts.source import Spot

NONE = next(iter(NO_ERROR))
NORMAL = ("normal",)
#: What a component counts as whose fault is told already, so that no other fault comes of it.
STAND_IN = "absolute"
#: Keys under which a figure stands.
AMOUNTS = ("standard_deviation", "standard_uncertainty", "half_width")


def unsaid_error(kind: Error, fields: Fields, key: str) -> ErrorComponent | None:
    """What holds where nothing is said of a component: that there is none; None where it has no word for that."""
    return _without_figure(kind, fields, key, NONE) if NONE in kind.words else None


def read_error(kind: Error, node: Node, fields: Fields, key: str) -> ErrorComponent:
    """What is said of a component."""
    found = _read(kind, node, fields, key)
    return found if found is not None else _without_figure(kind, fields, key, STAND_IN)


def _without_figure(kind: Error, fields: Fields, key: str, word: str) -> ErrorComponent:
    """A component of which no figure is written, at the place where one would be."""
    node = fields.node_of(key)
    spot = fields.unwritten(key) if node is None else _whole(fields.reader, node)
    place = fields.place if node is None else node.place
    choice = Choice(word, kind.words, fields.path(key), place, spot)
    return ErrorComponent(choice, None, None, _normal(fields, key), False, choice.address, place, spot)


def _read(kind: Error, node: Node, fields: Fields, key: str) -> ErrorComponent | None:
    reader, address = fields.reader, fields.path(key)
    if isinstance(node, Mapping):
        return _in_braces(kind, node, fields, key)
    if isinstance(node, Scalar) and node.text in kind.words:
        return _without_figure(kind, fields, key, node.text)
    if isinstance(node, Scalar) and not node.quoted and re.fullmatch(r"[A-Za-z][A-Za-z _]*", node.text):
        reader.fault(node.place, f"`{clip(node.text)}` for {address}", kind.expected, _hint(kind, node.text))
        return None
    amount = _above_zero(reader, node, address, _if_none(kind, key), percent=True)
    if amount is None:
        return None
    whole = _whole(reader, node)
    choice = _kind(amount, kind, address, node, whole)
    return ErrorComponent(choice, amount, None, _normal(fields, key), False, address, node.place, whole)


def _in_braces(kind: Error, node: Mapping, fields: Fields, key: str) -> ErrorComponent | None:
    reader, address = fields.reader, fields.path(key)
    own = reader.noun(node, address, kind.declaration)
    assert own is not None  # a mapping has fields
    amounts = [one for one in kind.declaration.keys if one in AMOUNTS]
    stated = [one for one in amounts if one in own]
    _check_beside(reader, own, stated)
    freedom = None
    if "degrees_of_freedom" in own:
        hint = "Leave the key out where the figure is taken as known."
        freedom = _above_zero(reader, own.node_of("degrees_of_freedom"), own.path("degrees_of_freedom"), hint)
    if len(stated) != 1:
        found = f"{'neither ' * (len(amounts) > 1)}{' nor '.join(f'`{one}`' for one in amounts)} in {address}"
        found = f"{' and '.join(f'`{one}`' for one in stated)} in {address}" if stated else found
        expected = " or ".join(f"`{one}: ...`" for one in amounts)
        reader.fault(node.place, found, "one of the two" if stated else expected)
        return None
    amount = _amount(kind, own, stated[0], key)
    is_half_width = stated == ["half_width"]
    spread = own.choice("distribution", tuple(DISTRIBUTIONS)) if is_half_width else _normal(own, "distribution")
    if amount is None:
        return None
    whole = _whole(reader, node)
    choice = _kind(amount, kind, address, node, whole)
    return ErrorComponent(choice, amount, freedom, spread, is_half_width, address, node.place, whole)


def _amount(kind: Error, own: Fields, stated: str, key: str) -> Number | None:
    node = own.node_of(stated)
    if isinstance(node, Scalar) and node.text in POOLED:
        hint = f"Write `{key}: {node.text}` alone: the catalogue says how many degrees of freedom it has."
        hint = _hint(kind, node.text) if kind.declaration is SYSTEMATIC else hint
        expected = "a number above 0, or a share as `8%`"
        own.reader.fault(node.place, f"`{node.text}` for {own.path(stated)}", expected, hint)
        return None
    return _above_zero(own.reader, node, own.path(stated), _if_none(kind, key), percent=True)


def _check_beside(reader: Reader, own: Fields, stated: list[str]) -> None:
    """A half-width holds for certain and has a distribution; a standard uncertainty has degrees of freedom, and is normal."""
    freedom, distribution = own.node_of("degrees_of_freedom"), own.node_of("distribution")
    if freedom is not None and stated == ["half_width"]:
        found = f"`degrees_of_freedom` beside `half_width` in {own.address}"
        hint = "Leave them out: the half-width is taken as known."
        reader.fault(freedom.place, found, "them beside `standard_uncertainty`", hint)
    if distribution is not None and stated == ["standard_uncertainty"]:
        found = f"`distribution` beside `standard_uncertainty` in {own.address}"
        hint = "Leave it out: what is stated by a standard uncertainty is taken as normal."
        reader.fault(distribution.place, found, "it beside `half_width`", hint)


def _above_zero(reader: Reader, node: Node | None, address: str, hint: str, *, percent: bool = False) -> Number | None:
    number = reader.number(node, address, percent=percent)
    if number is not None and number.value <= 0:
        reader.fault(number.place, f"{number.text} for {address}", "a number above 0", hint)
        return None
    return number


def _if_none(kind: Error, key: str) -> str:
    says_none = f"`{key}: {NONE}` says that there is none."
    return says_none if NONE in kind.words else "Leave the line out where it is not known."


def _hint(kind: Error, word: str) -> str:
    """What to try where a word stands that is none of its own."""
    if word in POOLED:
        return "All readings share it, so that no repeats can show it: take it from the calibration or the method."
    if word in NO_ERROR:
        return "Leave the line out where it is not known."
    hint = nearest(word, kind.words)
    return hint if hint.startswith("Did you mean") else ""


def _kind(amount: Number, kind: Error, address: str, node: Node, whole: Spot) -> Choice:
    """The kind that a figure's sign of percent makes it; another one stands in the place of all that is written."""
    word = "relative" if amount.text.endswith("%") else "absolute"
    return Choice(word, (word, *kind.words), f"{address}.kind", node.place, whole)


def _normal(fields: Fields, key: str) -> Choice:
    return Choice(NORMAL[0], NORMAL, fields.path(key), fields.place, fields.unwritten(key))


def _whole(reader: Reader, node: Node) -> Spot:
    return Spot(reader.source, node.start, node.end, raw=True)
