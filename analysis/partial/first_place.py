"""Whether a first place stands on a missing part, in a sentence with its figures: what is missing, and where the place goes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from analysis.partial.bounds import Bounds, bounds_of
from analysis.partial.filling import Axis, filled_of
from analysis.partial.lacking import lacking
from analysis.partial.stretches import Stretch, stretches_of
from analysis.wording import listed, percent
from scoring.form import Form
from scoring.program import compile_form
from scoring.table import Column, ScoreTable
from scoring.unit_role import in_unit

#: So many stretches of a reading are told one by one.
MOST_TOLD = 3
DIGITS = 5


@dataclass(frozen=True, slots=True, eq=False)
class FirstPlace:
    """A product that is published first and lacks readings of its score.

    stretches: a missing reading (or a rating where nothing bounds it) -> the place along its range, the others missing still
    """

    column: Column
    product: str
    bounds: Bounds
    stretches: tuple[tuple[Axis, tuple[Stretch, ...]], ...]
    form: Form

    @property
    def says(self) -> str:
        """The sentence to quote."""
        return " ".join(_sentences(self))


def first_places(table: ScoreTable, columns: Sequence[Column] | None = None) -> tuple[FirstPlace, ...]:
    """Every first place of a score that stands on a missing part.

    Parameters
    ----------
    columns : the scores looked at; all by default
    """
    program = compile_form(table.form)
    found = []
    for column in table.scores if columns is None else columns:
        leaders = np.flatnonzero(_is_first(column)).tolist()
        partial = list(lacking(table, program, column, leaders))
        if not partial:
            continue
        filled = filled_of(table, program, column.output.name)
        for lacks in partial:
            bounds = bounds_of(filled, lacks)
            along = tuple((axis, stretches_of(filled, lacks, axis)) for axis in bounds.axes)
            found.append(FirstPlace(column, table.catalogue.products[lacks.product], bounds, along, table.form))
    return tuple(found)


def _is_first(column: Column) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
    """Which products hold the best place, alone or shared."""
    if np.isnan(column.rank).all():
        return np.zeros(len(column.rank), bool)
    return np.asarray(column.rank == np.nanmin(column.rank))


def _sentences(one: FirstPlace) -> Iterator[str]:
    lacks, bounds = one.bounds.lacks, one.bounds
    many = len(lacks.measures) > 1
    shares = f" ({percent(lacks.share)} of the weight)"
    yield (
        f"{one.column.output.label}: the first place of {one.product} stands on a missing part: {listed(lacks.measures)}{shares}"
        f" {'were' if many else 'was'} not read."
    )
    if bounds.worst is None or bounds.best is None:
        yield "Nothing bounds what it would be." if bounds.unbounded else "Read, it would leave no published score."
        return
    whatever = "whatever they read" if many else "whatever it reads"
    if bounds.worst.place == bounds.best.place == 1 and not bounds.may_be_withheld:
        yield f"It would hold the first place {whatever}, {_ranges(bounds)}."
    else:
        yield (
            f"{'Read' if not many else 'All read'} at {'its' if not many else 'their'} worst it would hold place"
            f" {bounds.worst.place:g}, at {'its' if not many else 'their'} best place {bounds.best.place:g}"
            f" ({_ranges(bounds)})."
        )
        for axis, stretches in one.stretches:
            yield _where(axis, stretches, alone=not many)
    if bounds.may_be_withheld:
        yield "At some readings it would have no published score."
    if bounds.unbounded:
        yield f"Nothing bounds {listed(bounds.unbounded)}, which is left missing."


def _ranges(bounds: Bounds) -> str:
    said = [f"{axis.name} from {axis.low:g} to {in_unit(f'{axis.high:g}', axis.unit)}" for axis in bounds.axes]
    return listed(said)


def _where(axis: Axis, stretches: Sequence[Stretch], *, alone: bool) -> str:
    """Where along one missing reading the first place is held."""
    first = _joined([stretch for stretch in stretches if stretch.place == 1])
    noun = axis.name if axis.measure is not None else f"the rating {axis.name}"
    still = "" if alone else ", the others missing still,"
    if not first:
        return f"It is first at no value of {noun}{'' if alone else ' alone'}."
    if len(first) == 1 and first[0] == (axis.low, axis.high):
        return f"It stays first at any value of {noun}{'' if alone else ' alone'}."
    told = [_span(axis, *span) for span in first[:MOST_TOLD]]
    more = f" and {len(first) - MOST_TOLD} more stretches" if len(first) > MOST_TOLD else ""
    return f"It is first{still} where {noun} {'reads' if axis.measure is not None else 'is'} {' or '.join(told)}{more}."


def _joined(stretches: Sequence[Stretch]) -> list[tuple[float, float]]:
    """Stretches that meet, as one."""
    found: list[tuple[float, float]] = []
    for stretch in stretches:
        if found and found[-1][1] == stretch.start:
            found[-1] = found[-1][0], stretch.stop
        else:
            found.append((stretch.start, stretch.stop))
    return found


def _span(axis: Axis, start: float, stop: float) -> str:
    low, high = (in_unit(f"{end:.{DIGITS}g}", axis.unit) for end in (start, stop))
    if start <= axis.low:
        return f"below {high}"
    return f"{low} or more" if stop >= axis.high else f"{start:.{DIGITS}g} to {high}"
