"""Reading a curve: one kind with its numbers or anchors, what holds outside them, and the reference it leans on."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import pairwise

from scoring.curves import KINDS, CurveKind
from scoring.errors import Place
from scoring.form import CURVE, ENDS, REFERENCE, Choice, Curve, Number, Reference
from scoring.reader.declared import all_unsaid, made, read_key
from scoring.reader.fields import Fields, Reader, Shape
from scoring.reader.wording import describe
from scoring.texts.document import Mapping, Node, Scalar
from scoring.texts.source import Spot

#: A bound where a number belongs.
BOUND = re.compile(r"(?:[<>]=?|=[<>]|[≤≥])\s*[+-]?[0-9.]+")
SHAPE = Shape(CURVE.what, (*KINDS, *CURVE.keys), CURVE.as_in)


def read_curve(reader: Reader, node: Node | None, address: str, *, open_top: bool) -> Curve | None:
    """The curve written at `node`; None (and problems) where it cannot be read."""
    fields = reader.noun(node, address, SHAPE)
    if fields is None or node is None:
        return None
    kinds = [key for key in KINDS if key in fields]
    if not kinds and any(key.text not in SHAPE.keys for key, _ in fields.node.entries):
        return None  # a misspelt kind is a fault already
    if len(kinds) != 1:
        found = "no kind of curve" if not kinds else "several kinds of curve: " + ", ".join(kinds)
        hint = "Keep one of them." if kinds else f"As in `{CURVE.as_in}`."
        reader.fault(fields.place, f"{found} in {address}", "one of " + ", ".join(KINDS), hint)
        return None
    kind = KINDS[kinds[0]]
    if kind.needs_top and open_top:
        reader.fault(
            fields.place, f"a {kind.name} curve on a scale without a top", "`to: ...` in the scale, or a points curve"
        )
        return None
    return _read_kind(reader, fields, kind)


def _read_kind(reader: Reader, fields: Fields, kind: CurveKind) -> Curve | None:
    address = fields.address
    before = len(reader.problems)
    body = fields.node_of(kind.name)
    anchors: tuple[tuple[Number, Number], ...] = ()
    numbers: tuple[tuple[str, Number], ...] = ()
    choices: tuple[tuple[str, Choice], ...] = ()
    if kind.anchored:
        anchors = _read_anchors(reader, body, f"{address}.{kind.name}", kind)
    else:
        numbers, choices = _read_numbers(reader, body, f"{address}.{kind.name}", kind)
    if kind.outside:
        choices = (*choices, *_read_outside(reader, fields, kind))
    elif "outside" in fields:
        reader.fault(
            fields.place, f"`outside` in a {kind.name} curve", "no such key", "It has no anchors to be outside of."
        )
    reference = _read_reference(reader, fields, kind)
    if len(reader.problems) > before:
        return None
    spot = Spot(reader.source, fields.node.start, fields.node.end, raw=True)
    curve = made(
        CURVE, fields, kind=kind.name, numbers=numbers, anchors=anchors, choices=choices, reference=reference, spot=spot
    )
    assert curve is not None  # none of the keys beside its kind must be written
    faults = list(kind.faults(curve))
    reader.gather(faults)
    return None if faults else curve


def _read_outside(reader: Reader, fields: Fields, kind: CurveKind) -> Iterator[tuple[str, Choice]]:
    """What holds beyond the anchors: one word, or one for each end."""
    node = fields.node_of("outside")
    if not isinstance(node, Mapping):
        yield "outside", fields.choice("outside", kind.outside)
        return
    ends = reader.fields(node, fields.path("outside"), ENDS, "`outside`")
    if ends is not None:
        yield from ((f"outside.{end}", ends.choice(end, kind.outside)) for end in ENDS)


def _read_numbers(
    reader: Reader, body: Node | None, address: str, kind: CurveKind
) -> tuple[tuple[tuple[str, Number], ...], tuple[tuple[str, Choice], ...]]:
    fields = reader.fields(body, address, [key.name for key in kind.keys], f"a {kind.name} curve")
    if fields is None:
        return (), ()
    read = [(key.name, read_key(key, fields)) for key in kind.keys]
    numbers = tuple((name, found) for name, found in read if isinstance(found, Number))
    return numbers, tuple((name, found) for name, found in read if isinstance(found, Choice))


def _read_anchors(
    reader: Reader, body: Node | None, address: str, kind: CurveKind
) -> tuple[tuple[Number, Number], ...]:
    if not isinstance(body, Mapping):
        place = body.place if body is not None else Place("")
        expected = f"anchors `measure: rating` for {address}"
        reader.fault(place, describe(body) if body else "nothing", expected, "As in `{40: 10, 80: 6, 135: 1}`.")
        return ()
    anchors: list[tuple[Number, Number]] = []
    for index, (key, value) in enumerate(body.entries, start=1):
        at = _read_place(
            reader, Scalar(key.text, key.quoted, key.place, key.start, key.end), f"{address}.{index}.at", kind
        )
        gives = reader.number(value, f"{address}.{index}.gives")
        if at is not None and gives is not None:
            anchors.append((at, gives))
    for (before, _), (after, _) in pairwise(anchors):
        if after.value <= before.value:
            found = f"the anchor {after.text} after {before.text}"
            reader.fault(after.place, found, "anchors in rising order, each once", f"At {address}.")
    if len(body.entries) < 2:
        found = f"{len(body.entries)} anchor{'s' * (len(body.entries) != 1)} in {address}"
        reader.fault(body.place, found, "two or more")
    return tuple(anchors)


def _read_place(reader: Reader, node: Scalar, address: str, kind: CurveKind) -> Number | None:
    """The place of an anchor. An inequality, as other tables of steps have it, says something else than an edge."""
    if BOUND.fullmatch(node.text.strip()) is None:
        return reader.number(node, address)
    hint = "Write the reading alone."
    if kind.stepped:
        hint = (
            f"Write the reading that each step begins at: it holds from there up to the next, as in `{kind.example}`."
        )
    reader.fault(node.place, describe(node), f"a number for {address}", hint)
    return None


def _read_reference(reader: Reader, fields: Fields, kind: CurveKind) -> Reference | None:
    node = fields.node_of("reference")
    if not kind.figures:
        if node is not None:
            reader.fault(node.place, f"`reference` in a {kind.name} curve", "no such key", "It leans on no population.")
        return None
    address = fields.path("reference")
    if node is None or (isinstance(node, Scalar) and node.text == "live"):
        place = node.place if node is not None else fields.place
        unsaid = all_unsaid(REFERENCE, fields, "reference")
        return Reference(**unsaid, live=True, figures=(), address=address, place=place)
    frozen = reader.noun(node, address, REFERENCE)
    if frozen is None:
        return None
    nodes = reader.items(frozen.node_of("values"), frozen.path("values"), "numbers")
    values = [reader.number(item, f"{frozen.path('values')}.{i}") for i, item in enumerate(nodes, start=1)]
    written = [(name, frozen.number(name)) for name in REFERENCE.more if name in frozen]
    for name, _ in written:
        if name not in kind.figures and reader.as_typed:
            found = f"`{name}` in the reference of a {kind.name} curve"
            takes = " and ".join("`values`" if figure == "population" else f"`{figure}`" for figure in kind.figures)
            reader.fault(
                frozen.place_of(name), found, f"{takes}, of which it is worked out", "Leave it out: it has no say."
            )
    missing = [name for name in kind.figures if name not in frozen and not values]
    if missing:
        wanted = " and ".join("`values`" if name == "population" else f"`{name}`" for name in missing)
        reader.fault(node.place, f"a frozen reference without {wanted}", f"{wanted}, or the `values` of its members")
    figures = tuple((name, number) for name, number in written if number is not None)
    members = tuple(value for value in values if value is not None)
    _check_spread(reader, kind, dict(figures), members)
    return made(REFERENCE, frozen, live=False, figures=figures, values=members)


def _check_spread(reader: Reader, kind: CurveKind, figures: dict[str, Number], members: tuple[Number, ...]) -> None:
    """A curve that divides by the spread of its population needs one."""
    sd, least, greatest = (figures.get(name) for name in ("sd", "least", "greatest"))
    if sd is not None and sd.value <= 0:
        reader.fault(sd.place, f"sd {sd.text}", "a standard deviation above 0")
    if least is not None and greatest is not None and least.value >= greatest.value:
        reader.fault(greatest.place, f"least {least.text} and greatest {greatest.text}", "`greatest` above `least`")
    if members and kind.figures != ("population",) and len({member.value for member in members}) < 2:
        reader.fault(members[0].place, "a reference without two different values", "a population with some spread")
