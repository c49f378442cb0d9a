"""Cells of a second header row: repeats' marks and units, which name no column by themselves."""

from __future__ import annotations

import itertools
import re
from collections.abc import Sequence

from scoring.catalogue.cells import text_of
from scoring.units.conversion import is_known
from scoring.units.in_name import BENCH_UNITS

#: `#1`, `1`, `run 2`, `Rep. 3`, `(1)`, `a`.
_REPEAT = re.compile(
    r"\(?(?:#|no\.?|nr\.?|run|rep\.?|repeat|reading|trial|test|drop|shot|r)?\s*#?\s*[1-9]\)?", re.IGNORECASE
)
_BRACKETS = str.maketrans("", "", "[](){}")


def is_repeat_mark(cell: object) -> bool:
    """Whether a cell says no more than which repeat it is."""
    text = text_of(cell).strip()
    return bool(text) and bool(_REPEAT.fullmatch(text))


def unit_in(cell: object) -> str:
    """The unit that a cell says and nothing else, without its brackets; "" where it says something else."""
    text = text_of(cell).translate(_BRACKETS).strip() if isinstance(cell, str) else ""
    bare = text.removeprefix("in ").strip() if text.startswith("in ") else text
    return bare if bare and (bare in BENCH_UNITS or bare == "°" or (len(bare) > 1 and is_known(bare))) else ""


def are_units(cells: Sequence[object]) -> bool:
    """Whether all filled cells of a row are units, but for a word such as `Unit` in the first."""
    filled = [cell for cell in cells if text_of(cell)]
    if filled and re.fullmatch(r"\W*units?\W*", text_of(filled[0]), re.IGNORECASE):
        filled = filled[1:]
    return bool(filled) and all(map(_may_stand, filled)) and any(unit_in(cell) for cell in filled)


def _may_stand(cell: object) -> bool:
    """Whether a cell may stand in a row of units: a unit, or a sign for none."""
    return text_of(cell).strip("[]()") in ("-", "1", "–", "") or bool(unit_in(cell))


def are_repeat_marks(cells: Sequence[object]) -> bool:
    """Whether all filled cells of a row are marks of repeats, and they begin again with the first, or have a word or sign."""
    filled = [text_of(cell) for cell in cells if text_of(cell)]
    if not filled or not all(map(is_repeat_mark, filled)):
        return False
    digits = [re.sub(r"\D", "", text) for text in filled]
    return (
        len(filled) > 1
        and digits[0] == "1"
        and all(int(new) == int(old) + 1 or new == "1" for old, new in itertools.pairwise(digits))
    )
