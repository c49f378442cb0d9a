"""Arithmetic that has no value for some numbers: division, logarithm, root and power.

Where an expression has no value, nothing may take one for it: sympy would turn `a/a`, `0*log(a)` or `sqrt(a)**2` into numbers
that hold where these do not, and numpy would divide by 0 to infinity and go on. So expressions are kept as they are written,
and these functions give NaN wherever they are undefined.
"""

from __future__ import annotations

from collections.abc import Sequence

from sympy import Add, Expr, Mul, Pow, Rational, log
from sympy.printing.precedence import PRECEDENCE

from scoring.symbolic.functions import CodePrinter, OwnFunction, Tracer, call

#: How tightly sums, products and powers bind, as sympy counts it.
SUM, PRODUCT, POWER = (PRECEDENCE[name] for name in ("Add", "Mul", "Pow"))


def plus(a: Expr, b: Expr) -> Expr:
    """a + b as it is written: a sum of many stays one, from left to right."""
    return Add(*(a.args if isinstance(a, Add) else (a,)), b, evaluate=False)


def times(a: Expr, b: Expr) -> Expr:
    """a * b as it is written: a product of many stays one, from left to right."""
    return Mul(*(a.args if isinstance(a, Mul) else (a,)), b, evaluate=False)


def opposite(a: Expr) -> Expr:
    """-a as it is written."""
    return Mul(-1, a, evaluate=False)


def divided_by(factor: Expr) -> tuple[Expr, bool]:
    """What a factor of a product stands for, and whether the product is divided by it."""
    return (factor.base, True) if isinstance(factor, Pow) and factor.exp == -1 else (factor, False)


class Partial(OwnFunction):
    """A function that is undefined for some numbers."""

    is_real = None


class Over(Partial):
    """Over(a, b): a / b; undefined where b is 0."""

    precedence = PRODUCT

    def code(self, printer: CodePrinter) -> str:
        a, b = self.args
        if b.is_Number and not b.is_zero:
            return f"(({printer.doprint(a)})/({printer.doprint(b)}))"
        return call(printer, "over", a, b)

    def elementary(self) -> Expr:
        a, b = self.args
        return times(a, Pow(b, -1, evaluate=False))

    def trace(self, tracer: Tracer) -> str:
        a, b = self.args
        return f"{tracer.tighter(a, SUM)}/{tracer.tighter(b, PRODUCT)}"

    def lack(self, values: Sequence[float]) -> str:
        return f"{values[0]:g} is divided by 0" if values[1] == 0 else ""


class Ln(Partial):
    """Ln(a): the natural logarithm; undefined at 0 and below."""

    def code(self, printer: CodePrinter) -> str:
        return call(printer, "ln", *self.args)

    def elementary(self) -> Expr:
        return log(self.args[0], evaluate=False)

    def trace(self, tracer: Tracer) -> str:
        return f"log({tracer.text(self.args[0])})"

    def lack(self, values: Sequence[float]) -> str:
        return f"the logarithm of {values[0]:g}" if values[0] <= 0 else ""


class Root(Partial):
    """Root(a): the square root; undefined below 0."""

    def code(self, printer: CodePrinter) -> str:
        return call(printer, "root", *self.args)

    def elementary(self) -> Expr:
        return Pow(self.args[0], Rational(1, 2), evaluate=False)

    def trace(self, tracer: Tracer) -> str:
        return f"sqrt({tracer.text(self.args[0])})"

    def lack(self, values: Sequence[float]) -> str:
        return f"the square root of {values[0]:g}" if values[0] < 0 else ""


class Raised(Partial):
    """Raised(a, b): a to the power of b; undefined for 0 to a power below 0, and below 0 for a power that is not whole."""

    precedence = POWER

    def code(self, printer: CodePrinter) -> str:
        return call(printer, "raised", *self.args)

    def elementary(self) -> Expr:
        return Pow(*self.args, evaluate=False)

    def trace(self, tracer: Tracer) -> str:
        a, b = self.args
        return f"{tracer.tighter(a, POWER)}**{tracer.tighter(b, PRODUCT)}"

    def lack(self, values: Sequence[float]) -> str:
        base, exponent = values
        none = (base == 0 and exponent < 0) or (base < 0 and exponent % 1 != 0)
        return f"{base:g} to the power of {exponent:g}" if none else ""
