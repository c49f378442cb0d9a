"""The least change of one number that turns an order round: looked for on both sides of what is stated."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from analysis.flips.contest import TIE, Contest
from scoring.form import Number
from scoring.numbers.array_types import Array, Flags

GRID = 2001
#: A proof stops this share of the way short of what was found: what it proves is that nothing smaller than 99.5 % of it will do.
SHORT = 0.005
PROVED, SEARCHED, IMPOSSIBLE, UNDECIDED = "proved", "searched", "impossible", "not decided"


@dataclass(frozen=True, slots=True)
class Crossing:
    """Where an order turns round along one way: the nearest value found (None: none), the end beyond it, the verdict."""

    value: float | None
    end: float
    verdict: str


def cross(
    contest: Contest,
    number: Number,
    ends: tuple[float, float],
    never: Callable[[float, float], bool],
    *,
    in_ratios: bool = False,
) -> Crossing:
    """The nearest value of one number that turns the order round.

    Parameters
    ----------
    ends : of the room that it may move in
    never : whether it is proved that the order turns nowhere from one figure to another
    in_ratios : whether the nearest is so by the ratio to what is stated, and not by the difference

    Notes
    -----
    Both sides are looked at on a grid of 2 001 points, and the first piece at whose end the order has turned is cut down
    by grids within it. Where intervals prove that nothing nearer turns it, the verdict is `proved`; else `searched`.
    """

    def reaches(values: Array) -> Flags:
        return contest.margins({number.address: values}) >= TIE

    return crossing(reaches, number.value, ends, never, in_ratios=in_ratios)


def crossing(
    reaches: Callable[[Array], Flags],
    stated: float,
    ends: tuple[float, float],
    sure: Callable[[float, float], bool],
    *,
    in_ratios: bool = False,
) -> Crossing:
    """The nearest value on either side of the stated one that reaches a tie, and whether nothing nearer does.

    Parameters
    ----------
    sure : whether it is proved that no value from one figure to another reaches it
    """
    found = [(first_reached(reaches, stated, end), end) for end in ends if end != stated]
    reached = [(value, end) for value, end in found if value is not None]
    if not reached:
        return Crossing(None, stated, IMPOSSIBLE if sure(*_within(stated, ends)) else UNDECIDED)
    value, end = min(reached, key=lambda pair: _away(pair[0], stated, in_ratios))
    reach = (1 - SHORT) * _away(value, stated, in_ratios)
    near = (stated * math.exp(-reach), stated * math.exp(reach)) if in_ratios else (stated - reach, stated + reach)
    low, high = max(near[0], min(ends)), min(near[1], max(ends))
    return Crossing(value, end, PROVED if sure(min(low, stated), max(high, stated)) else SEARCHED)


def _away(value: float, stated: float, in_ratios: bool) -> float:
    """How far a value lies from the stated one: by the logarithm of their ratio, or by their difference."""
    return abs(math.log(value / stated)) if in_ratios else abs(value - stated)


def _within(stated: float, ends: tuple[float, float]) -> tuple[float, float]:
    return min(stated, *ends), max(stated, *ends)


def first_reached(reaches: Callable[[Array], Flags], stated: float, end: float) -> float | None:
    """The point nearest to the stated one, on the way to an end, at which it is reached; None where none is found."""
    start, stop, found = stated, end, False
    for _ in range(4):
        grid = np.linspace(start, stop, GRID)
        there = np.flatnonzero(reaches(grid))
        if not len(there):
            return stop if found else None
        found, first = True, int(there[0])
        if first == 0:
            return float(grid[0])
        start, stop = float(grid[first - 1]), float(grid[first])
    return stop
