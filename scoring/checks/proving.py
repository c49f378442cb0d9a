"""Proof by subdivision: a claim holds over a box where it holds over each half, down to a budget of boxes.

Reference: Moore, Kearfott, Cloud, Introduction to Interval Analysis, 2009, ch. 6 and 7 (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from scoring.checks.nodes import Enclosure
from scoring.checks.tape import Tape
from scoring.intervals import ONE, ZERO, Interval

MOST_BOXES = 2_000
#: A box whose every side is below this share of the whole, and which is still open, ends the attempt.
TOO_SMALL = 2.0**-22
Box = Mapping[int, Interval]


@dataclass(frozen=True, slots=True, eq=False)
class Attempt:
    """How a proof ended: whether it closed, after how many boxes, and the boxes that stayed open."""

    closed: bool
    boxes: int
    open: tuple[Box, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Field:
    """What a claim is proved over.

    slots: the slots that it leads back to; box: the sides that may be cut; root: the tape over the whole box; cuts: where
    to cut a side, if it has such places; words: the sides that are 0 or 1 and nothing between; first: the side that the
    claim is about.
    """

    tape: Tape
    slots: tuple[int, ...]
    box: Box
    root: Enclosure
    cuts: Mapping[int, Sequence[float]]
    words: frozenset[int] = frozenset()
    first: int | None = None
    _orders: dict[tuple[int, ...], tuple[int, ...]] = field(default_factory=dict)

    def run(self, box: Box) -> Enclosure:
        """The tape over a part of the box."""
        moved = tuple(slot for slot, interval in box.items() if interval != self.box[slot])
        if moved not in self._orders:
            self._orders[moved] = self.tape.depending(moved, self.slots)
        return self.tape.run(box, self._orders[moved], self.root)


def prove(field: Field, holds: Callable[[Box, Enclosure], bool], budget: int = MOST_BOXES) -> Attempt:
    """Try to prove `holds` over the whole field, cutting boxes in two where it stays open.

    The attempt ends early at a box too small to be worth cutting: what is open there will stay open.
    """
    waiting: list[Box] = [field.box]
    tried = 0
    while waiting and tried < budget:
        box = waiting.pop()
        tried += 1
        if holds(box, field.run(box)):
            continue
        halves = cut(field, box)
        if not halves:
            waiting.append(box)
            break
        waiting += halves
    return Attempt(not waiting, tried, tuple(waiting))


def cut(field: Field, box: Box) -> list[Box]:
    """Two halves of a box, cut across its relatively longest side; none where every side is too short."""
    shares = {slot: share(box[slot], field.box[slot]) for slot in box}
    if field.first is not None and field.first in shares:
        shares[field.first] *= 4  # the reading that a direction is about is cut twice as often as any other
    if not shares or max(shares.values()) < TOO_SMALL:
        return []
    slot = max(shares, key=lambda each: shares[each])
    side = box[slot]
    if slot in field.words:
        return [{**box, slot: ZERO}, {**box, slot: ONE}]
    at = cutting_place(side, field.cuts.get(slot, ()))
    if not side.low < at < side.high:
        return []
    return [{**box, slot: Interval(side.low, at)}, {**box, slot: Interval(at, side.high)}]


def share(side: Interval, whole: Interval) -> float:
    """The length of a side as a share of the whole; infinite lengths are measured on a bent scale of length 2."""
    if side.is_point:
        return 0.0
    if math.isfinite(whole.width):
        return side.width / whole.width
    return (_bent(side.high) - _bent(side.low)) / 2


def _bent(x: float) -> float:
    return math.copysign(1.0, x) if math.isinf(x) else x / (1 + abs(x))


def cutting_place(side: Interval, hints: Sequence[float]) -> float:
    """Where to cut a side: at the hint nearest to its middle, else in the middle."""
    middle = side.middle
    inside = [hint for hint in hints if side.low < hint < side.high]
    return min(inside, key=lambda hint: abs(hint - middle)) if inside else middle
