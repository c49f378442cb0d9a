"""Nodes of a tape that take one of two branches: a choice and a stepped limit, with the jumps between their branches."""

from __future__ import annotations

from dataclasses import dataclass

from sympy import Integer

from scoring.checks.conditions import RunsAgain, under
from scoring.checks.nodes import Enclosure, Slopes, settle
from scoring.numbers.intervals import EVERYWHERE, INFINITY, ONE, ZERO, Interval


@dataclass(frozen=True, slots=True)
class Choice:
    """One of two branches; `meets` says that the branches have been shown to agree wherever the condition turns."""

    args: tuple[int, int, int]
    meets: set[int]
    tape: RunsAgain

    def run(self, at: Enclosure, slot: int) -> None:
        condition, a, b = self.args
        truth = at.truths[condition]
        if truth is not None:
            taken = a if truth else b
            settle(at, slot, at.values[taken], at.hazards[taken] | at.hazards[condition])
        else:
            branches = [(at.values[branch], at.hazards[branch]) for branch in (a, b)]
            for index, branch in enumerate((a, b)):
                if at.hazards[branch]:
                    branches[index] = under(self.tape, at, branch, condition, holds=index == 0)
            (on, on_hazard), (off, off_hazard) = branches
            settle(at, slot, on.hull(off), on_hazard | off_hazard | at.hazards[condition])

    def pass_on(self, at: Enclosure, slot: int, slopes: Slopes) -> None:
        condition, a, b = self.args
        truth = at.truths[condition]
        if truth is not None:
            slopes.of[slot] = slopes.at(a if truth else b)
            return
        gap = ZERO if slot in self.meets else at.values[a] - at.values[b]
        slopes.of[slot] = across(slopes.at(a), slopes.at(b), gap, slopes.turns.get(condition, (False, False)))


@dataclass(frozen=True, slots=True)
class GivenUnless:
    """A value where a condition does not hold; where it does there is nothing, of which nothing is claimed.

    Where `at.given`, a box holds what is given alone, and `blank` if that is nothing. Otherwise the value goes on where it is
    not given, held to the scale: what is claimed of two readings with nothing between them goes by that, and nothing jumps.
    """

    args: tuple[int, int, int]
    tape: RunsAgain

    def run(self, at: Enclosure, slot: int) -> None:
        condition, value, blank = self.args
        truth = at.truths[condition]
        if truth is False:
            settle(at, slot, at.values[value], at.hazards[value] | at.hazards[condition])
            return
        given = (at.values[blank], 0) if truth else under(self.tape, at, value, condition, holds=False)
        whole = EVERYWHERE if at.hazards[value] else at.values[value]
        settle(at, slot, given[0] if at.given else whole, given[1] | at.hazards[condition])

    def pass_on(self, at: Enclosure, slot: int, slopes: Slopes) -> None:
        condition, value, _ = self.args
        slope = slopes.at(value)
        if at.truths[condition] is not False:
            slope = EVERYWHERE if at.hazards[value] else slope.hull(ZERO)
        slopes.of[slot] = slope


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
        hazard = at.hazards[self.args[0]] | at.hazards[self.args[1]] | at.hazards[self.args[2]]
        settle(at, slot, value, hazard)

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
