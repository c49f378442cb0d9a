"""The weights of a weighted mean whose main effects stand in wanted proportions: a closed form, and a proof where none do."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import ArrayLike

from scoring.numbers.array_types import Array
from scoring.numbers.ordered_sums import matrix_product

#: A condition number of the correlations above this refuses the inverse: the sixth digit of a value would move the weights.
WORST_CONDITION = 1e6
#: Above so many parts only weights that pull every part along with the score are asked for.
MOST_SIGNED = 14
#: How near to 0 a weight counts as 0, as a share of all of them.
DUST = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class WantedWeights:
    """The weights that would give a wanted importance, or why there are none.

    state: "found"; "none", no weights from 0 up do it; "against", none do unless some part pulls against the score, as
    `signs` says; or "refused". weights: the solution, adding to 1 (its sizes do where the entries add to 0 or less), shape
    (parts,), NaN where refused; where the state is "none" it has an entry below 0. every_sign: whether all patterns of sign
    were gone through. condition: of the correlations of the parts.
    """

    wanted: Array
    state: str
    weights: Array
    signs: Array
    every_sign: bool
    condition: float


def wanted_weights(covariance: ArrayLike, wanted: ArrayLike) -> WantedWeights:
    """The weights of a weighted mean whose linear main effects stand in wanted proportions.

    Parameters
    ----------
    covariance : array, shape (parts, parts)
    wanted : array, shape (parts,), from 0 up, not all 0; only proportions matter

    Raises
    ------
    ValueError : shapes that do not fit, or wanted importances that are negative or all 0

    Notes
    -----
    With R_i^2 = (Sigma w)_i^2 / (sigma_ii V), wanted ratios z_i^2 = R_i^2 / R_1^2 ask for Sigma w proportional to
    g_i = z_i sqrt(sigma_ii / sigma_11), so w = Sigma^-1 g / (1' Sigma^-1 g), and no other: Paruolo, Saisana and Saltelli,
    Ratings and rankings: voodoo or science?, J. R. Statist. Soc. A 176, 2013, equation 7 (read as arXiv:1104.3009v2). So an
    entry below 0 proves that no admissible weights do it while every part goes along with the score. A squared effect has no
    sign, so that for a full proof every pattern of signs of z is solved for as well (up to 14 parts).
    """
    sigma, share = np.asarray(covariance, float), np.asarray(wanted, float)
    if share.ndim != 1 or sigma.shape != (len(share), len(share)):
        raise ValueError(f"a covariance of shape {sigma.shape} for {share.shape} wanted importances")
    if not np.all(share >= 0) or not share.sum() > 0:
        raise ValueError("wanted importances are from 0 up, and not all 0")
    share = share / share.sum()
    every = len(share) <= MOST_SIGNED
    plus, sd = np.ones(len(share)), np.sqrt(np.maximum(np.diag(sigma), 0))
    if not np.all(sd > 0):
        return WantedWeights(share, "refused", np.full(len(share), np.nan), plus, every, float("inf"))
    correlations = sigma / np.outer(sd, sd)
    condition = float(np.linalg.cond(correlations))
    if not condition <= WORST_CONDITION:
        return WantedWeights(share, "refused", np.full(len(share), np.nan), plus, every, condition)
    inverse = np.linalg.inv(correlations) / sd[:, None]
    solution = _scaled(matrix_product(inverse, np.sqrt(share)))
    if _admissible(solution):
        return WantedWeights(share, "found", np.maximum(solution, 0), plus, every, condition)
    if every:
        signs = np.array(list(product([1.0, -1.0], repeat=len(share))))
        found = matrix_product(signs * np.sqrt(share), inverse.T)
        fits = np.flatnonzero(np.all(found >= -DUST * np.abs(found).sum(axis=1, keepdims=True), axis=1))
        if len(fits):
            best = fits[np.argmin((signs[fits] < 0).sum(axis=1))]
            weights = _scaled(np.maximum(found[best], 0))
            return WantedWeights(share, "against", weights, signs[best], every, condition)
    return WantedWeights(share, "none", solution, plus, every, condition)


def _scaled(solution: Array) -> Array:
    """Entries that add to 1, or whose sizes do where they add to (nearly) 0 or less."""
    total, size = float(solution.sum()), float(np.abs(solution).sum())
    return solution / (total if total > 1e-3 * size else size)


def _admissible(weights: Array) -> bool:
    return bool(np.all(weights >= -DUST * np.abs(weights).sum()))


def share_with_weights(covariances: Array, wanted: ArrayLike) -> float:
    """In what share of covariances, shape (resamples, parts, parts), weights from 0 up give the wanted importance.

    Every part going along with the score; a singular covariance counts as one in which they do not.
    """
    sd = np.sqrt(np.maximum(np.diagonal(covariances, axis1=1, axis2=2), 0))
    varies = np.all(sd > 0, axis=1)
    correlations = covariances[varies] / (sd[varies, :, None] * sd[varies, None, :])
    regular = np.linalg.cond(correlations) <= WORST_CONDITION if len(correlations) else np.zeros(0, bool)
    g = np.sqrt(np.asarray(wanted, float))
    solved = np.linalg.solve(correlations[regular], np.broadcast_to(g[:, None], (int(regular.sum()), len(g), 1)))[
        ..., 0
    ]
    weights = solved / sd[varies][regular]
    fits = np.all(weights >= -DUST * np.abs(weights).sum(axis=1, keepdims=True), axis=1)
    return float(fits.sum() / len(covariances))
