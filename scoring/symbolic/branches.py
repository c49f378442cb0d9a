"""Symbolic functions that take one branch or another: by a condition, where a limit holds, and where a value is there."""

from __future__ import annotations

from collections.abc import Sequence

from sympy import Expr, Max, Min, Not, Piecewise, nan

from scoring.numbers.intervals import EVERYWHERE, ONE, UNIT, ZERO, Interval
from scoring.symbolic.conditions import plain_condition
from scoring.symbolic.functions import CodePrinter, OwnFunction, Tracer, Typesetter, call
from scoring.symbolic.notation import Cases, Notation, Words
from scoring.symbolic.notation import call as called


class Where(OwnFunction):
    """Where(condition, a, b): a where the condition holds, else b; undefined where the condition is."""

    def code(self, printer: CodePrinter) -> str:
        return call(printer, "choose", *self.args)

    def elementary(self) -> Expr:
        condition, a, b = self.args
        return Piecewise((a, plain_condition(condition)), (b, True))

    def trace(self, tracer: Tracer) -> str:
        condition, a, b = self.args
        word = "holds" if tracer.holds(condition) else "does not hold"
        return f"({tracer.text(a if tracer.holds(condition) else b)} [{tracer.text(condition)} {word}])"

    def typeset(self, setter: Typesetter) -> Notation:
        condition, a, b = self.args
        return Cases(((setter.set(a), setter.set(condition)), (setter.set(b), None)))


class Unless(OwnFunction):
    """Unless(condition, a, blank): a where the condition does not hold; nothing where it does, undefined where the condition is.

    `blank` stands for nothing in proofs, which hold for what is published: whether a value is there is looked at beside them.
    """

    def code(self, printer: CodePrinter) -> str:
        condition, a, _ = (printer.doprint(arg) for arg in self.args)
        return f"choose({condition}, nan, {a})"

    def elementary(self) -> Expr:
        condition, a, _ = self.args
        return Piecewise((a, Not(plain_condition(condition))), (nan, True))

    def trace(self, tracer: Tracer) -> str:
        condition, a, _ = self.args
        return f"({tracer.text(a)} [a value is given, as {tracer.text(condition)} does not hold])"

    def typeset(self, setter: Typesetter) -> Notation:
        condition, a, _ = self.args
        return Cases(((Words("no value"), setter.set(condition)), (setter.set(a), None)))


class Limited(OwnFunction):
    """Limited(condition, value, bound, sense): value at most (sense 1) or at least (sense -1) bound where the condition holds.

    It is undefined where the condition is: a limit that cannot be worked out lets nothing through.
    """

    def _held(self) -> Expr:
        _, value, bound, sense = self.args
        return Min(value, bound) if sense == 1 else Max(value, bound)

    def code(self, printer: CodePrinter) -> str:
        condition, value, bound, sense = self.args
        held = call(printer, "minimum" if sense == 1 else "maximum", value, bound)
        return f"choose({printer.doprint(condition)}, {held}, {printer.doprint(value)})"

    def elementary(self) -> Expr:
        return Piecewise((self._held(), plain_condition(self.args[0])), (self.args[1], True))

    def trace(self, tracer: Tracer) -> str:
        condition, value, bound, sense = self.args
        if not tracer.holds(condition):
            return f"({tracer.text(value)} [no limit: {tracer.text(condition)} does not hold])"
        word = "at most" if sense == 1 else "at least"
        bites = tracer.value(value) > tracer.value(bound) if sense == 1 else tracer.value(value) < tracer.value(bound)
        kept = tracer.text(bound if bites else value)
        return f"({kept} [{word} {tracer.text(bound)}, as {tracer.text(condition)}; it was {tracer.text(value)}])"

    def typeset(self, setter: Typesetter) -> Notation:
        condition, value, bound, sense = self.args
        unheld = setter.set(value)
        held = called("min" if sense == 1 else "max", unheld, setter.set(bound))
        return Cases(((held, setter.set(condition)), (unheld, None)))


class Present(OwnFunction):
    """Present(here, value, otherwise): value where `here` is 1, else `otherwise`; a missing value never gets through."""

    def code(self, printer: CodePrinter) -> str:
        return call(printer, "where", *self.args)

    def elementary(self) -> Expr:
        here, value, otherwise = self.args
        return Piecewise((value, here > 0), (otherwise, True))

    def trace(self, tracer: Tracer) -> str:
        here, value, otherwise = self.args
        if tracer.value(here) > 0:
            return f"({tracer.text(value)})"
        return f"({tracer.text(otherwise)} [in place of what is missing])"

    def typeset(self, setter: Typesetter) -> Notation:
        return setter.set(self.args[1])

    def enclose(self, args: Sequence[Interval]) -> Interval:
        here, value, otherwise = args
        if here.low > 0:
            return value
        return otherwise if here.high <= 0 else value.hull(otherwise)

    def slopes(self, args: Sequence[Interval]) -> tuple[Interval, ...]:
        """`here` is 0 or 1 and stays what it is while a reading moves."""
        here = args[0]
        if here.low > 0:
            return EVERYWHERE, ONE, ZERO
        return (EVERYWHERE, ZERO, ONE) if here.high <= 0 else (EVERYWHERE, UNIT, UNIT)


class Counted(Present):
    """Counted(applies, weight, 0): the weight of a part that counts nothing where it does not apply."""

    def trace(self, tracer: Tracer) -> str:
        applies, weight, _ = self.args
        return tracer.text(weight) if tracer.value(applies) > 0 else "0"
