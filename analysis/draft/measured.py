"""Measures of a table: the columns, or the rows of a long table, that hold one, and every reading with its place."""

from __future__ import annotations

import statistics
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from analysis.draft.cell_kinds import Kind, kind_of, limit_of, number_of, unit_of
from analysis.draft.column_heads import Head, read_head
from analysis.draft.column_roles import Column, Role
from analysis.draft.raw_tables import RawTable
from analysis.draft.table_extent import Extent
from scoring.catalogue.cells import text_of


@dataclass(frozen=True, slots=True, eq=False)
class Look:
    """A sheet that was looked at: where its table stands, what its columns are for, and whether others hold readings, too."""

    table: RawTable
    extent: Extent
    columns: tuple[Column, ...]
    is_one_of_many: bool = False

    def of(self, *roles: Role) -> tuple[Column, ...]:
        """The columns of these roles."""
        return tuple(column for column in self.columns if column.role in roles)

    def first(self, role: Role) -> Column | None:
        """The first column of a role."""
        return next(iter(self.of(role)), None)

    @property
    def products(self) -> list[str]:
        """The product of every row; "" where no column names them. An empty cell goes on with the one above."""
        column = self.first(Role.PRODUCT)
        texts = column.texts if column else [""] * len(self.extent.body)
        filled: list[str] = []
        for text in texts:
            filled.append(text or (filled[-1] if filled else ""))
        return filled

    @property
    def is_long(self) -> bool:
        """Whether a row is a reading."""
        return self.first(Role.TEST) is not None and self.first(Role.VALUE) is not None

    def texts(self, role: Role) -> list[str]:
        """The texts of the first column of a role, by row; empty ones where there is no such column."""
        column = self.first(role)
        return column.texts if column else [""] * len(self.extent.body)

    def row(self, index: int) -> int:
        """The number of a row of products."""
        return self.extent.body[index][0]

    def cell(self, index: int, column: int) -> str:
        """The address of a cell in a row of products; with its sheet where several hold readings."""
        address = self.table.cell(self.row(index), column, self.extent.names[column])
        return f"{self.table.called} {address}" if self.is_one_of_many else address


@dataclass(frozen=True, slots=True)
class Reading:
    """A number and its place: the index of its row among the rows of products, and of its column."""

    value: float
    row: int
    column: int


@dataclass(frozen=True, slots=True, eq=False)
class Measured:
    """One measure of one table: its columns, or in a long table the rows of one test.

    head : of its first column, or the name of the test taken apart; repeats : how many readings a row or product has at most
    limits : those that cells say a reading lies below
    """

    look: Look
    head: Head
    columns: tuple[Column, ...]
    readings: tuple[Reading, ...]
    repeats: int
    limits: tuple[float, ...]
    price: bool = False

    @property
    def values(self) -> list[float]:
        """Every reading."""
        return [reading.value for reading in self.readings]

    def cell(self, reading: Reading) -> str:
        """The address of a reading."""
        return self.look.cell(reading.row, reading.column)


def measures_of(look: Look) -> list[Measured]:
    """The measures of a table, in the order of their columns, or of their first rows."""
    return list(_of_long(look) if look.is_long else _of_wide(look))


def _of_wide(look: Look) -> Iterator[Measured]:
    groups: dict[str, list[Column]] = {}
    for column in look.of(Role.MEASURE, Role.PRICE):
        groups.setdefault(column.head.words.casefold(), []).append(column)
    for columns in groups.values():
        ordered = sorted(columns, key=lambda column: (column.head.repeat, column.index))
        readings = [one for column in ordered for one in _readings(column, range(len(column.cells)))]
        limits = [limit for column in ordered for limit in _limits(column.cells)]
        price = ordered[0].role is Role.PRICE
        head = ordered[0].head
        units = [unit_of(cell) for column in ordered for cell in column.cells]
        beside = Counter(filter(None, units))
        head = head if head.unit or not beside else replace(head, unit=beside.most_common(1)[0][0])
        yield Measured(look, head, tuple(ordered), tuple(readings), len(ordered), tuple(limits), price)


def _of_long(look: Look) -> Iterator[Measured]:
    tests, values = look.first(Role.TEST), look.first(Role.VALUE)
    assert tests is not None
    assert values is not None
    units, products, sessions = look.texts(Role.UNIT), look.products, look.texts(Role.SESSION)
    rows: dict[str, list[int]] = {}
    for row, test in enumerate(tests.texts):
        if test:
            rows.setdefault(test, []).append(row)
    for test, own in rows.items():
        head = read_head(test)
        stated = next((units[row] for row in own if units[row]), "")
        unit = stated or head.unit
        limits = tuple(_limits([values.cells[row] for row in own]))
        counted = Counter((products[row], sessions[row]) for row in own)
        repeats = statistics.median_high(counted.values())
        taken = Head(test, head.words, unit, by_rule=False, bracketed=bool(stated))
        yield Measured(look, taken, (values,), tuple(_readings(values, own)), repeats, limits)


def _readings(column: Column, rows: Sequence[int]) -> Iterator[Reading]:
    for row in rows:
        number = number_of(column.cells[row])
        if number is not None:
            yield Reading(number, row, column.index)


def _limits(cells: Sequence[object]) -> list[float]:
    """The limits that some cells say a reading lies below."""
    return [limit for cell in cells if (limit := limit_of(cell)) is not None]


def words_in(look: Look) -> Iterator[tuple[str, str]]:
    """The texts in columns of readings that are no number, each with the address of its cell."""
    columns = look.of(Role.VALUE) if look.is_long else look.of(Role.MEASURE, Role.PRICE)
    for column in columns:
        for row, cell in enumerate(column.cells):
            if kind_of(cell) in (Kind.GAP, Kind.TEXT, Kind.DAY) and isinstance(cell, str):
                yield text_of(cell).strip(), look.cell(row, column.index)
