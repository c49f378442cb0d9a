"""Benefit of the doubt: the best share of the leader's score that each product reaches under weights of its own choice.

Reference: Melyn and Moesen, Towards a synthetic indicator of macroeconomic performance: unequal weighting when limited
information is available, 1991, as described in OECD/JRC, Handbook on Constructing Composite Indicators, 2008, pp. 92-94 (the
linear programme from memory; a test holds it to the Handbook's table).
"""

from __future__ import annotations

import numpy as np
import scipy
from numpy.typing import ArrayLike

from scoring.numbers.array_types import Array


def benefit_of_the_doubt(values: ArrayLike, least: float = 0.0, most: float = 1.0) -> tuple[Array, Array]:
    """Each product's best score, and the weights that give it.

    Parameters
    ----------
    values : array, shape (products, parts), 0 or more, the more the better
    least, most : what share of all weight a part may have

    Returns
    -------
    scores, shape (products,), 0 to 1, the share of the best product's score under the same weights; and weights, shape
    (products, parts), scaled so that the best product under them has the score 1

    Raises
    ------
    ValueError : values below 0 or not finite, a product of nothing but 0, or limits that leave no weights

    Notes
    -----
    For product c: maximise sum w_i x_ci, subject to sum w_i x_ji <= 1 for every product j, w >= 0, and
    least * sum w <= w_i <= most * sum w.
    """
    x = np.asarray(values, float)
    n_parts = x.shape[1]
    if not np.isfinite(x).all() or (x < 0).any():
        raise ValueError("values below 0, or not finite, have no share of a leader's score")
    if not least * n_parts <= 1 <= most * n_parts:
        raise ValueError(f"{n_parts} parts of {least:g} to {most:g} of all weight each cannot share it out")
    if not (x > 0).any():
        raise ValueError("values that are all 0 have no leader")
    identity = np.eye(n_parts)
    limits = np.concatenate([x, least - identity, identity - most])
    bounds = np.concatenate([np.ones(len(x)), np.zeros(2 * n_parts)])
    scores, weights = np.empty(len(x)), np.empty(x.shape)
    for c, row in enumerate(x):
        found = scipy.optimize.linprog(-row, A_ub=limits, b_ub=bounds, bounds=(0, None), method="highs")
        if found.status != 0:
            raise ValueError(f"no best weights for product {c}: {found.message}")
        scores[c], weights[c] = -found.fun, found.x
    return scores, weights
