"""Distributions of one number: each turns uniform draws into values, and says itself in words."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

Array = NDArray[np.float64]
#: Uniform draws are held this far from 0 and 1, where a normal quantile is infinite.
EDGE = 2.0**-53


class Distribution(Protocol):
    """What every distribution tells of itself."""

    @property
    def says(self) -> str:
        """The distribution in words, with its figures."""
        ...

    @property
    def sd(self) -> float:
        """Its standard deviation."""
        ...

    def values(self, unit: Array) -> Array:
        """Its quantiles at `unit`, uniform on 0 to 1; of the same shape."""
        ...


def normal_scores(unit: Array) -> Array:
    """Standard normal quantiles, finite everywhere on 0 to 1."""
    return np.asarray(ndtri(np.clip(unit, EDGE, 1 - EDGE)))


@dataclass(frozen=True, slots=True)
class Uniform:
    """Every value from `low` to `high` alike."""

    low: float
    high: float

    @property
    def says(self) -> str:
        return f"uniform, {self.low:.6g} to {self.high:.6g}"

    @property
    def sd(self) -> float:
        return (self.high - self.low) / math.sqrt(12)

    def values(self, unit: Array) -> Array:
        return np.asarray(self.low + (self.high - self.low) * unit)


@dataclass(frozen=True, slots=True)
class LogUniform:
    """Every ratio alike, from `low` to `high`, both above 0."""

    low: float
    high: float

    @property
    def says(self) -> str:
        return f"uniform in the logarithm, {self.low:.6g} to {self.high:.6g}"

    @property
    def sd(self) -> float:
        width = math.log(self.high / self.low)
        mean = (self.high - self.low) / width
        return math.sqrt(max(0.0, (self.high**2 - self.low**2) / (2 * width) - mean**2))

    def values(self, unit: Array) -> Array:
        return np.asarray(self.low * (self.high / self.low) ** unit)


@dataclass(frozen=True, slots=True)
class Normal:
    """The normal distribution."""

    mean: float
    sd: float

    @property
    def says(self) -> str:
        return f"normal, mean {self.mean:.6g}, sd {self.sd:.6g}"

    def values(self, unit: Array) -> Array:
        return np.asarray(self.mean + self.sd * normal_scores(unit))


@dataclass(frozen=True, slots=True)
class Triangular:
    """Likeliest at `likely`, falling straight to nothing at `low` and `high`."""

    low: float
    likely: float
    high: float

    @property
    def says(self) -> str:
        return f"triangular, {self.low:.6g} to {self.high:.6g}, likeliest {self.likely:.6g}"

    @property
    def sd(self) -> float:
        a, c, b = self.low, self.likely, self.high
        return math.sqrt((a * a + b * b + c * c - a * b - a * c - b * c) / 18)

    def values(self, unit: Array) -> Array:
        width, rise, fall = self.high - self.low, self.likely - self.low, self.high - self.likely
        below = self.low + np.sqrt(unit * width * rise)
        above = self.high - np.sqrt((1 - unit) * width * fall)
        return np.asarray(np.where(unit * width < rise, below, above))


@dataclass(frozen=True, slots=True)
class Lognormal:
    """Its logarithm is normal: the median, and the factor that one standard deviation of the logarithm is."""

    median: float
    factor: float

    @property
    def says(self) -> str:
        return f"lognormal, median {self.median:.6g}, times or divided by {self.factor:.6g} at one sd"

    @property
    def sd(self) -> float:
        square = math.log(self.factor) ** 2
        return self.median * math.sqrt(math.expm1(square) * math.exp(square))

    def values(self, unit: Array) -> Array:
        return np.asarray(self.median * self.factor ** normal_scores(unit))


@dataclass(frozen=True, slots=True)
class Pick:
    """One of several figures, each with its chance."""

    figures: tuple[float, ...]
    chances: tuple[float, ...]

    @property
    def says(self) -> str:
        return says_options([f"{figure:g}" for figure in self.figures], self.chances)

    @property
    def sd(self) -> float:
        mean = sum(c * f for c, f in zip(self.chances, self.figures, strict=True))
        return math.sqrt(sum(c * (f - mean) ** 2 for c, f in zip(self.chances, self.figures, strict=True)))

    def values(self, unit: Array) -> Array:
        return np.asarray(np.array(self.figures)[picked(unit, self.chances)])


def picked(unit: Array, chances: tuple[float, ...]) -> NDArray[np.intp]:
    """Which option each uniform draw picks."""
    edges = np.cumsum(chances)[:-1]
    return np.searchsorted(edges, unit, side="right")


def says_options(options: list[str], chances: tuple[float, ...]) -> str:
    """Options in words, with their chances where these differ."""
    if max(chances) - min(chances) < 1e-9:
        return "one of " + " | ".join(options) + ", equal chances"
    return "one of " + " | ".join(f"{option} ({100 * c:.3g} %)" for option, c in zip(options, chances, strict=True))
