"""Nodes of a tape: what one operation encloses over a box, and the difference quotients that it passes on.

For a change of one reading from x1 to x2, all else held, a node's slope holds every (f(x2) - f(x1)) / (x2 - x1). A node
also says when it may have no value (`UNDEFINED`) or an infinite one (`INFINITE`) somewhere in the box: numpy goes on
with NaN and infinities there, and so no proof may pass over them.
Reference: Krawczyk and Neumaier, Interval slopes for rational functions and associated centered forms, SIAM J. Numer.
Anal. 22 (1985) 604-616 (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Protocol

from sympy import Integer

from scoring.blends import Blend
from scoring.functions import OwnFunction, Present
from scoring.intervals import EVERYWHERE, INFINITY, ONE, ZERO, Interval

UNDEFINED, INFINITE = 1, 2


@dataclass(slots=True, eq=False)
class Enclosure:
    """What every node of a tape holds over one box: intervals, hazards, and the truth of conditions (None: open)."""

    values: list[Interval]
    hazards: list[int]
    truths: list[bool | None]


@dataclass(slots=True, eq=False)
class Slopes:
    """Difference quotients with one seed: of numbers by slot, and of conditions whether they may turn on or off.

    A slot that does not depend on the seed is absent.
    """

    of: dict[int, Interval] = field(default_factory=dict)
    turns: dict[int, tuple[bool, bool]] = field(default_factory=dict)

    def at(self, slot: int) -> Interval:
        """The slope of one node."""
        return self.of.get(slot, ZERO)


class Node(Protocol):
    """One operation on earlier nodes, named by their slots."""

    @property
    def args(self) -> tuple[int, ...]:
        """The slots that it works on."""

    def run(self, at: Enclosure, slot: int) -> None:
        """Work out the node over the box."""

    def pass_on(self, at: Enclosure, slot: int, slopes: Slopes) -> None:
        """Work out the node's slope from those of its arguments."""


def settle(at: Enclosure, slot: int, value: Interval, hazard: int) -> None:
    """Write down a node's value; what is bounded is not infinite."""
    if hazard & INFINITE and math.isfinite(value.low) and math.isfinite(value.high):
        hazard &= ~INFINITE
    at.values[slot] = value
    at.hazards[slot] = hazard


@dataclass(frozen=True, slots=True)
class Given:
    """A number that comes in from outside, or a constant: written down before the run."""

    args: tuple[int, ...] = ()

    def run(self, at: Enclosure, slot: int) -> None:
        """Nothing to do."""

    def pass_on(self, at: Enclosure, slot: int, slopes: Slopes) -> None:
        """Nothing to do."""


@dataclass(frozen=True, slots=True)
class Sum:
    """a + b + ..."""

    args: tuple[int, ...]

    def run(self, at: Enclosure, slot: int) -> None:
        value, hazard, infinite = at.values[self.args[0]], 0, 0
        for arg in self.args:
            hazard |= at.hazards[arg]
            infinite += bool(at.hazards[arg] & INFINITE)
        for arg in self.args[1:]:
            value = value + at.values[arg]
        settle(at, slot, value, hazard | (UNDEFINED if infinite > 1 else 0))

    def pass_on(self, at: Enclosure, slot: int, slopes: Slopes) -> None:
        total = ZERO
        for arg in self.args:
            if arg in slopes.of:
                total = total + slopes.of[arg]
        slopes.of[slot] = total


@dataclass(frozen=True, slots=True)
class Product:
    """a * b * ..."""

    args: tuple[int, ...]

    def run(self, at: Enclosure, slot: int) -> None:
        value, hazard = at.values[self.args[0]], at.hazards[self.args[0]]
        for arg in self.args[1:]:
            other, danger = at.values[arg], at.hazards[arg]
            if (hazard & INFINITE and other.contains(0)) or (danger & INFINITE and value.contains(0)):
                hazard |= UNDEFINED  # 0 times infinity
            hazard |= danger
            value = value * other
        settle(at, slot, value, hazard)

    def pass_on(self, at: Enclosure, slot: int, slopes: Slopes) -> None:
        value, slope = at.values[self.args[0]], slopes.at(self.args[0])
        for arg in self.args[1:]:
            slope = value * slopes.at(arg) + at.values[arg] * slope
            value = value * at.values[arg]
        slopes.of[slot] = slope


@dataclass(frozen=True, slots=True)
class Power:
    """base ** exponent; a reciprocal is a power of -1."""

    args: tuple[int, int]

    def run(self, at: Enclosure, slot: int) -> None:
        base, exponent = at.values[self.args[0]], at.values[self.args[1]]
        hazard = at.hazards[self.args[0]] | at.hazards[self.args[1]]
        whole = exponent.is_point and exponent.low % 1 == 0
        if base.low < 0 and not whole:
            hazard |= UNDEFINED
        if exponent.low < 0 and base.contains(0):
            hazard |= INFINITE
        settle(at, slot, ONE / base if exponent.low == -1 == exponent.high else base.raised(exponent), hazard)

    def pass_on(self, at: Enclosure, slot: int, slopes: Slopes) -> None:
        base, exponent = at.values[self.args[0]], at.values[self.args[1]]
        if self.args[1] in slopes.of:
            if base.low <= 0:
                slopes.of[slot] = EVERYWHERE
                return
            inner = slopes.of[self.args[1]] * base.log() + exponent * (slopes.at(self.args[0]) / base)
            slopes.of[slot] = at.values[slot] * inner
        elif exponent.low < 0 and base.low < 0 < base.high:
            slopes.of[slot] = EVERYWHERE
        else:
            derivative = exponent * base.raised(exponent - ONE)
            slopes.of[slot] = derivative * slopes.of[self.args[0]]


@dataclass(frozen=True, slots=True)
class Exponential:
    """exp(a)."""

    args: tuple[int]

    def run(self, at: Enclosure, slot: int) -> None:
        settle(at, slot, at.values[self.args[0]].exp(), at.hazards[self.args[0]])

    def pass_on(self, at: Enclosure, slot: int, slopes: Slopes) -> None:
        slopes.of[slot] = at.values[slot] * slopes.of[self.args[0]]


@dataclass(frozen=True, slots=True)
class Logarithm:
    """ln(a): infinite at 0, without a value below."""

    args: tuple[int]

    def run(self, at: Enclosure, slot: int) -> None:
        inner, hazard = at.values[self.args[0]], at.hazards[self.args[0]]
        if inner.low < 0:
            hazard |= UNDEFINED
        if inner.contains(0):
            hazard |= INFINITE
        settle(at, slot, inner.log(), hazard)

    def pass_on(self, at: Enclosure, slot: int, slopes: Slopes) -> None:
        inner = at.values[self.args[0]]
        slopes.of[slot] = EVERYWHERE if inner.low < 0 else slopes.of[self.args[0]] / inner


@dataclass(frozen=True, slots=True)
class Absolute:
    """|a|."""

    args: tuple[int]

    def run(self, at: Enclosure, slot: int) -> None:
        settle(at, slot, at.values[self.args[0]].absolute(), at.hazards[self.args[0]])

    def pass_on(self, at: Enclosure, slot: int, slopes: Slopes) -> None:
        inner = at.values[self.args[0]]
        sign = ONE if inner.low >= 0 else -ONE if inner.high <= 0 else Interval(-1.0, 1.0)
        slopes.of[slot] = sign * slopes.of[self.args[0]]


@dataclass(frozen=True, slots=True)
class Own:
    """A function of ours, with its own rigorous face."""

    function: OwnFunction
    args: tuple[int, ...]

    def run(self, at: Enclosure, slot: int) -> None:
        values = [at.values[arg] for arg in self.args]
        settle(at, slot, self.function.enclose(values), self._hazard(at, values))

    def _hazard(self, at: Enclosure, values: Sequence[Interval]) -> int:
        hazards = [at.hazards[arg] for arg in self.args]
        if isinstance(self.function, Present):
            here = values[0]
            return (hazards[1] if here.high > 0 else 0) | (hazards[2] if here.low <= 0 else 0)
        if isinstance(self.function, Blend):
            return _blend_hazard(self.function, values, hazards)
        hazard = 0
        for each in hazards:
            hazard |= each
        return hazard

    def pass_on(self, at: Enclosure, slot: int, slopes: Slopes) -> None:
        rises = self.function.slopes([at.values[arg] for arg in self.args])
        total = ZERO
        for arg, rise in zip(self.args, rises, strict=True):
            if arg in slopes.of:
                total = total + rise * slopes.of[arg]
        slopes.of[slot] = total


def _blend_hazard(blend: Blend, values: Sequence[Interval], hazards: Sequence[int]) -> int:
    """No value where a part that may be there has none, or one below what the blend takes."""
    found = 0
    for at in range(blend.lead, len(values), 3):
        weight, here, value = values[at : at + 3]
        if here.high <= 0:
            continue
        bad = hazards[at + 2] or value.low < blend.least_value
        drops_to_nothing = weight.low <= 0 and value.low <= 0 == blend.least_value  # 0 times ln 0
        found |= UNDEFINED if bad or drops_to_nothing else 0
    return found


@dataclass(frozen=True, slots=True)
class Choice:
    """One of two branches; `meets` says that the branches have been shown to agree wherever the condition turns."""

    args: tuple[int, int, int]
    meets: set[int]

    def run(self, at: Enclosure, slot: int) -> None:
        condition, a, b = self.args
        truth = at.truths[condition]
        if truth is not None:
            taken = a if truth else b
            settle(at, slot, at.values[taken], at.hazards[taken])
        else:
            settle(at, slot, at.values[a].hull(at.values[b]), at.hazards[a] | at.hazards[b])

    def pass_on(self, at: Enclosure, slot: int, slopes: Slopes) -> None:
        condition, a, b = self.args
        truth = at.truths[condition]
        if truth is not None:
            slopes.of[slot] = slopes.at(a if truth else b)
            return
        gap = ZERO if slot in self.meets else at.values[a] - at.values[b]
        slopes.of[slot] = across(slopes.at(a), slopes.at(b), gap, slopes.turns.get(condition, (False, False)))


def across(on: Interval, off: Interval, gap: Interval, turns: tuple[bool, bool]) -> Interval:
    """The slope of a choice whose condition is open: that of either branch, and of the jumps between them.

    From off to on, a(x2) - b(x1) is the change of a plus (a - b)(x1), or the change of b plus (a - b)(x2): where
    a - b >= 0 it is at least either change. `gap` holds a - b; `turns` says whether the condition may turn on, and off,
    as the reading rises.
    """
    slope = on.hull(off)
    least, most = max(on.low, off.low), min(on.high, off.high)
    for may_turn, jump in zip(turns, (gap, -gap), strict=True):
        if may_turn and not jump.is_zero:
            low = least if jump.low >= 0 else -INFINITY
            high = most if jump.high <= 0 else INFINITY
            slope = slope.hull(Interval(low, high))
    return slope


@dataclass(frozen=True, slots=True)
class Held:
    """A stepped limit: the value held at most (sense 1) or at least (-1) at a bound, where the condition holds."""

    args: tuple[int, int, int]
    sense: int

    def bounded(self, at: Enclosure) -> Interval:
        """The value where the condition holds."""
        value, bound = at.values[self.args[1]], at.values[self.args[2]]
        return value.lesser_of(bound) if self.sense == 1 else value.greater_of(bound)

    def gap(self, at: Enclosure) -> Interval:
        """What the limit adds where it holds: 0 or less for `at_most`, 0 or more for `at_least`."""
        over = at.values[self.args[2]] - at.values[self.args[1]]
        return over.lesser_of(ZERO) if self.sense == 1 else over.greater_of(ZERO)

    def run(self, at: Enclosure, slot: int) -> None:
        truth = at.truths[self.args[0]]
        value = at.values[self.args[1]]
        if truth is not False:
            value = self.bounded(at) if truth else self.bounded(at).hull(value)
        settle(at, slot, value, at.hazards[self.args[1]] | at.hazards[self.args[2]])

    def pass_on(self, at: Enclosure, slot: int, slopes: Slopes) -> None:
        condition, value, bound = self.args
        truth, gap = at.truths[condition], self.gap(at)
        off = slopes.at(value)
        unit = ONE if gap.is_zero else Interval(0.0, 1.0)
        on = unit * off + (ZERO if gap.is_zero else unit * slopes.at(bound))
        if truth is not None:
            slopes.of[slot] = on if truth else off
        else:
            slopes.of[slot] = across(on, off, gap, slopes.turns.get(condition, (False, False)))


def whole(expression: object) -> int:
    """A sympy integer as a plain one."""
    assert isinstance(expression, Integer)  # only asked of a limit's sense
    return int(expression)
