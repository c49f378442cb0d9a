"""What a condition says of the numbers in it, taken into what is worked out under it.

In `where(b > 0, a / b, 0)` the quotient stands under b > 0: over a box in which b may be 0 it is looked at for the rest of b.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Protocol

from scoring.checks.nodes import Enclosure, Node
from scoring.intervals import INFINITY, Interval

#: A comparison that does not hold, as the one that does.
OPPOSITE = {"<": ">=", "<=": ">", ">": "<=", ">=": "<", "==": "!=", "!=": "=="}
MIRRORED = {"<": ">", "<=": ">=", ">": "<", ">=": "<=", "==": "==", "!=": "!="}


class RunsAgain(Protocol):
    """What is asked of a tape."""

    @property
    def nodes(self) -> list[Node]: ...

    def worked_out(self, pins: Mapping[int, Interval], slot: int, at: Enclosure) -> Enclosure: ...


def under(tape: RunsAgain, at: Enclosure, slot: int, condition: int, *, holds: bool) -> tuple[Interval, int]:
    """The value and the hazard of a slot where a condition holds, or where it does not."""
    pins = taken_in(tape, at, condition, holds=holds)
    if not pins:
        return at.values[slot], at.hazards[slot]
    inner = tape.worked_out(pins, slot, at)
    return inner.values[slot], inner.hazards[slot]


def taken_in(tape: RunsAgain, at: Enclosure, condition: int, *, holds: bool) -> dict[int, Interval]:
    """The slots that a condition keeps to less than their intervals; nothing where it is one of several that may decide."""
    from scoring.checks.conditions import Comparison, Every, Reversed, Some

    match tape.nodes[condition]:
        case Reversed(args=(inner,)):
            return taken_in(tape, at, inner, holds=not holds)
        case Comparison(sign=sign, args=(left, right)):
            return _compared(at, sign if holds else OPPOSITE[sign], left, right)
        case Every(args=args) if holds:
            return _together(tape, at, args, holds=True)
        case Some(args=args) if not holds:
            return _together(tape, at, args, holds=False)
    return {}


def _together(tape: RunsAgain, at: Enclosure, conditions: tuple[int, ...], *, holds: bool) -> dict[int, Interval]:
    pins: dict[int, Interval] = {}
    for condition in conditions:
        for slot, side in taken_in(tape, at, condition, holds=holds).items():
            held = pins.get(slot, at.values[slot])
            if held.low <= side.high and side.low <= held.high:
                pins[slot] = held.meet(side)
    return pins


def _compared(at: Enclosure, sign: str, left: int, right: int) -> dict[int, Interval]:
    pins = {}
    for slot, relation, other in ((left, sign, right), (right, MIRRORED[sign], left)):
        side = _kept(at.values[slot], relation, at.values[other])
        if side is not None and side != at.values[slot]:
            pins[slot] = side
    return pins


def _kept(side: Interval, sign: str, other: Interval) -> Interval | None:
    """What is left of a side that stands in a relation to another; None where nothing is."""
    low, high = side.low, side.high
    if sign in ("<", "<=", "=="):
        high = min(high, _below(other.high) if sign == "<" else other.high)
    if sign in (">", ">=", "=="):
        low = max(low, -_below(-other.low) if sign == ">" else other.low)
    if sign == "!=" and other.is_point:
        low = -_below(-low) if low == other.low else low
        high = _below(high) if high == other.high else high
    return Interval(low, high) if low <= high else None


def _below(end: float) -> float:
    return math.nextafter(end, -INFINITY)
