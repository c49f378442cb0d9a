"""A design run: every quantity of a score on both base samples, and with every swap between them, summed up by block."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from analysis.indices.block_sums import BLOCKS, Sums, near_mean
from analysis.indices.design import Design
from analysis.runs import Block, Executor, Told, blocks_of, gather
from analysis.study import Draws
from analysis.trials.quantities import Quantities
from analysis.trials.trials import Trials
from scoring.numbers.array_types import Array
from scoring.table.evaluate import Evaluation

#: So many points of every scramble are a block of a run: part of what a sum's last digits stand for.
POINTS = 16
#: So many output values of one batch of draws are held at a time.
HELD = 1 << 19


@dataclass(frozen=True, slots=True, eq=False)
class Outputs:
    """Every quantity of some points, shape (scrambles * points, q) each.

    a, b: on both base samples; swapped: the number of each swap, and the outputs with it, both ways round, worked out as they
    are asked for, so that not all are held.
    """

    a: Array
    b: Array
    swapped: Iterator[tuple[int, Array, Array]]


@dataclass(frozen=True, slots=True, eq=False)
class SwapRuns:
    """The points of a design, and what the quantities of a score are on them."""

    trials: Trials
    quantities: Quantities
    design: Design

    def pieces(self, block: Block) -> Iterator[Outputs]:
        """A block's points of every scramble, as many at a time as can be held."""
        for one, other in self.design.pieces(block.first, block.last, self._rows):
            base, turned = one.and_then(other), other.and_then(one)
            before, found = self._outputs(base)
            yield Outputs(*_halves(found), self._swapped(base, turned, before))

    def _swapped(
        self, base: Draws, turned: Draws, before: Mapping[str, Evaluation]
    ) -> Iterator[tuple[int, Array, Array]]:
        for number, swap in enumerate(self.design.swaps):
            moved = frozenset[str]().union(*(self.trials.reach[name] for name in swap.factors))
            _, found = self._outputs(self.design.mixed(base, turned, swap), before, moved)
            yield number, *_halves(found)

    @property
    def _rows(self) -> int:
        """How many points of every scramble are taken at a time."""
        widest = max(len(self.quantities.names), len(self.trials.inputs.products))
        return max(1, HELD // (2 * BLOCKS * widest))

    def near_mean(self) -> Array:
        """A value near every quantity's mean, shape (q,): of the first point of every scramble."""
        draws, _ = next(self.design.pieces(0, 1, 1))
        return near_mean(self._outputs(draws)[1])

    def _outputs(
        self, draws: Draws, before: Mapping[str, Evaluation] | None = None, moved: frozenset[str] = frozenset()
    ) -> tuple[Mapping[str, Evaluation], Array]:
        """What was worked out under some draws, and every quantity."""
        known = self.trials.work_out(self.trials.study.setting(draws), before, moved)
        values = self.trials.values(known, self.quantities.output.name, len(draws))
        return known, self.quantities.of(values)


def _halves(outputs: Array) -> tuple[Array, Array]:
    """Of draws of one sample and then the other."""
    return outputs[: len(outputs) // 2], outputs[len(outputs) // 2 :]


@dataclass(frozen=True, slots=True, eq=False)
class SwapSums:
    """The sums that indices are made of; shift: near the mean of each quantity; design: the hash of the points' design."""

    shift: Array
    n_swaps: int
    paired: tuple[int, ...]
    design: str

    def start(self) -> Sums:
        """Sums of nothing."""
        return Sums(self.shift, self.n_swaps, self.paired, design=self.design)

    def add(self, sums: Sums, piece: Outputs) -> Sums:
        """Take in some points with all their swaps."""
        a, b = sums.add_base(piece.a, piece.b, design=self.design)
        both: dict[int, tuple[Array, Array]] = {}
        for number, ab, ba in piece.swapped:
            centred = sums.add_swap(number, ab, ba, a, b)
            if number in self.paired:
                both[number] = centred
        if self.paired:
            abs_, bas = zip(*(both[number] for number in self.paired), strict=True)
            sums.add_second(list(abs_), list(bas))
        return sums

    def merge(self, sums: Sums, after: Sums) -> Sums:
        """The sums of both."""
        return sums.merge(after)

    def finish(self, sums: Sums) -> Sums:
        """As they are: indices are read off them at every step of a trail."""
        return sums


def more_points(
    runs: SwapRuns, reducer: SwapSums, points: range, *, onto: Sums | None, told: Told, execute: Executor
) -> Sums:
    """Sums with more points of every scramble, `onto` those of the points before them."""
    runs.design.base.upto(points.stop)  # here and at once: points are drawn one after the other, and blocks may not be
    blocks = blocks_of(points.stop, POINTS, first=points.start)
    return gather(runs, reducer, blocks, onto=onto, told=told, execute=execute)
