"""From the scatter of readings to the uncertainty of ratings and scores: first order, and by Monte Carlo.

References: [1] JCGM 100:2008, Evaluation of measurement data - Guide to the expression of uncertainty in measurement,
5.1.2, equation (10), and 5.2.2, equation (13) (from memory). [2] JCGM 101:2008, Supplement 1, Propagation of distributions
using a Monte Carlo method, 7.7.2 (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from scoring.measurement_error import ErrorModel
from scoring.numbers.array_types import Array
from scoring.program.kernel import Kernel
from scoring.program.program import Program
from scoring.table.evaluate import Inputs, evaluate, kernel_for

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


def uncertainty(program: Program, inputs: Inputs, errors: ErrorModel, kernel: Kernel | None = None) -> dict[str, Array]:
    """The standard uncertainty of every rating and score, to first order.

    Parameters
    ----------
    errors : of the values of `inputs`; a value of which nothing is known counts as exact
    kernel : of every output for these inputs, where it has been compiled

    Returns
    -------
    dict of output name to array, shape (products,); NaN where the output is absent

    Notes
    -----
    u(y)^2 = sum of (c_i u_i)^2 + 2 sum of c_i c_j u_ij [1, equation 13], each c_i by a central difference through the kernel
    at +- u_i / 10 000; u_ij are the covariances of measures read in one run. The figures of a live reference are held. Where
    a curve is flat, capped or stepped c_i is 0, and so is what is rounded by the formula; on a jump or a corner it is NaN.
    `monte_carlo` says more there.
    """
    outputs = tuple(program.outputs)
    kernel = kernel or kernel_for(program, inputs, outputs)
    steps = stepped(program, inputs, errors)
    found = evaluate(kernel, steps.moved, reference=steps.held).values
    return {name: _summed(found[name], steps.correlations) for name in outputs}


def correlations_of_results(
    program: Program, inputs: Inputs, errors: ErrorModel, names: Sequence[str], kernel: Kernel | None = None
) -> dict[tuple[str, str], Array]:
    """How the errors of each two of some results are correlated, since the same readings go into both: first order.

    Returns
    -------
    dict of pairs, in the order of `names`, to array, shape (products,); NaN where either is absent, or its uncertainty 0 or
    not defined

    Notes
    -----
    sum over i, j of c_i d_j u_ij / (u(y) u(z)), c and d the sensitivities of the two [1, equation 13 of the covariance].
    """
    kernel = kernel or kernel_for(program, inputs, tuple(program.outputs))
    steps = stepped(program, inputs, errors)
    found = evaluate(kernel, steps.moved, reference=steps.held).values
    parts = {name: _parts(found[name]) for name in names}
    u = {name: _summed(found[name], steps.correlations) for name in names}
    together: dict[tuple[str, str], Array] = {}
    for one, other in combinations(names, 2):
        first, second = parts[one], parts[other]
        covariance = np.sum(first * second, axis=0)
        for (i, j), coefficient in steps.correlations.items():
            covariance = covariance + coefficient * (first[i] * second[j] + first[j] * second[i])
        size = u[one] * u[other]
        together[one, other] = np.divide(covariance, size, out=np.full_like(size, np.nan), where=size > 0)
    return together


def uncertainty_of_difference(one: Array, other: Array, steps: Steps) -> Array:
    """The standard uncertainty of the difference of two results of the same readings, which err alike in both: first order.

    Parameters
    ----------
    one, other : array, shape (rows, products): an output under two settings, of the readings of `steps`

    Returns
    -------
    ndarray, shape (products,); NaN where a result is absent, or jumps or bends at the readings
    """
    return _summed(other - one, steps.correlations, np.abs(one).max(axis=0))


@dataclass(frozen=True, slots=True, eq=False)
class Steps:
    """Readings as they stand, and moved a little one measure at a time.

    held: as they stand, whose live figures are held; moved: in rows at 1, -1, 2 and -2 steps of each measure in turn;
    correlations: of the errors of two of these measures, by their places, shape (products,).
    """

    held: Inputs
    moved: Inputs
    correlations: Mapping[tuple[int, int], Array]


def stepped(program: Program, inputs: Inputs, errors: ErrorModel) -> Steps:
    """The readings moved by steps of their uncertainties."""
    moving = _moving(program, inputs, errors)
    values = {name: np.asarray(array, float)[:1] for name, array in inputs.values.items()}
    moved = dict(values)
    for row, (name, u) in enumerate(moving.items()):
        moved[name] = np.repeat(values[name], 4 * len(moving), axis=0)
        for offset, steps in enumerate((1, -1, 2, -2)):
            moved[name][4 * row + offset] += steps * STEP * u
    names = list(moving)
    correlations = {
        (names.index(one), names.index(other)): errors.correlation(one, other)
        for one, other in errors.covariances
        if one in moving and other in moving
    }
    return Steps(replace(inputs, values=values), replace(inputs, values=moved), correlations)


def _moving(program: Program, inputs: Inputs, errors: ErrorModel) -> dict[str, Array]:
    """The uncertainty of each measure that moves anything, shape (products,), 0 where it is not known."""
    known = {name: np.nan_to_num(u) for name, u in errors.u.items()}
    return {
        name: known[name] for name in program.measures if name in known and name in inputs.values and known[name].any()
    }


def _summed(results: Array, correlations: Mapping[tuple[int, int], Array], size: Array | None = None) -> Array:
    """The root of the sum of (c_i u_i)^2 and of 2 c_i u_i c_j u_j r_ij, shape (products,).

    A slope that differs with the step is none: a jump or a corner lies there, and the result is NaN.

    Parameters
    ----------
    results : shape (4 * measures, products), at 1, -1, 2 and -2 steps of each measure in turn; or one row, where none moves
    correlations : (i, j) -> shape (products,)
    size : shape (products,), how large the figures are that rounding acted on; of the results themselves by default
    """
    if len(results) == 1:
        return np.asarray(np.where(np.isnan(results[0]), np.nan, 0.0))
    parts = _parts(results)
    wider = (results[2::4] - results[3::4]) / (4 * STEP)
    size = np.abs(results).max(axis=0) if size is None else size
    dust = DUST * size / STEP  # what rounding on the way makes of a difference of two results
    jumps = np.abs(parts - wider) > 0.1 * np.maximum(np.abs(parts), np.abs(wider)) + dust
    square = np.sum(parts**2, axis=0)
    for (one, other), coefficient in correlations.items():
        square = square + 2 * coefficient * parts[one] * parts[other]
    return np.asarray(np.where(jumps.any(axis=0), np.nan, np.sqrt(np.maximum(square, 0.0))))


def _parts(results: Array) -> Array:
    """c_i u_i of each measure that moves, with its sign, shape (measures, products)."""
    return np.asarray(
        (results[::4] - results[1::4]) / (2 * STEP) if len(results) > 1 else np.zeros((0, results.shape[1]))
    )


def monte_carlo(
    program: Program, inputs: Inputs, errors: ErrorModel, draws: int, rng: np.random.Generator
) -> dict[str, Spread]:
    """How every rating and score scatters when every reading does, by the error model.

    Parameters
    ----------
    errors : as for `uncertainty`
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
    outputs = tuple(program.outputs)
    at_once = max(1, HELD // (draws * max(1, len(inputs.products))))
    state = rng.bit_generator.state
    spreads: dict[str, Spread] = {}
    for first in range(0, len(outputs), at_once):
        rng.bit_generator.state = state  # every group of outputs sees the same draws
        spreads |= _spreads(program, inputs, errors, draws, rng, outputs[first : first + at_once])
    return spreads


def _spreads(
    program: Program,
    inputs: Inputs,
    errors: ErrorModel,
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
        for name, drawn in errors.draw(n_rows, rng).items():
            values[name] = values[name] + drawn
        found = evaluate(kernel, replace(inputs, values=values)).values
        for name in outputs:
            results[name][top : top + n_rows] = found[name]
    return {name: _spread(array) for name, array in results.items()}


def _spread(results: Array) -> Spread:
    """How results scatter over draws; results : shape (draws, products)."""
    low, high = np.quantile(results, [0.025, 0.975], axis=0, method="inverted_cdf")
    lost = np.isnan(results).any(axis=0)
    low, high = (np.where(lost, np.nan, end) for end in (low, high))
    return Spread(np.mean(results, axis=0), np.std(results, axis=0, ddof=1), low, high)
