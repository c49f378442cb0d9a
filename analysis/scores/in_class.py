"""Places within classes as a column of a report's table."""

from __future__ import annotations

from collections.abc import Callable

from analysis.report.tables import Column, Values
from scoring.table.frames import PLACE
from scoring.table.table import Column as Scored


def in_class_column(column: Scored, before: str, said: Callable[[float, float, str], str]) -> list[Column]:
    """The place within each product's class, where the formula counts them; before: what leads the names in files."""
    within = column.within
    if within is None:
        return []
    classes = within.classes
    fields: dict[str, Values] = {
        f"{before}rank_within": within.place,
        f"{before}of_within": within.of,
        f"{before}word_within": classes.words,
    }
    return [Column(f"in {classes.label}", fields, said, {f"{before}rank_within": PLACE}, numeric=bool(before))]
