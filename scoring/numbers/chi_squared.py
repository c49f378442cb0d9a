"""The chi-squared and F laws: the functions that `scipy.stats` calls for them, without the half second that it takes to load."""

from __future__ import annotations

import numpy as np
import scipy
from numpy.typing import ArrayLike

from scoring.numbers.array_types import Array


def chance_above(value: ArrayLike, freedom: ArrayLike) -> Array:
    """The chance that chi-squared with so many degrees of freedom lies above a value, 0 or more; of their common shape."""
    return np.asarray(scipy.special.chdtrc(freedom, value))


def value_above(share: ArrayLike, freedom: ArrayLike) -> Array:
    """The value of chi-squared that lies above a share of the law, from 0 to 1; of the common shape of the two."""
    return np.asarray(2 * scipy.special.gammaincinv(np.asarray(freedom) / 2, share))


def value_below(share: ArrayLike, freedom: ArrayLike) -> Array:
    """The value of chi-squared that lies below a share of the law, from 0 to 1; of the common shape of the two."""
    return np.asarray(scipy.special.chdtri(freedom, share))


def f_chance_above(value: ArrayLike, above: ArrayLike, below: ArrayLike) -> Array:
    """The chance that F lies above a value, 0 or more, by the degrees of freedom above and below; of their common shape."""
    return np.asarray(scipy.special.fdtrc(above, below, value))
