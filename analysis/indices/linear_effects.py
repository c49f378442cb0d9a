"""Shapley effects at the stated setting: exact, for scores taken as linear in the numbers that vary, and these as normal."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from analysis.indices.local import local_sensitivity
from analysis.indices.shapley_effects import linear_gaussian_effects
from analysis.trials.trials import Trials

Array = NDArray[np.float64]
#: Every set of groups is gone through for every product, so that there may be no more of them than this.
MOST_GROUPS = 8


def linear_effects(trials: Trials, target: str, groups: Sequence[Sequence[str]]) -> Array:
    """Each group's share of the variance of each product's score, from its derivatives and the stated correlations.

    Parameters
    ----------
    groups : the factors of each group; those that are no single number, as choices and noise, have no part in it

    Returns
    -------
    ndarray, shape (groups, products); NaN for a product without a score or on a jump or corner, and throughout where more
    than eight groups hold numbers. The shares of a product add up to 1.
    """
    local = local_sensitivity(trials, target)
    index = {name: place for place, name in enumerate(local.names)}
    columns = [[index[name] for name in group if name in index] for group in groups]
    held = [place for place, own in enumerate(columns) if own]
    shares = np.full((len(groups), local.per_sd.shape[1]), np.nan)
    if not 1 <= len(held) <= MOST_GROUPS:
        return shares
    order = [column for place in held for column in columns[place]]
    correlation = np.eye(len(local.names))
    for first, second, value in trials.study.correlations:
        if first in index and second in index:
            correlation[index[first], index[second]] = correlation[index[second], index[first]] = value
    correlation = correlation[np.ix_(order, order)]
    starts = np.cumsum([0, *(len(columns[place]) for place in held)])
    own = [list(range(a, b)) for a, b in pairwise(starts.tolist())]
    for product in range(shares.shape[1]):
        slopes = local.per_sd[order, product]
        if np.isfinite(slopes).all() and (slopes != 0).any():
            shares[:, product] = 0.0
            shares[held, product] = linear_gaussian_effects(slopes, correlation, own).effects
    return shares
