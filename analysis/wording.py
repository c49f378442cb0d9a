"""How studies say figures and things in words."""

from __future__ import annotations

from collections.abc import Sequence

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
}


def kind_in_words(name: str) -> str:
    """A group of factors as a sentence calls it."""
    return KINDS.get(name, name)


def percent(share: float) -> str:
    """A share in whole percent; "under 1 %" and "over 99 %" near the ends, and 0 and 100 only where exact."""
    if share <= 0 or share >= 1:
        return f"{100 * share:.0f} %"
    if share < 0.01:
        return "under 1 %"
    return "over 99 %" if share > 0.99 else f"{100 * share:.0f} %"


def between(low: float, high: float) -> str:
    """An interval of shares in percent."""
    return f"{100 * low:.0f} to {100 * high:.0f} %"


def listed(words: Sequence[str]) -> str:
    """Words in a sentence: a, b and c."""
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
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"
