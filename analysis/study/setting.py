"""A setting: n draws of everything that a study varies, by address."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(slots=True, eq=False)
class Setting:
    """What one batch of draws sets; the moves of a study fill it in, one after the other.

    Attributes
    ----------
    n_draws : how many
    numbers : address -> values, shape (n_draws,)
    choices : name of a choice -> which of its options, shape (n_draws,)
    noise : measure -> standard normal errors of its value, shape (n_draws, n_products), in its standard uncertainties
    resampled : measure -> values from resampled repeats, shape (n_draws, n_products)
    filled : measure -> readings that were not made, or lie below a limit, shape (n_draws, n_products); NaN where a reading
        stays as it is, in all draws of a product alike
    """

    n_draws: int
    numbers: dict[str, Array] = field(default_factory=dict)
    choices: dict[str, NDArray[np.intp]] = field(default_factory=dict)
    noise: dict[str, Array] = field(default_factory=dict)
    resampled: dict[str, Array] = field(default_factory=dict)
    filled: dict[str, Array] = field(default_factory=dict)
