"""Sensitivity designs over plain uniform columns, and what a model makes of them, for tests of the indices."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from forms import form
from numpy.typing import NDArray

from analysis.indices.design import Design, Swap
from analysis.indices.sobol import Indices, Sums, indices, near_mean
from analysis.study import Study
from analysis.study.distributions import Distribution, Uniform
from analysis.study.moves import NumberMove
from analysis.study.study import Factor, Move

Array = NDArray[np.float64]
Model = Callable[[Array], Array]


def number_of(name: str, distribution: Distribution | None = None) -> NumberMove:
    """A number that varies: uniform from 0 to 1 if not told otherwise."""
    spread = distribution or Uniform(0, 1)
    return NumberMove(
        Factor(name, "numbers", "ratings", "", "0", spread.says, "", "test", sd=spread.sd), name, spread, 0.5
    )


def study_of(moves: int | Sequence[Move], correlations: Sequence[tuple[str, str, float]] = ()) -> Study:
    """A study of some moves, or of so many numbers x1, x2, ..., that asks nothing."""
    made = [number_of(f"x{i + 1}") for i in range(moves)] if isinstance(moves, int) else moves
    return Study("trial", "", form([]), tuple(made), (), 1, (), tuple(correlations), "", ())


def each_alone(study: Study) -> tuple[Swap, ...]:
    """A swap for every factor."""
    return tuple(Swap(factor.name, (factor.name,), "factor") for factor in study.factors)


def design_of(
    moves: int | Sequence[Move], points: int, *, seed: int = 0, groups: Sequence[Sequence[str]] = ()
) -> Design:
    """A design that swaps every factor, or the groups given, with so many points in each block."""
    study = study_of(moves)
    swaps = tuple(Swap("+".join(names), tuple(names), "group") for names in groups) or each_alone(study)
    return Design(study, swaps, points, seed)


@dataclass(frozen=True, slots=True, eq=False)
class Sample:
    """Outputs of a model on both base samples and with every swap, either way round: each of shape (rows, q)."""

    design: Design
    a: Array
    b: Array
    ab: list[Array]
    ba: list[Array]

    def salib_rows(self, output: int, *, turned: bool = False) -> Array:
        """One output in the order in which SALib lists its rows, blocks pooled: A, each AB, each BA, B, point by point.

        `turned`: with both samples in each other's place.
        """
        columns = [self.a, *self.ab, *self.ba, self.b]
        if turned:
            columns = [self.b, *self.ba, *self.ab, self.a]
        return np.stack([column[:, output] for column in columns], axis=1).ravel()


def sample_of(model: Model, design: Design) -> Sample:
    """What a model of uniform columns, (rows, columns) to (rows, q), gives on a whole design."""
    one, other = next(design.pieces(0, design.points, design.points))
    ab = [model(design.mixed(one, other, swap).unit) for swap in design.swaps]
    ba = [model(design.mixed(other, one, swap).unit) for swap in design.swaps]
    return Sample(design, model(one.unit), model(other.unit), ab, ba)


def sums_of(sample: Sample, *, second: bool = False, shift: Array | None = None) -> Sums:
    """The sums of a sample, between all swaps in pairs where second order is wanted."""
    count = len(sample.ab)
    shift = near_mean(sample.a[:: sample.design.points]) if shift is None else shift
    paired = tuple(range(count)) if second else ()
    sums = Sums(shift, count, paired, sample.design.n_blocks, design=sample.design.sha256)
    a, b = sums.add_base(sample.a, sample.b, design=sample.design.sha256)
    both = [sums.add_swap(n, ab, ba, a, b) for n, (ab, ba) in enumerate(zip(sample.ab, sample.ba, strict=True))]
    if second:
        sums.add_second([ab for ab, _ in both], [ba for _, ba in both])
    return sums


def found_of(sample: Sample, *, second: bool = False) -> Indices:
    """The indices of a sample."""
    return indices(sums_of(sample, second=second), design=sample.design.sha256)
