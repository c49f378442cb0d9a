"""Nodes of a tape: what one operation encloses over a box, and the difference quotients that it passes on.

For a change of one reading from x1 to x2, all else held, a node's slope holds every (f(x2) - f(x1)) / (x2 - x1). A node
also says when it may have no value (`UNDEFINED`) or an infinite one (`INFINITE`) somewhere in the box: numpy goes on
with NaN and infinities there, and so no proof may pass over them. A condition has no value where a side of it has none.
Reference: Krawczyk and Neumaier, Interval slopes for rational functions and associated centered forms, SIAM J. Numer.
Anal. 22 (1985) 604-616 (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Protocol

from scoring.blends import Blend
from scoring.blends.intervals import sum_of
from scoring.numbers.intervals import EVERYWHERE, INFINITY, ONE, ZERO, Interval, hull_of
from scoring.symbolic.branches import Present
from scoring.symbolic.functions import OwnFunction
from scoring.symbolic.rounded import Rounded

UNDEFINED, INFINITE = 1, 2
#: So many parts of a mean that keep still are worth gathering.
FEWEST_GATHERED = 6
#: What a share of a greatest is at most: members that agree in 13 digits count as alike, and the lesser is then the greatest.
WHOLE = 1 + 1e-12
#: How far from an edge, as a share of itself, a number may lie that a rounding takes to be on it.
EDGE = Interval(-1e-12, 1e-12)


@dataclass(slots=True, eq=False)
class Enclosure:
    """What every node of a tape holds over one box: intervals, hazards, and the truth of conditions (None: open).

    beside: whether the box is one place, to be held from both its sides: a rounding whose number may be at an edge then
    holds what it gives on either side of it, for a float stands for the decimal of 13 digits nearest to it. given: whether
    values are held only where they are given, and not where an expression says `none`. among: whether the product that is
    worked out is one of its own catalogue, as in every table, so that none of its values lies outside its own population.
    """

    values: list[Interval]
    hazards: list[int]
    truths: list[bool | None]
    beside: bool = False
    given: bool = False
    among: bool = False


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

    def pass_on(self, at: Enclosure, slot: int, slopes: Slopes) -> None:  # noqa: ARG002
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
class Quotient:
    """a / b; no value where b is 0."""

    args: tuple[int, int]

    def run(self, at: Enclosure, slot: int) -> None:
        a, b = at.values[self.args[0]], at.values[self.args[1]]
        hazard, danger = at.hazards[self.args[0]], at.hazards[self.args[1]]
        if b.contains(0):
            hazard |= UNDEFINED
        if hazard & danger & INFINITE:
            hazard |= UNDEFINED  # infinity over infinity
        settle(at, slot, a / b, hazard | (danger & UNDEFINED))

    def pass_on(self, at: Enclosure, slot: int, slopes: Slopes) -> None:
        a, b = self.args
        value, below = at.values[slot], at.values[b]
        if b in slopes.of and below.low < 0 < below.high:
            slopes.of[slot] = EVERYWHERE
        else:
            slopes.of[slot] = (slopes.at(a) - (value * slopes.of[b] if b in slopes.of else ZERO)) / below


@dataclass(frozen=True, slots=True)
class Share(Quotient):
    """A quotient in which a member of a population stands over its greatest (or its least over a member): 1 at most.

    factor: the slot of what stands above the line and is never greater than what is below it; others: of the factors beside it;
    from_zero: whether it is never below 0 (what a member lies above the least). Only values know of it, of a product among
    its own population: slopes are of a reading that moves while the population is held.
    """

    factor: int
    others: tuple[int, ...]
    from_zero: bool

    def run(self, at: Enclosure, slot: int) -> None:
        Quotient.run(self, at, slot)
        below = at.values[self.args[1]]
        if not at.among or below.low <= 0:
            return
        held = at.values[self.factor] / below
        least = 0.0 if self.from_zero else -INFINITY
        # where a box has no such product at all, whatever is said of it holds
        share = Interval(min(max(held.low, least), WHOLE), min(max(held.high, least), WHOLE))
        for other in self.others:
            share = share * at.values[other]
        at.values[slot] = share


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
            hazard |= UNDEFINED
        if base.contains(0) and exponent.contains(0) and not exponent.is_point:
            hazard |= UNDEFINED  # 0 ** 0 is 1, and 0 ** b is 0 beside it: a jump that no break tells of
        settle(at, slot, ONE / base if exponent.low == -1 == exponent.high else base.raised(exponent), hazard)

    def pass_on(self, at: Enclosure, slot: int, slopes: Slopes) -> None:
        base, exponent = at.values[self.args[0]], at.values[self.args[1]]
        if self.args[1] in slopes.of:
            if base.low <= 0:
                slopes.of[slot] = EVERYWHERE
                return
            inner = slopes.of[self.args[1]] * base.log() + exponent * (slopes.at(self.args[0]) / base)
            slopes.of[slot] = base.raised(exponent) * inner
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
    """ln(a): without a value below 0, and at 0 infinite, or (`strict`, as an expression has it) without a value too."""

    args: tuple[int]
    strict: bool = False

    def run(self, at: Enclosure, slot: int) -> None:
        inner, hazard = at.values[self.args[0]], at.hazards[self.args[0]]
        if inner.low < 0:
            hazard |= UNDEFINED
        if inner.contains(0):
            hazard |= UNDEFINED if self.strict else INFINITE
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
        sign = Interval(-1.0, 1.0)
        if inner.low >= 0:
            sign = ONE
        elif inner.high <= 0:
            sign = -ONE
        slopes.of[slot] = sign * slopes.of[self.args[0]]


@dataclass(frozen=True, slots=True)
class Own:
    """A function of ours, with its own rigorous face."""

    function: OwnFunction
    args: tuple[int, ...]

    def run(self, at: Enclosure, slot: int) -> None:
        values = [at.values[arg] for arg in self.args]
        if at.beside and isinstance(self.function, Rounded):
            values[0] = values[0] + values[0].absolute() * EDGE
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
        args = self.args
        values = [at.values[arg] for arg in args]
        if isinstance(self.function, Blend) and self.function.additive:
            args, values = _gathered(args, values, slopes)
        total = ZERO
        for arg, rise in zip(args, self.function.slopes(values), strict=True):
            if arg in slopes.of:
                total = total + rise * slopes.of[arg]
        slopes.of[slot] = total


def _gathered(args: tuple[int, ...], values: list[Interval], slopes: Slopes) -> tuple[tuple[int, ...], list[Interval]]:
    """A sum of weighted parts with those that keep still gathered: those that are surely there, that may be, and that are not.

    The share of a part that moves goes by the sums of the others' weights alone, so that nothing is lost.
    """
    moved = [at for at in range(0, len(args), 3) if any(arg in slopes.of for arg in args[at : at + 3])]
    still = [at for at in range(0, len(args), 3) if at not in set(moved)]
    if len(still) < FEWEST_GATHERED:
        return args, values
    kept = [slot for at in moved for slot in args[at : at + 3]]
    left = [value for at in moved for value in values[at : at + 3]]
    by_presence: dict[tuple[bool, bool], list[int]] = {}
    for at in still:
        by_presence.setdefault((values[at + 1].low > 0, values[at + 1].high > 0), []).append(at)
    for alike in by_presence.values():
        kept += args[alike[0] : alike[0] + 3]
        left += [sum_of([values[at] for at in alike]), values[alike[0] + 1], hull_of([values[at + 2] for at in alike])]
    return tuple(kept), left


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
