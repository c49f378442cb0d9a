"""What was found on all sheets of all files together: which hold readings, which products, and what is odd about them."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import PurePath

from analysis.draft.cell_kinds import GAPS, Gap, has_comma, has_point
from analysis.draft.column_heads import read_head
from analysis.draft.column_roles import Column, Role, columns_of
from analysis.draft.derived_columns import with_derived
from analysis.draft.measured import Look, Measured, measures_of, words_in
from analysis.draft.oddities import OtherUnit, Slipped, other_unit, slipped
from analysis.draft.raw_tables import RawTable
from analysis.draft.second_rows import SecondRows, second_rows
from analysis.draft.table_extent import find_extent

#: What sheets are called that sum others up. Common practice of spreadsheets, no source.
_SUMS = re.compile(
    r"summary|averages?|means?|pivot.*|charts?|overview|plots?|graphs?|statistics|stats|dashboard", re.IGNORECASE
)
#: The share of a table's products that another must know, to be joined with it.
_KNOWN = 0.3
#: The share of names that two sheets have in common, to be two sessions of one table.
_ALIKE = 0.8


#: Why a table is not read whose measures stand in rows.
TURNED = (
    "it is turned round: a row a measure, a column a product. Copy it to a new sheet with rows and columns exchanged"
)


@dataclass(frozen=True, slots=True)
class SetAside:
    """A sheet that is not read, and why; `sheet` is its name, "" where the format has none."""

    called: str
    why: str
    sheet: str = ""


@dataclass(frozen=True, slots=True)
class Decimals:
    """How many texts of a table write a number with a comma, and how many with a point."""

    commas: int
    points: int

    @property
    def comma(self) -> bool:
        """Whether commas are meant."""
        return self.commas > self.points


@dataclass(frozen=True, slots=True)
class GapWord:
    """A word in cells of readings: what it likely means, None for one that nobody knows, and where it stands."""

    word: str
    gap: Gap | None
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class MeasureFound:
    """A measure by its words, with the columns (or tests) of every table that has it."""

    words: str
    parts: tuple[Measured, ...]
    slips: tuple[Slipped, ...]
    other_unit: OtherUnit | None

    @property
    def unit(self) -> str:
        """The unit of its first part that states one."""
        return next((part.head.unit for part in self.parts if part.head.unit), "")

    @property
    def repeats(self) -> int:
        """How many readings of it a product has in one session."""
        return max(part.repeats for part in self.parts)

    @property
    def is_price(self) -> bool:
        """Whether it is no reading of a bench."""
        return any(part.price for part in self.parts)


@dataclass(frozen=True, slots=True, eq=False)
class Findings:
    """Everything that a draft is written from.

    looks : tables that are read, in order; alike : for each, the number of the first table with the same columns
    """

    looks: tuple[Look, ...]
    alike: tuple[int, ...]
    set_aside: tuple[SetAside, ...]
    measures: tuple[MeasureFound, ...]
    words: tuple[GapWord, ...]
    second: tuple[SecondRows, ...]
    decimals: tuple[Decimals, ...]

    @property
    def products(self) -> set[str]:
        """The ids of all products."""
        return {product for look in self.looks for product in look.products if product}

    @property
    def decimal_comma(self) -> bool:
        """Whether texts of some table write numbers with a comma."""
        return any(one.comma for one in self.decimals)

    def attribute(self, role: Role) -> tuple[int, Column] | None:
        """The column that says a name, maker or class best, and the number of its table: the one that knows most products."""
        found = [
            (len(set(look.products)), -number, column)
            for number, look in enumerate(self.looks)
            for column in look.of(role)[:1]
        ]
        if not found:
            return None
        _, number, column = max(found, key=lambda one: one[:2])
        return -number, column


def findings_of(tables: Sequence[RawTable]) -> Findings:
    """Look at all sheets together."""
    first = [_look(table, ()) for table in tables]
    looks = [look for look in first if look is not None]
    main = max(looks, key=_weight, default=None)
    ids = set(main.products) - {""} if main is not None else set()
    again = [look if look is main else _look(look.table, ids) or look for look in looks]
    kept, aside = [], []
    for table, look in zip(tables, first, strict=True):
        if look is None:
            aside.append(SetAside(table.called, _why_no_table(table), table.sheet))
    for look in again:
        why = "" if main is None or look is main else _why_not(look, main, ids)
        if why:
            aside.append(SetAside(look.table.called, why, look.table.sheet))
        else:
            kept.append(look)
    with_readings = [look for look in kept if look.of(Role.MEASURE, Role.VALUE)]
    if len(with_readings) > 1:
        kept = [replace(look, is_one_of_many=True) for look in kept]
    named = _names(kept)
    parts = [part for look in kept for part in measures_of(look)]
    return Findings(
        looks=tuple(kept),
        alike=_alike(kept),
        set_aside=tuple(aside),
        measures=tuple(_merged(parts)),
        words=tuple(_gap_words(kept)),
        second=tuple(second_rows(look, named) for look in kept),
        decimals=tuple(map(_decimals, kept)),
    )


def _decimals(look: Look) -> Decimals:
    cells = [cell for column in look.of(Role.MEASURE, Role.PRICE, Role.VALUE) for cell in column.cells]
    return Decimals(sum(map(has_comma, cells)), sum(map(has_point, cells)))


def _look(table: RawTable, ids: Sequence[str] | set[str]) -> Look | None:
    extent = find_extent(table)
    if extent is None:
        return None
    look = Look(table, extent, with_derived(columns_of(extent, ids)))
    return look if look.first(Role.PRODUCT) and not _is_turned(look) else None


def _is_turned(look: Look) -> bool:
    """Whether measures stand in rows: the cells of the first column state units, and the names of the columns none."""
    column = look.first(Role.PRODUCT) or look.first(Role.WORDS)
    texts = [text for text in column.texts if text] if column is not None and not look.is_long else []
    units = [text for text in texts if read_head(text).unit]
    return len(units) > len(texts) / 2 and not any(one.head.unit for one in look.of(Role.MEASURE))


def _why_no_table(table: RawTable) -> str:
    extent = find_extent(table)
    is_turned = extent is not None and _is_turned(Look(table, extent, columns_of(extent)))
    return TURNED if is_turned else "no table with a header and rows below it"


def _weight(look: Look) -> tuple[bool, int]:
    """How much of a bench's readings a table holds; one that sums others up comes last."""
    readings = sum(len(measure.readings) for measure in measures_of(look) if not measure.price)
    return not _SUMS.fullmatch(look.table.sheet.strip()), readings


def _why_not(look: Look, main: Look, ids: set[str]) -> str:
    """Why a table is not read beside the main one; "" where it is."""
    own = set(look.products) - {""}
    measures = {measure.head.words.casefold() for measure in measures_of(look)}
    common = measures & {measure.head.words.casefold() for measure in measures_of(main)}
    if _SUMS.fullmatch(look.table.sheet.strip()) and (measures or not look.of(Role.NAME, Role.MAKER, Role.CLASS)):
        return "its name says that it sums others up"
    if _is_alike(look, main):
        return ""
    if len(own & ids) < _KNOWN * min(len(own), len(ids)):
        return (
            f"none of its rows is of a product of {main.table.called}"
            if not own & ids
            else "few of its products are known"
        )
    return "it says again what others hold" if common and measures <= common and _says_again(look, main) else ""


def _is_alike(one: Look, other: Look) -> bool:
    """Whether two tables have the same columns."""
    names, others = ({name.casefold() for name in look.extent.names if name} for look in (one, other))
    return len(names & others) >= _ALIKE * max(len(names | others), 1)


def _says_again(look: Look, main: Look) -> bool:
    """Whether a table has no words of conditions of its own, as one of means over another."""
    return not look.of(Role.SESSION, Role.DATE, Role.SPECIMEN) and bool(main.of(Role.MEASURE, Role.VALUE))


def _alike(looks: Sequence[Look]) -> tuple[int, ...]:
    return tuple(next(i for i, other in enumerate(looks) if other is look or _is_alike(look, other)) for look in looks)


def _names(looks: Sequence[Look]) -> dict[str, str]:
    """The name of every product, from the table that knows most of them and has no second rows."""
    best: dict[str, str] = {}
    for look in looks:
        column = look.first(Role.NAME)
        listed = dict(zip(look.products, column.texts, strict=True)) if column else {}
        if len(listed) == len(look.products) and len(listed) > len(best):
            best = listed
    return best


def _merged(parts: Sequence[Measured]) -> Iterator[MeasureFound]:
    groups: dict[str, list[Measured]] = {}
    for part in parts:
        groups.setdefault(part.head.words.casefold(), []).append(part)
    for own in groups.values():
        units = [found for part in own if (found := other_unit(part))]
        slips = [slip for part in own for slip in slipped(part)] if not units else []
        yield MeasureFound(own[0].head.words, tuple(own), tuple(slips), units[0] if units else None)


def _gap_words(looks: Sequence[Look]) -> Iterator[GapWord]:
    cells: dict[str, list[str]] = {}
    spelt: dict[str, Counter[str]] = {}
    for look in looks:
        for word, cell in words_in(look):
            cells.setdefault(word.casefold(), []).append(cell)
            spelt.setdefault(word.casefold(), Counter())[word] += 1
    for folded, own in cells.items():
        yield GapWord(spelt[folded].most_common(1)[0][0], GAPS.get(folded), tuple(own))


def stem_of(file: str) -> str:
    """A file's name without its ending."""
    return PurePath(file).stem
