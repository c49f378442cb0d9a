"""What a kernel is written in: numpy code as our printer prints it, and the array functions that it calls."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from sympy import Expr
from sympy.printing.numpy import NumPyPrinter

from scoring import arrays
from scoring.rounding import round_to

FUNCTIONS: dict[str, object] = {
    name: getattr(arrays, name)
    for name in (
        "segments",
        "beyond",
        "steps",
        "varying_steps",
        "smooth",
        "fixed_smooth",
        "nonnegative",
        "standing",
    )
} | {"round_to": round_to, "inf": np.inf}


class KernelPrinter(NumPyPrinter):  # type: ignore[misc]
    """Prints our functions by their own `code` method, numbers as plain doubles, and the rest as numpy does."""

    def __init__(self) -> None:
        super().__init__({"fully_qualified_modules": False, "inline": True, "allow_unknown_functions": True})
        self.printmethod = "code"

    def row(self, codes: Sequence[str]) -> str:
        """Several printed values as one tuple."""
        return f"({', '.join(codes)},)"

    def crowd(self, population: Expr) -> str:
        """A population of many values, with its sign."""
        return str(self.doprint(population))

    def _print_Float(self, expr: Expr) -> str:
        return _double(float(expr))

    def _print_Integer(self, expr: Expr) -> str:
        return str(int(expr)) if abs(int(expr)) < 2**31 else _double(float(expr))

    def _print_Rational(self, expr: Expr) -> str:
        return _double(float(expr))

    def _print_And(self, expr: Expr) -> str:
        return "(" + " & ".join(f"({self._print(arg)})" for arg in expr.args) + ")"

    def _print_Or(self, expr: Expr) -> str:
        return "(" + " | ".join(f"({self._print(arg)})" for arg in expr.args) + ")"

    def _print_Not(self, expr: Expr) -> str:
        return f"logical_not({self._print(expr.args[0])})"

    def _print_Infinity(self, expr: Expr) -> str:  # noqa: ARG002
        return "inf"

    def _print_NegativeInfinity(self, expr: Expr) -> str:  # noqa: ARG002
        return "(-inf)"


def _double(value: float) -> str:
    return repr(value) if value >= 0 else f"({value!r})"
