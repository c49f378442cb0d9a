"""The moves of a study: numbers, whole weight vectors, choices, parts left out, bench noise, resampled repeats, gaps filled."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Self

import numpy as np

from analysis.study.distributions import Distribution, Pick, picked
from analysis.study.study import Factor, Move, Options, Setting, Stream
from analysis.study.weight_rules import Intervals, PlusMinus, WeightRule
from scoring.catalogue import Readings, State
from scoring.catalogue.repeats import summary_of
from scoring.form import Measure
from scoring.measurement_error import ErrorModel
from scoring.measurement_error.unread import UnreadLaw
from scoring.numbers.array_types import Array, Flags

#: So many resampled readings are held at a time.
HELD = 1 << 21


@dataclass(frozen=True, slots=True, eq=False)
class NumberMove(Move):
    """One number, by a distribution."""

    factor: Factor
    address: str
    distribution: Distribution
    value: float

    @property
    def factors(self) -> tuple[Factor, ...]:
        return (self.factor,)

    @property
    def numbers(self) -> tuple[str, ...]:
        return (self.address,)

    @property
    def ranges(self) -> Mapping[str, tuple[float, ...]]:
        return {self.address: self.distribution.ends}

    @property
    def may_be_nought(self) -> tuple[str, ...]:
        is_nought = isinstance(self.distribution, Pick) and 0.0 in self.distribution.figures
        return (self.address,) if is_nought else ()

    def apply(self, unit: Array, stream: Stream, setting: Setting) -> None:  # noqa: ARG002
        setting.numbers[self.address] = self.distribution.values(unit[:, 0])

    def state(self, setting: Setting) -> None:
        setting.numbers[self.address] = np.full(setting.n_draws, self.value)


@dataclass(frozen=True, slots=True, eq=False)
class WeightsMove(Move):
    """All weights of one rating or score together."""

    own: tuple[Factor, ...]
    addresses: tuple[str, ...]
    rule: WeightRule
    values: tuple[float, ...]

    @property
    def factors(self) -> tuple[Factor, ...]:
        return self.own

    @property
    def numbers(self) -> tuple[str, ...]:
        return self.addresses

    @property
    def may_be_nought(self) -> tuple[str, ...]:
        if not isinstance(self.rule, PlusMinus):
            return ()
        total, width = sum(self.values), self.rule.width
        both = zip(self.addresses, self.values, strict=True)
        return tuple(address for address, weight in both if weight / total < width)

    def draw(self, n_draws: int, rng: np.random.Generator) -> Stream:
        return {"weights": self.rule.draw(n_draws, rng)} if isinstance(self.rule, Intervals) else {}

    def apply(self, unit: Array, stream: Stream, setting: Setting) -> None:
        weights = stream["weights"] if stream else self.rule.weights(unit)
        for column, address in enumerate(self.addresses):
            setting.numbers[address] = weights[:, column]

    def state(self, setting: Setting) -> None:
        for address, value in zip(self.addresses, self.values, strict=True):
            setting.numbers[address] = np.full(setting.n_draws, value)


@dataclass(frozen=True, slots=True, eq=False)
class ChoiceMove(Move):
    """A choice among options, each being settings (address, value) that hold together; one is the formula as stated: ()."""

    factor: Factor
    among: tuple[Options, ...]
    chances: tuple[float, ...]

    @property
    def factors(self) -> tuple[Factor, ...]:
        return (self.factor,)

    @property
    def options(self) -> tuple[Options, ...]:
        return self.among

    def apply(self, unit: Array, stream: Stream, setting: Setting) -> None:  # noqa: ARG002
        setting.choices[self.factor.name] = picked(unit[:, 0], self.chances)

    def state(self, setting: Setting) -> None:
        setting.choices[self.factor.name] = np.full(setting.n_draws, self.options.index(()))


@dataclass(frozen=True, slots=True, eq=False)
class LeaveOutMove(Move):
    """One part's weight set to 0 at a time, or none; all alike. It comes after the moves of the weights."""

    factor: Factor
    addresses: tuple[str, ...]
    stated: tuple[float, ...]

    @property
    def factors(self) -> tuple[Factor, ...]:
        return (self.factor,)

    @property
    def numbers(self) -> tuple[str, ...]:
        return self.addresses

    @property
    def owns(self) -> frozenset[str]:
        """None: it goes with any move of the weights."""
        return frozenset()

    @property
    def leaves_out(self) -> str:
        return self.factor.output

    def apply(self, unit: Array, stream: Stream, setting: Setting) -> None:  # noqa: ARG002
        n_options = len(self.addresses) + 1
        out = picked(unit[:, 0], (1 / n_options,) * n_options) - 1
        for part, (address, stated) in enumerate(zip(self.addresses, self.stated, strict=True)):
            weights = setting.numbers.get(address, np.full(setting.n_draws, stated))
            setting.numbers[address] = np.where(out == part, 0.0, weights)

    def state(self, setting: Setting) -> None:
        for address, stated in zip(self.addresses, self.stated, strict=True):
            setting.numbers.setdefault(address, np.full(setting.n_draws, stated))


@dataclass(frozen=True, slots=True, eq=False)
class NoiseMove(Move):
    """Every value moved by a draw of its error, by the error model, in units of its standard uncertainty.

    scaled: whether each estimated standard deviation is itself drawn, by its degrees of freedom; left_out: components that are
    not drawn.
    """

    factor: Factor
    errors: ErrorModel
    scaled: bool = True
    left_out: tuple[str, ...] = ()

    @property
    def factors(self) -> tuple[Factor, ...]:
        return (self.factor,)

    @property
    def is_bench(self) -> bool:
        return True

    @property
    def shares_errors(self) -> bool:
        return self.errors.is_shared

    def with_stated_sizes(self) -> Self:
        return replace(self, scaled=False) if self.errors.is_estimated else self

    def without_component(self, name: str) -> Self:
        return replace(self, left_out=(*self.left_out, name))

    @property
    def measures(self) -> tuple[str, ...]:
        return tuple(name for name, u in self.errors.u.items() if (u > 0).any())

    @property
    def n_normals(self) -> int:
        return sum(math.prod(cluster.shape) for cluster in self.errors.clusters)

    def from_normals(self, normals: Array) -> Stream:
        ends = np.cumsum([math.prod(cluster.shape) for cluster in self.errors.clusters]).tolist()
        parts = [
            normals[:, end - math.prod(cluster.shape) : end].reshape(len(normals), *cluster.shape).transpose(1, 0, 2)
            for cluster, end in zip(self.errors.clusters, ends, strict=True)
        ]
        return self._in_units(self.errors.errors_of(parts))

    def draw(self, n_draws: int, rng: np.random.Generator) -> Stream:
        return self._in_units(self.errors.draw(n_draws, rng, scaled=self.scaled, left_out=self.left_out))

    def _in_units(self, errors: Mapping[str, Array]) -> Stream:
        """Errors in units of the standard uncertainty, measure -> shape (n_draws, n_products), 0 where there is none."""
        u = self.errors.u
        return {
            name: np.divide(errors[name], u[name], out=np.zeros_like(errors[name]), where=u[name] > 0)
            for name in self.measures
        }

    def apply(self, unit: Array, stream: Stream, setting: Setting) -> None:  # noqa: ARG002
        setting.noise.update(stream)

    def state(self, setting: Setting) -> None:
        """The readings as they stand."""


@dataclass(frozen=True, slots=True, eq=False)
class BootstrapMove(Move):
    """Every product's repeats drawn again from themselves, with replacement, and summed up by the measure's own rule."""

    factor: Factor
    repeats: Mapping[str, tuple[Measure, Readings]]

    @property
    def factors(self) -> tuple[Factor, ...]:
        return (self.factor,)

    @property
    def is_bench(self) -> bool:
        return True

    @property
    def measures(self) -> tuple[str, ...]:
        return tuple(self.repeats)

    @property
    def resamples(self) -> bool:
        return True

    @property
    def repeated(self) -> tuple[str, ...]:
        return tuple(name for name, (_, readings) in self.repeats.items() if _any_repeated(readings))

    def draw(self, n_draws: int, rng: np.random.Generator) -> Stream:
        return {name: _resampled(*both, n_draws, rng) for name, both in self.repeats.items()}

    def apply(self, unit: Array, stream: Stream, setting: Setting) -> None:  # noqa: ARG002
        setting.resampled.update(stream)

    def state(self, setting: Setting) -> None:
        """The repeats as they stand."""


def _any_repeated(readings: Readings) -> bool:
    """Whether any product has two readings."""
    counted = (readings.states == State.VALUE) | (readings.states == State.BELOW)
    return bool((counted.sum(axis=1) > 1).any())


def _resampled(measure: Measure, readings: Readings, n_draws: int, rng: np.random.Generator) -> Array:
    """Values from resampled repeats, shape (n_draws, n_products)."""
    counted = (readings.states == State.VALUE) | (readings.states == State.BELOW)
    ordered = np.sort(np.where(counted, readings.values, np.nan), axis=1)
    counts = counted.sum(axis=1)
    n_products, n_repeats = ordered.shape
    there = np.arange(n_repeats) < counts[:, np.newaxis]
    values = np.empty((n_draws, n_products))
    step = max(1, HELD // max(1, ordered.size))
    for top in range(0, n_draws, step):
        n = min(step, n_draws - top)
        index = (rng.random((n, n_products, n_repeats)) * np.maximum(counts, 1)[:, np.newaxis]).astype(np.intp)
        drawn = np.where(there, np.take_along_axis(np.broadcast_to(ordered, index.shape), index, axis=2), np.nan)
        values[top : top + n] = summary_of(measure, drawn.reshape(-1, n_repeats)).reshape(n, n_products)
    return values


@dataclass(frozen=True, slots=True, eq=False)
class UnreadMove(Move):
    """Every reading that was not made, or lies below its reporting limit, filled in by its law.

    The bench's noise is in what is filled in, and is not added to it. products : shape (n_products,), whether it is filled in
    for each.
    """

    factor: Factor
    law: UnreadLaw
    products: Flags

    @property
    def is_bench(self) -> bool:
        return True

    @property
    def fills(self) -> bool:
        return True

    @property
    def measures(self) -> tuple[str, ...]:
        return self.law.reaches(self.products)

    @property
    def factors(self) -> tuple[Factor, ...]:
        return (self.factor,)

    def draw(self, n_draws: int, rng: np.random.Generator) -> Stream:
        drawn = self.law.draw(n_draws, rng).filled()
        return {name: np.where(self.products, values, np.nan) for name, values in drawn.items()}

    def apply(self, unit: Array, stream: Stream, setting: Setting) -> None:  # noqa: ARG002
        setting.filled.update(stream)

    def state(self, setting: Setting) -> None:
        """The gaps as they stand."""
