"""Repeats: the readings of one measure and product become one value, and say how well it is known."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from scoring.catalogue import Catalogue
from scoring.catalogue.readings import Readings, State, as_published
from scoring.errors import Problem, ScoringError
from scoring.form import Form, Measure
from scoring.numbers.array_types import Array, Flags, Integers
from scoring.numbers.rounding import round_to, undusted

NO_COLUMN = "not in the catalogue"
NO_REASON = "no reason given"


@dataclass(frozen=True, slots=True, eq=False)
class Summary:
    """One measure over the catalogue; arrays of shape (n_products,).

    Attributes
    ----------
    values : float64, in the measure's unit; NaN where there is none
    states : uint8; VALUE, BELOW (a counted reading is below the reporting limit), MISSING or NOT_APPLICABLE
    counts : int64, the readings counted; those that a trimmed mean sets aside are counted
    reasons : product index -> why there is no value
    """

    values: Array
    states: NDArray[np.uint8]
    counts: Integers
    reasons: Mapping[int, str]

    def __post_init__(self) -> None:
        for array in (self.values, self.states, self.counts):
            array.setflags(write=False)


class PooledSd(NamedTuple):
    """A standard deviation of repeats, and the degrees of freedom it rests on."""

    sd: float
    freedom: int


def summarise(measure: Measure, readings: Readings) -> Summary:
    """Sum up the repeats of every product by the measure's own rule, then round as the measure says.

    Raises
    ------
    ScoringError : the share that a trimmed mean sets aside is not from 0 to below 0.5

    Notes
    -----
    Readings are sorted before they are added, so that neither their order nor other products' repeats move a bit. No dust of
    binary sums stays on a value made of several readings: the mean of 38.1, 40.2 and 41.7 is 40, not over a limit of 40.
    """
    held = np.where(_counted(readings), readings.values, np.nan)
    counts = np.isfinite(held).sum(axis=1)
    values = summary_of(measure, held)
    below = (readings.states == State.BELOW).any(axis=1)
    absent = (readings.states == State.NOT_APPLICABLE).any(axis=1)
    states = np.where(below, State.BELOW, State.VALUE)
    states = np.where(counts > 0, states, np.where(absent, State.NOT_APPLICABLE, State.MISSING)).astype(np.uint8)
    return Summary(values, states, counts, _reasons(readings, states))


def summary_of(measure: Measure, repeats: Array) -> Array:
    """One value a row of repeats, by the measure's own rule, rounded as the measure says.

    Parameters
    ----------
    repeats : ndarray, shape (rows, repeats), NaN where there is none

    Returns
    -------
    ndarray, shape (rows,); NaN for a row without repeats
    """
    ordered = np.sort(repeats, axis=1)
    counts = np.isfinite(ordered).sum(axis=1)
    values = _summed_up(measure, ordered, counts)
    values = np.where(counts > 1, undusted(values), ordered[:, 0])
    return round_to(values, measure.round.step.value, measure.round.rule.value) if measure.round else values


def summarise_all(form: Form, catalogue: Catalogue) -> dict[str, Summary]:
    """Sum up every measure of the form; one without a column is missing for every product.

    Remarks are made of the reasons why there is no value, so that these are the ones that may be published.
    """
    return {
        measure.name: summarise(measure, as_published(catalogue.readings[measure.name], form))
        if measure.name in catalogue.readings
        else _nothing(len(catalogue.products))
        for measure in form.measures
    }


def unrounded(form: Form, catalogue: Catalogue, product: int) -> dict[str, float]:
    """One product's summary of the repeats of every measure, before the measure's own rounding; NaN where there is none."""
    measures = tuple(replace(measure, round=None) for measure in form.measures)
    found = summarise_all(replace(form, measures=measures), catalogue)
    return {name: float(summary.values[product]) for name, summary in found.items()}


def pooled_sd(readings: Readings, relative: bool) -> PooledSd:
    """Pool the standard deviation of repeats over the products.

    Parameters
    ----------
    relative : pool each product's standard deviation as a share of its mean; products with a mean of 0 are left out

    Returns
    -------
    sd : in the measure's unit, or a share; NaN where no product has two readings
    freedom : its degrees of freedom

    Notes
    -----
    sqrt(sum (n_i - 1) s_i^2 / sum (n_i - 1)), the root of the mean square within products; the repeatability standard
    deviation of ISO 5725-2, Accuracy of measurement methods and results, part 2 (from memory). Readings below the
    reporting limit are left out: what they count as has no scatter.
    """
    values = np.where(readings.states == State.VALUE, readings.values, np.nan)
    counts = np.isfinite(values).sum(axis=1)
    values, counts = values[counts >= 2], counts[counts >= 2]
    means = np.nansum(values, axis=1) / counts
    squares = np.nansum((values - means[:, np.newaxis]) ** 2, axis=1)
    if relative:
        nonzero = means != 0
        squares, counts = squares[nonzero] / means[nonzero] ** 2, counts[nonzero]
    freedom = int((counts - 1).sum())
    return PooledSd(math.sqrt(squares.sum() / freedom) if freedom else math.nan, freedom)


def repeat_sd(measure: Measure, readings: Readings) -> float | None:
    """The standard deviation of one reading: in the unit, or a share where the measure's kind is a relative one.

    None where the measure declares no repeatability, or pools it and no product has two readings.
    """
    declared = measure.repeatability
    if declared is None:
        return None
    if declared.amount is not None and declared.kind.value in ("absolute", "relative"):
        return declared.amount.value
    sd = pooled_sd(readings, declared.kind.value == "pooled relative").sd
    return None if math.isnan(sd) else sd


def _counted(readings: Readings) -> Flags:
    """Which readings count; shape (n_products, n_repeats)."""
    return np.asarray((readings.states == State.VALUE) | (readings.states == State.BELOW))


def _summed_up(measure: Measure, ordered: Array, counts: Integers) -> Array:
    """One value a row of sorted readings, NaN at the end of a row being no readings.

    Parameters
    ----------
    ordered : shape (rows, repeats)
    counts : shape (rows,), how many readings there are in each

    Returns
    -------
    ndarray, shape (rows,)
    """
    begins, ends = kept_repeats(measure, counts)
    if measure.repeats.value != "level mean":
        return _mean(ordered, begins, ends)
    highest = ordered[np.arange(len(ordered)), np.maximum(counts - 1, 0)]
    powers = 10 ** ((ordered - highest[:, np.newaxis]) / 10)
    return np.asarray(highest + 10 * np.log10(_mean(powers, begins, ends)))


def kept_repeats(measure: Measure, counts: Integers) -> tuple[Integers, Integers]:
    """Which of the sorted repeats a measure's rule takes the mean of: from, and up to, counted from 0.

    Parameters
    ----------
    counts : shape (rows,), how many readings there are in each

    Returns
    -------
    begins, ends : shape (rows,)

    Raises
    ------
    ScoringError : the share that a trimmed mean sets aside is not from 0 to below 0.5
    """
    match measure.repeats.value:
        case "mean" | "level mean":
            return np.zeros_like(counts), counts
        case "median":
            return np.maximum(counts - 1, 0) // 2, counts // 2 + 1
        case "trimmed":
            cut = _trimmed_each_end(measure, counts)
            return cut, counts - cut
    raise ValueError(f"unknown summary of repeats {measure.repeats.value!r}")


def _mean(ordered: Array, begins: Integers, ends: Integers) -> Array:
    """The mean of each row's readings from `begins` up to `ends`, added one by one in their order, without the dust of that.

    Parameters
    ----------
    ordered : shape (rows, repeats)
    begins, ends : shape (rows,), counted from 0

    Returns
    -------
    ndarray, shape (rows,); NaN where there is nothing between
    """
    columns = np.arange(ordered.shape[1])
    within = (columns >= begins[:, np.newaxis]) & (columns < ends[:, np.newaxis])
    held = np.where(within, ordered, 0.0)
    total = np.cumsum(held, axis=1)[:, -1]
    n_within = within.sum(axis=1)
    mean = np.where(n_within > 0, total / np.maximum(n_within, 1), np.nan)
    return undusted(mean, np.abs(held).max(axis=1))


def _trimmed_each_end(measure: Measure, counts: Integers) -> Integers:
    """How many readings a trimmed mean sets aside at each end: floor(share * n); both of shape (rows,)."""
    share = measure.trim.value
    if not 0 <= share < 0.5:
        expected = "a share from 0 to below 0.5 to set aside at each end"
        raise ScoringError([Problem(measure.trim.place, f"{measure.trim.address} of {share:g}", expected)])
    dust = 1e-9  # 0.29 of 100 readings is 29, whatever the binary product says
    return np.asarray(np.floor(share * counts + dust), dtype=np.int64)


def _reasons(readings: Readings, states: NDArray[np.uint8]) -> dict[int, str]:
    """Why products have no value: what is said of their readings, each reason once; `states` has the shape (n_products,)."""
    gone = np.flatnonzero((states == State.MISSING) | (states == State.NOT_APPLICABLE)).tolist()
    said: dict[int, dict[str, None]] = {product: {} for product in gone}
    for (product, _), reason in sorted(readings.reasons.items()):
        if product in said:
            said[product][reason] = None
    listed = (readings.states != State.NONE).any(axis=1)
    return {
        product: "; ".join(reasons) or (NO_REASON if listed[product] else NO_COLUMN)
        for product, reasons in said.items()
    }


def _nothing(n_products: int) -> Summary:
    states = np.full(n_products, State.MISSING, dtype=np.uint8)
    reasons = dict.fromkeys(range(n_products), NO_COLUMN)
    return Summary(np.full(n_products, np.nan), states, np.zeros(n_products, dtype=np.int64), reasons)


def taken_by(form: Form, values: Mapping[str, Array]) -> dict[str, Array]:
    """Readings as a formula takes them, in their own shapes: rounded where their measures round."""
    taken = dict(values)
    for name, array in values.items():
        rule = form.measure(name).round
        if rule is not None:
            taken[name] = round_to(array, rule.step.value, rule.rule.value)
    return taken
