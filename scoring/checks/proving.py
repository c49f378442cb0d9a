"""Proof by subdivision: a claim holds over a box where it holds over each half, down to a budget of boxes.

Reference: Moore, Kearfott, Cloud, Introduction to Interval Analysis, 2009, ch. 6 and 7 (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from scoring.checks.nodes import Enclosure
from scoring.checks.tape import Tape
from scoring.numbers.intervals import ONE, ZERO, Interval

MOST_BOXES = 2_000
#: Work, an operation on intervals and each of its arguments counting one: of one attempt, of all attempts of one check
#: together (some seconds), of looking at whole boxes when that is spent, and of the sizes of all jumps.
MOST_WORK, MOST_WORK_IN_ALL, MOST_WORK_ON_WHOLE_BOXES, MOST_WORK_ON_JUMPS = 150_000, 600_000, 2_000_000, 2_000_000
#: A side below this share of the whole is not cut; a box that is still open and has no side to cut ends the attempt.
TOO_SHORT = 2.0**-22
#: The same for the side that a claim is about.
TOO_SHORT_FIRST = 2.0**-52
Box = Mapping[int, Interval]


@dataclass(frozen=True, slots=True, eq=False)
class Attempt:
    """How a proof ended: whether it closed, after how many boxes, and the boxes that stayed open.

    spent: whether it ended because the work set aside for proofs was spent.
    """

    closed: bool
    boxes: int
    open: tuple[Box, ...]
    spent: bool = False


@dataclass(slots=True)
class Purse:
    """The work that one check has spent on proofs, and on the sizes of jumps: counted, not timed, so that all runs end alike."""

    spent: int = 0
    on_jumps: int = 0

    @property
    def is_empty(self) -> bool:
        """Whether not even a whole box is looked at any more."""
        return self.spent >= MOST_WORK_IN_ALL + MOST_WORK_ON_WHOLE_BOXES


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
    purse: Purse = field(default_factory=Purse)
    _orders: dict[tuple[int, ...], tuple[tuple[int, ...], int]] = field(default_factory=dict)

    def run(self, box: Box) -> Enclosure:
        """The tape over a part of the box."""
        moved = tuple(slot for slot, interval in box.items() if interval != self.box[slot])
        if moved not in self._orders:
            order = self.tape.depending(moved, self.slots)
            self._orders[moved] = order, self.tape.work(order)
        order, work = self._orders[moved]
        self.purse.spent += work
        return self.tape.run(box, order, self.root)

    def spend(self, slots: Sequence[int]) -> None:
        """Count the slopes of some slots as work."""
        self.purse.spent += self.tape.work(slots)


#: An attempt that was not made, as nothing was left to spend on it.
NOT_TRIED = Attempt(closed=False, boxes=0, open=(), spent=True)


def prove(field: Field, holds: Callable[[Box, Enclosure], bool], budget: int = MOST_BOXES) -> Attempt:
    """Try to prove `holds` over the whole field, cutting boxes in two where it stays open.

    The attempt ends early at a box too small to be worth cutting: what is open there will stay open. The whole box is
    looked at even when the work for all attempts is spent, up to a limit of its own.
    """
    waiting: list[Box] = [field.box]
    tried, limit = 0, min(field.purse.spent + MOST_WORK, MOST_WORK_IN_ALL)
    spent = field.purse.is_empty
    while waiting and tried < budget and not spent:
        box = waiting.pop()
        tried += 1
        if holds(box, field.run(box)):
            spent = bool(waiting) and field.purse.spent >= limit
            continue
        halves = cut(field, box)
        if not halves:
            waiting.append(box)
            break
        waiting += halves
        spent = field.purse.spent >= limit
    return Attempt(not waiting, tried, tuple(waiting), spent and bool(waiting))


def cut(field: Field, box: Box) -> list[Box]:
    """Two halves of a box, cut across its relatively longest side; none where every side is too short.

    The side that the claim is about counts for four times its length.
    """
    shares = {slot: share(box[slot], field.box[slot]) for slot in box}
    least = {slot: TOO_SHORT_FIRST if slot == field.first else TOO_SHORT for slot in box}
    weights = {slot: shares[slot] * (4 if slot == field.first else 1) for slot in box if shares[slot] >= least[slot]}
    if not weights:
        return []
    slot = max(weights, key=lambda each: weights[each])
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
