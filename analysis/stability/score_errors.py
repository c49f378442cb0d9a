"""The covariance of the errors of published scores: the one place where corrections and plans take the bench's noise from."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.stability.told_apart import ToldApart

Array = NDArray[np.float64]


def score_covariance(bench: ToldApart) -> Array:
    """Covariance of the scores' errors, shape (products, products), in published order.

    Products are read one by one, so that their errors are independent of each other; the standard deviations are those of the
    scores under the bench's noise.
    """
    return np.diag(bench.sd**2)
