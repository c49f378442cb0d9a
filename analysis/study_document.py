"""Figures of studies, ready for JSON."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

DIGITS = 9


def figures(values: NDArray[np.float64]) -> list[Any]:
    """An array as nested lists of numbers of nine digits; null where there is none."""
    if values.ndim > 1:
        return [figures(row) for row in values]
    return [figure(value) for value in values.tolist()]


def figure(value: float) -> float | None:
    """A number of nine significant digits, or null where it is not finite."""
    return float(f"{value:.{DIGITS}g}") if np.isfinite(value) else None
