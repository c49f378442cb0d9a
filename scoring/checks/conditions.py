"""Conditions of a tape: true, false or open over a box, and whether a rising reading may turn them on or off.

The truth of a condition is that wherever it has a value; its hazard says that somewhere in the box it may have none.

What a condition says of the numbers in it is taken into what is worked out under it: in `where(b > 0, a / b, 0)` the quotient
stands under b > 0, and over a box in which b may be 0 it is looked at for the rest of b.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

from scoring.checks.nodes import UNDEFINED, Enclosure, Node, Slopes
from scoring.numbers.intervals import INFINITY, Interval

NEVER = (False, False)
#: A comparison that does not hold, as the one that does.
OPPOSITE = {"<": ">=", "<=": ">", ">": "<=", ">=": "<", "==": "!=", "!=": "=="}
MIRRORED = {"<": ">", "<=": ">=", ">": "<", ">=": "<=", "==": "==", "!=": "!="}


class RunsAgain(Protocol):
    """What is asked of a tape."""

    @property
    def nodes(self) -> list[Node]: ...

    def worked_out(self, pins: Mapping[int, Interval], slot: int, at: Enclosure) -> Enclosure: ...


@dataclass(frozen=True, slots=True)
class Comparison:
    """left < right, or one of <= > >= == !=."""

    sign: str
    args: tuple[int, int]

    def run(self, at: Enclosure, slot: int) -> None:
        left, right = at.values[self.args[0]], at.values[self.args[1]]
        at.truths[slot] = _truth(self.sign, left, right)
        at.hazards[slot] = (at.hazards[self.args[0]] | at.hazards[self.args[1]]) & UNDEFINED

    def pass_on(self, at: Enclosure, slot: int, slopes: Slopes) -> None:
        if at.truths[slot] is not None:
            slopes.turns[slot] = NEVER
            return
        difference = slopes.at(self.args[0]) - slopes.at(self.args[1])
        if self.sign in ("==", "!="):
            turns = (not difference.is_zero, not difference.is_zero)
        else:
            rises, falls = difference.high > 0, difference.low < 0
            turns = (rises, falls) if self.sign in (">", ">=") else (falls, rises)
        slopes.turns[slot] = turns


def _truth(sign: str, left: Interval, right: Interval) -> bool | None:
    match sign:
        case "<":
            return _decided(left.high < right.low, left.low >= right.high)
        case "<=":
            return _decided(left.high <= right.low, left.low > right.high)
        case ">":
            return _truth("<", right, left)
        case ">=":
            return _truth("<=", right, left)
        case "==":
            apart = left.high < right.low or left.low > right.high
            return _decided(left.is_point and left == right, apart)
    equal = _truth("==", left, right)
    return None if equal is None else not equal


def _decided(true: bool, false: bool) -> bool | None:
    if true:
        return True
    return False if false else None


@dataclass(frozen=True, slots=True)
class Every:
    """a and b and ..."""

    args: tuple[int, ...]
    tape: RunsAgain

    def run(self, at: Enclosure, slot: int) -> None:
        truths = [at.truths[arg] for arg in self.args]
        at.truths[slot] = _decided(all(truths), False in truths)
        at.hazards[slot] = _hazard(self.tape, at, self.args, decides=False)

    def pass_on(self, at: Enclosure, slot: int, slopes: Slopes) -> None:
        slopes.turns[slot] = _together(at, slot, self.args, slopes)


@dataclass(frozen=True, slots=True)
class Some:
    """a or b or ..."""

    args: tuple[int, ...]
    tape: RunsAgain

    def run(self, at: Enclosure, slot: int) -> None:
        truths = [at.truths[arg] for arg in self.args]
        at.truths[slot] = _decided(True in truths, all(truth is False for truth in truths))
        at.hazards[slot] = _hazard(self.tape, at, self.args, decides=True)

    def pass_on(self, at: Enclosure, slot: int, slopes: Slopes) -> None:
        slopes.turns[slot] = _together(at, slot, self.args, slopes)


def _hazard(tape: RunsAgain, at: Enclosure, args: Sequence[int], *, decides: bool) -> int:
    """None where one condition decides all over the box, whatever stands beside it; else that of any.

    Where another condition decides, one that has no value does not matter: it is looked at for the rest.
    """
    found = 0
    for arg in args:
        if at.truths[arg] is decides and not at.hazards[arg]:
            return 0
        hazard = at.hazards[arg]
        for other in args:
            if hazard and other != arg:
                hazard = under(tape, at, arg, other, holds=not decides)[1]
        found |= hazard
    return found


def _together(at: Enclosure, slot: int, args: Iterable[int], slopes: Slopes) -> tuple[bool, bool]:
    if at.truths[slot] is not None:
        return NEVER
    turns = [slopes.turns.get(arg, NEVER) for arg in args]
    return any(on for on, _ in turns), any(off for _, off in turns)


@dataclass(frozen=True, slots=True)
class Reversed:
    """not a."""

    args: tuple[int]

    def run(self, at: Enclosure, slot: int) -> None:
        truth = at.truths[self.args[0]]
        at.truths[slot] = None if truth is None else not truth
        at.hazards[slot] = at.hazards[self.args[0]]

    def pass_on(self, at: Enclosure, slot: int, slopes: Slopes) -> None:  # noqa: ARG002
        on, off = slopes.turns.get(self.args[0], NEVER)
        slopes.turns[slot] = (off, on)


def under(tape: RunsAgain, at: Enclosure, slot: int, condition: int, *, holds: bool) -> tuple[Interval, int]:
    """The value and the hazard of a slot where a condition holds, or where it does not."""
    pins = taken_in(tape, at, condition, holds=holds)
    if not pins:
        return at.values[slot], at.hazards[slot]
    inner = tape.worked_out(pins, slot, at)
    return inner.values[slot], inner.hazards[slot]


def taken_in(tape: RunsAgain, at: Enclosure, condition: int, *, holds: bool) -> dict[int, Interval]:
    """The slots that a condition keeps to less than their intervals; nothing where it is one of several that may decide."""
    match tape.nodes[condition]:
        case Reversed(args=(inner,)):
            return taken_in(tape, at, inner, holds=not holds)
        case Comparison(sign=sign, args=(left, right)):
            return _sides_taken_in(at, sign if holds else OPPOSITE[sign], left, right)
        case Every(args=args) if holds:
            return _all_taken_in(tape, at, args, holds=True)
        case Some(args=args) if not holds:
            return _all_taken_in(tape, at, args, holds=False)
    return {}


def _all_taken_in(tape: RunsAgain, at: Enclosure, conditions: tuple[int, ...], *, holds: bool) -> dict[int, Interval]:
    pins: dict[int, Interval] = {}
    for condition in conditions:
        for slot, side in taken_in(tape, at, condition, holds=holds).items():
            held = pins.get(slot, at.values[slot])
            if held.low <= side.high and side.low <= held.high:
                pins[slot] = held.meet(side)
    return pins


def _sides_taken_in(at: Enclosure, sign: str, left: int, right: int) -> dict[int, Interval]:
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
