"""By how much the variance of a score falls when readings are repeated, and how readings of one product are best shared out.

`falling_of` is the one place where plans take the parts of the noise from.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.trials.quantities import Quantities
from scoring.catalogue.repeats import summarise
from scoring.form import Measure
from scoring.measurement_error.components import REPEATABILITY
from scoring.measurement_error.units import repeat_spread
from scoring.numbers.array_types import Array, Integers
from scoring.table.evaluate import kernel_for
from scoring.table.table import ScoreTable
from scoring.table.uncertainty import monte_carlo, uncertainty

#: What one reading helps more than the one before it, as a share of the largest part, is dust below this.
DUST = 1e-12
#: Draws where a jump or a corner leaves no first order.
DRAWS = 2048


@dataclass(frozen=True, slots=True, eq=False)
class Falling:
    """The part of each score's variance that further readings of each measure take away.

    measures : their names; readings : there are now, shape (measures, products)
    parts : the variance of each score that comes of the repeats of each measure, (c_i u_i)^2, shape (measures, products);
        0 where a product has no reading of it
    kept : what is left of that part after 0, 1, ..., n further readings, from 1 down, shape (measures, products, n + 1)
    """

    measures: tuple[str, ...]
    readings: Integers
    parts: Array
    kept: Array

    @property
    def most(self) -> int:
        """So many further readings are foreseen of one measure and product."""
        return int(self.kept.shape[2]) - 1

    def fall(self, further: Integers) -> Array:
        """By how much the variance of each score falls, shape (products,), for further readings of shape (measures, products)."""
        left = np.take_along_axis(self.kept, further[:, :, np.newaxis], axis=2)[:, :, 0]
        return np.asarray((self.parts * (1 - left)).sum(axis=0))

    def shared_out(self, product: int, total: int) -> Shares:
        """The best use of 0 to `total` further readings of one product.

        Notes
        -----
        Best is what takes most of the variance away. Where each further reading of a measure helps less than the one before it,
        the readings that help most are taken one by one; else (a median of two and of three) dynamic programming over the
        measures looks at every share.
        """
        gains = self.parts[:, product, np.newaxis] * (1 - self.kept[:, product, : total + 1])
        steps = np.diff(gains, axis=1)
        if (np.diff(steps, axis=1) <= DUST * self.parts[:, product].max(initial=0.0)).all():
            return _one_by_one(steps)
        return _by_every_share(gains)


@dataclass(frozen=True, slots=True, eq=False)
class Shares:
    """falls : of the variance of a product's score by 0, 1, ..., total readings, shape (total + 1,);
    counts : how many of them go to each measure, shape (measures, total + 1)."""

    falls: Array
    counts: Integers

    def readings(self, total: int) -> Integers:
        """How many of `total` readings go to each measure, shape (measures,)."""
        return np.asarray(self.counts[:, total])


def _one_by_one(steps: Array) -> Shares:
    """steps : what each further reading of a measure takes away, never more than the one before it, shape (measures, total)."""
    n_measures, total = steps.shape
    flat = steps.ravel()
    order = np.argsort(-flat, kind="stable")[:total]
    taken = (order // max(total, 1))[np.newaxis] == np.arange(n_measures)[:, np.newaxis]
    counts = np.hstack([np.zeros((n_measures, 1), np.int64), np.cumsum(taken, axis=1)])
    return Shares(np.concatenate([[0.0], np.cumsum(flat[order])]), counts)


def _by_every_share(gains: Array) -> Shares:
    """gains : what 0, 1, ..., total readings of a measure take away, shape (measures, total + 1)."""
    n = np.arange(gains.shape[1])
    best, counts = np.zeros(len(n)), np.zeros(gains.shape, np.int64)
    for row, gain in enumerate(gains):
        # [n, r]: r readings of this measure, and n - r of those before it
        both = np.where(n <= n[:, np.newaxis], gain + best[np.maximum(n[:, np.newaxis] - n, 0)], -np.inf)
        chosen = np.argmax(both, axis=1)
        best = np.max(both, axis=1)
        counts = counts[:, n - chosen]
        counts[row] = chosen
    return Shares(best, counts)


def falling_of(table: ScoreTable, asked: Quantities, variances: Array, most: int, *, seed: int) -> Falling:
    """How the variance of one score falls with up to `most` further readings of each measure and product.

    Parameters
    ----------
    asked : the score, and its published products
    variances : of their scores' errors, shape (products,)

    Notes
    -----
    A score's variance is shared out among the measures as (c_i u_i)^2, to first order; where a jump or a corner leaves no c_i,
    as the variances of draws in which that measure alone is noisy. Of that, the share that is repeatability's falls with the
    square of what the measure's rule makes of so many repeats; what a session, a specimen or a method shares stays. A further
    reading is taken for one in the present session, of a specimen that is there.
    """
    products = asked.products
    moving = [measure for measure, u in table.uncertainty.items() if np.nan_to_num(u).any()]
    squares = _squares(table, asked.output.name, moving, seed)[:, products]
    total = squares.sum(axis=0)
    shares = np.divide(squares, total, out=np.zeros_like(squares), where=total > 0)
    measures = table.form.measures_by_name
    summaries = {one: summarise(measures[one], table.catalogue.readings[one]) for one in moving}
    kept = [_kept(measures[one], summaries[one].counts, most)[products] for one in moving]
    repeated = np.array([_share_of_repeats(table, one)[products] for one in moving]).reshape(len(moving), len(products))
    return Falling(
        measures=tuple(moving),
        readings=np.array([summaries[one].counts[products] for one in moving]).reshape(len(moving), len(products)),
        parts=shares * variances * repeated,
        kept=np.array(kept).reshape(len(moving), len(products), most + 1),
    )


def _squares(table: ScoreTable, name: str, moving: Sequence[str], seed: int) -> Array:
    """What each measure brings to the variance of one score, shape (measures, catalogue)."""
    program = table.program
    kernel = kernel_for(program, table.inputs, tuple(program.outputs))
    alone = [table.errors.of_measures([one]) for one in moving]
    first = [uncertainty(program, table.inputs, errors, kernel)[name] ** 2 for errors in alone]
    squares = np.array(first).reshape(len(moving), len(table.catalogue.products))
    there = ~np.isnan(table.column(name).value)
    crooked = there & (np.isnan(squares).any(axis=0) | (np.nan_to_num(squares).sum(axis=0) == 0))
    if crooked.any():
        rng = np.random.default_rng([seed, 12])
        drawn = np.array([monte_carlo(program, table.inputs, errors, DRAWS, rng)[name].sd ** 2 for errors in alone])
        squares = np.where(crooked, drawn, squares)
    return np.asarray(np.nan_to_num(squares))


def _share_of_repeats(table: ScoreTable, measure: str) -> Array:
    """The share of the variance of each product's value that is the scatter within a run, shape (catalogue,)."""
    errors = table.errors.measures[measure]
    if all(one.name != REPEATABILITY for one in errors.components):
        return np.zeros(len(table.catalogue.products))
    within, whole = errors.component_u(errors.component(REPEATABILITY)) ** 2, errors.u**2
    return np.divide(within, whole, out=np.zeros_like(whole), where=whole > 0)


def _kept(measure: Measure, counts: Integers, most: int) -> Array:
    """What is left of the variance of repeats after 0, 1, ..., `most` further readings, shape (catalogue, most + 1).

    It never rises: where two middle readings of four are no better than the middle one of three, four are as good as three.
    """
    further = np.arange(most + 1)[:, np.newaxis]
    spread = repeat_spread(measure, (counts + further).ravel()).reshape(most + 1, len(counts))
    ratio = np.divide(spread, spread[0], out=np.ones_like(spread), where=counts > 0)
    return np.asarray(np.minimum.accumulate(ratio**2, axis=0).T)
