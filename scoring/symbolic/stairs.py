"""Functions that stand still but for their jumps, and what the proofs ask of them: by how much they may jump, and where."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from scoring.numbers.intervals import EVERYWHERE, FALLING, RISING, ZERO, Interval
from scoring.symbolic.functions import OwnFunction


class Stairs(OwnFunction):
    """A function of its first argument that is constant between its jumps; `jumps_as` is what a jump of it is called."""

    jumps_as = ""

    def where(self, output: str) -> str:
        """Where it jumps, in words, if its edges are not among its arguments; `output` is the rating or score it is part of."""
        raise NotImplementedError(type(self).__name__)

    def jump(self, args: Sequence[Interval], value: Interval) -> Interval:
        """What it may change by where its first argument passes an edge; 0 where there is none.

        `value` is what it is known to hold over the box `args`.
        """
        raise NotImplementedError(type(self).__name__)

    def moved(self, args: Sequence[Interval], inner: Interval) -> Interval:
        """What it may change by where its first argument jumps by `inner`."""
        raise NotImplementedError(type(self).__name__)


class StairTable(Stairs):
    """Stairs written out, f(x, x1, y1, x2, y2, ...): y1 below x2, y2 from x2 up to x3, and so on."""

    def touched(self, args: Sequence[Interval]) -> list[Interval]:
        """The values of every stair that the argument may be on, in order."""
        x, xs, ys = args[0], args[1::2], args[2::2]
        first = max((i for i, edge in enumerate(xs) if edge.high <= x.low), default=0)
        last = max((i for i, edge in enumerate(xs) if edge.low <= x.high), default=0)
        return list(ys[first : last + 1])

    def jump(self, args: Sequence[Interval], value: Interval) -> Interval:  # noqa: ARG002
        """From one stair to the next, either way."""
        found = ZERO
        for before, after in pairwise(self.touched(args)):
            change = after - before
            found = found.hull(change).hull(-change)
        return found

    def moved(self, args: Sequence[Interval], inner: Interval) -> Interval:
        """From any stair that is touched to any other, in the order in which the argument goes."""
        touched = self.touched(args)
        ups = [touched[j] - touched[i] for i in range(len(touched)) for j in range(i + 1, len(touched))]
        found = ZERO
        for up in ups:
            if inner.high > 0:
                found = found.hull(up)
            if inner.low < 0:
                found = found.hull(-up)
        return found

    def enclose(self, args: Sequence[Interval]) -> Interval:
        held, *others = self.touched(args)
        for other in others:
            held = held.hull(other)
        return held

    def slopes(self, args: Sequence[Interval]) -> tuple[Interval, ...]:
        slope = ZERO
        for before, after in pairwise(self.touched(args)):
            if after == before:
                continue  # the same decimal twice: no step
            if after.high > before.low:
                slope = slope.hull(RISING)
            if after.low < before.high:
                slope = slope.hull(FALLING)
        return (slope, *(EVERYWHERE for _ in args[1:]))
