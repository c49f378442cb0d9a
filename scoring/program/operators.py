"""What each operator and function of a written expression is in sympy."""

from __future__ import annotations

from collections.abc import Callable

import sympy
from sympy import Expr, Integer, log

from scoring.symbolic.arithmetic import Ln, Over, Raised, Root, opposite, plus, times
from scoring.symbolic.branches import Where
from scoring.symbolic.broken_line import Points
from scoring.symbolic.conditions import Both, Denied, Either
from scoring.symbolic.functions import Clamp, Greatest, Least
from scoring.symbolic.rounded import rounded

OPERATORS: dict[str, Callable[..., Expr]] = {
    "+": plus,
    "-": lambda a, b: plus(a, opposite(b)),
    "*": times,
    "/": Over,
    "**": Raised,
    "negative": opposite,
    "<": sympy.Lt,
    "<=": sympy.Le,
    ">": sympy.Gt,
    ">=": sympy.Ge,
    "==": sympy.Eq,
    "!=": sympy.Ne,
    "and": Both,
    "or": Either,
    "not": Denied,
    "min": Least,
    "max": Greatest,
    "clamp": Clamp,
    "abs": sympy.Abs,
    "sqrt": Root,
    "exp": sympy.exp,
    "log": Ln,
    "log10": lambda a: Over(Ln(a), log(Integer(10))),
    "where": Where,
    "interp": Points,
    "floor": lambda a: rounded(a, Integer(1), "floor"),
    "ceil": lambda a: rounded(a, Integer(1), "ceiling"),
    "round": lambda a, step=None: rounded(a, Integer(1) if step is None else step, "half-up"),
}
STATISTICS = {"minimum": "least", "maximum": "greatest"}
