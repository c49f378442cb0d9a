"""A contest of products under one rating or score, and the least change of one number that turns its order round."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal

import numpy as np
from numpy.typing import NDArray

from analysis.trials.quantities import as_ranked
from scoring.catalogue import Catalogue
from scoring.form import Form, Number, Output
from scoring.program.kernel import Kernel
from scoring.program.program import Program
from scoring.table.evaluate import Inputs, evaluate, kernel_for

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
GRID = 2001
#: A tie is a difference of at least this: what lies below 0 is the dust of binary arithmetic.
TIE = -1e-9
#: A proof stops this share of the way short of what was found: what it proves is that nothing smaller than 99.5 % of it will do.
SHORT = 0.005
PROVED, SEARCHED, IMPOSSIBLE, UNDECIDED = "proved", "searched", "impossible", "not decided"


@dataclass(frozen=True, slots=True, eq=False)
class Contest:
    """One product that is to be at least equal to others, under one rating or score.

    subject: its column in `inputs`; rivals: the columns it must be at least equal to, of those that have a value;
    published: which columns have one now.
    """

    program: Program
    catalogue: Catalogue
    inputs: Inputs
    output: Output
    subject: int
    rivals: tuple[int, ...]
    published: Flags

    @property
    def form(self) -> Form:
        return self.program.form

    @property
    def sign(self) -> float:
        """1 where the highest score is best, -1 where the lowest is."""
        return 1.0 if self.form.ranks.best.value == "highest" else -1.0

    def values(
        self,
        numbers: Mapping[str, Array] | None = None,
        readings: Mapping[str, Array] | None = None,
        *,
        gated: bool = True,
    ) -> Array:
        """Values as they are ranked, shape (n_draws, n_products); NaN where a product has none (a
        division by 0 gives none), or a gate withholds it.

        numbers : address -> values, shape (n_draws,); readings : measure -> values, shape (n_draws, n_products)
        """
        numbers = numbers or {}
        inputs = replace(self.inputs, values={**self.inputs.values, **(readings or {})})
        varying = tuple(address for address in numbers if address in self.program.parameters)
        found = evaluate(self._kernel(varying), inputs, numbers).values
        values = np.where(np.isfinite(found[self.output.name]), found[self.output.name], np.nan)
        if gated:
            for gate in self._gates():
                values = np.where(found[gate] > 0.5, np.nan, values)
        return as_ranked(self.form, self.output, values)

    def margins(self, numbers: Mapping[str, Array] | None = None, readings: Mapping[str, Array] | None = None) -> Array:
        """How far the subject is ahead of the best of its rivals, in points, shape (n_draws,); -inf where one of those
        that are published now would not be."""
        return margin_of(self.values(numbers, readings), self)

    def _gates(self) -> list[str]:
        gates = (gate for gate in self.form.gates if gate.withhold)
        return [f"gate {gate.name}" for gate in gates if not gate.scores or self.output.name in gate.scores]

    def _kernel(self, varying: tuple[str, ...]) -> Kernel:
        return kernel_for(self.program, self.inputs, [self.output.name, *self._gates()], varying)


def margin_of(values: Array, contest: Contest) -> Array:
    """The subject's lead over the best of its rivals, row by row: shape (n_draws,), from values (n_draws, n_products)."""
    rivals = list(contest.rivals)
    leads = contest.sign * (values[:, [contest.subject]] - values[:, rivals])
    gone = np.where(contest.published[rivals], -np.inf, np.inf)  # one that has no value now may go on having none
    leads = np.where(np.isnan(values[:, rivals]), gone, leads)
    leads = np.where(np.isnan(values[:, [contest.subject]]), -np.inf, leads)
    return np.asarray(leads.min(axis=1, initial=np.inf))


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


def written_as(number: Number, value: float) -> str:
    """A value as it is set at a number's address: as a percentage where it is written as one."""
    exact = Decimal(repr(float(value)))
    if number.text.strip().endswith("%"):
        return format(exact * 100, "f") + "%"
    return format(exact, "f")
