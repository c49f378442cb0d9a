"""Typed tables: the values as they are, under the names that files give them, and how a reader sees them."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from analysis.wording import ABSENT, fixed, percent, place_text, signed
from scoring.numbers.array_types import Array

if TYPE_CHECKING:
    import pandas as pd

#: The unit of what a reader sees in percent: 0.25 in a frame is 25 %.
SHARE = "share"
Values = Sequence[Any] | NDArray[Any]


@dataclass(frozen=True, slots=True, eq=False)
class Column:
    """What a reader sees under one heading, made of one field of the files or of several.

    heading: what stands over it
    fields: the name in files -> its values, one a row
    says: the text of a cell, from a row's values of the fields, in their order
    unit: of every field, "" for none; by field where only some have one
    numeric: whether figures stand in it, which are set to the right
    kind: what its texts are, as of a `Run`: "" words of ours, "name" text of a file, "code" an address
    unbroken: whether its cells keep to one line
    brief: the text of a cell on a terminal, where that is a shorter one
    pages_alone: a terminal leaves the column out
    to_the_lead: what a terminal says in its cells, where that is for nobody else: no file and no page has it
    """

    heading: str
    fields: Mapping[str, Values]
    says: Callable[..., str] = str
    unit: str | Mapping[str, str] = ""
    numeric: bool = False
    kind: str = ""
    unbroken: bool = False
    brief: Callable[..., str] | None = None
    pages_alone: bool = False
    to_the_lead: Sequence[str] | None = None

    @property
    def units(self) -> Mapping[str, str]:
        """The unit of each field that has one."""
        if isinstance(self.unit, str):
            return dict.fromkeys(self.fields, self.unit) if self.unit else {}
        return self.unit

    def in_brief(self) -> Column:
        """As a terminal says it."""
        if self.to_the_lead is not None:
            return replace(self, fields={self.heading: self.to_the_lead}, says=str)
        return replace(self, says=self.brief or self.says)

    def cell(self, row: int) -> str:
        """What a reader sees in a row."""
        return self.says(*(values[row] for values in self.fields.values()))


@dataclass(frozen=True, slots=True, eq=False)
class Made(Sequence[Any]):
    """The values of a field, each made when it is asked for: of a long table only a few are seen.

    size: how many there are; make: one by its row
    """

    size: int
    make: Callable[[int], Any]

    def __len__(self) -> int:
        return self.size

    def __getitem__(self, row: Any) -> Any:
        return self.make(row)


def words(key: str, heading: str, values: Values, *, kind: str = "", unbroken: bool = False) -> Column:
    """Words of ours, texts of a file ("name"), or addresses ("code")."""
    return Column(heading, {key: values}, str, kind=kind, unbroken=unbroken)


def figures(key: str, heading: str, values: Values, places: int, *, unit: str = "") -> Column:
    """Numbers with so many decimal places, "–" where there is none."""
    return Column(heading, {key: values}, lambda value: fixed(value, places), unit, numeric=True)


def moves(key: str, heading: str, values: Values, places: int, *, unit: str = "") -> Column:
    """Differences: numbers with their sign and so many decimal places, "–" where there is none."""
    return Column(heading, {key: values}, lambda value: signed(value, places), unit, numeric=True)


def ranks(key: str, heading: str, values: Values) -> Column:
    """Places, "–" where there is none."""
    return Column(heading, {key: values}, place_text, "place", numeric=True)


def shares(key: str, heading: str, values: Values) -> Column:
    """Shares from 0 to 1 as percent; "under 1 %" and "over 99 %" near the ends."""
    return Column(heading, {key: values}, percent, SHARE, numeric=True)


def counts(key: str, heading: str, values: Values) -> Column:
    """Whole numbers of things."""
    return Column(heading, {key: values}, str, numeric=True)


def computed(
    heading: str, fields: Mapping[str, Values], says: Callable[..., str], *, unit: str = "", unbroken: bool = False
) -> Column:
    """A figure of its own wording, or one of several fields, such as an interval: set to the right."""
    return Column(heading, fields, says, unit, numeric=True, unbroken=unbroken)


@dataclass(frozen=True, slots=True)
class OnScreen:
    """What a terminal shows of a table, where that is not all: files and pages always have every row.

    most: so many rows, 0 for no table at all; more: where the rest is
    title, notes: over and under those rows, where others than the table's, empty for none
    in_full: only where one score alone is shown
    tight: columns stand close together; width: of a line that goes into a pipe, 0 for the usual one
    lines: in place of the table; whole: which are there to be copied, and stay whole
    without: columns that it does not show, by their headings
    """

    most: int | None = None
    title: str | None = None
    in_full: bool = False
    tight: bool = False
    width: int = 0
    notes: tuple[str, ...] | None = None
    more: str = "`--json` gives all."
    lines: tuple[str, ...] | None = None
    whole: bool = False
    without: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Table:
    """A table.

    name: in its section, fit for a file
    title: its caption
    columns: what a reader sees
    notes: what is said under it, one sentence or more each
    rows: which rows of the values, in this order; None for all as they stand
    hidden: fields that files have and no reader sees
    """

    name: str
    title: str
    columns: tuple[Column, ...]
    notes: tuple[str, ...] = ()
    rows: Sequence[int] | None = None
    hidden: Mapping[str, Values] = field(default_factory=dict)
    on_screen: OnScreen = OnScreen()

    @property
    def fields(self) -> dict[str, Values]:
        """Every field's values, by name, in the order of the values."""
        found: dict[str, Values] = {}
        for column in self.columns:
            found |= column.fields
        return found | dict(self.hidden)

    @property
    def order(self) -> Sequence[int]:
        """The rows, in the order in which they are shown."""
        return range(len(next(iter(self.fields.values()), ()))) if self.rows is None else self.rows

    @property
    def units(self) -> dict[str, str]:
        """The unit of each field that has one."""
        found: dict[str, str] = {}
        for column in self.columns:
            found |= column.units
        return found

    @property
    def headings(self) -> list[str]:
        """What stands over the columns."""
        return [column.heading for column in self.columns]

    def __len__(self) -> int:
        return len(self.order)

    def cells(self, most: int | None = None) -> Iterator[list[str]]:
        """The rows as a reader sees them, at most so many."""
        for row in self.order[:most]:
            yield [column.cell(row) for column in self.columns]

    def in_brief(self) -> Table:
        """The table with the columns that a terminal shows, as it says them there."""
        gone = self.on_screen.without
        kept = [column for column in self.columns if column.heading not in gone and not column.pages_alone]
        return replace(self, columns=tuple(column.in_brief() for column in kept))

    def frame(self) -> pd.DataFrame:
        """The fields over the rows; units in `attrs`."""
        import pandas as pd  # slow to import, and most commands make no frame

        order = list(self.order)
        frame = pd.DataFrame({key: [values[row] for row in order] for key, values in self.fields.items()})
        frame.attrs = {"title": self.title, "units": self.units}
        return frame


def span(low: float, high: float, says: Callable[[float], str]) -> str:
    """An interval: both ends, "" where there is none.

    Examples
    --------
    >>> span(0.25, 0.5, lambda value: f"{value:.2f}"), span(float("nan"), 0.5, str)
    ('0.25 to 0.50', '')
    """
    return "" if math.isnan(low) else f"{says(low)} to {says(high)}"


def changed(before: str, after: str) -> str:
    """What stood there and what stands there now; once where it is the same.

    Examples
    --------
    >>> changed("good", "good"), changed("good", "")
    ('good', 'good -> –')
    """
    return before if before == after else f"{before or ABSENT} -> {after or ABSENT}"


def and_now(before: str, after: str) -> str:
    """The same in words, for a page: an arrow breaks over two lines where a column is narrow.

    Examples
    --------
    >>> and_now("good", "good"), and_now("good", "")
    ('good', 'good, now –')
    """
    return before if before == after else f"{before or ABSENT}, now {after or ABSENT}"


def strongest_first(sizes: Array) -> list[int]:
    """Rows by size, the largest first; rows without one last, and equal ones as they stand.

    Parameters
    ----------
    sizes : shape (rows,)
    """
    return [int(row) for row in np.argsort(-np.nan_to_num(sizes, nan=-np.inf), kind="stable")]
