"""Columns that a bench works out from others: means of repeats, their scatter, ranks. They are no readings."""

from __future__ import annotations

import re
import statistics
from collections.abc import Sequence
from dataclasses import replace

from analysis.draft.cell_kinds import number_of
from analysis.draft.column_roles import Column, Role

_RANK = re.compile(r"(?:overall )?(?:rank|place|position|score|points|total score|overall|stars)", re.IGNORECASE)
_SCATTER = re.compile(
    r"(?:^|[\s_(])(?:sd|s\.d\.|std|stdev|st\.?\s?dev\.?|cv|range|scatter|spread|±|\+/-)(?:$|[\s_).])", re.IGNORECASE
)
#: The share of rows in which a column must be the mean of some others.
_MOST = 0.8


def with_derived(columns: Sequence[Column]) -> tuple[Column, ...]:
    """The same columns, those that are worked out from others named as such."""
    groups: dict[str, list[Column]] = {}
    for column in columns:
        if column.role is Role.MEASURE:
            groups.setdefault(column.head.words.casefold(), []).append(column)
    repeated = [own for own in groups.values() if len(own) > 1]
    return tuple(replace(one, role=Role.DERIVED) if _is_derived(one, repeated) else one for one in columns)


def _is_derived(column: Column, repeated: Sequence[Sequence[Column]]) -> bool:
    if column.role is not Role.MEASURE or any(column in own for own in repeated):
        return False
    if _RANK.fullmatch(column.head.words) and not column.head.unit:
        return True
    if _SCATTER.search(column.head.words) and repeated:
        return True
    return any(_is_mean(column, own) for own in repeated)


def _is_mean(column: Column, repeats: Sequence[Column]) -> bool:
    """Whether a column holds the mean, or the median, of some others, as exactly as it is written."""
    checked, agreeing = 0, 0
    for row, cell in enumerate(column.cells):
        value = number_of(cell)
        others = [number for one in repeats if (number := number_of(one.cells[row])) is not None]
        if value is None or len(others) < 2:
            continue
        checked += 1
        coarse = 0.5 * 10.0 ** -_places(value) + 1e-9
        agreeing += min(abs(statistics.fmean(others) - value), abs(statistics.median(others) - value)) <= coarse
    return checked >= 2 and agreeing >= _MOST * checked


def _places(value: float) -> int:
    """How many decimals a number is written with, 6 at most."""
    return min(len(f"{value:.6f}".rstrip("0").partition(".")[2]), 6)
