"""Blends, and what an expression may hold: names, signs, functions, statistics."""

from __future__ import annotations

from collections.abc import Iterator
from math import log10

from scoring.expression.tokens import DEEPEST, LARGEST_NUMBER, LONGEST_NUMBER, MOST_CHARACTERS
from scoring.expression.vocabulary import FUNCTIONS, STATISTICS, USES
from scoring.form_reference.allowed import TITLES
from scoring.form_reference.text import bullet, code, wrapped


def expression_section() -> Iterator[str]:
    """How expressions are written, and every sign, function and statistic."""
    yield f"## {TITLES['expression']}"
    most = f"{MOST_CHARACTERS} characters, brackets {DEEPEST} deep, and numbers of {LONGEST_NUMBER} characters"
    yield wrapped(
        "Under `value` (a number), and under `when` (a condition). An expression holds numbers with a decimal point, and names "
        "of measures, ratings, scores and constants; the word of an attribute may be compared. Put it in quotes where it holds a "
        "comma or a colon, or begins with a bracket, so that YAML does not cut it up. What is made of a name whose value is "
        "missing is missing; a condition that asks for one does not hold. "
        f"At most {most} up to 1e{log10(LARGEST_NUMBER):.0f}."
    )
    yield "### Signs"
    yield "\n".join(_use(name, "") for name in USES if name not in FUNCTIONS and name not in STATISTICS)
    yield "### Functions"
    yield "\n".join(_use(name, f" ({_count(*FUNCTIONS[name])})") for name in FUNCTIONS)
    yield "### Statistics"
    yield wrapped("Of one measure, over the products of the catalogue that is scored; so they move with it.")
    yield "\n".join(_use(name, f" ({_count(count, count)})") for name, count in STATISTICS.items())


def _use(name: str, count: str) -> str:
    written, says = USES[name]
    return bullet(f"{code(written)}{count}: {says}.")


def _count(fewest: int, most: int | None) -> str:
    if most is None:
        return f"{fewest} or more arguments"
    if most > fewest:
        return f"{fewest} or {most} arguments"
    return f"{fewest} argument{'s' if fewest > 1 else ''}"
