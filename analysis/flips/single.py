"""The least change of one number of the formula, or of one reading, confirmed by scoring again with what is printed."""

from __future__ import annotations

import math
from dataclasses import replace

from analysis.flips.found import READING, Change
from analysis.flips.numbers import UNDECIDED, Contest, Crossing, cross
from analysis.flips.readings import (
    Certificate,
    Enclosed,
    Reading,
    confirmed,
    cross_reading,
    numbers_confirmed,
    with_reading,
)
from analysis.flips.ways import Way
from analysis.short_figures import outward
from scoring.form import Number
from scoring.table.table import ScoreTable


def number_change(contest: Contest, table: ScoreTable, way: Way, enclosed: Enclosed) -> Change:
    """The least change of one number within its room, confirmed by scoring again; without one, why not."""

    def proved(low: float, high: float) -> bool:
        return way.provable and enclosed.never(low, high, address=way.number.address)

    room = (way.low, way.high)
    found = cross(contest, way.number, room, proved, in_ratios=way.in_ratios)
    change = changed_number(contest, table, way.kind, way.number, found, way.span, way.compared, way.unit, room)
    change = replace(change, room=room, in_ratios=way.in_ratios)
    if not way.in_ratios or not change.settings:
        return change
    ratio = float(change.settings[0][2]) / way.number.value
    return replace(change, share=math.log(ratio) / way.span)


def changed_number(
    contest: Contest,
    table: ScoreTable,
    kind: str,
    number: Number,
    found: Crossing,
    span: float,
    compared: str,
    unit: str,
    room: tuple[float, float],
    why: str = "",
) -> Change:
    """The change of one number of the formula, confirmed by scoring again; without one, why not.

    Parameters
    ----------
    span, compared : what the change is set against, as a figure and in words
    room : the ends between which it was looked for
    """
    none = Change(kind, number.address, "", unit, (), math.nan, math.nan, math.nan, compared, found.verdict, why, None)
    if found.value is None:
        return replace(none, why=why or f"not from {room[0]:.4g} to {room[1]:.4g}")

    def certify(value: float) -> Certificate | None:
        return numbers_confirmed(contest, table, ((number, value),))

    done = outward(number.value, found.value, found.end, certify)
    if done is None:
        return replace(none, verdict=UNDECIDED, why=f"{found.value:.6g} was not confirmed by scoring again")
    text, certificate = done
    change, exact = float(text) - number.value, found.value - number.value
    settings = ((number.address, number.value, text),)
    return Change(
        kind,
        number.address,
        "",
        unit,
        settings,
        change,
        exact,
        change / span,
        compared,
        found.verdict,
        "",
        certificate,
    )


def reading_change(contest: Contest, table: ScoreTable, reading: Reading, enclosed: Enclosed) -> Change:
    """The least change of one reading, confirmed by scoring the changed catalogue again; without one, why not."""
    found = cross_reading(contest, reading, enclosed)
    product, measure = contest.inputs.products[reading.product], reading.measure
    u = float(table.uncertainty[measure.name][table.catalogue.products.index(product)])
    room = reading.high - reading.low
    none = Change(
        READING,
        measure.name,
        product,
        measure.unit,
        (),
        math.nan,
        math.nan,
        math.nan,
        "its room",
        found.verdict,
        "",
        None,
        u,
    )
    if found.value is None:
        return replace(none, why=f"not from {reading.low:.4g} to {reading.high:.4g}")

    def certify(value: float) -> Certificate | None:
        moved = with_reading(contest.catalogue, product, measure.name, value)
        return confirmed(contest, table, contest.form, moved)

    done = outward(reading.stated, found.value, found.end, certify)
    if done is None:
        return replace(none, verdict=UNDECIDED, why=f"{found.value:.6g} was not confirmed by scoring again")
    text, certificate = done
    change = float(text) - reading.stated
    return replace(
        none,
        settings=(("", reading.stated, text),),
        change=change,
        exact=found.value - reading.stated,
        share=change / room if room else math.nan,
        certificate=certificate,
    )
