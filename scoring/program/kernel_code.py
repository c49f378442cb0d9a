"""What a kernel is written in: numpy code as our printer prints it, and the array functions that it calls."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import sympy
from sympy import Expr
from sympy.printing.numpy import NumPyPrinter

from scoring.numbers import arrays
from scoring.numbers.rounding import round_to
from scoring.symbolic.arithmetic import divided_by

#: The array functions by name, every public one of `arrays`: curves and blends print calls of them.
FUNCTIONS: dict[str, object] = {
    name: function
    for name, function in vars(arrays).items()
    if getattr(function, "__module__", "") == arrays.__name__ and not name.startswith("_")
} | {"round_to": round_to, "inf": np.inf}

#: The sign of each comparison.
SIGNS: dict[type, str] = {
    sympy.StrictLessThan: "<",
    sympy.LessThan: "<=",
    sympy.StrictGreaterThan: ">",
    sympy.GreaterThan: ">=",
    sympy.Equality: "==",
    sympy.Unequality: "!=",
}


class KernelPrinter(NumPyPrinter):  # type: ignore[misc]
    """Prints our functions by their own `code` method, numbers as plain doubles, and the rest as numpy does.

    Sums and products go from left to right, as they are written: sympy would put them into an order of its own.
    """

    def __init__(self) -> None:
        super().__init__({"fully_qualified_modules": False, "inline": True, "allow_unknown_functions": True})
        self.printmethod = "code"

    def _handle_UnevaluatedExpr(self, expr: Expr) -> Expr:
        """The expression as it is: what sympy looks for in all of it, real parts, no form has."""
        return expr

    def row(self, codes: Sequence[str]) -> str:
        """Several printed values as one tuple."""
        return f"({', '.join(codes)},)"

    def population_code(self, population: Expr) -> str:
        """A population of many values, with its sign."""
        return str(self.doprint(population))

    def _print_Float(self, expr: Expr) -> str:
        return _double(float(expr))

    def _print_Integer(self, expr: Expr) -> str:
        return str(int(expr)) if abs(int(expr)) < 2**31 else _double(float(expr))

    def _print_Rational(self, expr: Expr) -> str:
        return _double(float(expr))

    def _print_Add(self, expr: Expr, order: object = None) -> str:
        del order
        return "(" + " + ".join(self._print(term) for term in expr.args) + ")"

    def _print_Mul(self, expr: Expr) -> str:
        factors = [divided_by(factor) for factor in expr.args]
        code = "1.0" if factors[0][1] else self._print(factors[0][0])
        for factor, divides in factors if factors[0][1] else factors[1:]:
            code += f"{'/' if divides else '*'}{self._print(factor)}"
        return f"({code})"

    def _print_Pow(self, expr: Expr, rational: bool = False) -> str:
        del rational
        base, divides = divided_by(expr)
        if divides:
            return f"(1.0/{self._print(base)})"
        return f"({self._print(expr.base)})**({self._print(expr.exp)})"

    def _print_Relational(self, expr: Expr) -> str:
        left, right = (self._print(side) for side in expr.args)
        return f"compared({left}, {SIGNS[expr.func]!r}, {right})"

    def _print_Infinity(self, expr: Expr) -> str:  # noqa: ARG002
        return "inf"

    def _print_NegativeInfinity(self, expr: Expr) -> str:  # noqa: ARG002
        return "(-inf)"


def _double(value: float) -> str:
    return repr(value) if value >= 0 else f"({value!r})"
