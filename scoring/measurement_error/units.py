"""Which readings of a measure share one error of a component: the readings of a session, of a specimen, or each its own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from scoring.catalogue import Catalogue, State
from scoring.catalogue.conditions_of_reading import conditions_of
from scoring.catalogue.repeats import kept_repeats
from scoring.form import Measure
from scoring.measurement_error.components import REPEATABILITY, SESSIONS, SPECIMENS
from scoring.measurement_error.summed_errors import variance_factor
from scoring.numbers.array_types import Array, Flags, Indices, Integers, Texts


@dataclass(frozen=True, slots=True, eq=False)
class Units:
    """The units of one component of one measure; readings of one unit have one error.

    codes: the unit of each reading, shape (products, repeats), 0 where none counts; counted: whether it does; n_units: how
    many there are; products, units, shares: what share of a product's value each unit has, a row a pair, products rising;
    spread: the standard deviation of each value where every unit's error has 1, shape (products,), NaN where no value is.
    """

    codes: Indices
    counted: Flags
    n_units: int
    products: Indices
    units: Indices
    shares: Array
    spread: Array

    @property
    def is_own(self) -> bool:
        """Whether no unit has readings of two products, so that the errors of values are independent."""
        return len(np.unique(self.units)) == len(self.units)

    def summed(self, errors: Array) -> Array:
        """The error of each value, the mean of its readings' errors: (draws, units) to (draws, products)."""
        parts = errors[:, self.units] * self.shares
        found = np.zeros((len(errors), len(self.spread)))
        if len(self.units):
            read, first = np.unique(self.products, return_index=True)
            found[:, read] = np.add.reduceat(parts, first, axis=1)
        return found

    def shared_with(self, other: Units) -> Array:
        """How far two measures' values rest on the same units, shape (products,): 1 for all readings, 0 for none."""
        found = np.zeros(len(self.spread))
        keys, others = (one.products * self.n_units + one.units for one in (self, other))
        _, here, there = np.intersect1d(keys, others, return_indices=True)
        np.add.at(found, self.products[here], self.shares[here] * other.shares[there])
        sizes = np.sqrt(self._squares() * other._squares())
        return np.divide(found, sizes, out=np.zeros_like(found), where=sizes > 0)

    def _squares(self) -> Array:
        """The sum of the squares of each product's shares, shape (products,)."""
        return np.asarray(np.bincount(self.products, self.shares**2, minlength=len(self.spread)), float)


def units_alone(n_products: int) -> Units:
    """One reading of each product, each with an error of its own."""
    each = np.arange(n_products)
    there = np.ones((n_products, 1), bool)
    return Units(each[:, np.newaxis], there, n_products, each, each, np.ones(n_products), np.ones(n_products))


def units_of_product(units: Mapping[str, Units], product: int) -> dict[str, Units]:
    """The units of one product's readings alone, numbered anew, and alike in all the measures."""
    used = np.unique(np.concatenate([one.units[one.products == product] for one in units.values()]))
    at = slice(product, product + 1)
    found = {}
    for name, one in units.items():
        own = one.products == product
        numbers = np.searchsorted(used, one.units[own])
        codes = np.where(one.counted[at], np.searchsorted(used, one.codes[at]), 0)
        nothing = np.zeros(len(numbers), np.intp)
        found[name] = Units(codes, one.counted[at], len(used), nothing, numbers, one.shares[own], one.spread[at])
    return found


def units_of(component: str, measures: Sequence[Measure], catalogue: Catalogue) -> dict[str, Units]:
    """The units of one component of some measures, numbered alike in all of them, by measure."""
    keys = _keys(component, measures, catalogue)
    counted = {measure.name: _counted(catalogue, measure.name) for measure in measures}
    stacked = np.concatenate([keys[name][counted[name]] for name in keys])
    _, codes = np.unique(stacked, axis=0, return_inverse=True)
    n_units = int(codes.max(initial=-1)) + 1
    found, start = {}, 0
    for measure in measures:
        there = counted[measure.name]
        own = np.zeros(there.shape, np.intp)
        own[there] = codes.ravel()[start : start + int(there.sum())]
        start += int(there.sum())
        found[measure.name] = _units(component, measure, own, there, n_units)
    return found


def _units(component: str, measure: Measure, codes: Indices, counted: Flags, n_units: int) -> Units:
    """The units of one measure from the unit of each reading.

    codes : shape (products, repeats), from 0; counted : the same shape, whether the reading counts
    """
    n_products = len(codes)
    counts = counted.sum(axis=1)
    rows = np.nonzero(counted)[0]
    pairs, times = np.unique(rows * max(n_units, 1) + codes[counted], return_counts=True)
    products, units = pairs // max(n_units, 1), pairs % max(n_units, 1)
    shares = times / counts[products]
    if component == REPEATABILITY:
        spread = repeat_spread(measure, counts)
    else:
        squares = np.bincount(products, shares**2, minlength=n_products)
        spread = np.where(counts > 0, np.sqrt(squares), np.nan)
    return Units(codes, counted, n_units, products, units, shares, spread)


def repeat_spread(measure: Measure, counts: Integers) -> Array:
    """The standard deviation of a value where that of one reading is 1, by the measure's own rule; NaN where none is read.

    Parameters
    ----------
    counts : shape (products,), how many readings count; the result has the same shape

    Notes
    -----
    For a mean 1 / sqrt(n); for a level mean the same, to first order; for a median or a trimmed mean that of the order
    statistics of normal errors.
    """
    each = np.unique(counts[counts > 0])
    begins, ends = kept_repeats(measure, each)
    by_count: Mapping[int, float] = {
        count: variance_factor(begin, end, count)
        for count, begin, end in zip(each.tolist(), begins.tolist(), ends.tolist(), strict=True)
    }
    return np.array([np.sqrt(by_count[count]) if count else np.nan for count in counts.tolist()])


def _counted(catalogue: Catalogue, name: str) -> Flags:
    """Whether each reading of a measure counts, shape (products, repeats)."""
    states = catalogue.readings[name].states
    return np.asarray((states == State.VALUE) | (states == State.BELOW))


def _keys(component: str, measures: Sequence[Measure], catalogue: Catalogue) -> dict[str, Indices]:
    """What tells the units apart, measure -> shape (products, repeats, columns); the same numbers mean the same unit."""
    conditions = {measure.name: conditions_of(catalogue, measure.name) for measure in measures}
    sessions = _numbered({name: one.sessions for name, one in conditions.items()})
    specimens = _numbered({name: one.specimens for name, one in conditions.items()})
    found = {}
    for measure in measures:
        shape = catalogue.readings[measure.name].values.shape
        product = np.repeat(np.arange(shape[0])[:, np.newaxis], shape[1], axis=1)
        session, specimen = sessions[measure.name], specimens[measure.name]
        if component == SESSIONS:
            columns = [session]
        elif component == SPECIMENS:
            columns = [product, specimen]
        elif component == REPEATABILITY:
            columns = [product, session, specimen, _ordinals(session, specimen)]
        else:
            columns = [np.zeros(shape, np.intp)]
        found[measure.name] = np.stack(columns, axis=-1)
    return found


def _numbered(texts: Mapping[str, Texts]) -> dict[str, Indices]:
    """Texts of several measures as numbers of the same shape, the same for the same text."""
    there = {name: own.astype(str) for name, own in texts.items()}
    labels = np.unique(np.concatenate([own.ravel() for own in there.values()]))
    return {name: np.searchsorted(labels, own) for name, own in there.items()}


def _ordinals(session: Indices, specimen: Indices) -> Indices:
    """Which reading of its product, session and specimen each is, counted from 0 in the order of repeats.

    session, specimen : shape (products, repeats), as the result
    """
    found = np.zeros(session.shape, np.intp)
    for column in range(1, session.shape[1]):
        alike = session[:, :column] == session[:, [column]]
        alike &= specimen[:, :column] == specimen[:, [column]]
        found[:, column] = alike.sum(axis=1)
    return found
