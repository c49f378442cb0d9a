"""From the scatter of readings to the uncertainty of ratings and scores: first order, and by Monte Carlo.

References: [1] JCGM 100:2008, Evaluation of measurement data - Guide to the expression of uncertainty in measurement,
5.1.2, equation (10) (from memory). [2] JCGM 101:2008, Supplement 1, Propagation of distributions using a Monte Carlo
method, 7.7.2 (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from scoring.evaluate import Inputs, evaluate, kernel_for
from scoring.kernel import Kernel
from scoring.program import Program

Array = NDArray[np.float64]
#: The step of a central difference, as a share of the reading's own uncertainty.
STEP = 1e-4
#: Rounding on the way moves a result by no more than this share of it.
DUST = 1e-12
#: Two results differ where they lie further apart than this many standard uncertainties of one of them: at 95 %.
TELLS_APART = 1.96 * math.sqrt(2)
#: So many results of one chunk of draws, and of all draws together, are held at a time.
CHUNK, HELD = 1 << 20, 1 << 25


@dataclass(frozen=True, slots=True, eq=False)
class Spread:
    """What a Monte Carlo run says of one output: arrays of shape (products,), NaN where the output is absent.

    low and high are the 2.5 % and 97.5 % points.
    """

    mean: Array
    sd: Array
    low: Array
    high: Array


def uncertainty(
    program: Program, inputs: Inputs, u_by_measure: Mapping[str, Array], kernel: Kernel | None = None
) -> dict[str, Array]:
    """The standard uncertainty of every rating and score, to first order.

    Parameters
    ----------
    u_by_measure : mapping of measure name to array, shape (products,), in the measure's unit; NaN or absent counts as 0
    kernel : of every output for these inputs, where it has been compiled

    Returns
    -------
    dict of output name to array, shape (products,); NaN where the output is absent

    Notes
    -----
    u(y)^2 = sum of (c_i u_i)^2 for independent readings [1], each c_i by a central difference through the kernel at
    +- u_i / 10 000. The figures of a live reference are held. Where a curve is flat, capped or stepped c_i is 0, and so
    is what is rounded by the formula; on a jump or a corner it is NaN. `monte_carlo` says more there.
    """
    outputs = tuple(program.outputs)
    kernel = kernel or kernel_for(program, inputs, outputs)
    held, moved = stepped(program, inputs, u_by_measure)
    found = evaluate(kernel, moved, reference=held).values
    return {name: _summed(found[name]) for name in outputs}


def uncertainty_of_difference(one: Array, other: Array) -> Array:
    """The standard uncertainty of the difference of two results of the same readings, which err alike in both: first order.

    Parameters
    ----------
    one, other : array, shape (rows, products): an output under two settings, of the readings that `stepped` gives

    Returns
    -------
    ndarray, shape (products,); NaN where a result is absent, or jumps or bends at the readings
    """
    return _summed(other - one, np.abs(one).max(axis=0))


def stepped(program: Program, inputs: Inputs, u_by_measure: Mapping[str, Array]) -> tuple[Inputs, Inputs]:
    """The readings as they stand, whose live figures are held, and in rows at 1, -1, 2 and -2 steps of each measure in turn."""
    moving = _moving(program, inputs, u_by_measure)
    values = {name: np.asarray(array, float)[:1] for name, array in inputs.values.items()}
    moved = dict(values)
    for row, (name, u) in enumerate(moving.items()):
        moved[name] = np.repeat(values[name], 4 * len(moving), axis=0)
        for offset, steps in enumerate((1, -1, 2, -2)):
            moved[name][4 * row + offset] += steps * STEP * u
    return replace(inputs, values=values), replace(inputs, values=moved)


def _moving(program: Program, inputs: Inputs, u_by_measure: Mapping[str, Array]) -> dict[str, Array]:
    """The uncertainty of each measure that moves anything, 0 where it is not known."""
    known = {name: np.nan_to_num(np.asarray(u, float)) for name, u in u_by_measure.items()}
    return {
        name: known[name] for name in program.measures if name in known and name in inputs.values and known[name].any()
    }


def _summed(results: Array, size: Array | None = None) -> Array:
    """The root of the sum of squares of (c_i u_i), from rows of results at 1, -1, 2 and -2 steps in turn.

    `size` is how large the figures are that rounding acted on, of the results themselves by default. A slope that differs with
    the step is none: a jump or a corner lies there, and the result is NaN.
    """
    if len(results) == 1:
        return np.asarray(np.where(np.isnan(results[0]), np.nan, 0.0))
    parts = (results[::4] - results[1::4]) / (2 * STEP)
    wider = (results[2::4] - results[3::4]) / (4 * STEP)
    size = np.abs(results).max(axis=0) if size is None else size
    dust = DUST * size / STEP  # what rounding on the way makes of a difference of two results
    jumps = np.abs(parts - wider) > 0.1 * np.maximum(np.abs(parts), np.abs(wider)) + dust
    return np.asarray(np.where(jumps.any(axis=0), np.nan, np.sqrt(np.sum(parts**2, axis=0))))


def monte_carlo(
    program: Program, inputs: Inputs, u_by_measure: Mapping[str, Array], draws: int, rng: np.random.Generator
) -> dict[str, Spread]:
    """How every rating and score scatters when every reading does, normally, each with its own uncertainty.

    Parameters
    ----------
    u_by_measure : as for `uncertainty`
    draws : 2 or more

    Returns
    -------
    dict of output name to `Spread`; NaN where an output is absent, or had no value in some draw

    Raises
    ------
    ValueError : fewer than two draws

    Notes
    -----
    The figures of a live reference are those of each draw. The 2.5 % and 97.5 % points are the order statistics of [2]:
    with M draws the smallest of them with at least 0.025 M and 0.975 M results at or below it.
    """
    if draws < 2:
        raise ValueError(f"{draws} draws; a spread needs two or more")
    moving = _moving(program, inputs, u_by_measure)
    outputs = tuple(program.outputs)
    at_once = max(1, HELD // (draws * max(1, len(inputs.products))))
    state = rng.bit_generator.state
    spreads: dict[str, Spread] = {}
    for first in range(0, len(outputs), at_once):
        rng.bit_generator.state = state  # every group of outputs sees the same draws
        spreads |= _spreads(program, inputs, moving, draws, rng, outputs[first : first + at_once])
    return spreads


def _spreads(
    program: Program,
    inputs: Inputs,
    moving: Mapping[str, Array],
    draws: int,
    rng: np.random.Generator,
    outputs: Sequence[str],
) -> dict[str, Spread]:
    n_products = len(inputs.products)
    kernel = kernel_for(program, inputs, outputs)
    results = {name: np.empty((draws, n_products)) for name in outputs}
    rows = max(1, CHUNK // max(1, n_products))
    for top in range(0, draws, rows):
        n_rows = min(rows, draws - top)
        values = {name: np.asarray(array, float)[:1] for name, array in inputs.values.items()}
        for name, u in moving.items():
            values[name] = values[name] + u * rng.standard_normal((n_rows, n_products))
        found = evaluate(kernel, replace(inputs, values=values)).values
        for name in outputs:
            results[name][top : top + n_rows] = found[name]
    return {name: _spread(array) for name, array in results.items()}


def _spread(results: Array) -> Spread:
    low, high = np.quantile(results, [0.025, 0.975], axis=0, method="inverted_cdf")
    lost = np.isnan(results).any(axis=0)
    low, high = (np.where(lost, np.nan, end) for end in (low, high))
    return Spread(np.mean(results, axis=0), np.std(results, axis=0, ddof=1), low, high)
