"""The scores that a command is asked for by name."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from scoring.errors import Place, Problem, nearest


def unknown_scores(
    asked: Iterable[str], known: Collection[str], expected: str = "the name of a score or rating"
) -> list[Problem]:
    """A problem for every name that is not known, with the nearest that is."""
    return [
        Problem(Place("--score"), f"`{name}`", expected, nearest(name, known)) for name in asked if name not in known
    ]
