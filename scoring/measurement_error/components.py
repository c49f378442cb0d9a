"""Components of a reading's error, sized for a catalogue: stated in the form, or estimated from the readings."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from scoring.catalogue import Catalogue, State
from scoring.catalogue.conditions_of_reading import Conditions, conditions_of
from scoring.catalogue.repeats import Summary
from scoring.errors import Problem
from scoring.form import ErrorComponent, Measure
from scoring.measurement_error.moderated import moderated_sds
from scoring.measurement_error.variance_components import Estimate, VarianceComponents, variance_components
from scoring.numbers.array_types import Array, Indices

REPEATABILITY, SESSIONS, SPECIMENS, SYSTEMATIC = "repeatability", "between_sessions", "between_specimens", "systematic"
NAMES = (REPEATABILITY, SESSIONS, SPECIMENS, SYSTEMATIC)
#: Half-width over standard deviation of the distributions that are stated by their half-width (GUM 4.3.7, 4.3.9; from memory).
HALF_WIDTHS = {"rectangular": math.sqrt(3), "triangular": math.sqrt(6)}


UNLIKE = "pooled; products may differ in scatter, and each one's own is weighed in"


@dataclass(frozen=True, slots=True, eq=False)
class Component:
    """One component of the errors of a measure's readings, sized.

    name: one of `NAMES`; sd: of one reading, in the unit, shape (products,), NaN where there is no value; freedom: the degrees
    of freedom that it rests on, shape (products,), infinite where it is known; by_product: whether each product's is an
    estimate of its own, not one estimate for all; distribution: normal, rectangular or triangular; origin: "stated" or
    "pooled", and what else is to be said of that; size: what an estimate is multiplied by, shape (products,); estimates: what
    the component of sessions or specimens was estimated with, None for others.
    """

    name: str
    sd: Array
    freedom: Array
    by_product: bool
    distribution: str
    origin: str
    size: Array
    estimates: VarianceComponents | None = None

    def of_product(self, product: int) -> Component:
        """The same for one product alone."""
        at = slice(product, product + 1)
        return replace(self, sd=self.sd[at], freedom=self.freedom[at], size=self.size[at])

    def sd_drawn(self, n_draws: int, rng: np.random.Generator) -> Array:
        """The standard deviation, drawn from what its degrees of freedom leave open; shape (n_draws or 1, products).

        Notes
        -----
        sd sqrt(nu / chi-squared_nu), one draw an estimate. A component of sessions or specimens is a difference of mean
        squares and no chi-squared: it is drawn from those.
        """
        if self.estimates is not None:
            _, sessions, specimens = self.estimates.sampled_variances(n_draws, rng)
            drawn = sessions if self.name == SESSIONS else specimens
            assert drawn is not None  # that which was estimated
            return np.sqrt(drawn)[:, np.newaxis] * self.size
        finite = np.isfinite(self.freedom)
        if not finite.any():
            return self.sd
        if not self.by_product:
            freedom = float(self.freedom[finite][0])
            return np.sqrt(freedom / rng.chisquare(freedom, (n_draws, 1))) * self.sd
        freedoms = np.where(finite, self.freedom, 1.0)
        factors = np.sqrt(freedoms / rng.chisquare(freedoms, (n_draws, len(freedoms))))
        return np.where(finite, factors, 1.0) * self.sd


def components_of(
    measure: Measure, catalogue: Catalogue, summary: Summary, problems: list[Problem]
) -> tuple[Component, ...]:
    """The components that a measure declares, those of size 0 too; one that is `pooled` and cannot be told is a problem."""
    found: list[Component] = []
    estimates = _Estimates(measure, catalogue)
    for name in NAMES:
        stated: ErrorComponent | None = getattr(measure, name)
        if stated is None or not measure.declares(name):
            continue
        if stated.kind.value.startswith("pooled"):
            found += _pooled(name, stated, estimates, summary, problems)
        else:
            found.append(_stated(name, stated, summary))
    return tuple(found)


def _stated(name: str, stated: ErrorComponent, summary: Summary) -> Component:
    assert stated.amount is not None  # only pooled components and `none` have no amount
    distribution = stated.distribution.value
    sd = stated.amount.value / (HALF_WIDTHS[distribution] if stated.is_half_width else 1.0)
    freedom = stated.freedom.value if stated.freedom is not None else math.inf
    size = _size(summary, is_share=stated.kind.value == "relative")
    return Component(name, sd * size, np.full(len(size), freedom), False, distribution, "stated", size)


def _size(summary: Summary, *, is_share: bool) -> Array:
    """What a component's amount is multiplied by, shape (n_products,): 1, or the size of the value.

    NaN where there is no value.
    """
    return np.abs(summary.values) if is_share else np.where(np.isnan(summary.values), np.nan, 1.0)


class _Estimates:
    """What the readings of one measure say of its components, worked out where it is asked for."""

    def __init__(self, measure: Measure, catalogue: Catalogue) -> None:
        self.measure = measure
        readings = catalogue.readings[measure.name]
        self.values = np.where(readings.states == State.VALUE, readings.values, np.nan)
        self.conditions: Conditions = conditions_of(catalogue, measure.name)

    def components(self, *, relative: bool) -> VarianceComponents:
        return variance_components(
            self.values,
            self.conditions.sessions if self._declares(SESSIONS) else None,
            self.conditions.specimens if self._declares(SPECIMENS) else None,
            relative=relative,
        )

    def within(self, *, relative: bool) -> tuple[Array, Array]:
        """The standard deviation of every product's repeats under like conditions, and its degrees of freedom.

        Both of shape (n_products,); the former is NaN on 0 degrees of freedom.
        """
        cells = self._cells()
        there = np.isfinite(self.values)
        counts = np.bincount(cells[there], minlength=cells.max(initial=0) + 1)
        sums = np.bincount(cells[there], self.values[there], minlength=len(counts))
        means = sums / np.maximum(counts, 1)
        off = np.where(there, (self.values - means[cells]) ** 2, 0.0).sum(axis=1)
        n_cells = np.array([len(set(row[here].tolist())) for row, here in zip(cells, there, strict=True)])
        freedom = there.sum(axis=1) - n_cells
        sds = np.sqrt(off / np.maximum(freedom, 1))
        if relative:
            size = np.abs(np.nansum(self.values, axis=1) / np.maximum(there.sum(axis=1), 1))
            freedom = np.where(size > 0, freedom, 0)
            sds = sds / np.where(size > 0, size, 1.0)
        return np.where(freedom > 0, sds, np.nan), np.asarray(freedom, float)

    def _cells(self) -> Indices:
        """A number for each product's readings under like conditions, shape (products, repeats)."""
        n_products, n_repeats = self.values.shape
        cells = np.repeat(np.arange(n_products)[:, np.newaxis], n_repeats, axis=1)
        for name, texts in ((SESSIONS, self.conditions.sessions), (SPECIMENS, self.conditions.specimens)):
            if self._declares(name):
                labels, codes = np.unique(texts.astype(str), return_inverse=True)
                cells = cells * len(labels) + codes.reshape(cells.shape)
        _, numbered = np.unique(cells, return_inverse=True)
        return np.asarray(numbered.reshape(cells.shape), np.intp)

    def _declares(self, name: str) -> bool:
        return self.measure.declares(name)


def _pooled(
    name: str, stated: ErrorComponent, estimates: _Estimates, summary: Summary, problems: list[Problem]
) -> Iterator[Component]:
    relative = stated.kind.value == "pooled relative"
    size = _size(summary, is_share=relative)
    if name == REPEATABILITY:
        moderated = moderated_sds(*estimates.within(relative=relative))
        if np.isfinite(moderated.prior_sd):
            sd, origin = moderated.sd * size, "pooled" if moderated.is_common else UNLIKE
            yield Component(name, sd, moderated.freedom, not moderated.is_common, "normal", origin, size)
        return
    found = estimates.components(relative=relative)
    part = found.sessions if name == SESSIONS else found.specimens
    why = found.why_no_sessions if name == SESSIONS else found.why_no_specimens
    if part is None:
        hint = f"State a size in place of `{stated.kind.value}`, or give the readings that tell it."
        problems.append(
            Problem(stated.kind.place, f"{stated.kind.address} pooled, and {why}", "readings that tell it", hint)
        )
        return
    freedom = np.full(len(size), part.freedom)
    yield Component(name, part.sd * size, freedom, False, "normal", _origin(part), size, found)


def _origin(part: Estimate) -> str:
    return "pooled; the estimate of its variance was negative and is put at 0" if part.is_zero else "pooled"
