"""What people write in expressions that says nothing here, and what says it."""

from __future__ import annotations

import re
from collections.abc import Sequence

_DASHES = "\u2010\u2011\u2012\u2013\u2014\u2212"
_QUOTES = "\u201c\u201d\u201e\u2018\u2019\u201a\u00ab\u00bb"
#: Signs of other notations by how they begin, the longer ones first.
SIGNS = (
    (r"\^", "Write ** for a power."),
    (r"=<", "Write <=."),
    (r"=>", "Write >=."),
    (r"=", "Write == to compare."),
    (r"%", "Write a share as 0.05."),
    (r"&+", "Write `and`."),
    (r"\|+", "Write `or`."),
    (r"!", "Write `not` or !=."),
    (r"[\u00d7\u00b7\u22c5\u2219]", "Write * to multiply."),
    (r"[\u00f7]", "Write / to divide."),
    (rf"[{_DASHES}]", "The minus sign is a typographic one; write `-`."),
    (r"\u2264", "Write <=."),
    (r"\u2265", "Write >=."),
    (r"\u2260", "Write !=."),
    (r"[\u00b2\u00b3]", "Write ** 2 or ** 3 for a power."),
    (rf"[{_QUOTES}]", "Leave out the typographic quotes, or write plain ones."),
    (r";", "Separate arguments with commas."),
    (r"[\[\]{}]", "Write round brackets."),
    (r"[?:]", "Write where(condition, a, b)."),
    (r"\.", "Write functions by their name alone, as exp(x)."),
    (r"[\u00a0\u2007\u2009\u202f\u3000]", "It is a special space; type an ordinary one."),
)
#: What cuts the decimals of a number off.
CUT_OFF = (
    "Write floor(x), the next whole number down: of -1.5 that is -2, where cutting off gives -1; ceil(x) gives -1."
)
#: Functions of other programs, by their names in small letters.
FOREIGN = {
    "if": "Write where(condition, a, b).",
    "iif": "Write where(condition, a, b).",
    "ln": "Write log(x), the natural logarithm.",
    "pow": "Write a ** b.",
    "power": "Write a ** b.",
    "sum": "Write a + b.",
    "average": "Write (a + b) / 2.",
    "avg": "Write (a + b) / 2.",
    "stdev": "Write sd(NAME), over the catalogue.",
    "int": CUT_OFF,
    "trunc": CUT_OFF,
    "truncate": CUT_OFF,
    "fix": CUT_OFF,
    "rounddown": CUT_OFF,
    "roundup": "Write ceil(x), the next whole number up; below 0 it goes towards 0.",
    "ceiling": "Write ceil(x), the next whole number up.",
    "mod": "Write a - b * floor(a / b).",
    "ifelse": "Write where(condition, a, b).",
}
#: How each function is written.
SIGNATURES = {
    "min": "min(a, b)",
    "max": "max(a, b)",
    "clamp": "clamp(x, least, most)",
    "abs": "abs(x)",
    "sqrt": "sqrt(x)",
    "exp": "exp(x)",
    "log": "log(x)",
    "log10": "log10(x)",
    "floor": "floor(x)",
    "ceil": "ceil(x)",
    "round": "round(x, 0.1)",
    "where": "where(condition, a, b)",
    "interp": "interp(x, x1, y1, x2, y2)",
}


def strange_sign(text: str, at: int) -> tuple[str, str]:
    """A sign that means nothing in an expression, as it is shown, and what to write for it."""
    if not text[:at].strip() and text[at] == "=":
        return "=", "Leave out the = at the start."
    for pattern, hint in SIGNS:
        match = re.compile(pattern).match(text, at)
        if match:
            return _shown(match.group()), hint
    return _shown(text[at]), ""


def _shown(text: str) -> str:
    return "".join(sign if sign.isprintable() else f"\\u{ord(sign):04x}" for sign in text)


def misplaced(texts: Sequence[str], at: int) -> str:
    """What to try where the words and signs `texts` stop to be an expression at number `at`."""
    if not texts:
        return ""
    one, before = texts[at], texts[at - 1] if at else ""
    if one in {"AND", "OR", "NOT"}:
        return f"Write `{one.lower()}` in small letters."
    if one in {"if", "else", "then"}:
        return "Write where(condition, a, b)."
    if (before, one) == ("<", ">"):
        return "Write != for unequal."
    if one == ")":
        return "Leave it out, or write a `(` before it."
    if at == len(texts) - 1 and not _is_value(one):
        return "Something must follow it."
    if _is_value(one) and (_is_value(before) or before == ")"):
        return f"Write a sign such as * between `{before[:30]}` and `{one[:30]}`."
    return ""


def _is_value(text: str) -> bool:
    return text not in {"and", "or", "not"} and re.match(r"[A-Za-z0-9_.]", text) is not None
