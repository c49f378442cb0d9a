"""The covariance of the errors of published scores: the one place where corrections and plans take the bench's noise from."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.rankings.told_apart import ToldApart

Array = NDArray[np.float64]


def score_covariance(bench: ToldApart) -> Array:
    """Covariance of the scores' errors, shape (products, products), in published order.

    Independent unless products share an error, of a session or a method. Estimated sizes are taken as they stand.
    """
    if bench.errors is None or bench.errors.spread.ndim == 1:
        return np.diag(bench.sd**2)
    return bench.errors.spread
