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
#: Statistics of one measure, rating or score over the products that have it.
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
#: The branch of a `where` that gives no value.
NONE = "none"
CONDITIONS = frozenset({"<", "<=", ">", ">=", "==", "!=", "and", "or", "not", "text=="})
#: How each is written, and what it gives.
USES: dict[str, tuple[str, str]] = {
    "+": ("a + b", "the sum"),
    "-": ("a - b", "the difference; `-a` turns the sign round"),
    "*": ("a * b", "the product"),
    "/": ("a / b", "the quotient; no value where b is 0"),
    "**": (
        "a ** b",
        "a to the power of b; a written exponent is at most 64; no value for 0 to a power below 0, nor for a below 0 to a power "
        "that is not whole",
    ),
    "<": ("a < b", "whether a is less; `18 < a < 40` holds where both do"),
    "<=": ("a <= b", "whether a is less, or equal"),
    ">": ("a > b", "whether a is more"),
    ">=": ("a >= b", "whether a is more, or equal"),
    "==": ("a == b", "whether they are equal; with an attribute, whether it is that word: `fire_evidence == none`"),
    "!=": ("a != b", "whether they differ; with an attribute, whether it is another word"),
    "and": ("p and q", "whether both conditions hold"),
    "or": ("p or q", "whether one of them holds, or both"),
    "not": ("not p", "whether the condition does not hold"),
    "min": ("min(a, b, ...)", "the least of its arguments"),
    "max": ("max(a, b, ...)", "the greatest of its arguments"),
    "clamp": ("clamp(a, low, high)", "a, held between `low` and `high`"),
    "abs": ("abs(a)", "a without its sign"),
    "sqrt": ("sqrt(a)", "the square root; no value below 0"),
    "exp": ("exp(a)", "e to the power of a"),
    "log": ("log(a)", "the natural logarithm; no value at 0 and below"),
    "log10": ("log10(a)", "the logarithm to base 10; no value at 0 and below"),
    "floor": ("floor(a)", "the next whole number down"),
    "ceil": ("ceil(a)", "the next whole number up"),
    "round": ("round(a, step)", "a to the nearest multiple of a written step (1 where it is left out), half-up"),
    "where": ("where(p, a, b)", "a where the condition holds, else b; the other one need have no value"),
    NONE: (
        "where(p, none, b)",
        "no value where the condition holds: the rating or score is not there, as if it were missing",
    ),
    "interp": ("interp(a, x1, y1, x2, y2, ...)", "the broken line through written points, held beyond its ends"),
    "mean": ("mean(m)", "the mean of a measure, rating or score over the catalogue"),
    "sd": ("sd(m)", "its standard deviation, on n - 1"),
    "median": ("median(m)", "its median"),
    "percentile": ("percentile(m, 90)", "its percentile, from 0 to 100, linear between neighbours"),
    "minimum": ("minimum(m)", "its least value"),
    "maximum": ("maximum(m)", "its greatest value"),
}
