"""How a whole vector of weights is drawn. Every rule keeps the sum that the stated weights have.

Sources: uniform on the simplex by normalised exponentials, and a Dirichlet vector by normalised gamma variables: Devroye,
Non-Uniform Random Variate Generation, 1986, chapters V and XI (from memory). Normalised uniforms are not uniform there.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammaincinv

from analysis.study.distributions import EDGE

Array = NDArray[np.float64]
#: Rejection gives up after so many times the draws that are wanted.
MOST_TRIES = 10_000


class WeightRule(Protocol):
    """One way to draw a vector of m weights."""

    separate: bool
    """Whether each column is an independent argument of its own: a factor for every weight."""

    @property
    def columns(self) -> int:
        """How many uniform columns it takes; 0 where it draws from a generator."""
        ...

    @property
    def says(self) -> str:
        """The rule in words."""
        ...

    def weights(self, unit: Array) -> Array:
        """Weights of shape (n, m) from uniform columns, shape (n, columns)."""
        ...


def _rescaled(weights: Array, total: float) -> Array:
    return np.asarray(weights * (total / weights.sum(axis=1, keepdims=True)))


@dataclass(frozen=True, slots=True)
class ByFactor:
    """Each weight times a factor of its own, uniform from `low` to `high`; then all rescaled."""

    stated: tuple[float, ...]
    low: float
    high: float
    separate = True

    @property
    def columns(self) -> int:
        return len(self.stated)

    @property
    def says(self) -> str:
        return f"times a factor, uniform {self.low:g} to {self.high:g}, then rescaled to the stated sum"

    @property
    def sds(self) -> tuple[float, ...]:
        """The standard deviation of each weight before rescaling."""
        return tuple(weight * (self.high - self.low) / math.sqrt(12) for weight in self.stated)

    def weights(self, unit: Array) -> Array:
        moved = np.array(self.stated) * (self.low + (self.high - self.low) * unit)
        return _rescaled(moved, sum(self.stated))


@dataclass(frozen=True, slots=True)
class PlusMinus:
    """Each share moved by up to `width` (of a sum of 1), uniformly, not below 0; then all rescaled."""

    stated: tuple[float, ...]
    width: float
    separate = True

    @property
    def columns(self) -> int:
        return len(self.stated)

    @property
    def says(self) -> str:
        return f"share plus or minus up to {self.width:g}, uniform, not below 0, then rescaled to the stated sum"

    @property
    def sds(self) -> tuple[float, ...]:
        """The standard deviation of each weight before rescaling."""
        return (sum(self.stated) * self.width / math.sqrt(3),) * len(self.stated)

    def weights(self, unit: Array) -> Array:
        total = sum(self.stated)
        shares = np.array(self.stated) / total
        moved = np.maximum(shares + self.width * (2 * unit - 1), 0.0)
        return _rescaled(np.where(moved.sum(axis=1, keepdims=True) > 0, moved, shares), total)


@dataclass(frozen=True, slots=True)
class Dirichlet:
    """A Dirichlet vector about the stated shares: the larger the concentration, the nearer."""

    stated: tuple[float, ...]
    concentration: float
    separate = False

    @property
    def columns(self) -> int:
        return len(self.stated)

    @property
    def says(self) -> str:
        return f"Dirichlet about the stated shares, concentration {self.concentration:g}"

    def weights(self, unit: Array) -> Array:
        shapes = self.concentration * np.array(self.stated) / sum(self.stated)
        gammas = gammaincinv(np.maximum(shapes, 1e-9), np.clip(unit, EDGE, 1 - EDGE))
        gammas = np.where(shapes > 0, np.maximum(gammas, np.finfo(float).tiny), 0.0)
        return _rescaled(gammas, sum(self.stated))


@dataclass(frozen=True, slots=True)
class Simplex:
    """Every weight vector alike: uniform on the simplex, optionally in a stated order, heaviest first."""

    total: float
    parts: int
    order: tuple[int, ...] = ()
    separate = False

    @property
    def columns(self) -> int:
        return self.parts

    @property
    def says(self) -> str:
        return "uniform on the simplex" + (", in the stated order of weight" if self.order else "")

    def weights(self, unit: Array) -> Array:
        drawn = _rescaled(-np.log(np.clip(unit, EDGE, 1 - EDGE)), self.total)
        if not self.order:
            return drawn
        placed = np.empty(drawn.shape)
        placed[:, self.order] = np.sort(drawn, axis=1)[:, ::-1]
        return placed


@dataclass(frozen=True, slots=True)
class Intervals:
    """Every weight vector alike among those whose shares lie within stated intervals."""

    total: float
    low: tuple[float, ...]
    high: tuple[float, ...]
    separate = False

    @property
    def columns(self) -> int:
        return 0

    @property
    def says(self) -> str:
        ends = ", ".join(f"{100 * a:.3g}-{100 * b:.3g} %" for a, b in zip(self.low, self.high, strict=True))
        return f"uniform on the simplex with shares within {ends}"

    def weights(self, unit: Array) -> Array:
        raise NotImplementedError("intervals are drawn by rejection, from a generator")

    def draw(self, n: int, rng: np.random.Generator) -> Array:
        """n weight vectors, by rejection from the simplex that touches the intervals' low (or high) ends.

        Raises
        ------
        ValueError : the intervals leave so little room that almost every draw is rejected
        """
        low, high = np.array(self.low), np.array(self.high)
        from_low, from_high = 1 - low.sum(), high.sum() - 1
        kept, tries = [np.empty((0, len(low)))], 0
        while sum(len(rows) for rows in kept) < n:
            if tries > MOST_TRIES * max(n, 100):
                raise ValueError("the intervals leave so little room that draws do not fall into it")
            gaps = rng.standard_exponential((4 * n, len(low)))
            gaps /= gaps.sum(axis=1, keepdims=True)
            drawn = low + from_low * gaps if from_low <= from_high else high - from_high * gaps
            kept.append(drawn[((drawn >= low) & (drawn <= high)).all(axis=1)])
            tries += 4 * n
        return np.concatenate(kept)[:n] * self.total
