"""From what was found on a bench's sheets to the columns that a formula is drafted from."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analysis.draft.column_roles import Role
from analysis.draft.columns import CatalogueColumns, MeasuredColumn
from analysis.draft.corrections import is_correctable
from analysis.draft.findings import Findings, MeasureFound
from analysis.draft.oddities import OtherUnit, told_slip
from analysis.draft.recipe_tables import ATTRIBUTES

#: How an attribute is shown beside a product's id, by the role of its column.
SHOWN = {Role.NAME: "name", Role.MAKER: "maker"}
#: Letters that stand for a temperature in a header and are another unit by themselves.
_LETTERS = {"F": "farad", "C": "coulomb"}
#: How many readings that look like slips are named in a guess.
_MOST_TOLD = 3


def columns_found(findings: Findings) -> CatalogueColumns:
    """The measures and attributes of all tables; a recipe says where they stand."""
    measures = tuple(map(_column, findings.measures))
    attributes = []
    for role, name in ATTRIBUTES.items():
        found = findings.attribute(role)
        if found is not None:
            look, column = findings.looks[found[0]], found[1]
            declared = f"{{shown_as: {SHOWN[role]}}}" if role in SHOWN else "{}"
            because = f"column {column.head.text} of {look.table.called}; published beside the scores"
            attributes.append((name, declared, because))
    return CatalogueColumns("product", True, measures, (), tuple(attributes))


def _column(measure: MeasureFound) -> MeasuredColumn:
    values = np.array([value for part in measure.parts for value in part.values], dtype=np.float64)
    slips = measure.slips
    more = [f"and {len(slips) - _MOST_TOLD} more"] if len(slips) > _MOST_TOLD else []
    return MeasuredColumn(
        column=measure.words,
        words=measure.words,
        unit=measure.unit,
        stated=any(part.head.bracketed for part in measure.parts),
        values=values,
        repeats=measure.repeats,
        below=sum(len(part.limits) for part in measure.parts),
        faults=0,
        by_recipe=True,
        is_price=measure.is_price,
        limits=tuple(limit for part in measure.parts for limit in part.limits),
        odd=tuple(slip.reading.value for slip in slips),
        why_odd="; ".join([*map(told_slip, slips[:_MOST_TOLD]), *more]),
        look=_look(measure),
        is_corrected=bool(slips) and all(map(is_correctable, slips)),
    )


def told_unit(measure: MeasureFound, other: OtherUnit) -> str:
    """What is odd about a measure's unit in a few words."""
    which = "the readings" if other.count == other.of else f"{other.count} of {other.of} readings"
    run = f"{other.least:g} to {other.most:g}"
    return f"the header says {measure.unit}, and {which} ({run}, the first in {other.cell}) look like {other.unit}"


def _look(measure: MeasureFound) -> str:
    if measure.other_unit:
        return f"LOOK: {told_unit(measure, measure.other_unit)}; nothing is converted"
    letter = _LETTERS.get(measure.unit)
    return f"LOOK: the header's `{measure.unit}` reads as {letter}; a temperature is degC or degF" if letter else ""


def with_oddities(columns: CatalogueColumns, findings: Findings) -> CatalogueColumns:
    """The columns of a file that is read as it stands, with what looks like a slip in them."""
    odd = {measure.words.casefold(): measure for measure in findings.measures if measure.slips or measure.other_unit}
    return replace(columns, measures=tuple(_with_odd(one, odd.get(one.words.casefold())) for one in columns.measures))


def _with_odd(column: MeasuredColumn, measure: MeasureFound | None) -> MeasuredColumn:
    if measure is None:
        return column
    found = _column(measure)
    return replace(column, odd=found.odd, why_odd=found.why_odd, look=found.look)
