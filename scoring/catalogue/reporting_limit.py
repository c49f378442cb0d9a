"""The reporting limit: what a reading below it counts as."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from scoring.catalogue.readings import Readings, State
from scoring.form import Measure
from scoring.numbers.array_types import Array, Flags
from scoring.units.conversion import is_offset_unit
from scoring.units.role import in_unit

_SHARE = {"limit": 1.0, "half": 0.5, "zero": 0.0, "missing": np.nan}


def slack(bound: float, unit: str) -> float:
    """How far past a bound a reading may lie by the rounding of a unit conversion alone, in the unit."""
    return 1e-12 * abs(bound) + (1e-10 if is_offset_unit(unit) else 0.0)


def count_below(measure: Measure, written: Array, marks: NDArray[np.uint8]) -> tuple[Array, NDArray[np.uint8]]:
    """Say what every reading counts as, given the measure's limit and its choice `below_limit`.

    Parameters
    ----------
    measure : its `reporting_limit` may be None; then only marked readings are below one
    written : shape (n_products, n_repeats), in the measure's unit: the readings, or the stored limit of those marked
    marks : uint8, the same shape: the `State` that each cell states

    Returns
    -------
    values, states : the same shape

    Notes
    -----
    A reading is below the limit where it is marked so, and where its number is under the declared limit. Its limit
    is the stored one or the declared one, whichever is higher, so that two readings below one limit count alike.
    Counted as missing, it becomes MISSING.
    """
    below, limits = under_limit(measure, written, marks)
    with np.errstate(invalid="ignore"):  # no limit at all: the catalogue has reported it
        counted = limits * _SHARE[measure.below_limit.value]
    values = np.where(below, counted, np.where(marks == State.VALUE, written, np.nan))
    states = np.where(below, np.where(np.isfinite(values), State.BELOW, State.MISSING), marks)
    return np.where(np.isfinite(values), values, np.nan), states.astype(np.uint8)


def under_limit(measure: Measure, written: Array, marks: NDArray[np.uint8]) -> tuple[Flags, Array]:
    """Which readings lie below the limit, and the limit that each would lie below: the stored or the declared one.

    All arrays have the shape (n_products, n_repeats), as those of `count_below`.
    """
    declared = measure.reporting_limit.value if measure.reporting_limit else -np.inf
    margin = slack(declared, measure.unit) if measure.reporting_limit else 0.0
    below = (marks == State.BELOW) | ((marks == State.VALUE) & (written < declared - margin))
    return below, np.fmax(written, declared)


def recount(measure: Measure, readings: Readings) -> Readings:
    """The same readings, counted by another limit or another choice of what lies below it counts as."""
    values, states = count_below(measure, readings.written, readings.marks)
    numbers = (State.VALUE, State.BELOW)  # why they count as missing is said anew
    said = {cell: why for cell, why in readings.reasons.items() if readings.marks[cell] not in numbers}
    reasons = said | reasons_below(measure, readings.written, readings.marks, states)
    return replace(readings, values=values, states=states, reasons=reasons)


def reasons_below(
    measure: Measure, written: Array, marks: NDArray[np.uint8], states: NDArray[np.uint8]
) -> dict[tuple[int, int], str]:
    """Why readings that are below the limit, and count as missing, are missing; all arrays of shape (n_products, n_repeats)."""
    counted_out = (states == State.MISSING) & (marks != State.MISSING)
    declared = measure.reporting_limit.value if measure.reporting_limit else -np.inf
    reasons = {}
    for product, repeat in np.argwhere(counted_out).tolist():
        limit = in_unit(f"{max(written[product, repeat], declared):.10g}", measure.unit)
        reasons[product, repeat] = f"below the reporting limit of {limit}"
    return reasons
