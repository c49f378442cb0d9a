"""The error model of a catalogue under a form: uncertainties, degrees of freedom, covariances, and draws of errors.

A reading errs by the sum of its components: within a run (repeatability), by its session (one shift for all readings of a
measure in a session), by its specimen, and systematically (one shift for all readings of a measure). Errors of measures
read in one run may be correlated, component by component.

References: [1] JCGM 100:2008, Guide to the expression of uncertainty in measurement, 5.1.2, 5.2.2 and G.4 (from memory).
[2] JCGM 101:2008, Supplement 1, 6.4.9.2: draws from a scaled and shifted t where a standard deviation rests on few degrees
of freedom (from memory). [3] ISO 5725-3:1994, intermediate measures of precision: sessions as a factor (from memory).
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from scoring.catalogue import Catalogue
from scoring.catalogue.repeats import summarise, summarise_all, summary_of
from scoring.errors import CatalogueError, Problem
from scoring.form import Form, Measure
from scoring.measurement_error.clusters import Cluster, connected, correlation_matrix
from scoring.measurement_error.components import NAMES, REPEATABILITY, Component, components_of
from scoring.measurement_error.stated_correlations import coefficients
from scoring.measurement_error.units import Units, units_alone, units_of, units_of_product
from scoring.numbers.array_types import Array


@dataclass(frozen=True, slots=True, eq=False)
class MeasureErrors:
    """The errors of one measure's values: what they are made of, and how those of its readings go into each value.

    components: in the order of `NAMES`; units: component -> which readings share one error; measure: the noun, whose rule sums
    up repeats, or None where errors are those of values.
    """

    name: str
    components: tuple[Component, ...]
    units: Mapping[str, Units]
    measure: Measure | None

    def component_u(self, component: Component) -> Array:
        """What one component makes of the uncertainty of each value, shape (products,), to first order."""
        return np.asarray(component.sd * self.units[component.name].spread)

    def component(self, name: str) -> Component:
        """The component called `name`."""
        return next(one for one in self.components if one.name == name)

    def with_units(self, component: str, units: Units) -> MeasureErrors:
        """The same with other units of one component."""
        return replace(self, units={**self.units, component: units})

    def of_product(self, product: int) -> MeasureErrors:
        """The same with the sizes of one product alone; its units are those of that product already."""
        return replace(self, components=tuple(one.of_product(product) for one in self.components))

    @property
    def is_linear(self) -> bool:
        """Whether a value's error is the mean of its readings' errors."""
        return self.measure is None or self.measure.repeats.value == "mean"

    @property
    def u(self) -> Array:
        """The standard uncertainty of each product's value, shape (products,)."""
        return np.asarray(np.sqrt(sum(self.component_u(one) ** 2 for one in self.components)))

    @property
    def freedom(self) -> Array:
        """The effective degrees of freedom of `u`, shape (products,), by Welch and Satterthwaite [1]; infinite where known."""
        u = self.u
        with np.errstate(divide="ignore", invalid="ignore"):
            spent = sum((self.component_u(one) / u) ** 4 / one.freedom for one in self.components)
            return np.asarray(np.where(u > 0, 1 / np.asarray(spent, float), np.inf))


@dataclass(frozen=True, eq=False)
class ErrorModel:
    """The errors of every value of a catalogue.

    measures: those that the catalogue has and of whose errors something is known; read: all that the catalogue has;
    n_products: of the catalogue; clusters: components of measures whose errors are drawn together.
    """

    measures: Mapping[str, MeasureErrors]
    read: tuple[str, ...]
    n_products: int
    clusters: tuple[Cluster, ...]

    @classmethod
    def of_values(cls, u: Mapping[str, ArrayLike]) -> ErrorModel:
        """The model of independent normal errors of values, known exactly: measure -> u, shape (products,)."""
        sizes = {name: np.asarray(own, float) for name, own in u.items()}
        n_products = len(next(iter(sizes.values()), ()))
        found = {}
        for name, size in sizes.items():
            known = np.full(n_products, np.inf)
            component = Component(REPEATABILITY, size, known, False, "normal", "stated", np.ones(n_products))
            found[name] = MeasureErrors(name, (component,), {REPEATABILITY: units_alone(n_products)}, None)
        clusters = tuple(Cluster(REPEATABILITY, (name,), np.eye(1), n_products) for name in found)
        return cls(found, tuple(found), n_products, clusters)

    @cached_property
    def u(self) -> dict[str, Array]:
        """The standard uncertainty of each value, measure -> shape (products,), in its unit; NaN where nothing is known."""
        unknown = np.full(self.n_products, np.nan)
        return {name: self.measures[name].u if name in self.measures else unknown for name in self.read}

    @cached_property
    def freedom(self) -> dict[str, Array]:
        """The effective degrees of freedom of each of `u`, measure -> shape (products,); infinite where it is known."""
        return {name: errors.freedom for name, errors in self.measures.items()}

    @cached_property
    def _sized(self) -> tuple[tuple[str, str], ...]:
        """The component and the measure of every size of an error, in the order in which they are drawn."""
        return tuple((cluster.component, name) for cluster in self.clusters for name in cluster.measures)

    @cached_property
    def is_estimated(self) -> bool:
        """Whether any size is an estimate of finitely many degrees of freedom."""
        components = (component for errors in self.measures.values() for component in errors.components)
        return any(np.isfinite(component.freedom).any() for component in components)

    @cached_property
    def is_shared(self) -> bool:
        """Whether two products share an error: that of a session, or a systematic one."""
        return any(
            not errors.units[component.name].is_own and (errors.component_u(component) > 0).any()
            for errors in self.measures.values()
            for component in errors.components
        )

    @cached_property
    def covariances(self) -> dict[tuple[str, str], Array]:
        """Covariances of two measures' values of one product, shape (products,), for the pairs that are correlated."""
        found: dict[tuple[str, str], Array] = {}
        for cluster in self.clusters:
            for one, other, coefficient in cluster.pairs():
                both = [self.measures[name] for name in (one, other)]
                sizes = [np.nan_to_num(errors.component_u(errors.component(cluster.component))) for errors in both]
                shared = both[0].units[cluster.component].shared_with(both[1].units[cluster.component])
                found[one, other] = found.get((one, other), 0.0) + coefficient * shared * sizes[0] * sizes[1]
        return found

    def correlation(self, one: str, other: str) -> Array:
        """How the errors of two measures' values of one product are correlated, shape (products,)."""
        covariance = self.covariances.get((one, other), self.covariances.get((other, one), np.zeros(self.n_products)))
        sizes = np.nan_to_num(self.u[one] * self.u[other])
        return np.divide(covariance, sizes, out=np.zeros(self.n_products), where=sizes > 0)

    def of_measures(self, names: Collection[str]) -> ErrorModel:
        """The model of some measures alone."""
        measures = {name: errors for name, errors in self.measures.items() if name in names}
        clusters = tuple(found for cluster in self.clusters if (found := cluster.of(names)) is not None)
        return replace(
            self, measures=measures, read=tuple(name for name in self.read if name in names), clusters=clusters
        )

    def of_product(self, product: int) -> ErrorModel:
        """The model of one product's values."""
        measures: dict[str, MeasureErrors] = dict(self.measures)
        clusters = []
        for cluster in self.clusters:
            own = {name: measures[name].units[cluster.component] for name in cluster.measures}
            alone = units_of_product(own, product)
            for name, units in alone.items():
                measures[name] = measures[name].with_units(cluster.component, units)
            n_errors = 1 if cluster.by_value else max(1, *(units.n_units for units in alone.values()))
            clusters.append(replace(cluster, n_errors=n_errors))
        measures = {name: errors.of_product(product) for name, errors in measures.items()}
        return replace(self, measures=measures, n_products=1, clusters=tuple(clusters))

    def draw(
        self, n_draws: int, rng: np.random.Generator, *, scaled: bool = True, left_out: Collection[str] = ()
    ) -> dict[str, Array]:
        """Draws of the error of every value.

        Parameters
        ----------
        scaled : multiply each estimated standard deviation by sqrt(nu / chi-squared_nu) in every draw [2]
        left_out : components that count as 0

        Returns
        -------
        dict of measure to array, shape (n_draws, products), in the measure's unit; 0 where there is no value
        """
        normals = [rng.standard_normal((n, n_draws, errors)) for n, errors in (one.shape for one in self.clusters)]
        sizes: dict[tuple[str, str], Array] = {}
        if scaled:
            for component, name in self._sized:
                sizes[component, name] = self.measures[name].component(component).sd_drawn(n_draws, rng)
        nothing = np.zeros((1, self.n_products))
        sizes |= {(component, name): nothing for component, name in self._sized if component in left_out}
        return self.errors_of(normals, sizes)

    def errors_of(
        self, normals: Sequence[Array], sizes: Mapping[tuple[str, str], Array] | None = None
    ) -> dict[str, Array]:
        """The errors of values that standard normal values make, measure -> shape (n_draws, products).

        Parameters
        ----------
        normals : independent ones for each of `clusters`, shape (measures, n_draws, n_errors)
        sizes : (component, measure) -> standard deviations, shape (n_draws or 1, products); as they stand where left out
        """
        n_draws = normals[0].shape[1] if normals else 0
        shape = n_draws, self.n_products
        values = {name: np.zeros(shape) for name in self.measures}
        readings: dict[str, Array] = {}
        for cluster, own_normals in zip(self.clusters, normals, strict=True):
            for name, own in zip(cluster.measures, cluster.errors(own_normals), strict=True):
                errors, units = self.measures[name], self.measures[name].units[cluster.component]
                sd = (sizes or {}).get((cluster.component, name), errors.component(cluster.component).sd)
                size = np.broadcast_to(np.nan_to_num(sd), shape)
                if cluster.by_value:
                    values[name] += size * np.nan_to_num(units.spread) * own
                elif errors.is_linear:
                    values[name] += size * units.summed(own)
                else:
                    drawn = size[..., np.newaxis] * own[:, units.codes]
                    readings[name] = readings.get(name, np.zeros(())) + drawn
        for name, drawn in readings.items():
            values[name] = _summed_up(self.measures[name], drawn)
        return values


def error_model(form: Form, catalogue: Catalogue) -> ErrorModel:
    """The errors of every summarised reading of a catalogue, as the form declares them.

    Raises
    ------
    CatalogueError : a component is `pooled` and the readings cannot tell it
    """
    read = [measure for measure in form.measures if measure.name in catalogue.readings]
    summaries = summarise_all(form, catalogue)
    problems = list[Problem]()
    components = {m.name: components_of(m, catalogue, summaries[m.name], problems) for m in read}
    units: dict[str, dict[str, Units]] = {measure.name: {} for measure in read}
    clusters = []
    for name in NAMES:
        declaring = {m.name: m for m in read if any(one.name == name for one in components[m.name])}
        pairs = coefficients(form, catalogue, name, declaring, problems)
        for group in connected(list(declaring), pairs):
            own = units_of(name, [declaring[member] for member in group], catalogue)
            for member, found in own.items():
                units[member][name] = found
            clusters.append(_cluster(name, group, pairs, own, declaring, components))
    if problems:
        raise CatalogueError(problems)
    known = {m.name: MeasureErrors(m.name, components[m.name], units[m.name], m) for m in read if components[m.name]}
    return ErrorModel(known, tuple(m.name for m in read), len(catalogue.products), tuple(clusters))


def value_uncertainty(measure: Measure, catalogue: Catalogue) -> Array:
    """The standard uncertainty of each product's value of one measure, shape (products,); NaN where nothing is known.

    Raises
    ------
    CatalogueError : a component is `pooled` and the readings cannot tell it
    """
    summary = summarise(measure, catalogue.readings[measure.name])
    problems = list[Problem]()
    components = components_of(measure, catalogue, summary, problems)
    if problems:
        raise CatalogueError(problems)
    units = {one.name: units_of(one.name, [measure], catalogue)[measure.name] for one in components}
    found = MeasureErrors(measure.name, components, units, measure).u
    return found if components else np.full(len(summary.values), np.nan)


def _cluster(
    component: str,
    group: list[str],
    pairs: Mapping[tuple[str, str], float],
    units: Mapping[str, Units],
    measures: Mapping[str, Measure],
    components: Mapping[str, tuple[Component, ...]],
) -> Cluster:
    first = group[0]
    by_value = len(group) == 1 and units[first].is_own and measures[first].repeats.value == "mean"
    n_errors = len(units[first].spread) if by_value else units[first].n_units
    (distribution,) = {one.distribution for one in components[first] if one.name == component}
    return Cluster(component, tuple(group), correlation_matrix(group, pairs), n_errors, distribution, by_value)


def _summed_up(errors: MeasureErrors, drawn: Array) -> Array:
    """The error of each value from those of its readings, (draws, products, repeats), by the measure's own rule."""
    assert errors.measure is not None  # those of values are linear
    counted = next(iter(errors.units.values())).counted
    readings = np.where(counted, drawn, np.nan).reshape(-1, counted.shape[1])
    found = summary_of(replace(errors.measure, round=None), readings).reshape(drawn.shape[:2])
    return np.nan_to_num(found)
