"""A study: the factors that vary, how draws of them become settings (n draws of everything, by address), and what is asked."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Self

import numpy as np

from analysis.study.distributions import normal_scores
from analysis.study.gaussian_copula import GaussianCopula, uniforms
from scoring.form import Form
from scoring.numbers.array_types import Array, Indices


@dataclass(slots=True, eq=False)
class Setting:
    """What one batch of draws sets; the moves of a study fill it in, one after the other.

    Attributes
    ----------
    n_draws : how many
    numbers : address -> values, shape (n_draws,)
    choices : name of a choice -> which of its options, shape (n_draws,)
    noise : measure -> standard normal errors of its value, shape (n_draws, n_products), in its standard uncertainties
    resampled : measure -> values from resampled repeats, shape (n_draws, n_products)
    filled : measure -> readings that were not made, or lie below a limit, shape (n_draws, n_products); NaN where a reading
        stays as it is, in all draws of a product alike
    """

    n_draws: int
    numbers: dict[str, Array] = field(default_factory=dict)
    choices: dict[str, Indices] = field(default_factory=dict)
    noise: dict[str, Array] = field(default_factory=dict)
    resampled: dict[str, Array] = field(default_factory=dict)
    filled: dict[str, Array] = field(default_factory=dict)


Stream = Mapping[str, Array]
#: Settings (address, value) that hold together; none: the formula as it is stated.
Options = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Factor:
    """One thing that varies by itself.

    name: its address, or what it is; kind: what sort of argument it is, or the group that the study puts it into;
    output: the rating or score it belongs to, "" for none; section: where it stands in the formula;
    stated, says, unit, origin: the row of the resolved table; columns: how many uniform columns it takes, 0 where it
    draws from a generator; sd: the standard deviation of a single number, NaN where there is none.
    """

    name: str
    kind: str
    section: str
    output: str
    stated: str
    says: str
    unit: str
    origin: str
    columns: int = 1
    sd: float = float("nan")


class Move(ABC):
    """How some factors' draws become settings, and all that is asked of it; what it does not answer is as most moves have it.

    Nothing asks which class a move is of: what a study needs to know of it is a question here.
    """

    __slots__ = ()

    @property
    @abstractmethod
    def factors(self) -> tuple[Factor, ...]:
        """The factors it takes, in the order of its columns."""

    def draw(self, n_draws: int, rng: np.random.Generator) -> Stream:  # noqa: ARG002
        """What it draws from a generator; empty where its columns say all."""
        return {}

    @abstractmethod
    def apply(self, unit: Array, stream: Stream, setting: Setting) -> None:
        """Write its part of a setting, from uniform columns, shape (n_draws, columns), and what it drew from a generator."""

    @abstractmethod
    def state(self, setting: Setting) -> None:
        """Write what the formula states into a setting."""

    # What it writes

    @property
    def numbers(self) -> tuple[str, ...]:
        """The addresses of the numbers that it sets."""
        return ()

    @property
    def options(self) -> tuple[Options, ...]:
        """What it chooses among, each a program of its own; () where it is no choice."""
        return ()

    @property
    def owns(self) -> frozenset[str]:
        """The addresses that no other move may write at."""
        return frozenset(self.numbers) | {address for option in self.options for address, _ in option}

    # What goes together with it

    @property
    def ranges(self) -> Mapping[str, tuple[float, ...]]:
        """Of numbers that are drawn one by one: address to the figures between which each may lie."""
        return {}

    @property
    def may_be_nought(self) -> tuple[str, ...]:
        """The addresses of numbers that have a chance to be 0."""
        return ()

    @property
    def leaves_out(self) -> str:
        """The output one of whose parts it leaves out, after all that moves its weights; "" where it leaves none."""
        return ""

    # What it does to readings

    @property
    def is_bench(self) -> bool:
        """Whether it is about the bench's readings, and no judgement."""
        return False

    @property
    def measures(self) -> tuple[str, ...]:
        """The measures whose readings it draws."""
        return ()

    @property
    def resamples(self) -> bool:
        """Whether it draws repeats anew, which are summed up by the stated rules."""
        return False

    @property
    def repeated(self) -> tuple[str, ...]:
        """The measures whose repeats it draws anew where any product has two readings: of the others nothing moves."""
        return ()

    @property
    def fills(self) -> bool:
        """Whether what it draws was not read."""
        return False

    @property
    def shares_errors(self) -> bool:
        """Whether products have an error in common: a session's, or a systematic one."""
        return False

    def with_stated_sizes(self) -> Self:
        """The same with sizes of errors that are estimated as they stand, and not drawn."""
        return self

    def without_component(self, name: str) -> Self:  # noqa: ARG002
        """The same without one component of errors."""
        return self

    @property
    def n_normals(self) -> int | None:
        """Of how many normal values a draw from a generator can be made, sizes being as they stand; None where of none."""
        return 0 if all(factor.columns for factor in self.factors) else None

    def from_normals(self, normals: Array) -> Stream:  # noqa: ARG002
        """What it draws where the normal values are given, shape (n_draws, n_normals), sizes being as they stand."""
        return {}


@dataclass(frozen=True, slots=True, eq=False)
class Draws:
    """n draws: uniform columns, shape (n, columns), and what the streaming factors drew, by factor."""

    unit: Array
    streams: Mapping[str, Stream]

    def __len__(self) -> int:
        return len(self.unit)

    def rows(self, at: slice) -> Draws:
        """Some of the draws."""
        streams = {name: {key: a[at] for key, a in stream.items()} for name, stream in self.streams.items()}
        return Draws(self.unit[at], streams)

    def and_then(self, others: Draws) -> Draws:
        """These draws, and others of the same study after them."""
        streams = {
            name: {key: np.concatenate([a, others.streams[name][key]]) for key, a in stream.items()}
            for name, stream in self.streams.items()
        }
        return Draws(np.concatenate([self.unit, others.unit]), streams)


@dataclass(frozen=True, eq=False)
class Study:
    """Which arguments of a formula vary and how, and what is asked of its scores.

    scores: names of the outputs looked at; top: how many places "the top" are; pairs: (A, B) ids of "A beats B";
    correlations: (factor, factor, correlation of their normal scores); sha256: of the study's text, "" where it is
    derived; notes: what a reader must know of what could not be moved.
    """

    name: str
    source: str
    form: Form
    moves: tuple[Move, ...]
    scores: tuple[str, ...]
    top: int
    pairs: tuple[tuple[str, str], ...]
    correlations: tuple[tuple[str, str, float], ...]
    sha256: str
    notes: tuple[str, ...] = ()

    @cached_property
    def factors(self) -> tuple[Factor, ...]:
        """Every factor, in the order of the columns."""
        return tuple(factor for move in self.moves for factor in move.factors)

    @cached_property
    def columns(self) -> dict[str, slice]:
        """Each factor's uniform columns."""
        found, start = {}, 0
        for factor in self.factors:
            found[factor.name] = slice(start, start + factor.columns)
            start += factor.columns
        return found

    @property
    def n_columns(self) -> int:
        """How many uniform columns all factors take."""
        return sum(factor.columns for factor in self.factors)

    def streams(self, n_draws: int, rng: np.random.Generator) -> dict[str, Stream]:
        """What the streaming factors draw, each from a generator of its own."""
        children = rng.spawn(len(self.moves))
        drawn = {}
        for move, child in zip(self.moves, children, strict=True):
            stream = move.draw(n_draws, child)
            if stream:
                drawn[move.factors[0].name] = stream
        return drawn

    def draws(self, n_draws: int, rng: np.random.Generator) -> Draws:
        """Draws of every factor, independent but for the stated correlations."""
        own, others = rng.spawn(2)
        unit = own.random((n_draws, self.n_columns))
        if self.correlations:
            unit = uniforms(self.copula.draw(normal_scores(unit)))
        return Draws(unit, self.streams(n_draws, others))

    @cached_property
    def copula(self) -> GaussianCopula:
        """The normal scores of all columns and how they are correlated; every factor with columns is a group."""
        correlation = np.eye(self.n_columns)
        for first, second, value in self.correlations:
            i, j = self.columns[first].start, self.columns[second].start
            correlation[i, j] = correlation[j, i] = value
        groups = [range(at.start, at.stop) for at in self.columns.values() if at.stop > at.start]
        return GaussianCopula(correlation, [list(group) for group in groups])

    def mixed(self, base: Draws, other: Draws, factors: tuple[str, ...]) -> Draws:
        """`base` with the named factors taken from `other`."""
        unit = base.unit.copy()
        streams = dict(base.streams)
        for name in factors:
            at = self.columns[name]
            unit[:, at] = other.unit[:, at]
            if name in other.streams:
                streams[name] = other.streams[name]
        return Draws(unit, streams)

    def setting(self, draws: Draws) -> Setting:
        """The settings that draws stand for."""
        setting = Setting(len(draws))
        for move, at in self._spans():
            stream = draws.streams.get(move.factors[0].name, {}) if move.factors else {}
            move.apply(draws.unit[:, at], stream, setting)
        return setting

    def stated(self, n_draws: int = 1) -> Setting:
        """A setting of what the formula states, `n_draws` times."""
        setting = Setting(n_draws)
        for move in self.moves:
            move.state(setting)
        return setting

    def _spans(self) -> Iterator[tuple[Move, slice]]:
        start = 0
        for move in self.moves:
            width = sum(factor.columns for factor in move.factors)
            yield move, slice(start, start + width)
            start += width

    def of_moves(self, moves: tuple[Move, ...]) -> Study:
        """The study with only some of its moves."""
        names = {factor.name for move in moves for factor in move.factors}
        tied = tuple(c for c in self.correlations if c[0] in names and c[1] in names)
        return replace(self, moves=moves, correlations=tied)
