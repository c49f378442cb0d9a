"""Reading what the errors of a measure's readings are made of: a figure, a word, or a mapping in which all is said."""

from __future__ import annotations

import re
from dataclasses import dataclass

from scoring.document import Mapping, Node, Scalar
from scoring.errors import nearest
from scoring.form import Choice, ErrorComponent, Number
from scoring.reader import keys, options
from scoring.reader.fields import Fields, Reader, is_written
from scoring.reader.wording import clip
from scoring.source import Spot

NONE = tuple(options.NO_ERROR)
POOLED = tuple(options.POOLED)
DISTRIBUTIONS = tuple(options.DISTRIBUTIONS)
NORMAL = ("normal",)
#: What a component counts as whose fault is told already, so that no other fault comes of it.
STAND_IN = "absolute"
#: Keys under which a figure stands.
AMOUNTS = ("standard_deviation", "standard_uncertainty", "half_width")


@dataclass(frozen=True, slots=True)
class Way:
    """How a component may be written: its words, the keys of its mapping and what that is, and what is expected in all."""

    key: str
    words: tuple[str, ...]
    known: tuple[str, ...]
    what: str
    expected: str

    @property
    def amounts(self) -> tuple[str, ...]:
        """The keys of its mapping under which the figure may stand."""
        return tuple(key for key in self.known if key in AMOUNTS)


def _scatter(key: str, words: tuple[str, ...]) -> Way:
    said = "a number above 0, a share as `8%`, `pooled`, `pooled relative`, or `{standard_deviation: ...}`"
    return Way(key, words, tuple(keys.SCATTER), "a component of error", said)


REPEATABILITY = _scatter("repeatability", POOLED)
BETWEEN_SESSIONS = _scatter("between_sessions", (*NONE, *POOLED))
BETWEEN_SPECIMENS = _scatter("between_specimens", (*NONE, *POOLED))
SYSTEMATIC = Way(
    "systematic",
    NONE,
    tuple(keys.SYSTEMATIC),
    "a systematic error",
    "a standard uncertainty above 0, a share as `3%`, `{standard_uncertainty: ...}` or `{half_width: ...}`",
)


def read_repeatability(reader: Reader, fields: Fields) -> ErrorComponent | None:
    """What is said of the scatter within a run; None where nothing is."""
    if not is_written(fields, REPEATABILITY.key):
        return None
    return _read(reader, fields, REPEATABILITY) or _without_figure(reader, fields, REPEATABILITY, STAND_IN)


def read_shared_error(reader: Reader, fields: Fields, way: Way) -> ErrorComponent:
    """What is said of an error that several readings share; `none` where nothing is."""
    if not is_written(fields, way.key):
        return _without_figure(reader, fields, way, NONE[0])
    return _read(reader, fields, way) or _without_figure(reader, fields, way, STAND_IN)


def _without_figure(reader: Reader, fields: Fields, way: Way, word: str) -> ErrorComponent:
    """A component of which no figure is written, at the place where one would be."""
    node = fields.node_of(way.key)
    spot = fields.unwritten(way.key) if node is None else _whole(reader, node)
    place = fields.place if node is None else node.place
    kind = Choice(word, way.words, fields.path(way.key), place, spot)
    return ErrorComponent(kind, None, None, _normal(fields, way.key), False, kind.address, place, spot)


def _read(reader: Reader, fields: Fields, way: Way) -> ErrorComponent | None:
    node, address = fields.node_of(way.key), fields.path(way.key)
    assert node is not None  # only what is written is read
    if isinstance(node, Mapping):
        return _in_braces(reader, node, address, way)
    if isinstance(node, Scalar) and node.text in way.words:
        return _without_figure(reader, fields, way, node.text)
    if isinstance(node, Scalar) and not node.quoted and re.fullmatch(r"[A-Za-z][A-Za-z _]*", node.text):
        reader.fault(node.place, f"`{clip(node.text)}` for {address}", way.expected, _hint(way, node.text))
        return None
    amount = _above_zero(reader, node, address, _if_none(way), percent=True)
    if amount is None:
        return None
    whole = _whole(reader, node)
    kind = _kind(amount, way, address, node, whole)
    return ErrorComponent(kind, amount, None, _normal(fields, way.key), False, address, node.place, whole)


def _in_braces(reader: Reader, node: Mapping, address: str, way: Way) -> ErrorComponent | None:
    own = reader.fields(node, address, way.known, way.what)
    assert own is not None  # a mapping has fields
    stated = [key for key in way.amounts if key in own]
    _check_beside(reader, own, stated)
    freedom = None
    if "degrees_of_freedom" in own:
        hint = "Leave the key out where the figure is taken as known."
        freedom = _above_zero(reader, own.node_of("degrees_of_freedom"), own.path("degrees_of_freedom"), hint)
    if len(stated) != 1:
        found = f"{'neither ' * (len(way.amounts) > 1)}{' nor '.join(f'`{key}`' for key in way.amounts)} in {address}"
        found = f"{' and '.join(f'`{key}`' for key in stated)} in {address}" if stated else found
        expected = " or ".join(f"`{key}: ...`" for key in way.amounts)
        reader.fault(node.place, found, "one of the two" if stated else expected)
        return None
    amount = _amount(reader, own, stated[0], way)
    is_half_width = stated == ["half_width"]
    spread = own.choice("distribution", DISTRIBUTIONS) if is_half_width else _normal(own, "distribution")
    if amount is None:
        return None
    whole = _whole(reader, node)
    kind = _kind(amount, way, address, node, whole)
    return ErrorComponent(kind, amount, freedom, spread, is_half_width, address, node.place, whole)


def _amount(reader: Reader, own: Fields, key: str, way: Way) -> Number | None:
    node = own.node_of(key)
    if isinstance(node, Scalar) and node.text in POOLED:
        hint = f"Write `{way.key}: {node.text}` alone: the catalogue says how many degrees of freedom it has."
        hint = _hint(way, node.text) if way is SYSTEMATIC else hint
        reader.fault(node.place, f"`{node.text}` for {own.path(key)}", "a number above 0, or a share as `8%`", hint)
        return None
    return _above_zero(reader, node, own.path(key), _if_none(way), percent=True)


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


def _if_none(way: Way) -> str:
    return (
        f"`{way.key}: none` says that there is none."
        if NONE[0] in way.words
        else "Leave the line out where it is not known."
    )


def _hint(way: Way, word: str) -> str:
    """What to try where a word stands that is none of its own."""
    if word in POOLED:
        return "All readings share it, so that no repeats can show it: take it from the calibration or the method."
    if word in NONE:
        return "Leave the line out where it is not known."
    hint = nearest(word, way.words)
    return hint if hint.startswith("Did you mean") else ""


def _kind(amount: Number, way: Way, address: str, node: Node, whole: Spot) -> Choice:
    """The kind that a figure's sign of percent makes it; another one stands in the place of all that is written."""
    word = "relative" if amount.text.endswith("%") else "absolute"
    return Choice(word, (word, *way.words), f"{address}.kind", node.place, whole)


def _normal(fields: Fields, key: str) -> Choice:
    return Choice(NORMAL[0], NORMAL, fields.path(key), fields.place, fields.unwritten(key))


def _whole(reader: Reader, node: Node) -> Spot:
    return Spot(reader.source, node.start, node.end, raw=True)
