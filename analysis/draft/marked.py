"""Lines of a draft whose guesses are marked, and how many marks still stand in a text."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

#: What begins the mark of a guess, and what says of one that a human must decide it.
MARK = "# guess:"
DECIDE = "DECIDE"
#: Where the marks of guesses stand, if the line before them is no longer.
MARK_AT = 52
#: A word that YAML takes as it stands, and that means nothing else there.
_BARE = re.compile(r"[A-Za-z][A-Za-z0-9]*(?:[ _./-]?[A-Za-z0-9]+)*")
_NOT_BARE = frozenset({"null", "true", "false", "yes", "no", "on", "off"})


def written(text: str) -> str:
    """A text as YAML writes it: bare where that is safe, else in double quotes."""
    bare = _BARE.fullmatch(text) and text.casefold() not in _NOT_BARE
    return text if bare else json.dumps(text, ensure_ascii=False)


def listed(texts: Iterable[str]) -> str:
    """Texts as a list in one line of YAML."""
    return f"[{', '.join(map(written, texts))}]"


def marked(line: str, because: str) -> str:
    """A line with the mark of a guess, and what it rests on."""
    gap = f"{line:<{MARK_AT}}" if len(line) < MARK_AT else f"{line}  "
    return f"{gap}{MARK} {printable(because)}"


def printable(text: str) -> str:
    """A text on one line, without what does not show."""
    return "".join(c if c.isprintable() else "?" for c in text)


def guesses_in(text: str) -> int:
    """How many guesses a draft marks.

    Examples
    --------
    >>> guesses_in("unit: mm   # guess: in its name\\nbetter: lower\\n# What follows `guess:` was not known\\n")
    1
    """
    return sum(MARK in line for line in text.splitlines())


def decisions_in(text: str) -> list[tuple[int, str]]:
    """The guesses that a human must decide: their lines, counted from 1, and what each rests on."""
    found = []
    for number, line in enumerate(text.splitlines(), start=1):
        mark = line.find(MARK)
        if mark >= 0 and DECIDE in line[mark:]:
            found.append((number, line[mark + len(MARK) :].strip()))
    return found


@dataclass(frozen=True, slots=True)
class Standing:
    """The guesses that still stand in one file: how many, how many of them a human must decide, and the line of the first."""

    file: str
    guesses: int
    decisions: int
    first: int


def standing_guesses(texts: Mapping[str, str]) -> list[Standing]:
    r"""The files in which guesses stand that nobody has taken away.

    Parameters
    ----------
    texts : of formulas and recipes, by the name of the file

    Examples
    --------
    >>> standing_guesses({"beds.yaml": "unit: mm\nbetter: lower  # guess: DECIDE THIS FIRST", "done.yaml": "unit: mm"})
    [Standing(file='beds.yaml', guesses=1, decisions=1, first=2)]
    """
    found = []
    for file, text in texts.items():
        lines = [number for number, line in enumerate(text.splitlines(), start=1) if MARK in line]
        decisions = len(decisions_in(text))
        # what must be decided comes before what should be looked at
        first = decisions_in(text)[0][0] if decisions else (lines or [0])[0]
        if lines:
            found.append(Standing(file, len(lines), decisions, first))
    return found
