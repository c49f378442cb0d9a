"""The functions, statistics and signs that an expression may use."""

from __future__ import annotations

import ast

LARGEST_EXPONENT = 64
#: Functions of numbers, with the fewest and most arguments (None: as many as written).
FUNCTIONS: dict[str, tuple[int, int | None]] = {
    "min": (2, None),
    "max": (2, None),
    "clamp": (3, 3),
    "abs": (1, 1),
    "sqrt": (1, 1),
    "exp": (1, 1),
    "log": (1, 1),
    "log10": (1, 1),
    "floor": (1, 1),
    "ceil": (1, 1),
    "round": (1, 2),
    "where": (3, 3),
    "interp": (5, None),
}
#: Statistics of one measure over the reference population.
STATISTICS: dict[str, int] = {"mean": 1, "sd": 1, "median": 1, "percentile": 2, "minimum": 1, "maximum": 1}
KNOWN_FUNCTIONS = (*FUNCTIONS, *STATISTICS)
SIGNS: dict[type[ast.AST], str] = {
    ast.Add: "+",
    ast.Sub: "-",
    ast.Mult: "*",
    ast.Div: "/",
    ast.Pow: "**",
    ast.Lt: "<",
    ast.LtE: "<=",
    ast.Gt: ">",
    ast.GtE: ">=",
    ast.Eq: "==",
    ast.NotEq: "!=",
}
CONDITIONS = frozenset({"<", "<=", ">", ">=", "==", "!=", "and", "or", "not", "text=="})
