"""Clusters: measures whose errors of one component are drawn together, because the form says that they are correlated."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import scipy

from scoring.numbers.array_types import Array


@dataclass(frozen=True, slots=True, eq=False)
class Cluster:
    """One component of some measures, and how their errors are correlated.

    correlation: shape (measures, measures); n_errors: how many errors each measure has in a draw, one a unit, or one a
    product where `by_value`, since no unit is shared and a mean of normal errors is normal; distribution: of each error.
    """

    component: str
    measures: tuple[str, ...]
    correlation: Array
    n_errors: int
    distribution: str = "normal"
    by_value: bool = False

    def of(self, names: Collection[str]) -> Cluster | None:
        """The cluster of some measures alone; None where it has none of them."""
        kept = [place for place, name in enumerate(self.measures) if name in names]
        if not kept:
            return None
        measures = tuple(self.measures[place] for place in kept)
        return replace(self, measures=measures, correlation=self.correlation[np.ix_(kept, kept)])

    def pairs(self) -> Iterator[tuple[str, str, float]]:
        """Each pair of measures, in the order of the form, with its coefficient."""
        for one, other in zip(*np.triu_indices(len(self.measures), 1), strict=True):
            yield self.measures[one], self.measures[other], float(self.correlation[one, other])

    @property
    def shape(self) -> tuple[int, int]:
        """How many measures there are, and errors of each, in one draw."""
        return len(self.measures), self.n_errors

    def errors(self, normals: Array) -> Array:
        """Errors with mean 0 and standard deviation 1 from independent standard normal values.

        Parameters
        ----------
        normals : shape (measures, n_draws, n_errors)
        """
        drawn = normals
        if len(drawn) > 1:
            drawn = np.einsum("ij,jkl->ikl", _root(self.correlation), normals, optimize=False)
        return drawn if self.distribution == "normal" else _spread_as(self.distribution, drawn)


def _spread_as(distribution: str, normals: Array) -> Array:
    """Rectangular or triangular values of the same standard deviation, in the order of the normal ones, of their shape."""
    share = scipy.special.ndtr(normals)
    if distribution == "rectangular":
        return np.asarray(np.sqrt(3) * (2 * share - 1))
    tail = np.sqrt(2 * np.minimum(share, 1 - share))
    return np.asarray(np.sqrt(6) * np.where(share < 0.5, tail - 1, 1 - tail))


def _root(correlation: Array) -> Array:
    """F with F F' = correlation, both of shape (measures, measures), for a matrix that may be singular."""
    sizes, directions = np.linalg.eigh(correlation)
    return np.asarray(directions * np.sqrt(np.maximum(sizes, 0.0)))


def connected(names: Sequence[str], pairs: Mapping[tuple[str, str], float]) -> list[list[str]]:
    """The names in groups: those that pairs lead from one to another, each in the order given."""
    group = {name: index for index, name in enumerate(names)}
    for one, other in pairs:
        old, new = sorted((group[one], group[other]))[::-1]
        group = {name: new if index == old else index for name, index in group.items()}
    return [[name for name in names if group[name] == index] for index in sorted(set(group.values()))]


def correlation_matrix(names: Sequence[str], pairs: Mapping[tuple[str, str], float]) -> Array:
    """The matrix of the stated coefficients, shape (len(names), len(names)), 0 where a pair is not stated."""
    found = np.eye(len(names))
    for (one, other), coefficient in pairs.items():
        if one in names and other in names:
            i, j = names.index(one), names.index(other)
            found[i, j] = found[j, i] = coefficient
    return found
