"""A smooth curve through anchors that never overshoots them: the monotone piecewise cubic."""

from __future__ import annotations

from collections.abc import Sequence

from sympy import Expr, Float, Max, Min, Piecewise, Symbol

from scoring.arrays import cubic_coefficients
from scoring.curves.kind import ERROR, HELD, CurveInputs, CurveKind, anchor_ends
from scoring.functions import CodePrinter, OwnFunction, anchor_code, are_numbers
from scoring.intervals import EVERYWHERE, ZERO, Interval


class Smooth(OwnFunction):
    """Smooth(x, x1, y1, ...): the monotone cubic through the anchors, held outside them."""

    def _fixed(self) -> tuple[list[float], list[float]]:
        return [float(a) for a in self.args[1::2]], [float(a) for a in self.args[2::2]]

    def numpy(self, printer: CodePrinter) -> str:
        if not are_numbers(self.args[1:]):
            return f"smooth({printer.doprint(self.args[0])}, {anchor_code(printer, self.args[1:])})"
        xs, ys = self._fixed()
        return f"fixed_smooth({printer.doprint(self.args[0])}, {tuple(xs)!r}, {cubic_coefficients(xs, ys)!r})"

    def elementary(self) -> Expr:
        xs, ys = self._fixed()
        held = Symbol("held", real=True)
        pieces = []
        for x0, x1, *cubic in zip(xs, xs[1:], *cubic_coefficients(xs, ys), strict=False):
            distance = held - Float(x0)
            value = sum(Float(c) * distance**power for power, c in enumerate(cubic))
            pieces.append((value, held <= Float(x1)))
        pieces[-1] = (pieces[-1][0], True)
        return Piecewise(*pieces).subs(held, Min(Max(self.args[0], Float(xs[0])), Float(xs[-1])))

    def enclose(self, args: Sequence[Interval]) -> Interval:
        """Between two anchors the curve stays between their values, so the hull of the touched anchors holds it."""
        x, xs, ys = args[0], args[1::2], args[2::2]
        touched = _touched(x, xs)
        held = ys[touched[0]]
        for index in touched[1:]:
            held = held.hull(ys[index])
        return held

    def slopes(self, args: Sequence[Interval]) -> tuple[Interval, ...]:
        """A monotone cubic's slope lies between 0 and 3 times its piece's secant (Fritsch and Carlson 1980, from memory)."""
        x, xs, ys = args[0], args[1::2], args[2::2]
        slope = ZERO
        touched = _touched(x, xs)
        for left, right in zip(touched, touched[1:], strict=False):
            secant = (ys[right] - ys[left]) / (xs[right] - xs[left])
            slope = slope.hull(secant * Interval(3, 3))
        return (slope, *(EVERYWHERE for _ in args[1:]))


def _touched(x: Interval, xs: Sequence[Interval]) -> list[int]:
    """The anchors that bound the pieces which x touches."""
    first = max((i for i, place in enumerate(xs) if place.high <= x.low), default=0)
    last = min((i for i, place in enumerate(xs) if place.low >= x.high), default=len(xs) - 1)
    return list(range(min(first, last), max(first, last) + 1))


def _build(inputs: CurveInputs) -> Expr:
    return Smooth(inputs.x, *inputs.anchors)


SMOOTH = CurveKind(
    name="smooth",
    says="a smooth curve through anchors `measure: rating` that rises and falls only where they do",
    anchored=True,
    outside=(HELD, ERROR),
    needs_top=False,
    build=_build,
    ends=anchor_ends,
)
