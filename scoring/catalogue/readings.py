"""Readings: what the bench read of one measure, product by product and repeat by repeat."""

from __future__ import annotations

import enum
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from scoring.catalogue.as_read import AsRead, Said
from scoring.errors import Place
from scoring.form import Form
from scoring.numbers.array_types import Array, Integers, Texts

#: Why a reading is missing that was set aside after reading: in our words, which a publication may print.
SET_ASIDE = "set aside"


class State(enum.IntEnum):
    """What stands in one cell."""

    VALUE = 0
    BELOW = 1
    MISSING = 2
    NOT_APPLICABLE = 3
    NONE = 4


@dataclass(frozen=True, slots=True, eq=False)
class Readings:
    """The readings of one measure, as written and as they count.

    Every array has the shape (n_products, n_repeats); repeat 1 stands in column 0.

    Attributes
    ----------
    values : float64, in the form's unit; NaN where the state holds no number; BELOW holds what it counts as
    states : uint8, a `State`; NONE where the product has no such repeat
    reasons : (product, repeat) index -> why the reading is missing or not applicable, where that is said
    written : float64, in the form's unit: the number in the cell before the reporting limit had its say
    marks : uint8, the `State` that the cell itself states
    rows : int64, the row of the source, its header being row 1; 0 where there is none
    columns : the name of the source's column, one a repeat
    source : the file
    as_read : what cells in another unit than the form's say; None where every one is in it
    origin, origins : where cells stand that have no one file and one column a repeat: the index of each in the places of columns
    """

    values: Array
    states: NDArray[np.uint8]
    reasons: Mapping[tuple[int, int], str]
    written: Array
    marks: NDArray[np.uint8]
    rows: Integers
    columns: tuple[str, ...]
    source: str
    as_read: AsRead | None = None
    origin: Integers | None = None
    origins: tuple[Place, ...] = ()

    def __post_init__(self) -> None:
        for array in (self.values, self.states, self.written, self.marks, self.rows):
            array.setflags(write=False)

    def place(self, product: int, repeat: int) -> Place:
        """Where a cell stands in its file; both indices count from 0."""
        if self.origin is not None and self.rows[product, repeat]:
            column = self.origins[int(self.origin[product, repeat])]
            return replace(column, line=int(self.rows[product, repeat]))
        return Place(self.source, int(self.rows[product, repeat]), column_name=self.columns[repeat])

    def said(self, product: int, repeat: int) -> Said | None:
        """What a cell says where it was converted; None where it is in the form's unit. Both indices count from 0."""
        return None if self.as_read is None else self.as_read.at(product, repeat)

    def as_written(self, product: int, repeat: int) -> str:
        """A cell as a file has it, with its unit where it was converted; "" where the product has no such repeat.

        Both indices count from 0.
        """
        mark, said = State(int(self.marks[product, repeat])), self.said(product, repeat)
        number = float(self.written[product, repeat])
        figure = str(said) if said else "" if math.isnan(number) else f"{number:.10g}"
        reason = self.reasons.get((product, repeat), "")
        match mark:
            case State.VALUE:
                return figure
            case State.BELOW:
                return f"< {figure}".rstrip()
            case State.NONE:
                return ""
        word = "missing" if mark == State.MISSING else "not applicable"
        return f"{word}: {reason}" if reason else word


def published_reason(readings: Readings, cell: tuple[int, int], form: Form) -> str:
    """Why a cell has no value, as a publication says it: in our words, or in the laboratory's where the formula publishes these.

    cell : product and repeat, counted from 0
    """
    reason = readings.reasons.get(cell, "")
    is_ours = reason == SET_ASIDE or readings.marks[cell] in (State.VALUE, State.BELOW)
    return reason if form.publish_reasons or is_ours else ""


def reasons_published(readings: Iterable[Readings], form: Form) -> int:
    """How many reasons in the laboratory's own words a publication holds; 0 where the formula does not publish them."""
    if not form.publish_reasons:
        return 0
    given = (State.MISSING, State.NOT_APPLICABLE)
    return sum(
        why != SET_ASIDE and one.marks[cell] in given for one in readings for cell, why in one.reasons.items() if why
    )


def as_published(readings: Readings, form: Form) -> Readings:
    """The readings with the reasons that a publication may hold."""
    kept = {cell: why for cell in readings.reasons if (why := published_reason(readings, cell, form))}
    return readings if len(kept) == len(readings.reasons) else replace(readings, reasons=kept)


@dataclass(frozen=True, slots=True, eq=False)
class Contents:
    """What one table of readings holds of what the formula declares; `source` is what it stands in.

    `unused` names the measures that it does not declare, `left_out` the columns of words.
    `extras` holds, for "operator", "session", "specimen" and "date" where the file has them, a text for every cell
    of every measure, in arrays of the readings' shape.
    """

    source: str
    products: tuple[str, ...]
    attributes: Mapping[str, tuple[str, ...]]
    readings: Mapping[str, Readings]
    unused: tuple[str, ...] = ()
    left_out: tuple[str, ...] = ()
    extras: Mapping[str, Mapping[str, Texts]] = field(default_factory=dict)
