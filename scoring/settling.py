"""Expressions with some of their symbols settled: what is then plain arithmetic is worked out in doubles, as numpy does it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import reduce

import numpy as np
import sympy
from sympy import Expr, Float, Symbol
from sympy.logic.boolalg import BooleanAtom

from scoring.functions import OwnFunction
from scoring.kernel_code import FUNCTIONS, KernelPrinter

#: What sympy would work out by itself once its arguments are numbers, and how numpy works it out.
ARITHMETIC: dict[object, Callable[..., np.float64]] = {
    sympy.Add: lambda *terms: reduce(np.add, terms),
    sympy.Mul: lambda *factors: reduce(np.multiply, factors),
    sympy.Pow: np.power,
    sympy.exp: np.exp,
    sympy.log: np.log,
    sympy.Abs: np.abs,
}
COMPARISONS = frozenset({sympy.Lt, sympy.Le, sympy.Gt, sympy.Ge, sympy.Eq, sympy.Ne})


def settled(expression: Expr, fixed: Mapping[Symbol, Expr]) -> Expr:
    """The expression with fixed symbols at their values, arithmetic among numbers being done in doubles, as numpy does it.

    Left to sympy, sqrt(-1) would be imaginary, and the digits of exp(exp(exp(100))) would fill the memory.
    """
    if not expression.args:
        return fixed.get(expression, expression)
    args = [settled(arg, fixed) for arg in expression.args]
    if expression.func in COMPARISONS and sympy.nan in args:
        return sympy.S.true if expression.func is sympy.Ne else sympy.S.false
    if all(isinstance(arg, sympy.Number | BooleanAtom) for arg in args):
        if isinstance(expression, OwnFunction):
            return _as_number(_worked_out(expression.func(*args, evaluate=False)))
        if expression.func in ARITHMETIC:
            # what is not finite here is not finite in the result, where the caller looks
            with np.errstate(all="ignore"):
                return _as_number(ARITHMETIC[expression.func](*(np.float64(arg) for arg in args)))
    if expression.func is sympy.Mul and any(arg.is_Add for arg in args):
        return _undistributed(args)
    return expression.func(*args)


def _undistributed(args: Sequence[Expr]) -> Expr:
    """A product with its numbers drawn together, and not multiplied into a sum: 0.15 (x - 20) keeps its zero at 20."""
    numbers = [arg for arg in args if isinstance(arg, sympy.Number)]
    others = [arg for arg in args if not isinstance(arg, sympy.Number)]
    if not numbers:
        return sympy.Mul(*others)
    number = settled(sympy.Mul(*numbers, evaluate=False), {}) if len(numbers) > 1 else numbers[0]
    return sympy.Mul(number, *others, evaluate=False)


def _worked_out(expression: Expr) -> np.float64:
    """One of our functions of plain numbers, by its array function: sympy would round 1.005 as a binary fraction."""
    function = sympy.lambdify([], expression, modules=[FUNCTIONS, "numpy"], printer=KernelPrinter())
    with np.errstate(all="ignore"):
        return np.float64(function())


def _as_number(value: np.float64) -> Expr:
    if np.isfinite(value):
        return Float(float(value))
    return sympy.nan if np.isnan(value) else sympy.oo if value > 0 else -sympy.oo
