"""Symbolic functions of our own: each prints to what numpy does well, and has an elementary sympy form that says the same.

`code` is the kernel's face: one call that numpy and JavaScript print alike. `elementary` is the exact face, in plain sympy,
that tests and typesetting use. `enclose` and `slopes` are the rigorous face: intervals that hold every value, and every
difference quotient, over a box of arguments.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

import sympy
from sympy import Expr, Max, Min

from scoring.numbers.intervals import ONE, UNIT, ZERO, Interval
from scoring.symbolic.notation import Notation
from scoring.symbolic.notation import call as called

LONGEST_SUM = 200


class CodePrinter(Protocol):
    """What a function needs of the printer to write its own call."""

    def doprint(self, expr: Expr) -> str: ...

    def row(self, codes: Sequence[str]) -> str: ...

    def population_code(self, population: Expr) -> str: ...


class Tracer(Protocol):
    """What a function needs to write its own arithmetic for one product."""

    def text(self, expr: Expr) -> str: ...

    def value(self, expr: Expr) -> float: ...

    def holds(self, condition: Expr) -> bool: ...

    def is_presence(self, condition: Expr) -> bool: ...

    def tighter(self, expr: Expr, than: int) -> str: ...

    def figure(self, value: float) -> str: ...


class Typesetter(Protocol):
    """What a function needs to write itself as a formula."""

    def set(self, expression: Expr) -> Notation: ...

    def value(self, expression: Expr) -> float: ...

    def is_there(self, expression: Expr) -> bool: ...

    def is_unsaid(self, expression: Expr) -> bool: ...

    def figure(self, value: float) -> Notation: ...


class OwnFunction(sympy.Function):  # type: ignore[misc]
    """A function of ours; real-valued for real arguments."""

    is_real: bool | None = True

    def code(self, printer: CodePrinter) -> str:
        """The call as code of the printer's language; the array functions have the same names in each."""
        raise NotImplementedError(type(self).__name__)

    def elementary(self) -> Expr:
        """The same value in plain sympy."""
        raise NotImplementedError(type(self).__name__)

    def trace(self, tracer: Tracer) -> str:
        """The arithmetic for one product, as a person would key it in, in brackets."""
        raise NotImplementedError(type(self).__name__)

    def typeset(self, setter: Typesetter) -> Notation:
        """The formula as a textbook prints it, with every part there."""
        return setter.set(self.elementary())

    def typeset_with(self, others: Sequence[Expr], setter: Typesetter) -> Notation | None:  # noqa: ARG002
        """The formula of a sum of this and others, where it reads better as one; None where it does not."""
        return None

    def lack(self, values: Sequence[float]) -> str:  # noqa: ARG002
        """Why there is no value for these arguments, of which all that count have one; "" where there is one."""
        return ""

    def enclose(self, args: Sequence[Interval]) -> Interval:
        """An interval that holds every value over the box `args`."""
        raise NotImplementedError(type(self).__name__)

    def slopes(self, args: Sequence[Interval]) -> tuple[Interval, ...]:
        """For each argument, an interval that holds every difference quotient over the box `args`."""
        raise NotImplementedError(type(self).__name__)

    def _eval_evalf(self, prec: int) -> Expr:
        return self.elementary()._eval_evalf(prec)


def call(printer: CodePrinter, name: str, *args: Expr) -> str:
    """`name(arg, ...)` with every argument printed."""
    return f"{name}({', '.join(printer.doprint(arg) for arg in args)})"


def anchor_code(printer: CodePrinter, anchors: Sequence[Expr]) -> str:
    """Anchors x1, y1, x2, y2, ... as two printed rows."""
    return ", ".join(printer.row([printer.doprint(anchor) for anchor in anchors[start::2]]) for start in (0, 1))


def pairwise_code(name: str, codes: Sequence[str]) -> str:
    """A function of two over many, two by two, so that the nesting stays shallow however many there are."""
    level = list(codes)
    while len(level) > 1:
        pairs = [f"{name}({a}, {b})" for a, b in zip(level[::2], level[1::2], strict=False)]
        level = pairs + level[len(pairs) * 2 :]
    return level[0]


def sum_code(terms: Sequence[str]) -> str:
    """Terms added up from left to right; very many in groups, for the compiler nests as deep as a sum is long."""
    if len(terms) <= LONGEST_SUM:
        return " + ".join(terms) or "0.0"
    groups = [terms[at : at + LONGEST_SUM] for at in range(0, len(terms), LONGEST_SUM)]
    return sum_code([f"({sum_code(group)})" for group in groups])


def are_numbers(args: Sequence[Expr]) -> bool:
    """Whether every argument is a plain number."""
    return all(arg.is_number for arg in args)


class Clamp(OwnFunction):
    """Clamp(x, low, high): x held between low and high (low wins where they cross, as in min(max(x, low), high): high)."""

    def code(self, printer: CodePrinter) -> str:
        return call(printer, "clip", *self.args)

    def elementary(self) -> Expr:
        x, low, high = self.args
        return Min(Max(x, low), high)

    def trace(self, tracer: Tracer) -> str:
        x, low, high = self.args
        value, least, most = (tracer.value(arg) for arg in self.args)
        if least <= value <= most:
            return f"({tracer.text(x)})"
        end = low if value < least else high
        return f"({tracer.text(end)} [held: {tracer.text(x)} = {tracer.figure(value)}])"

    def typeset(self, setter: Typesetter) -> Notation:
        x, low, high = self.args
        held = setter.set(x) if low.is_infinite else called("max", setter.set(low), setter.set(x))
        return held if high.is_infinite else called("min", setter.set(high), held)

    def enclose(self, args: Sequence[Interval]) -> Interval:
        x, low, high = args
        return x.greater_of(low).lesser_of(high)

    def slopes(self, args: Sequence[Interval]) -> tuple[Interval, ...]:
        x, low, high = args
        if x.high <= low.low or x.low >= high.high:
            return ZERO, UNIT, UNIT
        inside = x.low >= low.high and x.high <= high.low
        return (ONE, ZERO, ZERO) if inside else (UNIT, UNIT, UNIT)


class Least(OwnFunction):
    """The least of its arguments."""

    word, sign, short = "minimum", -1, "min"

    def code(self, printer: CodePrinter) -> str:
        return pairwise_code(self.word, [printer.doprint(arg) for arg in self.args])

    def elementary(self) -> Expr:
        return Min(*self.args)

    def trace(self, tracer: Tracer) -> str:
        values = [tracer.value(arg) for arg in self.args]
        kept = values.index(max(values) if self.sign > 0 else min(values))
        word = "greatest" if self.sign > 0 else "least"
        others = ", ".join(tracer.text(arg) for arg in self.args)
        return f"({tracer.text(self.args[kept])} [the {word} of {others}])"

    def typeset(self, setter: Typesetter) -> Notation:
        return called(self.short, *(setter.set(arg) for arg in self.args))

    def enclose(self, args: Sequence[Interval]) -> Interval:
        held = args[0]
        for other in args[1:]:
            held = held.lesser_of(other)
        return held

    def slopes(self, args: Sequence[Interval]) -> tuple[Interval, ...]:
        """0 for an argument that is never the least, 1 for one that always is, else between."""
        slopes = []
        for index, arg in enumerate(args):
            others = [other for at, other in enumerate(args) if at != index]
            if any(other.high < arg.low for other in others):
                slopes.append(ZERO)
            else:
                slopes.append(ONE if all(arg.high < other.low for other in others) else UNIT)
        return tuple(slopes)


class Greatest(Least):
    """The greatest of its arguments."""

    word, sign, short = "maximum", 1, "max"

    def elementary(self) -> Expr:
        return Max(*self.args)

    def enclose(self, args: Sequence[Interval]) -> Interval:
        held = args[0]
        for other in args[1:]:
            held = held.greater_of(other)
        return held

    def slopes(self, args: Sequence[Interval]) -> tuple[Interval, ...]:
        """As for the least, with every sign turned round."""
        return super().slopes([-arg for arg in args])
