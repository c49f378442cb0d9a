"""A smooth curve through anchors that never overshoots them: the monotone piecewise cubic."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from sympy import Expr, Float, Max, Min, Piecewise, Symbol

from scoring.curves.kind import ERROR, HELD, CurveInputs, CurveKind, anchor_ends
from scoring.numbers.arrays import cubic_coefficients
from scoring.numbers.intervals import EVERYWHERE, ONE, ZERO, Interval
from scoring.symbolic.broken_line import with_anchors
from scoring.symbolic.functions import CodePrinter, OwnFunction, Tracer, Typesetter, anchor_code, are_numbers
from scoring.symbolic.notation import (
    Cases,
    Joined,
    Minus,
    Name,
    Notation,
    Number,
    add,
    multiply,
    power,
    relate,
    stretches,
    subtract,
)


class Smooth(OwnFunction):
    """Smooth(x, x1, y1, ...): the monotone cubic through the anchors, held outside them."""

    def _fixed(self) -> tuple[list[float], list[float]]:
        return [float(a) for a in self.args[1::2]], [float(a) for a in self.args[2::2]]

    def code(self, printer: CodePrinter) -> str:
        if not are_numbers(self.args[1:]):
            return f"smooth({printer.doprint(self.args[0])}, {anchor_code(printer, self.args[1:])})"
        xs, ys = self._fixed()
        rows = f"{tuple(xs)!r}, {tuple(ys)!r}, {cubic_coefficients(xs, ys)!r}"
        return f"fixed_smooth({printer.doprint(self.args[0])}, {rows})"

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

    def trace(self, tracer: Tracer) -> str:
        x, xs, ys = tracer.value(self.args[0]), *([tracer.value(a) for a in self.args[i::2]] for i in (1, 2))
        if not xs[0] <= x <= xs[-1]:
            end = 0 if x < xs[0] else -1
            return f"({tracer.figure(ys[end])} [held: {tracer.text(self.args[0])} lies beyond the anchor {xs[end]:g}])"
        index = next(i for i, anchor in enumerate(xs[1:]) if x <= anchor)
        c0, c1, c2, c3 = (tracer.figure(column[index]) for column in cubic_coefficients(xs, ys))
        t = f"({tracer.text(self.args[0])} - {xs[index]:g})"
        return f"({c0} + ({c1})*{t} + ({c2})*{t}**2 + ({c3})*{t}**3)"

    def typeset(self, setter: Typesetter) -> Notation:
        """A cubic in the distance t from the left anchor on each stretch; at an anchor its rating as written."""
        x, *anchors = (setter.set(arg) for arg in self.args)
        columns = cubic_coefficients(*([setter.value(arg) for arg in self.args[i::2]] for i in (1, 2)))
        t, places = Name("d" if x == Name("t") else "t"), stretches(x, anchors[::2], ("<=", "<"))
        rows = [(anchors[1], places[0])]
        for place, x0, y0, *rest in zip(places[1:-1], anchors[::2], anchors[1::2], *columns[1:], strict=False):
            terms = [_set_term(setter.figure(c), t, index) for index, c in enumerate(rest, start=1) if c]
            rows.append((add(y0, *terms), Joined((place, relate((t, subtract(x, x0)), ("=",))), "with")))
        return Cases((*rows, (anchors[-1], places[-1])))

    def enclose(self, args: Sequence[Interval]) -> Interval:
        """Each piece is monotone: the ends of x and the anchors between them hold the rest."""
        x, xs, ys = args[0], args[1::2], args[2::2]
        return with_anchors(_at(x.low, xs, ys).hull(_at(x.high, xs, ys)), x, xs, ys)

    def slopes(self, args: Sequence[Interval]) -> tuple[Interval, ...]:
        """A monotone cubic's slope lies between 0 and 3 times its piece's secant (Fritsch and Carlson 1980, from memory).

        Within a piece it is a quadratic, held by its Bernstein coefficients over the part that x touches.
        """
        x, xs, ys = args[0], args[1::2], args[2::2]
        ends = _end_slopes(xs, ys)
        slope = ZERO if x.low < xs[0].high or x.high > xs[-1].low else None
        touched = _touched(x, xs)
        for left, right in pairwise(touched):
            run = xs[right] - xs[left]
            secant = (ys[right] - ys[left]) / run
            part = ((x - xs[left]) / run).greater_of(ZERO).lesser_of(ONE)
            quadratic = _quadratic(part, ends[left], _THREE * secant - ends[left] - ends[right], ends[right])
            here = quadratic.meet((_THREE * secant).hull(ZERO))
            slope = here if slope is None else slope.hull(here)
        return (slope or ZERO, *(EVERYWHERE for _ in args[1:]))


_THREE = Interval(3.0, 3.0)


def _set_term(coefficient: Notation, t: Notation, exponent: int) -> Notation:
    """One term of a cubic, its sign before it."""
    raised = t if exponent == 1 else power(t, Number(str(exponent)))
    if isinstance(coefficient, Minus):
        return Minus(multiply(coefficient.part, raised))
    return multiply(coefficient, raised)


def _quadratic(part: Interval, b0: Interval, b1: Interval, b2: Interval) -> Interval:
    """What holds the quadratic of Bernstein coefficients b0, b1, b2 over `part` of 0 to 1: its blossom at the ends."""
    low, high = Interval(part.low, part.low), Interval(part.high, part.high)

    def blossom(s: Interval, t: Interval) -> Interval:
        left, right = (ONE - s) * b0 + s * b1, (ONE - s) * b1 + s * b2
        return (ONE - t) * left + t * right

    return blossom(low, low).hull(blossom(low, high)).hull(blossom(high, high))


def _end_slopes(xs: Sequence[Interval], ys: Sequence[Interval]) -> list[Interval]:
    """The slopes at the anchors, as `arrays.monotone_slopes` works them out, each between 0 and 3 secants."""
    runs = [b - a for a, b in pairwise(xs)]
    secants = [(b - a) / run for a, b, run in zip(ys, ys[1:], runs, strict=False)]
    if len(secants) == 1:
        return [secants[0], secants[0]]
    inner = [_inner_slope(*four) for four in zip(runs, runs[1:], secants, secants[1:], strict=False)]
    first = _first_slope(runs[0], runs[1], secants[0], secants[1])
    last = _first_slope(runs[-1], runs[-2], secants[-1], secants[-2])
    return [first, *inner, last]


def _inner_slope(h0: Interval, h1: Interval, d0: Interval, d1: Interval) -> Interval:
    """0 where the secants differ in sign, else their weighted harmonic mean, which is within 3 times either."""
    if d0.high <= 0 <= d1.low or d1.high <= 0 <= d0.low:
        return ZERO
    for flat in (d0, d1):
        if flat.low <= 0 <= flat.high:
            return (_THREE * flat).hull(ZERO)
    w0, w1 = h1 + h1 + h0, h0 + h0 + h1
    return (w0 + w1) / (w0 / d0 + w1 / d1)


def _first_slope(h0: Interval, h1: Interval, d0: Interval, d1: Interval) -> Interval:
    """The three-point slope at an end, or, where it is not surely between 0 and 3 secants, all that it may be held to."""
    slope = ((h0 + h0 + h1) * d0 - h0 * d1) / (h0 + h1)
    allowed = (_THREE * d0).hull(ZERO)
    return slope if allowed.low <= slope.low and slope.high <= allowed.high else allowed


def _at(x: float, xs: Sequence[Interval], ys: Sequence[Interval]) -> Interval:
    """The curve at one point, held outside the anchors."""
    if x <= xs[0].low:
        return ys[0]
    if x >= xs[-1].high:
        return ys[-1]
    ends = _end_slopes(xs, ys)
    index = max(i for i in range(len(xs) - 1) if xs[i].low < x)
    held = _on_piece(x, index, xs, ys, ends)
    if index > 0 and x <= xs[index].high:
        held = held.hull(_on_piece(x, index - 1, xs, ys, ends))
    return held


def _on_piece(x: float, index: int, xs: Sequence[Interval], ys: Sequence[Interval], ends: list[Interval]) -> Interval:
    """The cubic between one anchor and the next at x, in Bernstein form, and between the anchors' values."""
    x0, x1, y0, y1 = xs[index], xs[index + 1], ys[index], ys[index + 1]
    third = (x1 - x0) / _THREE
    t = ((Interval(x, x) - x0) / (x1 - x0)).greater_of(ZERO).lesser_of(ONE)
    row = [y0, y0 + third * ends[index], y1 - third * ends[index + 1], y1]
    while len(row) > 1:
        row = [(ONE - t) * a + t * b for a, b in pairwise(row)]
    return row[0].meet(y0.hull(y1))


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
    example="smooth: {1.5: 10, 4: 8, 9: 1}",
    anchored=True,
    outside=(HELD, ERROR),
    needs_top=False,
    works_out=True,
    build=_build,
    ends=anchor_ends,
)
