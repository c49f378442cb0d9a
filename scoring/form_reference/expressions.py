"""Blends, and what an expression may hold: names, signs, functions, statistics."""

from __future__ import annotations

from collections.abc import Iterator
from math import log10

from scoring.expression.tokens import DEEPEST, LARGEST_NUMBER, LONGEST_NUMBER, MOST_CHARACTERS
from scoring.expression.vocabulary import FUNCTIONS, NONE, STATISTICS, USES
from scoring.form_reference.allowed import EXPRESSIONS
from scoring.form_reference.text import bullet, code, wrapped


def expression_section() -> Iterator[str]:
    """How expressions are written, and every sign, function and statistic."""
    yield f"## {EXPRESSIONS}"
    most = f"{MOST_CHARACTERS} characters, brackets {DEEPEST} deep, and numbers of {LONGEST_NUMBER} characters"
    yield wrapped(
        "Under `value` (a number), and under `when` (a condition). An expression holds numbers with a decimal point, and names "
        "of measures, ratings, scores and constants; the word of an attribute may be compared. Put it in quotes where it holds a "
        "comma or a colon, or begins with a bracket, so that YAML does not cut it up. What is made of a name whose value is "
        "missing is missing; a condition that asks for one does not hold. "
        f"At most {most} up to 1e{log10(LARGEST_NUMBER):.0f}."
    )
    yield wrapped(
        "A comparison is one of decimals of 13 significant digits, as rounding is: 0.1 + 0.2 is equal to 0.3. What cancels to "
        "about 0 has no digits to go by; write `a > b` and not `a - b > 0`."
    )
    yield wrapped(
        "An expression is worked out as it is written. It has no value where a step of it has none: `a / a` has none at 0. "
        "A condition on what has no value neither holds nor fails, nor does `not` of it; beside `and` and `or` a part that is "
        "sure decides, so that `b > 0 and a / b < 5` fails where b is 0. A rating or score without a value is refused, with "
        "what was divided by 0, and where; so is one with a limit whose condition has none. A gate whose condition has none "
        "remarks so, or withholds, as its `unknown` says."
    )
    yield "### Signs"
    yield "\n".join(_use(name, "") for name in USES if name not in (*FUNCTIONS, *STATISTICS, NONE))
    yield "### Functions"
    yield "\n".join(_use(name, f" ({_count(*FUNCTIONS[name])})") for name in FUNCTIONS)
    yield _use(NONE, "")
    yield wrapped(
        "`none` stands as a whole branch of the `where` that is the whole expression, or of a `where` that is such a branch. "
        "What takes a rating without a value goes by its own `missing`. Where a reading passes the threshold within its noise, "
        "some draws have a value and some have none."
    )
    yield "### Statistics"
    yield wrapped(
        "Of one measure, rating or score, over the products of the catalogue that have it; so they move with it. What a product "
        "lacks keeps it out of them, and it has no value itself. `10 * overall / maximum(overall)` scales a score to the best."
    )
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
