"""The least change of one number of the formula, or of one reading, confirmed by scoring again with what is printed."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from analysis.flips.certificates import Certificate, Enclosed, confirmed, numbers_confirmed
from analysis.flips.contest import TIE, Contest, compared_products
from analysis.flips.crossing import UNDECIDED, Crossing, cross, crossing
from analysis.flips.found import READING, Change
from analysis.flips.ways import Way
from analysis.short_figures import outward
from scoring.catalogue import Catalogue, State
from scoring.catalogue.repeats import unrounded
from scoring.form import Measure
from scoring.numbers.array_types import Array, Flags
from scoring.numbers.rounding import round_to


def number_change(contest: Contest, way: Way, enclosed: Enclosed) -> Change:
    """The least change of one number within its room, confirmed by scoring again; without one, why not."""

    def proved(low: float, high: float) -> bool:
        return way.provable and enclosed.never(low, high, address=way.number.address)

    room = (way.low, way.high)
    found = cross(contest, way.number, room, proved, in_ratios=way.in_ratios)
    change = replace(changed_number(contest, way, found), room=room, in_ratios=way.in_ratios)
    if not way.in_ratios or not change.settings:
        return change
    ratio = float(change.settings[0][2]) / way.number.value
    return replace(change, share=math.log(ratio) / way.span)


def changed_number(contest: Contest, way: Way, found: Crossing, *, why: str = "") -> Change:
    """The change of one number of the formula, confirmed by scoring again; without one, why not."""
    number = way.number
    none = Change(way.kind, number.address, way.compared, found.verdict, unit=way.unit)
    if found.value is None:
        return replace(none, why=why or f"not from {way.low:.4g} to {way.high:.4g}")

    def certify(value: float) -> Certificate | None:
        return numbers_confirmed(contest, ((number, value),))

    done = outward(number.value, found.value, found.end, certify)
    if done is None:
        return replace(none, verdict=UNDECIDED, why=f"{found.value:.6g} was not confirmed by scoring again")
    text, certificate = done
    change = float(text) - number.value
    return replace(
        none,
        settings=((number.address, number.value, text),),
        change=change,
        exact=found.value - number.value,
        share=change / way.span,
        certificate=certificate,
    )


def reading_change(contest: Contest, reading: Reading, enclosed: Enclosed) -> Change:
    """The least change of one reading, confirmed by scoring the changed catalogue again; without one, why not."""
    found = cross_reading(contest, reading, enclosed)
    product, measure = contest.inputs.products[reading.product], reading.measure
    u = float(contest.table.uncertainty[measure.name][contest.catalogue.products.index(product)])
    room = reading.high - reading.low
    none = Change(READING, measure.name, "its room", found.verdict, unit=measure.unit, product=product, u=u)
    if found.value is None:
        return replace(none, why=f"not from {reading.low:.4g} to {reading.high:.4g}")

    def certify(value: float) -> Certificate | None:
        moved = with_reading(contest.catalogue, product, measure.name, value)
        return confirmed(contest, contest.form, moved)

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


@dataclass(frozen=True, slots=True)
class Reading:
    """One measure of one product that may move: its value, before the measure's own rounding, and the ends of its room."""

    measure: Measure
    product: int
    stated: float
    low: float
    high: float


def readings_of(contest: Contest) -> Iterator[Reading]:
    """Each measure that the score leans on, of the subject and, where one rival alone stands above it, of that one.

    The room is the plausible range, or without one as far again as the value on both sides; not below a reporting limit.
    """
    for product in compared_products(contest):
        row = contest.catalogue.products.index(contest.inputs.products[product])
        read = unrounded(contest.form, contest.catalogue, row)
        for name in contest.program.measures_under(contest.output.name):
            stated = read[name]
            if not math.isnan(stated):
                measure = contest.form.measure(name)
                yield Reading(measure, product, stated, *_room(measure, stated))


def _room(measure: Measure, stated: float) -> tuple[float, float]:
    span = abs(stated) or 1.0
    plausible = measure.plausible
    low, high = (plausible[0].value, plausible[1].value) if plausible else (stated - span, stated + span)
    if measure.reporting_limit is not None:
        low = max(low, measure.reporting_limit.value)
    return min(low, stated), max(high, stated)


def cross_reading(contest: Contest, reading: Reading, enclosed: Enclosed) -> Crossing:
    """The nearest value of one reading that turns the order round, all other readings as they are.

    A live reference moves with the reading: the whole catalogue is worked out anew.
    """
    name = reading.measure.name

    def reaches(values: Array) -> Flags:
        moved = np.repeat(contest.inputs.values[name], len(values), axis=0)
        moved[:, reading.product] = as_read(reading.measure, values)
        return contest.margins(readings={name: moved}) >= TIE

    def sure(low: float, high: float) -> bool:
        rounded = reading.measure.round is not None
        return not rounded and enclosed.never(low, high, measure=name, product=reading.product)

    return crossing(reaches, reading.stated, (reading.low, reading.high), sure)


def as_read(measure: Measure, values: Array) -> Array:
    """Values as they enter the formula, after the measure's own rounding."""
    return round_to(values, measure.round.step.value, measure.round.rule.value) if measure.round else values


def with_reading(catalogue: Catalogue, product: str, measure: str, value: float) -> Catalogue:
    """The catalogue as if each counted repeat of one measure of one product had read `value`."""
    readings, row = catalogue.readings[measure], catalogue.products.index(product)
    counted = (readings.states[row] == State.VALUE) | (readings.states[row] == State.BELOW)
    values, states = readings.values.copy(), readings.states.copy()
    values[row, counted], states[row, counted] = value, State.VALUE
    return replace(catalogue, readings={**catalogue.readings, measure: replace(readings, values=values, states=states)})
