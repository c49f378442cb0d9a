"""Expressions with some of their symbols settled or replaced, and otherwise as they were written.

What is then arithmetic among numbers alone is worked out in doubles, as numpy does it. Nothing else is simplified: sympy would
take `0*x` for 0 also where x has no value.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import reduce

import numpy as np
import sympy
from sympy import Expr, Float, Pow, Symbol

from scoring.program.kernel_code import FUNCTIONS, KernelPrinter
from scoring.symbolic.arithmetic import divided_by
from scoring.symbolic.conditions import Both, Either
from scoring.symbolic.functions import OwnFunction

#: What sympy would work out by itself once its arguments are numbers, and how numpy works it out.
ARITHMETIC: dict[object, Callable[..., np.float64]] = {
    sympy.Add: lambda *terms: reduce(np.add, terms),
    sympy.Pow: np.power,
    sympy.exp: np.exp,
    sympy.log: np.log,
    sympy.Abs: np.abs,
}


def with_symbols(expression: Expr, by: Mapping[Symbol, Expr]) -> Expr:
    """The expression with other symbols (or what stands for them), and otherwise as it is written."""
    if not expression.args:
        return by.get(expression, expression)
    return expression.func(*(with_symbols(arg, by) for arg in expression.args), evaluate=False)


def settled(expression: Expr, fixed: Mapping[Symbol, Expr]) -> Expr:
    """The expression with fixed symbols at their values, arithmetic among numbers being done in doubles, as numpy does it.

    Left to sympy, sqrt(-1) would be imaginary, and the digits of exp(exp(exp(100))) would fill the memory.
    """
    if not expression.args:
        return fixed.get(expression, expression)
    if isinstance(expression, sympy.Mul):
        return _product(expression, fixed)
    args = [settled(arg, fixed) for arg in expression.args]
    if isinstance(expression, Both):
        return _joined(expression, args)
    if all(isinstance(arg, sympy.Number) for arg in args):
        if _is_presence(expression, args):
            return expression.func(*args)
        if isinstance(expression, OwnFunction):
            return _as_number(_worked_out(expression.func(*args, evaluate=False)))
        if expression.func in ARITHMETIC:
            # what is not finite here is not finite in the result, where the caller looks
            with np.errstate(all="ignore"):
                return _as_number(ARITHMETIC[expression.func](*(np.float64(arg) for arg in args)))
    return expression.func(*args, evaluate=False)


def _product(expression: Expr, fixed: Mapping[Symbol, Expr]) -> Expr:
    """A product with its divisions where they stand: times the reciprocal of 14.6, 14.6 is 0.9999999999999999."""
    factors = [(settled(part, fixed), divides) for part, divides in map(divided_by, expression.args)]
    if all(isinstance(part, sympy.Number) for part, _ in factors):
        value = np.float64(1)
        with np.errstate(all="ignore"):
            for part, divides in factors:
                value = (np.divide if divides else np.multiply)(value, np.float64(part))
        return _as_number(value)
    return sympy.Mul(*(Pow(part, -1, evaluate=False) if divides else part for part, divides in factors), evaluate=False)


def _is_presence(expression: Expr, args: list[Expr]) -> bool:
    """Whether a comparison asks only if something is there that is sure to be: numbers of a form are never `Integer`."""
    return expression.is_Relational and all(isinstance(arg, sympy.Integer) for arg in args)


def _joined(expression: Both, args: list[Expr]) -> Expr:
    """A condition without those of its parts that are sure."""
    decides, says_nothing = sympy.false, sympy.true
    if isinstance(expression, Either):
        decides, says_nothing = says_nothing, decides
    if decides in args:
        return decides
    open_parts = [arg for arg in args if arg != says_nothing]
    if len(open_parts) < 2:
        return open_parts[0] if open_parts else says_nothing
    return expression.func(*open_parts, evaluate=False)


def _worked_out(expression: Expr) -> np.float64:
    """One of our functions of plain numbers, by its array function: sympy would round 1.005 as a binary fraction."""
    function = sympy.lambdify([], expression, modules=[FUNCTIONS, "numpy"], printer=KernelPrinter())
    with np.errstate(all="ignore"):
        return np.float64(function())


def _as_number(value: np.float64) -> Expr:
    if np.isfinite(value):
        return Float(float(value))
    if np.isnan(value):
        return sympy.nan
    return sympy.oo if value > 0 else -sympy.oo
