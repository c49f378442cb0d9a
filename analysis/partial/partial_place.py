"""Whether a place, the first above all, stands on a missing part: in a sentence, and as a JSON document.

The sentence has what is missing, and where the place goes.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from analysis.json_text import number_or_none
from analysis.partial.bounds import Bounds, End, Stretch, bounds_of, stretches_of
from analysis.partial.filling import PARTIAL, Axis, filled_of, lacking
from analysis.report.report import Section
from analysis.wording import listed, percent
from scoring.table.table import Column, ScoreTable
from scoring.units.role import in_unit

#: So many stretches of a reading are told one by one.
MOST_TOLD = 3
DIGITS = 5


@dataclass(frozen=True, slots=True, eq=False)
class PartialPlace:
    """A product that is published and lacks readings of its score.

    label, name: of the score; place: as published; stretches: a missing reading (or a rating, where nothing bounds its reading)
    -> the place along its range, the others missing still
    """

    label: str
    name: str
    product: str
    place: float
    is_first: bool
    bounds: Bounds
    stretches: tuple[tuple[Axis, tuple[Stretch, ...]], ...]

    @property
    def says(self) -> str:
        """The sentence to quote."""
        return " ".join(_sentences(self))


def first_places(table: ScoreTable, columns: Sequence[Column] | None = None) -> tuple[PartialPlace, ...]:
    """Every first place of a score that stands on a missing part.

    Parameters
    ----------
    columns : the scores looked at; all of a formula by default, or all ratings of one without scores
    """
    found: list[PartialPlace] = []
    for column in (table.scores or table.ratings) if columns is None else columns:
        found += partial_places(table, column, np.flatnonzero(_is_first(column)).tolist())
    return tuple(found)


def places_of(table: ScoreTable, product: int, names: Sequence[str]) -> tuple[PartialPlace, ...]:
    """The places of one product, of some ratings or scores, that stand on a missing part."""
    return tuple(one for name in names for one in partial_places(table, table.column(name), [product]))


def partial_places(table: ScoreTable, column: Column, products: Sequence[int]) -> Iterator[PartialPlace]:
    """Those of some products, given by their indices, whose published place stands on a missing part."""
    if not np.any(column.status[list(products)] == PARTIAL):
        return
    program, first = table.program, _is_first(column)
    partial = list(lacking(table, program, column, products))
    filled = filled_of(table, program, column.output.name) if partial else None
    for lacks in partial:
        assert filled is not None  # there is one to fill
        product, bounds = lacks.product, bounds_of(filled, lacks)
        yield PartialPlace(
            column.output.label,
            column.output.name,
            table.catalogue.products[product],
            float(column.rank[product]),
            bool(first[product]),
            bounds,
            tuple((axis, stretches_of(filled, lacks, axis)) for axis in bounds.axes),
        )


def _is_first(column: Column) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
    """Which products hold the best place, alone or shared."""
    if np.isnan(column.rank).all():
        return np.zeros(len(column.rank), bool)
    return np.asarray(column.rank == np.nanmin(column.rank))


def _sentences(one: PartialPlace) -> Iterator[str]:
    lacks, bounds = one.bounds.lacks, one.bounds
    many = len(lacks.measures) > 1
    shares = f" ({percent(lacks.share)} of the weight)"
    yield (
        f"{one.label}: {_named(one)} of {one.product} stands on a missing part: {listed(lacks.measures)}{shares}"
        f" {'were' if many else 'was'} not read."
    )
    if bounds.worst is None or bounds.best is None:
        yield "Nothing bounds what it would be." if bounds.unbounded else "Read, it would leave no published score."
        return
    whatever = "whatever they read" if many else "whatever it reads"
    if bounds.worst.place == bounds.best.place == one.place and not bounds.may_be_withheld:
        yield f"It would hold {_named(one)} {whatever}, {_ranges(bounds)}."
    else:
        yield (
            f"{'Read' if not many else 'All read'} at {'its' if not many else 'their'} worst it would hold place"
            f" {bounds.worst.place:g}, at {'its' if not many else 'their'} best place {bounds.best.place:g}"
            f" ({_ranges(bounds)})."
        )
        for axis, stretches in one.stretches:
            yield _where(one, axis, stretches, alone=not many)
    if bounds.may_be_withheld:
        yield "At some readings it would have no published score."
    if bounds.unbounded:
        yield f"Nothing bounds {listed(bounds.unbounded)}, which is left missing."


def _named(one: PartialPlace) -> str:
    return "the first place" if one.is_first else f"place {one.place:g}"


def _ranges(bounds: Bounds) -> str:
    said = [f"{axis.name} from {axis.low:g} to {in_unit(f'{axis.high:g}', axis.unit)}" for axis in bounds.axes]
    return listed(said)


def _where(one: PartialPlace, axis: Axis, stretches: Sequence[Stretch], *, alone: bool) -> str:
    """Where along one missing reading the published place is held."""
    held = _joined([stretch for stretch in stretches if stretch.place == one.place])
    noun = axis.name if axis.measure is not None else f"the rating {axis.name}"
    still = "" if alone else ", the others missing still,"
    if not held:
        return f"It holds {_named(one)} at no value of {noun}{'' if alone else ' alone'}."
    if len(held) == 1 and held[0] == (axis.low, axis.high):
        return f"It holds {_named(one)} at any value of {noun}{'' if alone else ' alone'}."
    told = [_span(axis, *span) for span in held[:MOST_TOLD]]
    more = f" and {len(held) - MOST_TOLD} more stretches" if len(held) > MOST_TOLD else ""
    is_at = f"{noun} {'reads' if axis.measure is not None else 'is'} {' or '.join(told)}{more}"
    return f"It holds {_named(one)}{still} where {is_at}."


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


def partial_document(found: Iterable[PartialPlace], products: Sequence[str]) -> list[dict[str, Any]]:
    """Each place with what is missing, its bounds, and the place along each missing reading.

    Parameters
    ----------
    products : the ids of the catalogue
    """
    return [_place(one, products) for one in found]


def _place(one: PartialPlace, products: Sequence[str]) -> dict[str, Any]:
    bounds = one.bounds
    return {
        "score": one.name,
        "product": one.product,
        "place": one.place,
        "says": one.says,
        "missing": list(bounds.lacks.measures),
        "share_of_weight": bounds.lacks.share,
        "worst": _end(bounds.worst, bounds.axes, products),
        "best": _end(bounds.best, bounds.axes, products),
        "may_have_no_score": bounds.may_be_withheld,
        "unbounded": list(bounds.unbounded),
        "along": [_along(axis, stretches) for axis, stretches in one.stretches],
    }


def _end(end: End | None, axes: Sequence[Axis], products: Sequence[str]) -> dict[str, Any] | None:
    if end is None:
        return None
    return {
        "at": {axis.name: reading for axis, reading in zip(axes, end.readings, strict=True)},
        "value": end.value,
        "place": end.place,
        "others": {products[product]: place for product, place in end.others},
    }


def _along(axis: Axis, stretches: Sequence[Stretch]) -> dict[str, Any]:
    return {
        "what": axis.name,
        "unit": axis.unit,
        "is_rating": axis.measure is None,
        "stretches": [{"from": s.start, "to": s.stop, "place": number_or_none(s.place)} for s in stretches],
    }


def first_places_section(firsts: Sequence[PartialPlace]) -> tuple[Section, ...]:
    """What a report says of first places that stand on a missing part; no section where none does."""
    said = tuple(one.says for one in firsts)
    return (Section("first-places", "First places on a missing part", said),) if said else ()
