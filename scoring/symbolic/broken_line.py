"""The broken line through anchors, which is a kind of curve and `interp` in an expression, and how it goes on beyond them."""

from __future__ import annotations

from collections.abc import Sequence

from sympy import Expr, Max, Min

from scoring.numbers.intervals import EVERYWHERE, UNIT, ZERO, Interval
from scoring.symbolic.functions import CodePrinter, OwnFunction, Tracer, Typesetter, anchor_code, are_numbers
from scoring.symbolic.notation import Cases, Notation, add, divide, multiply, stretches, subtract


class Points(OwnFunction):
    """Points(x, x1, y1, x2, y2, ...): the broken line through the anchors, held outside them."""

    def code(self, printer: CodePrinter) -> str:
        name = "interp" if are_numbers(self.args[1:]) else "segments"
        return f"{name}({printer.doprint(self.args[0])}, {anchor_code(printer, self.args[1:])})"

    def elementary(self) -> Expr:
        x, anchors = self.args[0], self.args[1:]
        value = anchors[1]
        for x0, y0, x1, y1 in zip(anchors[::2], anchors[1::2], anchors[2::2], anchors[3::2], strict=False):
            value += (y1 - y0) / (x1 - x0) * Min(Max(x - x0, 0), x1 - x0)
        return value

    def trace(self, tracer: Tracer) -> str:
        x, xs, ys = self.args[0], self.args[1::2], self.args[2::2]
        value = tracer.value(x)
        for at, gives, beyond in (
            (xs[0], ys[0], value < tracer.value(xs[0])),
            (xs[-1], ys[-1], value > tracer.value(xs[-1])),
        ):
            if beyond:
                return f"({tracer.text(gives)} [held: {tracer.text(x)} lies beyond the anchor {tracer.text(at)}])"
        index = next(i for i, end in enumerate(xs[1:]) if value <= tracer.value(end))
        x0, x1, y0, y1 = (tracer.text(arg) for arg in (xs[index], xs[index + 1], ys[index], ys[index + 1]))
        return f"({y0} + ({y1} - {y0})*({tracer.text(x)} - {x0})/({x1} - {x0}))"

    def typeset(self, setter: Typesetter) -> Notation:
        x, xs, ys = _set(self, setter)
        values = [ys[0], *_stretch_lines(x, xs, ys), ys[-1]]
        return Cases(tuple(zip(values, stretches(x, xs, ("<", "<=")), strict=True)))

    def typeset_with(self, others: Sequence[Expr], setter: Typesetter) -> Notation | None:
        """With its `Beyond`: the first and last stretch without an end."""
        if [type(other) for other in others] != [Beyond] or others[0].args != self.args:
            return None
        x, xs, ys = _set(self, setter)
        lines = _stretch_lines(x, xs, ys)
        return (
            lines[0] if len(lines) == 1 else Cases(tuple(zip(lines, stretches(x, xs[1:-1], ("<", "<=")), strict=True)))
        )

    def enclose(self, args: Sequence[Interval]) -> Interval:
        x, xs, ys = args[0], args[1::2], args[2::2]
        return with_anchors(_at(x.low, xs, ys).hull(_at(x.high, xs, ys)), x, xs, ys)

    def slopes(self, args: Sequence[Interval]) -> tuple[Interval, ...]:
        x, xs, ys = args[0], args[1::2], args[2::2]
        slope = None
        if x.low < xs[0].high or x.high > xs[-1].low:
            slope = ZERO
        for x0, x1, y0, y1 in zip(xs, xs[1:], ys, ys[1:], strict=False):
            if (x.low < x1.high and x0.low < x.high) or x0.low <= x.low == x.high <= x1.high:
                here = (y1 - y0) / (x1 - x0)
                slope = here if slope is None else slope.hull(here)
        return (slope or ZERO, *(EVERYWHERE for _ in args[1:]))


class Beyond(OwnFunction):
    """Beyond(x, x1, y1, ...): what carrying on the first and last slope adds outside the anchors."""

    def code(self, printer: CodePrinter) -> str:
        return f"beyond({printer.doprint(self.args[0])}, {anchor_code(printer, self.args[1:])})"

    def elementary(self) -> Expr:
        x, anchors = self.args[0], self.args[1:]
        first = (anchors[3] - anchors[1]) / (anchors[2] - anchors[0])
        last = (anchors[-1] - anchors[-3]) / (anchors[-2] - anchors[-4])
        return first * Min(x - anchors[0], 0) + last * Max(x - anchors[-2], 0)

    def trace(self, tracer: Tracer) -> str:
        value = tracer.value(self)
        return f"({tracer.figure(value)} [the end slope carried on])" if value else "(0)"

    def _end_slopes(self, args: Sequence[Interval]) -> tuple[Interval, Interval]:
        first = (args[4] - args[2]) / (args[3] - args[1])
        last = (args[-1] - args[-3]) / (args[-2] - args[-4])
        return first, last

    def enclose(self, args: Sequence[Interval]) -> Interval:
        first, last = self._end_slopes(args)
        below = (args[0] - args[1]).lesser_of(ZERO)
        above = (args[0] - args[-2]).greater_of(ZERO)
        return first * below + last * above

    def slopes(self, args: Sequence[Interval]) -> tuple[Interval, ...]:
        first, last = self._end_slopes(args)
        x, slope = args[0], None
        for applies, here in (
            (x.low < args[1].high, first),
            (x.high > args[-2].low, last),
            (x.high >= args[1].low and x.low <= args[-2].high, ZERO),
        ):
            if applies:
                slope = here if slope is None else slope.hull(here)
        return (slope or ZERO, *(EVERYWHERE for _ in args[1:]))


def with_anchors(ends: Interval, x: Interval, xs: Sequence[Interval], ys: Sequence[Interval]) -> Interval:
    """What a curve that is monotone between its anchors may be over x: its values at the ends of x, and at the anchors in x."""
    held = ends
    for place, value in zip(xs, ys, strict=True):
        if x.low <= place.high and place.low <= x.high:
            held = held.hull(value)
    return held


def _set(curve: Points, setter: Typesetter) -> tuple[Notation, list[Notation], list[Notation]]:
    """What the curve takes, and its anchors, as notation."""
    x, *anchors = (setter.set(arg) for arg in curve.args)
    return x, anchors[::2], anchors[1::2]


def _stretch_lines(x: Notation, xs: Sequence[Notation], ys: Sequence[Notation]) -> list[Notation]:
    """The straight line of each stretch: y0 + (y1 - y0)(x - x0)/(x1 - x0)."""
    return [
        add(y0, divide(multiply(subtract(y1, y0), subtract(x, x0)), subtract(x1, x0)))
        for x0, x1, y0, y1 in zip(xs, xs[1:], ys, ys[1:], strict=False)
    ]


def _at(x: float, xs: Sequence[Interval], ys: Sequence[Interval]) -> Interval:
    """The broken line's value at one point, on every stretch that it may be on; held outside the anchors."""
    if x <= xs[0].low:
        return ys[0]
    if x > xs[-1].high:
        return ys[-1]
    held: Interval | None = None
    for x0, x1, y0, y1 in zip(xs, xs[1:], ys, ys[1:], strict=False):
        if x0.low < x <= x1.high:
            share = ((Interval(x, x) - x0) / (x1 - x0)).meet(UNIT)
            here = (y0 + (y1 - y0) * share).meet(y0.hull(y1))
            held = here if held is None else held.hull(here)
    assert held is not None
    return held
