"""Inputs that move together: normal scores with a given correlation, and what some of them leave open of the rest.

Source: the conditional law of a part of a normal vector given the rest, as in T. W. Anderson, An Introduction to
Multivariate Statistical Analysis, 3rd edition, 2003, section 2.5 (from memory).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy.special import ndtr

from scoring.numbers.array_types import Array
from scoring.numbers.ordered_sums import matrix_product

#: An eigenvalue of a correlation matrix above minus this one is a zero with rounding on it.
BELOW_ZERO = 1e-10
#: Directions whose eigenvalue is less than this share of the greatest carry no variance of their own.
NO_VARIANCE = 1e-12


@dataclass(frozen=True, slots=True, eq=False)
class Law:
    """The law of some columns given others that they are correlated with: mean slope @ held, covariance root @ root.T.

    slope: shape (rest, held); root: shape (rest, rest), symmetric.
    """

    held: tuple[int, ...]
    rest: tuple[int, ...]
    slope: Array
    root: Array


@dataclass(frozen=True, slots=True, eq=False)
class Conditional:
    """The law of every column that is not fixed, given those that are. Columns that no law names stand alone."""

    fixed: tuple[int, ...]
    laws: tuple[Law, ...]

    def redraw(self, scores: Array, normals: Array) -> Array:
        """Normal scores that keep the fixed columns and draw the others anew.

        Parameters
        ----------
        scores : array, shape (n, columns), of which the fixed columns are used
        normals : array, shape (n, columns), independent standard normal draws; those of the fixed columns are not used
        """
        drawn = np.array(normals, float)
        drawn[:, self.fixed] = scores[:, self.fixed]
        for law in self.laws:
            drawn[:, law.rest] = matrix_product(scores[:, law.held], law.slope.T) + matrix_product(
                normals[:, law.rest], law.root
            )
        return drawn


@dataclass(frozen=True, slots=True, eq=False)
class GaussianCopula:
    """Standard normal scores with a given correlation, in columns that belong to groups.

    Parameters
    ----------
    correlation : array, shape (columns, columns)
        Of the normal scores (not of ranks, nor of what a marginal makes of them). It may be singular.
    groups : sequence of sequences of columns
        The columns of each group; every column in exactly one.
    bound : tuple of tuples of columns, found here
        Sets of columns that are correlated, directly or through others; those that stand alone are in none.

    Raises
    ------
    ValueError
        The matrix is no correlation matrix, or the groups do not share out its columns.
    """

    correlation: Array
    groups: Sequence[Sequence[int]]
    bound: tuple[tuple[int, ...], ...] = field(init=False)

    def __post_init__(self) -> None:
        correlation = np.array(self.correlation, float)
        check_semidefinite(correlation, "correlation")
        if not np.allclose(np.diag(correlation), 1, atol=1e-12, rtol=0):
            raise ValueError("a correlation matrix whose diagonal is not 1 throughout")
        correlation.setflags(write=False)
        object.__setattr__(self, "correlation", correlation)
        object.__setattr__(self, "groups", shared_out(self.groups, len(correlation)))
        object.__setattr__(self, "bound", _bound(correlation))

    def columns_of(self, groups: Iterable[int]) -> tuple[int, ...]:
        """The columns of several groups, in order."""
        return tuple(sorted(column for group in groups for column in self.groups[group]))

    def given(self, fixed: Iterable[int]) -> Conditional:
        """The law of all other columns given the fixed ones: worked out once, to be drawn from many times."""
        kept = frozenset(fixed)
        laws = []
        for columns in self.bound:
            rest = tuple(column for column in columns if column not in kept)
            if rest:
                laws.append(_law(self.correlation, tuple(column for column in columns if column in kept), rest))
        return Conditional(tuple(sorted(kept)), tuple(laws))

    def draw(self, normals: Array) -> Array:
        """Correlated scores, shape (n, columns), from independent standard normals of the same shape."""
        return self.given(()).redraw(normals, normals)

    def redraw(self, scores: Array, fixed: Iterable[int], normals: Array) -> Array:
        """Scores that keep the fixed columns and draw the others from their exact law given those.

        scores, normals : shape (n, columns), as the result
        """
        return self.given(fixed).redraw(scores, normals)


def uniforms(scores: Array) -> Array:
    """Normal scores as numbers from 0 to 1, of the same shape, uniform: a quantile function makes any marginal of them."""
    return np.asarray(ndtr(scores), float)


def members(index: int, n_groups: int) -> list[int]:
    """The groups of a set, whose number has a binary 1 for each: set 0 is empty, set 5 holds groups 0 and 2."""
    return [group for group in range(n_groups) if index >> group & 1]


def check_semidefinite(matrix: Array, name: str) -> None:
    """Refuse what is not square, finite, symmetric and free of negative eigenvalues.

    matrix : shape (n, n), n of 1 or more

    Raises
    ------
    ValueError
        With the smallest eigenvalue (of the matrix scaled to a diagonal of 1) where it is negative.
    """
    if matrix.ndim != 2 or matrix.shape[0] != matrix.shape[1] or not len(matrix):
        raise ValueError(f"a {name} matrix of shape {matrix.shape}; it must be square")
    if not np.all(np.isfinite(matrix)):
        raise ValueError(f"a {name} matrix with an entry that is no finite number")
    scale = np.sqrt(np.abs(np.diag(matrix)))
    scaled = matrix / np.outer(*[np.where(scale > 0, scale, 1.0)] * 2)
    if not np.allclose(scaled, scaled.T, atol=1e-12, rtol=0):
        raise ValueError(f"a {name} matrix that is not symmetric")
    least = float(np.linalg.eigvalsh(scaled)[0])
    if least < -BELOW_ZERO:
        raise ValueError(
            f"a {name} matrix that no inputs can have: scaled to a diagonal of 1, "
            f"its smallest eigenvalue is {least:.6g}, and none may be negative"
        )


def shared_out(groups: Iterable[Iterable[int]], n_columns: int) -> tuple[tuple[int, ...], ...]:
    """The groups as tuples, once every column is found in exactly one of them.

    Raises
    ------
    ValueError
        An empty group, or a column in no group or in several.
    """
    read = tuple(tuple(int(column) for column in group) for group in groups)
    if any(not group for group in read):
        raise ValueError("a group without columns")
    listed = sorted(column for group in read for column in group)
    if listed != list(range(n_columns)):
        raise ValueError(f"groups of columns {listed}; each of 0 to {n_columns - 1} must be in exactly one")
    return read


def pseudo_inverse(matrix: Array) -> Array:
    """The inverse of a symmetric matrix, shape (n, n), on the directions that carry variance."""
    return np.asarray(np.linalg.pinv(matrix, rcond=NO_VARIANCE, hermitian=True), float)


def _bound(correlation: Array) -> tuple[tuple[int, ...], ...]:
    """Sets of two or more columns that hang together, in the order of their first columns.

    correlation : shape (columns, columns)
    """
    reach = correlation != 0
    for _ in range(len(reach).bit_length()):
        reach = matrix_product(reach, reach) > 0
    sets = {tuple(int(column) for column in np.flatnonzero(row)) for row in reach}
    return tuple(sorted(columns for columns in sets if len(columns) > 1))


def _law(correlation: Array, held: tuple[int, ...], rest: tuple[int, ...]) -> Law:
    """Slope R_rh R_hh^+ and the symmetric root of R_rr - R_rh R_hh^+ R_hr.

    correlation : shape (columns, columns); the slope is of shape (rest, held), the root of shape (rest, rest)
    """
    across = correlation[np.ix_(rest, held)]
    slope = matrix_product(across, pseudo_inverse(correlation[np.ix_(held, held)])) if held else across
    values, vectors = np.linalg.eigh(correlation[np.ix_(rest, rest)] - matrix_product(slope, across.T))
    values = np.where(values > NO_VARIANCE, values, 0.0)
    return Law(held, rest, slope, matrix_product(vectors * np.sqrt(values), vectors.T))
