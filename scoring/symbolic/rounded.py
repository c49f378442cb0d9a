"""Rounding as a symbolic function: a step of the arithmetic like any other."""

from __future__ import annotations

import math
from collections.abc import Sequence

import sympy
from sympy import Expr, Integer, Piecewise

from scoring.numbers import rounding
from scoring.numbers.intervals import BOTH_WAYS, EVERYWHERE, ONE, RISING, ZERO, Interval, decimal_interval
from scoring.numbers.rounding import ROUNDING_RULES, RULES, round_decimal
from scoring.symbolic.functions import CodePrinter, Tracer, Typesetter
from scoring.symbolic.notation import Notation, remark
from scoring.symbolic.stairs import Stairs

#: Binary dust in a count of steps, as a share of the count.
DUST = 1e-12


class Rounded(Stairs):
    """Rounded(x, step, rule): x to a multiple of step, exact in decimal; `rule` is an index into `rounding.RULES`."""

    jumps_as = "rounding"

    @property
    def rule(self) -> str:
        """The rounding rule's name."""
        return RULES[int(self.args[2])]

    def code(self, printer: CodePrinter) -> str:
        x, step, _ = self.args
        return f"round_to({printer.doprint(x)}, {printer.doprint(step)}, {self.rule!r})"

    def elementary(self) -> Expr:
        x, step, _ = self.args
        steps = x / step
        floor, ceiling = sympy.floor(steps), sympy.ceiling(steps)
        towards_zero = Piecewise((floor, steps >= 0), (ceiling, True))
        half_away = Piecewise(
            (sympy.floor(steps + sympy.Rational(1, 2)), steps >= 0), (-sympy.floor(-steps + sympy.Rational(1, 2)), True)
        )
        tied = sympy.Eq(steps - floor, sympy.Rational(1, 2))
        counts = {
            "floor": floor,
            "ceiling": ceiling,
            "down": towards_zero,
            "up": Piecewise((ceiling, steps >= 0), (floor, True)),
            "half-up": half_away,
            "half-even": Piecewise((2 * sympy.floor(steps / 2 + sympy.Rational(1, 2)), tied), (half_away, True)),
        }
        return step * counts[self.rule]

    def trace(self, tracer: Tracer) -> str:
        x, step, _ = self.args
        value = float(rounding.round_to(tracer.value(x), tracer.value(step), self.rule))
        return f"({tracer.figure(value)} [{tracer.text(x)} rounded {self.rule} to {tracer.text(step)}])"

    def typeset(self, setter: Typesetter) -> Notation:
        x, step, _ = self.args
        return remark(setter.set(x), ROUNDING_RULES[self.rule].of_a_step, setter.set(step))

    def enclose(self, args: Sequence[Interval]) -> Interval:
        """Every rule is monotone, so the rounded ends hold the rest: ends for the step's own decimal, where it is one."""
        x, step = args[0], args[1]
        written = _written(step)
        if written is None:
            return x + Interval(-1.0, 1.0) * step + Interval(-1e-12, 1e-12) * x.absolute()
        return Interval(_rounded_end(x.low, written, self.rule).low, _rounded_end(x.high, written, self.rule).high)

    def slopes(self, args: Sequence[Interval]) -> tuple[Interval, ...]:
        held = _written(args[1]) is not None and self.enclose(args).width < args[1].low / 2
        return ZERO if held else RISING, EVERYWHERE, ZERO

    def where(self, output: str) -> str:
        return f"where the rounding of {output} turns"

    def jump(self, args: Sequence[Interval], value: Interval) -> Interval:
        """A step; away from 0 it is two of them at 0."""
        x, step = args[0], args[1]
        if value.width < step.low / 2:
            return ZERO
        twice = self.rule == "up" and x.low < 0 < x.high
        return BOTH_WAYS * step * (Interval(2.0, 2.0) if twice else ONE)

    def moved(self, args: Sequence[Interval], inner: Interval) -> Interval:
        """Whole steps, as many as the argument's change can be rounded to.

        Floor and ceiling, and on one side of 0 every rule but half-even, are the floor or the ceiling of the number moved by a
        constant: the change is rounded outwards. A half may go either way, so that the change is rounded by a step at most.
        Across 0, towards 0 takes a step less, and away from 0 a step more.
        """
        x, step, rule = args[0], args[1], self.rule
        counts = inner / step
        if not (math.isfinite(counts.low) and math.isfinite(counts.high)):
            return EVERYWHERE
        fewest, most = _whole_below(counts.low), _whole_above(counts.high)
        across = x.low < 0 < x.high
        if rule == "half-even" or (rule == "half-up" and across):
            fewest, most = _whole_above(counts.low - 1), _whole_below(counts.high + 1)
        elif across and rule == "down":
            fewest, most = fewest - (counts.low > 0), most + (counts.high < 0)
        elif across and rule == "up":
            fewest, most = fewest - (counts.low < 0), most + (counts.high > 0)
        fewest = max(fewest, 0) if counts.low >= 0 else fewest
        most = min(most, 0) if counts.high <= 0 else most
        return Interval(float(fewest), float(most)) * step


def rounded(x: Expr, step: Expr, rule: str) -> Expr:
    """`x` rounded to `step` by the named rule."""
    return Rounded(x, step, Integer(RULES.index(rule)))


def _whole_above(count: float) -> int:
    """The least whole number at or above a count, but for dust."""
    nearest = round(count)
    return nearest if abs(count - nearest) <= DUST * max(abs(count), 1.0) else math.ceil(count)


def _whole_below(count: float) -> int:
    return -_whole_above(-count)


def _written(step: Interval) -> str | None:
    """The decimal that a point or the doubles beside it stand for: the one with the fewest digits; None for a range."""
    if step.high > math.nextafter(step.low, math.inf):
        return None
    texts = sorted((repr(end) for end in (step.low, step.high)), key=len)
    return texts[0] if len(texts[0]) <= 17 else None


def _rounded_end(x: float, step: str, rule: str) -> Interval:
    return Interval(x, x) if math.isinf(x) else decimal_interval(str(round_decimal(x, step, rule)))
