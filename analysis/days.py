"""Days as they are written, year-month-day."""

from __future__ import annotations

import re
from datetime import date

from scoring.errors import Place, Problem


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
