"""Distributions of one number, each with its declaration: the key of a study file, what stands there, and what is made of it.

Each turns uniform draws into values, and says itself in words.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from scipy.special import ndtr, ndtri

from analysis.study.keys import Amount, Figures, Keyed, Law
from scoring.addresses.addresses import set_address
from scoring.declaration import Key
from scoring.errors import SteelyardError
from scoring.form import Form, Number
from scoring.numbers.array_types import Array, Indices
from scoring.reader.fields import Fields
from scoring.units.role import UnitRole

#: Uniform draws are held this far from 0 and 1, where a normal quantile is infinite.
EDGE = 2.0**-53
#: A normal draw is held within its quantiles at this chance from either end (4.75 sd), so that all it can draw can be checked.
TAIL = 1e-6


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

    @property
    def ends(self) -> tuple[float, ...]:
        """The least and the greatest that it can draw; all of them where they are few."""
        ...

    def values(self, unit: Array) -> Array:
        """Its quantiles at `unit`, uniform on 0 to 1; of the same shape."""
        ...


def normal_scores(unit: Array) -> Array:
    """Standard normal quantiles of the same shape, finite everywhere on 0 to 1."""
    return np.asarray(ndtri(np.clip(unit, EDGE, 1 - EDGE)))


def _held_scores(unit: Array) -> Array:
    """Standard normal quantiles of the same shape, held at those of `TAIL` on either side."""
    return normal_scores(np.clip(unit, TAIL, 1 - TAIL))


def _both_ends(distribution: Distribution) -> tuple[float, ...]:
    return tuple(distribution.values(np.array([0.0, 1.0])).tolist())


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

    @property
    def ends(self) -> tuple[float, ...]:
        return self.low, self.high

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
        half = math.log(self.high / self.low) / 2
        centre = math.sqrt(self.low) * math.sqrt(self.high)
        if half < 0.01:  # where the squares below are too near each other to be subtracted: their series
            return centre * half * math.sqrt((1 + 4 * half**2 / 15) / 3)
        return centre * math.sqrt(math.sinh(2 * half) / (2 * half) - (math.sinh(half) / half) ** 2)

    @property
    def ends(self) -> tuple[float, ...]:
        return self.low, self.high

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

    @property
    def ends(self) -> tuple[float, ...]:
        return _both_ends(self)

    def values(self, unit: Array) -> Array:
        return np.asarray(self.mean + self.sd * _held_scores(unit))


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
        return math.sqrt(((b - a) ** 2 + (c - a) ** 2 - (b - a) * (c - a)) / 18)

    @property
    def ends(self) -> tuple[float, ...]:
        return self.low, self.high

    def values(self, unit: Array) -> Array:
        width, rise, fall = self.high - self.low, self.likely - self.low, self.high - self.likely
        below = self.low + np.sqrt(unit * width * rise)
        above = self.high - np.sqrt((1 - unit) * width * fall)
        return np.asarray(np.where(unit * width < rise, below, above))


@dataclass(frozen=True, slots=True)
class Lognormal:
    """Its logarithm is normal: the median, and the factor that one standard deviation of the logarithm is.

    Held where the normal draws are, it has less of a tail: that counts where the factor is above 3 or so, and is in `sd`.
    """

    median: float
    factor: float

    @property
    def says(self) -> str:
        return f"lognormal, median {self.median:.6g}, times or divided by {self.factor:.6g} at one sd"

    @property
    def sd(self) -> float:
        return self.median * math.sqrt(self._moment(2) - self._moment(1) ** 2)

    def _moment(self, power: int) -> float:
        """Of the ratio to the median: between the holds exp(k^2 s^2 / 2) times a normal chance, and what lies on them."""
        spread, hold = power * math.log(self.factor), -float(ndtri(TAIL))
        between = math.exp(spread**2 / 2) * float(ndtr(hold - spread) - ndtr(-hold - spread))
        return between + TAIL * 2 * math.cosh(spread * hold)

    @property
    def ends(self) -> tuple[float, ...]:
        return _both_ends(self)

    def values(self, unit: Array) -> Array:
        return np.asarray(self.median * self.factor ** _held_scores(unit))


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

    @property
    def ends(self) -> tuple[float, ...]:
        return self.figures

    def values(self, unit: Array) -> Array:
        return np.asarray(np.array(self.figures)[picked(unit, self.chances)])


def picked(unit: Array, chances: tuple[float, ...]) -> Indices:
    """Which option each uniform draw picks, shape of `unit`."""
    edges = np.cumsum(chances)[:-1]
    return np.searchsorted(edges, unit, side="right")


def says_options(options: list[str], chances: tuple[float, ...]) -> str:
    """Options in words, with their chances where these differ."""
    if max(chances) - min(chances) < 1e-9:
        return "one of " + " | ".join(options) + ", equal chances"
    return "one of " + " | ".join(f"{option} ({100 * c:.3g} %)" for option, c in zip(options, chances, strict=True))


#: One standard deviation of a lognormal may be at most this factor.
MOST_FACTOR = 100
#: An address of the laboratory's formula, at which examples stand.
AT = "address: scores.two_abed.limits.1.at_most"

UNIFORM = Figures(("low", "high"), UnitRole.ALONG)
TRIANGULAR = Figures(("low", "likely", "high"), UnitRole.ALONG)
MEAN = Amount(UnitRole.ALONG)
SD = Amount(UnitRole.LENGTH, above=0)
MEDIAN = Amount(UnitRole.ALONG, above=0)
FACTOR = Amount(UnitRole.PLAIN, above=1, most=MOST_FACTOR)
NORMAL = Keyed(
    {
        "mean": Key(MEAN, "Its mean; the stated number by default.", f"{{{AT}, normal: {{mean: 5, sd: 0.5}}}}"),
        "sd": Key(SD, "Its standard deviation.", f"{{{AT}, normal: {{sd: 0.5}}}}", required=True),
    }
)
LOGNORMAL = Keyed(
    {
        "median": Key(
            MEDIAN,
            "Its median; the stated number by default, which must then be above 0.",
            f"{{{AT}, lognormal: {{median: 5, factor: 1.1}}}}",
        ),
        "factor": Key(
            FACTOR,
            "What one standard deviation of the logarithm multiplies or divides by.",
            f"{{{AT}, lognormal: {{factor: 1.1}}}}",
            required=True,
        ),
    }
)


def _uniform(item: Fields, _: Number) -> Distribution | None:
    ends = UNIFORM.read(item, "uniform")
    return Uniform(*ends) if ends is not None else None


def _triangular(item: Fields, _: Number) -> Distribution | None:
    figures = TRIANGULAR.read(item, "triangular")
    return Triangular(*figures) if figures is not None else None


def _normal(item: Fields, number: Number) -> Distribution | None:
    fields = NORMAL.read(item, "normal")
    if fields is None:
        return None
    mean, sd = MEAN.read(fields, "mean", default=number.value), SD.read(fields, "sd")
    return Normal(mean.value, sd.value) if mean is not None and sd is not None else None


def _lognormal(item: Fields, number: Number) -> Distribution | None:
    fields = LOGNORMAL.read(item, "lognormal")
    if fields is None:
        return None
    if "median" not in fields and number.value <= 0:
        item.reader.fault(item.place, f"a lognormal about {number.text} at {number.address}", "a `median` above 0")
        return None
    median, factor = MEDIAN.read(fields, "median", default=number.value), FACTOR.read(fields, "factor")
    return Lognormal(median.value, factor.value) if median is not None and factor is not None else None


#: Every distribution by its key. What one draws must be in `distributions`, or in a file of its own.
DISTRIBUTIONS: dict[str, Law[Number, Distribution]] = {
    "uniform": Law(
        Key(UNIFORM, "Every value between the two alike.", f"{{{AT}, uniform: [4, 6]}}"),
        read=_uniform,
    ),
    "normal": Law(
        Key(
            NORMAL,
            "A normal distribution, held at 4.75 standard deviations, so that all it can draw is checked.",
            f"{{{AT}, normal: {{sd: 0.5}}}}",
        ),
        read=_normal,
    ),
    "triangular": Law(
        Key(
            TRIANGULAR,
            "Likeliest at the middle figure, and falling straight to nothing at the ends.",
            f"{{{AT}, triangular: [4.5, 5, 5.5]}}",
        ),
        read=_triangular,
    ),
    "lognormal": Law(
        Key(
            LOGNORMAL,
            "Its logarithm is normal, held likewise: for numbers above 0 that are argued about by ratio.",
            f"{{{AT}, lognormal: {{factor: 1.1}}}}",
        ),
        read=_lognormal,
    ),
}


def fits(item: Fields, form: Form, number: Number, distribution: Distribution) -> bool:
    """Whether the formula still reads with the least and the greatest figure that can be drawn."""
    for end in distribution.ends:
        try:
            set_address(form, number.address, f"{end:.12g}")
        except SteelyardError as fault:
            problem = fault.problems[0]
            found = f"{end:.6g} at {number.address}, which {distribution.says} can draw: {problem.found}"
            item.reader.fault(item.place, found, problem.expected, problem.hint)
            return False
    return True
