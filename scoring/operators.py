"""What each operator and function of a written expression is in sympy."""

from __future__ import annotations

from collections.abc import Callable

import sympy
from sympy import Expr, Integer, log

from scoring.branches import Where
from scoring.curves.points import Points
from scoring.functions import Clamp, Greatest, Least
from scoring.rounded import rounded

OPERATORS: dict[str, Callable[..., Expr]] = {
    "+": lambda a, b: a + b,
    "-": lambda a, b: a - b,
    "*": lambda a, b: a * b,
    "/": lambda a, b: a / b,
    "**": lambda a, b: a**b,
    "negative": lambda a: -a,
    "<": sympy.Lt,
    "<=": sympy.Le,
    ">": sympy.Gt,
    ">=": sympy.Ge,
    "==": sympy.Eq,
    "!=": sympy.Ne,
    "and": sympy.And,
    "or": sympy.Or,
    "not": sympy.Not,
    "min": Least,
    "max": Greatest,
    "clamp": Clamp,
    "abs": sympy.Abs,
    "sqrt": sympy.sqrt,
    "exp": sympy.exp,
    "log": sympy.log,
    "log10": lambda a: log(a) / log(Integer(10)),
    "where": Where,
    "interp": Points,
    "floor": lambda a: rounded(a, Integer(1), "floor"),
    "ceil": lambda a: rounded(a, Integer(1), "ceiling"),
    "round": lambda a, step=None: rounded(a, Integer(1) if step is None else step, "half-up"),
}
STATISTICS = {"minimum": "least", "maximum": "greatest"}
