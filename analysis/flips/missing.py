"""What a missing reading would have to be to turn an order round: looked for over its plausible range, and scored again."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from analysis.flips.certificates import Certificate, confirmed, enclosed_of
from analysis.flips.contest import TIE, Contest, missing_of
from analysis.flips.crossing import IMPOSSIBLE, SEARCHED, UNDECIDED
from analysis.flips.found import MISSING, Change
from analysis.flips.single import as_read
from analysis.partial.bounds import Stretch, stretches
from scoring.catalogue import Catalogue, State
from scoring.form import Measure
from scoring.numbers.array_types import Array
from scoring.units.role import in_unit

#: So many stretches are told one by one.
MOST_TOLD = 3
#: A reading within a stretch is written with so many digits at most.
DIGITS = 15


@dataclass(frozen=True, slots=True)
class Gap:
    """One measure of one product (its column in the contest) that was not read, and the ends of its plausible range."""

    measure: Measure
    product: int
    low: float
    high: float


def gaps_of(contest: Contest) -> Iterator[Gap]:
    """Each missing reading of the subject, and of the one rival that stands above it, that a plausible range bounds."""
    for measure, product in missing_of(contest):
        if measure.plausible is not None:
            yield Gap(measure, product, measure.plausible[0].value, measure.plausible[1].value)


def missing_changes(contest: Contest) -> Iterator[Change]:
    """For each missing reading, whether there is one that turns the order round, all else as it is."""
    for gap in gaps_of(contest):
        yield _change(_filled(contest, gap), gap)


def _filled(contest: Contest, gap: Gap) -> Contest:
    """The contest as if the reading had been made, at the middle of its range until another is put there."""
    name = gap.measure.name
    states, values = contest.inputs.states[name].copy(), contest.inputs.values[name].copy()
    states[gap.product], values[:, gap.product] = State.VALUE, (gap.low + gap.high) / 2
    inputs = contest.inputs
    inputs = replace(inputs, states={**inputs.states, name: states}, values={**inputs.values, name: values})
    return replace(contest, inputs=inputs)


def _change(contest: Contest, gap: Gap) -> Change:
    name, product = gap.measure.name, contest.inputs.products[gap.product]
    none = Change(MISSING, name, "its range", UNDECIDED, unit=gap.measure.unit, product=product)
    turned = [
        one for one in stretches(lambda readings: _turned(contest, gap, readings), gap.low, gap.high) if one.place
    ]
    if not turned:
        rounded = gap.measure.round is not None
        never = not rounded and enclosed_of(contest).never(gap.low, gap.high, measure=name, product=gap.product)
        why = f"at no reading from {gap.low:.4g} to {gap.high:.4g}"
        return replace(none, verdict=IMPOSSIBLE if never else UNDECIDED, why=why)
    where = _in_words(gap, turned)
    for stretch in sorted(turned, key=lambda one: one.start - one.stop):
        for text in _written(stretch):
            certificate = _certified(contest, gap, float(text))
            if certificate is not None:
                settings = (("", math.nan, text),)
                return replace(none, settings=settings, verdict=SEARCHED, why=where, certificate=certificate)
    return replace(none, why=f"{where}, which was not confirmed by scoring again")


def _turned(contest: Contest, gap: Gap, readings: Array) -> Array:
    """1 where the order is turned round by a reading, else 0."""
    moved = np.repeat(contest.inputs.values[gap.measure.name], len(readings), axis=0)
    moved[:, gap.product] = as_read(gap.measure, readings)
    return np.asarray(contest.margins(readings={gap.measure.name: moved}) >= TIE, float)


def _written(stretch: Stretch) -> Iterator[str]:
    """Short figures in a stretch, shortest first: its middle in ever more digits."""
    middle = (stretch.start + stretch.stop) / 2
    for digits in range(2, DIGITS + 1):
        text = f"{middle:.{digits}g}"
        if stretch.start <= float(text) <= stretch.stop:
            yield text
            if float(text) == middle:
                return


def _certified(contest: Contest, gap: Gap, value: float) -> Certificate | None:
    product = contest.inputs.products[gap.product]
    return confirmed(contest, contest.form, _as_if_read(contest.catalogue, product, gap.measure.name, value))


def _as_if_read(catalogue: Catalogue, product: str, measure: str, value: float) -> Catalogue:
    """The catalogue as if one reading of a product that lacks the measure had been made."""
    readings, row = catalogue.readings[measure], catalogue.products.index(product)
    values, states = readings.values.copy(), readings.states.copy()
    values[row, 0], states[row, 0] = value, State.VALUE
    return replace(catalogue, readings={**catalogue.readings, measure: replace(readings, values=values, states=states)})


def _in_words(gap: Gap, turned: list[Stretch]) -> str:
    """Where along its range a reading turns the order round."""
    told = [_span(gap, stretch) for stretch in turned[:MOST_TOLD]]
    more = f" and {len(turned) - MOST_TOLD} more stretches" if len(turned) > MOST_TOLD else ""
    return f"{' or '.join(told)}{more}"


def _span(gap: Gap, stretch: Stretch) -> str:
    unit = gap.measure.unit
    if stretch.start <= gap.low and stretch.stop >= gap.high:
        return f"anything from {gap.low:.5g} to {in_unit(f'{gap.high:.5g}', unit)}"
    if stretch.start <= gap.low:
        return f"below {in_unit(f'{stretch.stop:.5g}', unit)}"
    if stretch.stop >= gap.high:
        return f"{in_unit(f'{stretch.start:.5g}', unit)} or more"
    return f"{stretch.start:.5g} to {in_unit(f'{stretch.stop:.5g}', unit)}"
