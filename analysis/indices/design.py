"""The draws of a sensitivity study: blocks of Sobol' points in two base samples, and the swaps between them.

The points are drawn once for all scores, by scipy (Joe and Kuo's directions; Matousek's linear scramble with a digital shift);
every block is a scramble of its own. A design has a hash of all that it is made of, and outputs that do not carry it are refused.

Draws depend on the seed and on where they stand, and not on how many are asked for at a time: a sample that is doubled, or
taken in pieces of any size, is the sample taken at once.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import scipy

from analysis.indices.block_sums import BLOCKS
from analysis.study import Draws, Study
from analysis.study.distributions import normal_scores
from analysis.study.gaussian_copula import uniforms
from analysis.study.study import Factor, Stream
from scoring.errors import Place, Problem, StudyError
from scoring.numbers.array_types import Array

#: What does not come from columns is drawn for so many points of every block together, whatever the pieces are.
TOGETHER = 8


class BaseSample:
    """Both samples of a study's uniform columns: what is drawn is kept and added to, for all scores and every doubling.

    Parameters
    ----------
    columns : of each of the two samples
    seed : 0 is a seed
    n_blocks : how many scrambles there are

    Notes
    -----
    A point of a block is one point of a sequence of twice as many columns, the first half being the first sample's. The
    first n points are the same however many are asked for in the end.
    """

    def __init__(self, columns: int, seed: int, n_blocks: int) -> None:
        self.columns, self.seed, self.n_blocks = columns, seed, n_blocks
        self._drawn = np.empty((n_blocks, 0, 2 * columns))

    def __reduce__(self) -> tuple[object, ...]:
        """What is drawn is drawn again where it arrives."""
        return BaseSample, (self.columns, self.seed, self.n_blocks)

    def upto(self, stop: int) -> tuple[Array, Array]:
        """Both samples' columns, shape (blocks, `stop` or more, columns)."""
        have = self._drawn.shape[1]
        if have < stop:
            more = (1 << (stop - 1).bit_length()) - have  # a sequence is even at powers of two
            self._drawn = np.concatenate([self._drawn, self._next(more)], axis=1)
        return self._drawn[..., : self.columns], self._drawn[..., self.columns :]

    def _next(self, points: int) -> Array:
        if self.columns == 0:
            return np.empty((self.n_blocks, points, 0))
        return np.stack([sequence.random(points) for sequence in self._sequences])

    @cached_property
    def _sequences(self) -> list[scipy.stats.qmc.Sobol]:
        seeds = np.random.SeedSequence([self.seed, 1]).generate_state(self.n_blocks)
        return [scipy.stats.qmc.Sobol(2 * self.columns, scramble=True, seed=int(seed)) for seed in seeds]


@dataclass(frozen=True, slots=True)
class Swap:
    """Factors that are taken from the other sample together: one factor, or a group; `level` says which."""

    name: str
    factors: tuple[str, ...]
    level: str


@dataclass(frozen=True, eq=False)
class Design:
    """Which swaps are made of a study's draws, and from which points.

    points: how many a block has at most, a power of two; seed: of everything random in it; shared: columns that other designs
    of the study, with the same seed and blocks, take from too.
    """

    study: Study
    swaps: tuple[Swap, ...]
    points: int
    seed: int
    n_blocks: int = BLOCKS
    shared: BaseSample | None = None

    def __post_init__(self) -> None:
        own = (self.study.n_columns, self.seed, self.n_blocks)
        if self.shared is not None and own != (self.shared.columns, self.shared.seed, self.shared.n_blocks):
            raise ValueError("a base sample of other columns, another seed or other blocks than the design's")

    @cached_property
    def sha256(self) -> str:
        """The hash of everything that the draws follow from, and of the formula that they are draws for."""
        said = [self.study.form.sha256, self.study.sha256, str(self.points), str(self.seed), str(self.n_blocks)]
        said += [f"{f.name} {f.says} {f.columns}" for f in self.study.factors]
        said += [f"{first} {second} {value!r}" for first, second, value in self.study.correlations]
        said += [f"{swap.level} {swap.name}: {' '.join(swap.factors)}" for swap in self.swaps]
        return hashlib.sha256("\n".join(said).encode()).hexdigest()

    @cached_property
    def base(self) -> BaseSample:
        """The uniform columns of both samples: those that are shared, or the design's own."""
        return self.shared or BaseSample(self.study.n_columns, self.seed, self.n_blocks)

    def pieces(self, start: int, stop: int, rows: int) -> Iterator[tuple[Draws, Draws]]:
        """Both samples from point `start` to `stop` of every block, `rows` points at a time; block after block.

        Raises
        ------
        ValueError
            More points than the design has.
        """
        if not 0 <= start <= stop <= self.points:
            raise ValueError(f"points {start} to {stop} of a design of {self.points} a block")
        self.base.upto(stop)
        for first in range(start, stop, rows):
            last = min(first + rows, stop)
            yield self._draws(0, first, last), self._draws(1, first, last)

    def _draws(self, side: int, first: int, last: int) -> Draws:
        n_rows = self.n_blocks * (last - first)
        unit = self.base.upto(last)[side][:, first:last].reshape(n_rows, self.study.n_columns)
        if self.study.correlations:
            unit = uniforms(self.study.copula.draw(normal_scores(unit)))
        return Draws(unit, self._streams(side, first, last))

    def _streams(self, side: int, first: int, last: int) -> dict[str, Stream]:
        """What does not come from columns, cut from runs of points that begin at multiples of `TOGETHER`."""
        if all(factor.columns for factor in self.study.factors):
            return {}
        begin = first - first % TOGETHER
        runs = [self._run(side, start) for start in range(begin, last, TOGETHER)]
        at = slice(first - begin, last - begin)
        return {
            name: {key: self._cut([run[name][key] for run in runs], at) for key in stream}
            for name, stream in runs[0].items()
        }

    def _run(self, side: int, start: int) -> dict[str, Stream]:
        rng = np.random.default_rng([self.seed, 2, side, start])
        return self.study.streams(self.n_blocks * TOGETHER, rng)

    def _cut(self, runs: list[Array], at: slice) -> Array:
        """Runs of points of every block, one after the other, as rows block after block."""
        width = runs[0].shape[1]
        by_block = np.concatenate([run.reshape(self.n_blocks, TOGETHER, width) for run in runs], axis=1)
        return by_block[:, at].reshape(-1, width)

    def mixed(self, base: Draws, other: Draws, swap: Swap) -> Draws:
        """One sample with a swap from the other."""
        return self.study.mixed(base, other, swap.factors)


def swaps_of(factors: Sequence[Factor], by: str) -> tuple[Swap, ...]:
    """Every factor by itself, then every group of the chosen grouping."""
    found = [Swap(factor.name, (factor.name,), "factor") for factor in factors]
    groups: dict[str, list[str]] = {}
    for factor in factors:
        if by != "factor":
            groups.setdefault(group_of(factor, by), []).append(factor.name)
    return (*found, *(Swap(name, tuple(members), "group") for name, members in groups.items()))


def group_of(factor: Factor, by: str) -> str:
    """The group that a factor belongs to."""
    if by == "kind":
        return factor.kind
    return factor.section if by == "section" else factor.output or factor.section


def without_tied(study: Study, swaps: Sequence[Swap]) -> tuple[tuple[Swap, ...], tuple[str, ...]]:
    """The swaps that can be made where inputs are correlated, and the names of the factors that are swapped with others only.

    Raises
    ------
    StudyError
        A correlation runs across two groups, or nothing holds both of its factors: variance cannot be shared out there.
    """
    members = {name for swap in swaps for name in swap.factors}
    ties = [tie for tie in study.correlations if tie[2] and members.issuperset(tie[:2])]
    groups = [swap for swap in swaps if swap.level == "group"]
    problems = []
    for first, second, correlation in ties:
        apart = [swap for swap in groups or swaps if (first in swap.factors) != (second in swap.factors)]
        if apart:
            found = f"{first} and {second}, correlated by {correlation:g}, on two sides of `{apart[0].name}`"
            expected = "independent inputs: Sobol' indices have no meaning here"
            hint = "`--shapley` shares the variance out among correlated groups; or put both into one `group`."
            problems.append(Problem(Place("the study"), found, expected, hint))
    if problems:
        raise StudyError(problems)
    names = {name for tie in ties for name in tie[:2]}
    kept = tuple(swap for swap in swaps if swap.level == "group" or names.isdisjoint(swap.factors))
    # a swap that is a factor by itself has that one factor
    return kept, tuple(swap.name for swap in swaps if swap.level == "factor" and swap.name in names)
