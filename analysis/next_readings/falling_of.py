"""What of each score's noise falls with further readings: the one place where plans take the parts of the noise from."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from analysis.next_readings.falling import Falling
from scoring.catalogue.repeats import summarise
from scoring.form import Measure
from scoring.measurement_error.components import REPEATABILITY
from scoring.measurement_error.units import repeat_spread
from scoring.program.program import Program
from scoring.table.evaluate import kernel_for
from scoring.table.table import ScoreTable
from scoring.table.uncertainty import monte_carlo, uncertainty

Array = NDArray[np.float64]
#: Draws where a jump or a corner leaves no first order.
DRAWS = 2048


def falling_of(
    table: ScoreTable,
    program: Program,
    name: str,
    products: NDArray[np.intp],
    variances: Array,
    most: int,
    *,
    seed: int,
) -> Falling:
    """How the variance of one score falls with up to `most` further readings of each measure and product.

    Parameters
    ----------
    products : indices in the catalogue of those that are published
    variances : of their scores' errors, shape (products,)

    Notes
    -----
    A score's variance is shared out among the measures as (c_i u_i)^2, to first order; where a jump or a corner leaves no c_i,
    as the variances of draws in which that measure alone is noisy. Of that, the share that is repeatability's falls with the
    square of what the measure's rule makes of so many repeats; what a session, a specimen or a method shares stays. A further
    reading is taken for one in the present session, of a specimen that is there.
    """
    moving = [measure for measure, u in table.uncertainty.items() if np.nan_to_num(u).any()]
    squares = _squares(table, program, name, moving, seed)[:, products]
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


def _squares(table: ScoreTable, program: Program, name: str, moving: Sequence[str], seed: int) -> Array:
    """What each measure brings to the variance of one score, shape (measures, catalogue)."""
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


def _kept(measure: Measure, counts: NDArray[np.int64], most: int) -> Array:
    """What is left of the variance of repeats after 0, 1, ..., `most` further readings, shape (catalogue, most + 1).

    It never rises: where two middle readings of four are no better than the middle one of three, four are as good as three.
    """
    further = np.arange(most + 1)[:, np.newaxis]
    spread = repeat_spread(measure, (counts + further).ravel()).reshape(most + 1, len(counts))
    ratio = np.divide(spread, spread[0], out=np.ones_like(spread), where=counts > 0)
    return np.asarray(np.minimum.accumulate(ratio**2, axis=0).T)
