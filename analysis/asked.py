"""What a command was asked for and is not there: scores and products by name, and days as they are written, year-month-day."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable
from datetime import date

from scoring.errors import Place, Problem, nearest
from scoring.table.selection import OPTION
from scoring.table.table import ScoreTable


def unknown_scores(
    asked: Iterable[str], known: Collection[str], expected: str = "the name of a score or rating"
) -> list[Problem]:
    """A problem for every name that is not known, with the nearest that is."""
    return [
        Problem(Place("--score"), f"`{name}`", expected, nearest(name, known)) for name in asked if name not in known
    ]


def unselected(table: ScoreTable, asked: Iterable[str], place: str) -> list[Problem]:
    """A problem for every product that is in the catalogue, and not in the part of it that was asked for."""
    if table.selected is None:
        return []
    products = dict.fromkeys(table.catalogue.products[row] for row in table.rows.tolist())
    expected = f"one of the {len(products)} with {table.selected.called}"
    return [
        Problem(
            Place(place), f"`{name}`, a product that is not selected", expected, f"Leave {OPTION} out to ask of it."
        )
        for name in asked
        if name in table.catalogue.products and name not in products
    ]


def is_day(text: str) -> bool:
    """Whether a text is a day, written as 2025-03-01."""
    try:
        return _is_written_as_day(text) and bool(date.fromisoformat(text))
    except ValueError:
        return False


def day_problem(text: str, option: str, expected: str) -> Problem | None:
    """What is wrong with the day that an option was given; None for nothing."""
    if is_day(text):
        return None
    found = f"`{text[:40]}`" + (", and there is no such day" if _is_written_as_day(text) else "")
    return Problem(Place(option), found, expected)


def _is_written_as_day(text: str) -> bool:
    return re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", text) is not None
