"""How studies say figures and things in words, and what the noise in a statement is made of and leaves out."""

from __future__ import annotations

import math
from collections.abc import Sequence

from scoring.form import Form, Output

#: What stands where there is no figure.
ABSENT = "–"
#: Statistics of the catalogue as a line calls them.
STATISTICS = {"sd": "standard deviation", "least": "least", "greatest": "greatest", "mean": "mean", "median": "median"}
#: Kinds of factors as a sentence calls them.
KINDS = {
    "weights": "all weights together",
    "shares of parts": "the shares of parts in ratings",
    "anchors": "all anchors together",
    "numbers": "the numbers varied",
    "exponents": "the exponents",
    "limits": "the limits",
    "choice of mean": "the choice of mean",
    "choice of curve": "the choice of curve",
    "missing rule": "the missing rule",
    "other choices": "the other choices",
    "part left out": "leaving a part out",
    "bench noise": "the bench's noise",
    "resampled repeats": "the scatter of repeats",
    "what was not read": "what was not read",
}


#: Those of them that are many.
MANY = {"weights", "shares of parts", "anchors", "numbers", "exponents", "limits", "other choices"}


def kind_in_words(name: str) -> str:
    """A group of factors as a sentence calls it."""
    return KINDS.get(name, name)


def fixed(value: float, places: int) -> str:
    """A number with so many decimal places, never a negative zero; "–" where there is none.

    Examples
    --------
    >>> fixed(1.25, 3), fixed(-0.0001, 2), fixed(float("nan"), 2)
    ('1.250', '0.00', '–')
    """
    return ABSENT if math.isnan(value) else f"{value:z.{places}f}"


def signed(value: float, places: int) -> str:
    """A difference with its sign and so many decimal places; "–" where there is none.

    Examples
    --------
    >>> signed(1.25, 3), signed(-0.5, 1), signed(float("nan"), 2)
    ('+1.250', '-0.5', '–')
    """
    return ABSENT if math.isnan(value) else f"{value:+z.{places}f}"


def significant(value: float | None, digits: int) -> str:
    """A number in up to so many significant digits; "–" where there is none.

    Examples
    --------
    >>> significant(0.74666667, 3), significant(61.0, 7), significant(None, 3)
    ('0.747', '61', '–')
    """
    return ABSENT if value is None or math.isnan(value) else f"{value:.{digits}g}"


def place_text(rank: float) -> str:
    """A place as a figure, half a place where products share one; "–" where there is none.

    Examples
    --------
    >>> place_text(3.0), place_text(2.5), place_text(float("nan"))
    ('3', '2.5', '–')
    """
    return ABSENT if math.isnan(rank) else f"{rank:g}"


def percent(share: float) -> str:
    """A share in whole percent, held to 0 to 100; "under 1 %" and "over 99 %" near the ends, and 0 and 100 only where exact.

    Examples
    --------
    >>> percent(0.564), percent(0.004), percent(0.0), percent(0.996), percent(float("nan"))
    ('56 %', 'under 1 %', '0 %', 'over 99 %', '–')
    """
    if math.isnan(share):
        return ABSENT
    held = min(1.0, max(0.0, share))
    if 0 < held < 0.01:
        return "under 1 %"
    return "over 99 %" if 0.99 < held < 1 else f"{100 * held:.0f} %"


def between(low: float, high: float) -> str:
    """An interval of shares in percent, each end as `percent` says it, or to a tenth where both would be the same.

    Examples
    --------
    >>> between(0.54, 0.59), between(0.241, 0.243), between(0.004, 0.03)
    ('54 to 59 %', '24.1 to 24.3 %', 'under 1 % to 3 %')
    """
    ends = percent(low), percent(high)
    plain = [end for end in ends if end[0].isdigit()]
    if ends[0] == ends[1]:
        return f"{100 * low:.1f} to {100 * high:.1f} %" if len(plain) == 2 and 0 < low < high < 1 else ends[0]
    return f"{ends[0].removesuffix(' %')} to {ends[1]}" if len(plain) == 2 else f"{ends[0]} to {ends[1]}"


def listed(words: Sequence[str]) -> str:
    """Words in a sentence: a, b and c.

    Examples
    --------
    >>> listed(["edge", "quiet", "cooling"])
    'edge, quiet and cooling'
    """
    if len(words) < 2:
        return "".join(words)
    return ", ".join(words[:-1]) + " and " + words[-1]


def some(words: Sequence[str], most: int) -> str:
    """The first few words, and how many more there are."""
    return listed(list(words)) if len(words) <= most else ", ".join(words[:most]) + f" and {len(words) - most} more"


def places(first: int, last: int) -> str:
    """A run of places."""
    return f"place {first}" if first == last else f"places {first} to {last}"


def counted(number: int, noun: str) -> str:
    """A number of things."""
    return f"{number} {plural(number, noun)}"


def plural(number: int, noun: str) -> str:
    """A noun for so many things."""
    return noun if number == 1 else f"{noun}s"


#: The components of errors, as a sentence calls them; the first is that of repeats.
WORDS = {
    "repeatability": "repeatability",
    "between_sessions": "sessions",
    "between_specimens": "specimens",
    "systematic": "systematic errors",
}
#: What a study that draws repeats again from themselves reckons with, where nothing is declared.
RESAMPLED = "the scatter of repeats"
#: What a statement must say that it leaves out.
OWED = ("between_sessions", "between_specimens")


def noise_in_words(form: Form, output: Output | None = None) -> str:
    """What noise is reckoned with, as in "repeatability and sessions (differences between specimens left out)".

    output: the rating or score that it is about, for the measures that lead to it alone; all measures by default
    """
    measures = form.measures
    if output is not None:
        under = form.dependencies.under(output.name)
        measures = tuple(measure for measure in measures if measure.name in under)
    declared = {name: [m for m in measures if m.declares(name)] for name in WORDS}
    known = [m for m in measures if any(m.declares(name) for name in WORDS)]
    there = [_counted(name, len(declared[name]), len(known)) for name in WORDS if declared[name]] or [RESAMPLED]
    gone = [WORDS[name] for name in OWED if not declared[name]]
    if not gone:
        return listed(there)
    reckoned = f"{there[0]} alone" if len(there) == 1 else listed(there)
    return f"{reckoned} (differences between {listed(gone)} left out)"


def _counted(name: str, number: int, known: int) -> str:
    whole = number == known or name == "repeatability"
    return WORDS[name] if whole else f"{WORDS[name]} of {number} of {known} measures"
