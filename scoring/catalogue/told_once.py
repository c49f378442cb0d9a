"""Faults that many cells share, said once: what was found, how often, and where."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from scoring.errors import Place, Problem, column_letters

#: So many cells with one fault are told one by one.
MOST_APART = 3
_MOST_NAMED = 20
_MOST_SAMPLES = 3


def told_once(problems: Iterable[Problem]) -> list[Problem]:
    """The problems in their order, those of cells of one sheet that ask for the same thing put together."""
    kinds: dict[tuple[object, ...], list[Problem]] = {}
    for number, one in enumerate(dict.fromkeys(problems)):
        is_cell = bool(one.place.line and one.place.column_name)
        kind = (one.place.source, one.place.sheet, one.expected, one.hint) if is_cell else (number,)
        kinds.setdefault(kind, []).append(one)
    return [one for alike in kinds.values() for one in _together(alike)]


def _together(alike: Sequence[Problem]) -> Sequence[Problem]:
    if len(alike) <= MOST_APART:
        return alike
    samples = list(dict.fromkeys(one.found for one in alike))
    shown = ", ".join(samples[:_MOST_SAMPLES]) + (" and others" if len(samples) > _MOST_SAMPLES else "")
    found = f"{shown}, in {len(alike)} cells ({_cells([one.place for one in alike])})"
    return [replace(alike[0], found=found)]


def _cells(places: Sequence[Place]) -> str:
    """Cells by their columns: the first ones by name, and how many more there are."""
    rows: dict[str, list[str]] = {}
    for place in places[:_MOST_NAMED]:
        in_sheet = place.sheet and place.column
        row = f"{column_letters(place.column)}{place.line}" if in_sheet else str(place.line)
        rows.setdefault(place.column_name, []).append(row)
    named = [f"{column}: {'' if places[0].sheet else 'rows '}{', '.join(at)}" for column, at in rows.items()]
    more = f"; {len(places) - _MOST_NAMED} more" if len(places) > _MOST_NAMED else ""
    return "; ".join(named) + more
