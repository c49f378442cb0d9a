"""How much of an output's variance is each group of inputs' own where inputs move together: Shapley effects.

v(u) = Var E(Y | X_u) / Var Y is what a set u of groups tells of the output, and the Shapley effect of group i the mean,
over every order in which the groups may become known, of what i adds:

    Sh_i = sum over u without i of v(u + i) - v(u), each divided by d times the number of such sets of the size of u [1, 2].

The effects add up to 1. A group that the output does not use, but that moves with one it uses, has an effect above 0: it
tells of the output what it tells of its companion. The first-order index v({i}) and the total index 1 - v(all but i) are
those of the group as it comes, so that under correlation the first may exceed the other.

References, all from memory: [1] A. B. Owen, Sobol' indices and Shapley value, SIAM/ASA J. Uncertainty Quantification 2,
2014. [2] E. Song, B. L. Nelson and J. Staum, Shapley effects for global sensitivity analysis, same journal, 4, 2016.
[3] A. Janon et al., Asymptotic normality and efficiency of two Sobol index estimators, ESAIM: Probability and Statistics
18, 2014. [4] B. Efron and C. Stein, The jackknife estimate of variance, Annals of Statistics 9, 1981.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import comb

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import stdtrit

from analysis.indices.redrawn_pairs import DUST, Model, PairSums, Redraws, Tally, correlations_of
from analysis.runs import Executor, blocks_of, run, serially
from analysis.study.gaussian_copula import GaussianCopula, check_semidefinite, members, pseudo_inverse, shared_out
from scoring.numbers.array_types import Array, Flags, Integers
from scoring.numbers.ordered_sums import matrix_product

MOST_GROUPS = 12
#: So many sets of groups are tallied in one pass over the base points: what is held grows with neither of the two.
SETS_AT_ONCE = 64
#: Base points of one block of a run, which has a stream of its own; the blocks of the jackknife are others.
POINTS = 1024


@dataclass(frozen=True, slots=True, eq=False)
class Effects:
    """Exact effects and indices: arrays of shape (groups,); variance: that of the output."""

    effects: Array
    first: Array
    total: Array
    variance: float


@dataclass(frozen=True, slots=True, eq=False)
class ShapleyEffects:
    """Estimated effects and indices, arrays of shape (groups, outputs), with the two ends of their 95 % intervals.

    NaN for an output that does not react, has a value that is not finite, or moved so seldom that a whole sample holds one
    value of it; intervals also where all of its movement fell into one block. An estimate below 0 is noise, left as it is.

    groups: their names; variance: shape (outputs,); reacts: shape (outputs,), False where the output took one value
    throughout; n_nonfinite: shape (outputs,), how many values were not finite; evaluations: points the model was run at.
    """

    groups: tuple[str, ...]
    effects: Array
    low: Array
    high: Array
    first: Array
    first_low: Array
    first_high: Array
    total: Array
    total_low: Array
    total_high: Array
    variance: Array
    reacts: Flags
    n_nonfinite: Integers
    evaluations: int


def linear_gaussian_effects(
    beta: ArrayLike, covariance: ArrayLike, groups: Sequence[Sequence[int]] | None = None
) -> Effects:
    """The exact effects of jointly normal inputs on a weighted sum of them.

    Parameters
    ----------
    beta : array, shape (inputs,); the weight of each input
    covariance : array, shape (inputs, inputs); it may be singular
    groups : the inputs of each group, at most 12, every input in exactly one; each input by itself if not given

    Raises
    ------
    ValueError
        Shapes that do not fit, a covariance with a negative eigenvalue, groups that do not share out the inputs or are too
        many, or a sum that does not vary.

    Notes
    -----
    With c = Cov(X, Y) = Sigma beta, v(u) = c_u' Sigma_uu^+ c_u / V: the regression of Y on X_u is its conditional mean.
    """
    weights, sigma = np.asarray(beta, float), np.asarray(covariance, float)
    check_semidefinite(sigma, "covariance")
    if weights.shape != (len(sigma),) or not np.all(np.isfinite(weights)):
        raise ValueError(f"weights of shape {weights.shape}; {len(sigma)} finite numbers are needed, one an input")
    shared = shared_out([[column] for column in range(len(sigma))] if groups is None else groups, len(sigma))
    _check_number(len(shared))
    sd = np.sqrt(np.maximum(np.diag(sigma), 0))
    scale = np.where(sd > 0, sd, 1.0)
    correlation, slopes = sigma / np.outer(scale, scale), weights * sd
    along = matrix_product(correlation, slopes)
    variance = float(matrix_product(slopes, along))
    if variance <= DUST * float(np.abs(slopes).sum()) ** 2:
        raise ValueError("the weighted sum does not vary, so that there is no variance to share out")
    told = np.zeros(2 ** len(shared))
    for index in range(1, len(told)):
        columns = [column for group in members(index, len(shared)) for column in shared[group]]
        inverse = pseudo_inverse(correlation[np.ix_(columns, columns)])
        told[index] = matrix_product(matrix_product(along[columns], inverse), along[columns]) / variance
    effects, first, total = np.split(matrix_product(_readings(len(shared)), told), 3)
    return Effects(effects, first, total, variance)


def shapley_effects(
    model: Model,
    copula: GaussianCopula,
    group_names: Sequence[str],
    *,
    base_points: int,
    blocks: int = 16,
    rng: np.random.Generator,
    rows: int = 4096,
    execute: Executor = serially,
) -> ShapleyEffects:
    """Shapley effects, first-order and total indices of groups of inputs on many outputs at once, by pick-freeze.

    Parameters
    ----------
    model : function of an array of shape (n, columns), each column uniform from 0 to 1, to one of shape (n, outputs)
        What it gives for a row must not depend on the other rows.
    copula : GaussianCopula, with the columns of each group, at most 12 groups
    group_names : a name for each group
    base_points : draws of the inputs; the model is run about base_points times 2 to the number of groups
    blocks : 2 or more blocks of base points that the intervals come from
    rng : what the stream of each block is made from
    rows : points the model is given at a time; it changes nothing but rounding
    execute : works the blocks out

    Raises
    ------
    ValueError
        More than 12 groups, names that do not fit them, fewer than two blocks or two base points a block, or a model whose
        answer has another shape.

    Notes
    -----
    For each set u, Y^u keeps the inputs of u and draws the rest anew from their law given those, with the same normal
    draws for every u. The two are exchangeable, and c(u), their correlation about a common mean and variance [3],
    estimates v(u) = Cov(Y, Y^u) / V. The set of all groups has c = 1; the empty set is run too, and its c, noise about 0,
    is taken out of every set's: v(u) = (c(u) - c(none)) / (1 - c(none)). So v(none) is 0, v(all) is 1, the effects add up
    to 1, and an input that is neither used nor correlated has effect and indices of 0 but for rounding.

    Intervals are Student's with blocks - 1 degrees of freedom about the estimate, its standard error from leaving out one
    block at a time [4]: what resampling the blocks tends to, without draws of its own.
    """
    _check_design(len(copula.groups), group_names, base_points, blocks, rows)
    last = 2 ** len(copula.groups) - 1  # the set of all groups, which needs no run
    readings, edges = _readings(len(copula.groups)), np.arange(blocks + 1) * base_points // blocks
    every = blocks_of(base_points, POINTS)
    seeds = rng.integers(1 << 62, size=len(every)).tolist()
    tallies: list[Tally] = []
    found: Array | float = readings[:, last, None]
    for start in range(0, last, SETS_AT_ONCE):
        sets = range(start, min(start + SETS_AT_ONCE, last))
        redraws = Redraws(model, copula, sets, rows, seeds)  # every pass sees the same draws
        tallies.append(run(redraws, PairSums(edges, len(sets), counts=start == 0), every, execute=execute))
        correlations, spread = correlations_of(tallies[-1], edges)
        found = found + np.einsum("ks,bso->bko", readings[:, sets.start : sets.stop], correlations)
        if start == 0:
            none, variance = correlations[:, :1], 2 * spread[0, 0] / (2 * base_points - 1)
    return _finished(tuple(group_names), tallies, found / np.where(none < 1, 1 - none, np.nan), variance)


def _check_number(n_groups: int) -> None:
    if n_groups > MOST_GROUPS:
        hint = f"gather the inputs into {MOST_GROUPS} groups or fewer"
        raise ValueError(f"{n_groups} groups have {2**n_groups} sets, each to be gone through; {hint}")


def _check_design(n_groups: int, names: Sequence[str], base_points: int, blocks: int, rows: int) -> None:
    _check_number(n_groups)
    if len(names) != n_groups or len(set(names)) != n_groups:
        raise ValueError(f"names {', '.join(names)} for {n_groups} groups; each group needs a name of its own")
    if blocks < 2:
        raise ValueError(f"{blocks} blocks; an interval needs two or more")
    if base_points < 2 * blocks:
        raise ValueError(f"{base_points} base points in {blocks} blocks; each block needs two or more")
    if rows < 1:
        raise ValueError(f"{rows} rows at a time; the model needs one or more")


def _readings(n_groups: int) -> Array:
    """What effects, first-order and total indices are in terms of v, shape (3 groups, sets): each row sums to 0."""
    sets = np.arange(2**n_groups)
    inside = (sets >> np.arange(n_groups)[:, None] & 1).astype(bool)
    size = np.bitwise_count(sets).astype(int)
    share = np.array([1 / (n_groups * comb(n_groups - 1, k)) for k in range(n_groups)])
    effects = np.where(inside, share[size - 1], -share[np.minimum(size, n_groups - 1)])
    alone = 1 << np.arange(n_groups)
    one = (sets == alone[:, None]).astype(float) - (sets == 0)
    rest = (sets == sets[-1]) - (sets == sets[-1] - alone[:, None]).astype(float)
    return np.concatenate([effects, one, rest])


def _finished(groups: tuple[str, ...], tallies: Sequence[Tally], found: Array, variance: Array) -> ShapleyEffects:
    """Estimates with their intervals; found, shape (1 + blocks, 3 groups, outputs): of all blocks, then without each."""
    least = np.fmin.reduce([tally.least for tally in tallies])
    greatest = np.fmax.reduce([tally.greatest for tally in tallies])
    reacts = greatest - least > DUST * np.fmax(np.abs(least), np.abs(greatest))
    n_nonfinite = np.sum([tally.n_nonfinite for tally in tallies], axis=0)
    whole, without = found[0], found[1:]
    n_blocks = len(without)
    error = np.sqrt((n_blocks - 1) * np.var(without, axis=0))
    reach = float(stdtrit(n_blocks - 1, 0.975)) * error
    effects, first, total = np.split(whole, 3)
    low, first_low, total_low = np.split(whole - reach, 3)
    high, first_high, total_high = np.split(whole + reach, 3)
    return ShapleyEffects(
        groups=groups,
        effects=effects,
        low=low,
        high=high,
        first=first,
        first_low=first_low,
        first_high=first_high,
        total=total,
        total_low=total_low,
        total_high=total_high,
        variance=np.where(reacts | (n_nonfinite > 0), variance, 0.0),
        reacts=reacts,
        n_nonfinite=n_nonfinite,
        evaluations=sum(tally.evaluations for tally in tallies),
    )
