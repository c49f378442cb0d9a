"""What of each score's noise falls with further readings: the one place where plans take the parts of the noise from."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.next_readings.falling import Falling
from scoring.catalogue import State
from scoring.evaluate import kernel_for
from scoring.form import Measure
from scoring.program import Program
from scoring.repeats import Summary, standard_uncertainty, summarise
from scoring.table import ScoreTable
from scoring.uncertainty import monte_carlo, uncertainty

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
    as the variances of draws in which that measure alone is noisy. All of it is the scatter of repeats, and falls as the square
    of the standard uncertainty of a value of so many repeats does.
    """
    moving = {measure: u for measure, u in table.uncertainty.items() if np.nan_to_num(u).any()}
    squares = _squares(table, program, name, moving, seed)[:, products]
    total = squares.sum(axis=0)
    shares = np.divide(squares, total, out=np.zeros_like(squares), where=total > 0)
    measures = {measure.name: measure for measure in table.form.measures}
    summaries = {one: summarise(measures[one], table.catalogue.readings[one]) for one in moving}
    kept = [_kept(table, measures[one], summaries[one], most)[products] for one in moving]
    return Falling(
        measures=tuple(moving),
        readings=np.array([summaries[one].counts[products] for one in moving]).reshape(len(moving), len(products)),
        parts=shares * variances,
        kept=np.array(kept).reshape(len(moving), len(products), most + 1),
    )


def _squares(table: ScoreTable, program: Program, name: str, moving: dict[str, Array], seed: int) -> Array:
    """What each measure brings to the variance of one score, shape (measures, catalogue)."""
    kernel = kernel_for(program, table.inputs, tuple(program.outputs))
    first = {one: uncertainty(program, table.inputs, {one: u}, kernel)[name] ** 2 for one, u in moving.items()}
    squares = np.array(list(first.values())).reshape(len(moving), len(table.catalogue.products))
    there = ~np.isnan(table.column(name).value)
    crooked = there & (np.isnan(squares).any(axis=0) | (np.nan_to_num(squares).sum(axis=0) == 0))
    if crooked.any():
        rng = np.random.default_rng([seed, 12])
        drawn = np.array(
            [monte_carlo(program, table.inputs, {one: u}, DRAWS, rng)[name].sd ** 2 for one, u in moving.items()]
        )
        squares = np.where(crooked, drawn, squares)
    return np.asarray(np.nan_to_num(squares))


def _kept(table: ScoreTable, measure: Measure, summary: Summary, most: int) -> Array:
    """What is left of a value's variance after 0, 1, ..., `most` further readings, shape (catalogue, most + 1).

    It never rises: where the uncertainty of a median of three is put higher than that of two, three are as good as two.
    """
    n = len(summary.values)
    further = np.repeat(np.arange(most + 1), n)
    tiled = Summary(
        values=np.tile(summary.values, most + 1),
        states=np.tile(summary.states, most + 1),
        counts=np.tile(summary.counts, most + 1) + further,
        reasons={},
    )
    u = standard_uncertainty(measure, table.catalogue.readings[measure.name], tiled).reshape(most + 1, n)
    there = (summary.states == State.VALUE) | (summary.states == State.BELOW)
    ratio = np.divide(u, u[0], out=np.ones_like(u), where=there & (u[0] > 0))
    return np.asarray(np.minimum.accumulate(ratio**2, axis=0).T)
