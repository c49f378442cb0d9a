"""Where a table stands on its sheet: titles above, a header of one row or two, rows of products, and what is below or between."""

from __future__ import annotations

import re
import statistics
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

from analysis.draft.cell_kinds import Kind, kind_of
from analysis.draft.header_marks import are_repeat_marks, are_units, is_repeat_mark, unit_in
from analysis.draft.raw_tables import RawRow, RawTable
from scoring.catalogue.by_recipe.header import read_together
from scoring.catalogue.cells import text_of

#: What begins the first cell of a row that sums others up, or says what they are held against. Common practice, no source.
SUMMARIES = (
    "limit", "limits", "target", "targets", "spec", "specification", "tolerance", "detection limit", "lod", "loq",
    "weight", "weights",
    "average", "avg", "mean", "total", "totals", "sum", "max", "maximum", "min", "minimum",
    "sd", "s.d.", "std", "stdev", "st.dev.", "median", "count", "range", "cv", "n=",
    "mittelwert", "durchschnitt", "summe", "gesamt", "moyenne", "mw", "stabw", "standard", "deviation", "overall",
    "grand", "all",
)  # fmt: skip
_SUMMARY = re.compile(rf"(?:{'|'.join(map(re.escape, SUMMARIES))})(?![a-z0-9-])", re.IGNORECASE)
_MARKED_BY_SUM = re.compile(r"[\W_]*n\s*=\s*\d+.*", re.IGNORECASE)
_NUMBERS = (Kind.NUMBER, Kind.BELOW)
#: In how many upper columns a summary is looked for.
_UPPER_COLUMNS = 4
#: How many rows are looked at to find the header.
_LOOKED_AT = 200


class Why(Enum):
    """Why a row below the header is no product's."""

    SUMMARY = "sums others up"
    AGAIN = "the header again"
    WORDS = "no reading in it"
    UNITS = "units with words about them"


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A row below the header that is no product's: `column` and `text` say where that shows."""

    row: int
    why: Why
    column: int = 0
    text: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Extent:
    """Where a table stands.

    header : numbers of its rows; units : that of the row of units, 0 for none; names : by column, of all its rows
    body : the rows of products; left_out : those between that are none; above : how many rows stand above the header
    end : the number of the first row that is no more of it, 0 where the sheet ends with it; what stands there is `below`
    """

    header: tuple[int, ...]
    names: tuple[str, ...]
    body: tuple[RawRow, ...]
    units: int = 0
    unit_row: tuple[str, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    above: int = 0
    end: int = 0
    below: str = ""


def find_extent(table: RawTable) -> Extent | None:
    """Find a table on a sheet; None where there is none: no header with rows below it."""
    rows = table.rows
    kinds = [tuple(map(kind_of, cells)) for _, cells in rows[:_LOOKED_AT]]
    first = _first_of_body(rows, kinds)
    if first is None:
        return None
    head = _header_above(rows, kinds, first)
    if head is None:
        return None
    chosen, units = head
    names = tuple(read_together([rows[index][1] for index in chosen]))
    unit_row = tuple(map(unit_in, rows[units][1])) if units is not None else ()
    is_bare = units is not None and all(unit_in(cell) == text_of(cell).strip("[]() ") for cell in rows[units][1])
    below = (units if units is not None and units > chosen[-1] else chosen[-1]) + 1
    worded = [LeftOut(rows[units][0], Why.UNITS)] if units is not None and not is_bare else []
    split = _split(rows[below:], names, Counter(map(_filled, rows[:_LOOKED_AT])))
    return Extent(
        header=tuple(rows[index][0] for index in chosen),
        names=names,
        units=rows[units][0] if units is not None and is_bare else 0,
        unit_row=unit_row,
        above=chosen[0],
        body=split.body,
        left_out=(*worded, *split.left_out),
        end=split.end,
        below=split.below,
    )


def _filled(row: RawRow) -> int:
    return sum(1 for cell in row[1] if text_of(cell))


def _first_of_body(rows: Sequence[RawRow], kinds: Sequence[tuple[Kind, ...]]) -> int | None:
    """The index of the first row of a product: with numbers, nearly as wide as most, and with a header somewhere above."""
    widths = [_filled(row) for row, kind in zip(rows, kinds, strict=False) if any(one in _NUMBERS for one in kind)]
    if widths:
        wide = max(2.0, statistics.median(widths) / 2)
        likely = [
            index
            for index, kind in enumerate(kinds)
            if any(one in _NUMBERS for one in kind)
            and _filled(rows[index]) >= wide
            and not are_repeat_marks(rows[index][1])
            and _header_above(rows, kinds, index)
        ]
        goes_on = [index for index in likely if _goes_on(kinds, index)]
        if likely:
            return (goes_on or likely)[0]
    return _first_of_words(rows, kinds)


def _goes_on(kinds: Sequence[tuple[Kind, ...]], index: int) -> bool:
    """Whether the row below has numbers in half of the columns in which this one has, too; or a word for none."""
    if index + 1 >= len(kinds):
        return False
    below = kinds[index + 1]
    own = [column for column, kind in enumerate(kinds[index]) if kind in _NUMBERS]
    both = [column for column in own if column < len(below) and below[column] in (*_NUMBERS, Kind.GAP)]
    return len(both) >= len(own) / 2


def _first_of_words(rows: Sequence[RawRow], kinds: Sequence[tuple[Kind, ...]]) -> int | None:
    """The index of the first row below a header where no cell is a number: names, makers, kinds."""
    widest = max((_filled(row) for row in rows[: len(kinds)]), default=0)
    if widest < 2 or any(one in _NUMBERS for kind in kinds for one in kind):
        return None
    index = next(i for i, row in enumerate(rows) if _filled(row) > widest / 2)
    texts = [text_of(cell) for cell in rows[index][1] if text_of(cell)]
    return index + 1 if index + 1 < len(rows) and len(set(texts)) == len(texts) else None


def _header_above(
    rows: Sequence[RawRow], kinds: Sequence[tuple[Kind, ...]], first: int
) -> tuple[tuple[int, ...], int | None] | None:
    """The indices of the header's rows above the first row of products, and that of a row of units."""
    below = first - 1
    while below > 0 and _filled(rows[below]) == 1:  # the heading of a block of rows
        below -= 1
    marks: int | None = None
    units: int | None = None
    while below >= 0 and (are_units(rows[below][1]) or are_repeat_marks(rows[below][1])):
        if are_units(rows[below][1]):
            units = below
        else:
            marks = below
        below -= 1
    wide = max(2.0, min(_filled(rows[first]), 12) / 2)
    if below < 0 or _filled(rows[below]) < wide or not _is_words(kinds[below]):
        return None
    chosen = [below]
    if marks is not None:
        chosen.append(marks)
    elif below and _is_upper(rows, kinds, below):
        chosen.insert(0, below - 1)
    return tuple(chosen), units


def _is_words(kind: Sequence[Kind]) -> bool:
    """Whether a row can be a header: hardly a number in it."""
    numbers = sum(1 for one in kind if one in _NUMBERS)
    texts = sum(1 for one in kind if one is Kind.TEXT)
    return texts >= 2 and texts > 3 * numbers


def _is_upper(rows: Sequence[RawRow], kinds: Sequence[tuple[Kind, ...]], lower: int) -> bool:
    """Whether the row above a header is part of it: words over columns that have none of their own, or whose own are repeats."""
    (number, above), (own, below) = rows[lower - 1], rows[lower]
    if number != own - 1 or any(one in (*_NUMBERS, Kind.DAY) for one in kinds[lower - 1]):
        return False
    over = [column for column, cell in enumerate(above) if text_of(cell)]
    if not over or over == [0] or (over[0] == 0 and len(over) == 1):
        return False
    under = [below[column] if column < len(below) else None for column in over]
    texts = [text_of(cell).casefold() for cell in below if text_of(cell)]
    is_repeated = len(set(texts)) < len(texts)
    bare = [cell for cell in under if not text_of(cell)]
    marks = [cell for cell in under if is_repeat_mark(cell)]
    return is_repeated or bool(bare) or bool(marks)


@dataclass(frozen=True, slots=True)
class _Split:
    body: tuple[RawRow, ...]
    left_out: tuple[LeftOut, ...]
    end: int
    below: str


def _split(rows: Sequence[RawRow], names: Sequence[str], widths: Counter[int]) -> _Split:
    """Rows below the header: those of products, those that are none, and where the table ends."""
    typical = widths.most_common(1)[0][0] if widths else 1
    own = {name.casefold() for name in names if name}
    body: list[RawRow] = []
    left_out: list[LeftOut] = []
    last = 0  # of those read so far, how many rows are of the table
    end, below = 0, ""
    for index, (number, cells) in enumerate(rows):
        if body and _begins_another(rows, index, own):
            end, below = number, "another table begins"
            break
        reason = _no_product(number, cells, own, typical)
        if reason is None:
            body.append((number, cells))
            last = len(left_out)
        else:
            left_out.append(reason)
    trailing = left_out[last:]
    if trailing and not end and any(one.why is Why.WORDS for one in trailing):
        end = next(one.row for one in trailing if one.why is Why.WORDS)
        below = f"`{clipped(next(one.text for one in trailing if one.row == end))}`"
    kept = tuple(one for one in left_out if not end or one.row < end)
    return _Split(tuple(body), kept, end, below)


def clipped(text: str) -> str:
    """The beginning of a text."""
    return text if len(text) <= 30 else text[:28] + " …"


def _no_product(number: int, cells: Sequence[object], own: set[str], typical: int) -> LeftOut | None:
    """Why a row is no product's; None where it is one's."""
    texts = [text_of(cell) for cell in cells]
    filled = [(column, text) for column, text in enumerate(texts) if text]
    for column, text in filled:
        if column < _UPPER_COLUMNS and (is_summary(text)):
            return LeftOut(number, Why.SUMMARY, column, text.strip())
    if len(filled) > 1 and sum(1 for _, text in filled if text.casefold() in own) > len(filled) / 2:
        return LeftOut(number, Why.AGAIN, *filled[0])
    has_number = any(kind_of(cell) in _NUMBERS for cell in cells)
    if len(filled) <= max(1, typical / 4) and not (has_number and len(filled) > 1):
        return LeftOut(number, Why.WORDS, *filled[0])
    return None


def is_summary(text: str) -> bool:
    """Whether a text heads a row that sums others up.

    Examples
    --------
    >>> is_summary("Average"), is_summary("MEAN:"), is_summary("Std dev."), is_summary("Maximus 3"), is_summary("Mean Green")
    (True, True, True, False, False)
    """
    bare = text.strip().strip(":*").strip()
    begins = _SUMMARY.match(bare)
    if begins is None:
        return bool(_MARKED_BY_SUM.fullmatch(bare))
    rest = bare[begins.end() :].strip(" .:*")
    return not rest or bool(
        re.fullmatch(
            r"(?:dev\.?|deviation|value|of all|all|\(?n\s*=.*|\(.*|of .*|spring|summer|autumn)", rest, re.IGNORECASE
        )
    )


def _begins_another(rows: Sequence[RawRow], index: int, own: set[str]) -> bool:
    """Whether a header of other names stands in a row, after a gap, with a row of products below it."""
    number, cells = rows[index]
    if index == 0 or rows[index - 1][0] == number - 1 or index + 1 >= len(rows):
        return False
    kinds = [kind_of(cell) for cell in cells]
    texts = [text_of(cell).casefold() for cell in cells if text_of(cell)]
    strange = [text for text in texts if text not in own]
    below = rows[index + 1]
    numbers_below = sum(1 for cell in below[1] if kind_of(cell) in _NUMBERS)
    numbers = sum(1 for kind in kinds if kind in _NUMBERS)
    return len(texts) >= 3 and numbers == 0 and len(strange) > len(texts) / 2 and numbers_below >= 1
