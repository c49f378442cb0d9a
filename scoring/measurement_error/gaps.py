"""What was not read of each measure, and between what bounds it lies: missing readings, and those below a reporting limit."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scoring.catalogue import Catalogue, Readings, State
from scoring.catalogue.repeats import summarise_all, summary_of
from scoring.catalogue.reporting_limit import under_limit
from scoring.form import Form, Measure
from scoring.numbers.array_types import Array, Flags, Indices

#: What a repeat below the limit counts as at the least where no plausible range says so; what a summary makes of it is -inf.
DEEP = -1e15


@dataclass(frozen=True, slots=True, eq=False)
class Gaps:
    """One measure over the products.

    read, censored: which products have a reading, or lie below a limit with all their repeats; values: the readings, shape
    (products,); missing, below: what is to be drawn; low, high: bounds of each reading that is not known, shape (products,)
    """

    measure: Measure
    values: Array
    read: Flags
    censored: Flags
    missing: Indices
    below: Indices
    low: Array
    high: Array

    @property
    def plausible_low(self) -> float:
        return plausible_ends(self.measure)[0]

    @property
    def wanted(self) -> bool:
        """Whether anything is to be drawn of it."""
        return bool(len(self.missing) or len(self.below))

    @property
    def bounded(self) -> bool:
        """Whether all that is to be drawn lies between bounds."""
        at = np.concatenate([self.missing, self.below])
        return bool(np.isfinite(self.low[at]).all() and np.isfinite(self.high[at]).all())

    @property
    def different(self) -> int:
        return len(np.unique(self.values[self.read]))

    @property
    def n(self) -> int:
        """How many products say something of how it is distributed."""
        return int(self.read.sum() + self.censored.sum())


def gaps_of(form: Form, catalogue: Catalogue) -> Iterator[Gaps]:
    """Every measure of the form; of one that the catalogue lacks, every reading is missing."""
    n_products = len(catalogue.products)
    for name, summary in summarise_all(form, catalogue).items():
        measure = form.measure(name)
        low, high = (np.full(n_products, end) for end in plausible_ends(measure))
        censored, below = np.zeros(n_products, bool), np.zeros(n_products, bool)
        if name in catalogue.readings:
            censored, below, deepest, limit = _below(measure, catalogue.readings[name], summary.states)
            low = np.where(below, np.maximum(deepest, low), low)
            high = np.where(censored | below, limit, high)
        unread = summary.states == State.MISSING
        yield Gaps(
            measure,
            summary.values,
            np.asarray((summary.states <= State.BELOW) & ~censored & ~below),
            censored,
            np.flatnonzero(unread),
            np.flatnonzero(below & ~unread),
            low,
            high,
        )


def _below(measure: Measure, readings: Readings, states: NDArray[np.uint8]) -> tuple[Flags, Flags, Array, Array]:
    """Which products lie below the limit with all their repeats, and which have any there that counts.

    Then the least and the most that the summary of their repeats can be. All of shape (n_products,), as `states` is.
    """
    stated = readings.marks == State.VALUE
    under, limits = under_limit(measure, readings.written, readings.marks)
    held = np.where(stated, readings.written, np.nan)
    most = summary_of(measure, np.where(under, limits, held))
    low = plausible_ends(measure)[0]
    deepest = summary_of(measure, np.where(under, max(low, DEEP), held))
    deepest = np.where(deepest < DEEP / 1e6, -np.inf, deepest)
    censored = under.any(axis=1) & ~(stated & ~under).any(axis=1) & np.isfinite(most)
    below = (states == State.BELOW) & np.isfinite(most) & (deepest < most)
    return censored, below, deepest, most


def plausible_ends(measure: Measure) -> tuple[float, float]:
    """The ends of the plausible range, -inf and inf where none is declared."""
    plausible = measure.plausible
    return (plausible[0].value, plausible[1].value) if plausible else (-math.inf, math.inf)
