"""The least change of one reading that turns an order round, beside what the bench can repeat; and proofs by intervals."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from analysis.flips.numbers import TIE, Contest, Crossing, crossing, margin_of, written_as
from scoring.addresses.addresses import read, set_together
from scoring.catalogue import Catalogue, State
from scoring.catalogue.repeats import unrounded
from scoring.checks.domain import Domain, domain_of
from scoring.checks.nodes import UNDEFINED, Enclosure
from scoring.errors import Place, Problem, SteelyardError, StudyError
from scoring.form import Form, Measure, Number
from scoring.numbers.intervals import Interval, point
from scoring.numbers.rounding import round_to
from scoring.table.evaluate import Inputs, symbols_at
from scoring.table.table import Column, ScoreTable, score_catalogue

Array = NDArray[np.float64]
#: A proof looks at so many pieces of the way at most, and at so many rivals, the nearest above first.
PIECES, RIVALS = 400, 3


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


def compared_products(contest: Contest) -> tuple[int, ...]:
    """The subject and, where one rival alone stands above it, that one."""
    leads = contest.sign * (contest.values()[0] - contest.values()[0, contest.subject])
    ahead = [rival for rival in contest.rivals if leads[rival] > -TIE]
    return (contest.subject, *(ahead if len(ahead) == 1 else ()))


def missing_of(contest: Contest) -> Iterator[tuple[Measure, int]]:
    """Each measure that the score leans on and that was not read of a product that is compared."""
    for product in compared_products(contest):
        for name in contest.program.measures_under(contest.output.name):
            if contest.inputs.states[name][product] == State.MISSING and name in contest.catalogue.readings:
                yield contest.form.measure(name), product


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

    def reaches(values: Array) -> NDArray[np.bool_]:
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


@dataclass(frozen=True, slots=True, eq=False)
class Enclosed:
    """A contest on the tape of rigorous intervals, every reading and presence at its product's own.

    roots: the tape of the subject and of the rivals nearest above it, by column.
    """

    contest: Contest
    domain: Domain
    roots: Mapping[int, Enclosure]

    def never(self, low: float, high: float, *, address: str = "", measure: str = "", product: int = -1) -> bool:
        """Whether it is proved that the order turns nowhere while one number, or one reading of a product, goes from low
        to high: over each piece of the way the subject stays behind one of its rivals.
        """
        tape, program = self.domain.tape, self.contest.program
        if self.contest.form.ranks.on.value == "shown" or any(figure.measure == measure for figure in program.figures):
            return False
        symbol = program.parameters[address][0] if address else program.measures[measure]
        moved = tape.slots[symbol]
        order = tape.depending([moved], tape.cone([self.domain.outputs[self.contest.output.name]]))
        waiting = [(low, high)]
        for _ in range(PIECES):
            if not waiting:
                return True
            start, stop = waiting.pop()
            if self._behind(Interval(start, stop), moved, order, product):
                continue
            middle = (start + stop) / 2
            if not start < middle < stop:
                return False
            waiting += [(start, middle), (middle, stop)]
        return not waiting

    def _behind(self, piece: Interval, moved: int, order: Sequence[int], product: int) -> bool:
        own = self._value(self.contest.subject, piece, moved, order, product)
        if own is None:
            return False
        others = (column for column in self.roots if column != self.contest.subject)
        values = [self._value(column, piece, moved, order, product) for column in others]
        if self.contest.sign > 0:
            return any(value is not None and own.high - value.low < TIE for value in values)
        return any(value is not None and value.high - own.low < TIE for value in values)

    def _value(self, column: int, piece: Interval, moved: int, order: Sequence[int], product: int) -> Interval | None:
        slot, root = self.domain.outputs[self.contest.output.name], self.roots[column]
        at = root if product not in (-1, column) else self.domain.tape.run({moved: piece}, order, root)
        return None if at.hazards[slot] & UNDEFINED else at.values[slot]


def enclosed_of(contest: Contest) -> Enclosed:
    """The contest on the tape."""
    domain = domain_of(contest.program)
    leads = contest.sign * (contest.values()[0] - contest.values()[0, contest.subject])
    ahead = sorted((rival for rival in contest.rivals if leads[rival] > 0), key=lambda rival: -leads[rival])[:RIVALS]
    roots = {}
    for column in (contest.subject, *ahead):
        found = symbols_at(contest.program, contest.inputs, column)
        slots = domain.tape.slots
        box = {
            slots[s]: point(v) for s, v in found.items() if s in slots and isinstance(v, float) and not math.isnan(v)
        }
        roots[column] = domain.tape.run(box, range(len(domain.tape.nodes)))
    return Enclosed(contest, domain, roots)


@dataclass(frozen=True, slots=True)
class Certificate:
    """Both scores before, and after scoring again with what is printed; `other` is the best of the rivals."""

    before: float
    other_before: float
    after: float
    other_after: float


def numbers_confirmed(
    contest: Contest, table: ScoreTable, settings: Sequence[tuple[Number, float]]
) -> Certificate | None:
    """Score again with numbers set in the text of the formula; None where the order has not turned."""
    form = contest.form
    try:
        changed = set_together(form, {number.address: written_as(number, value) for number, value in settings})
    except SteelyardError:
        return None
    for number, value in settings:
        stands = read(changed, number.address)
        if not isinstance(stands, Number) or not math.isclose(stands.value, value, rel_tol=1e-12, abs_tol=1e-15):
            return None
    return confirmed(contest, table, changed, contest.catalogue)


def confirmed(contest: Contest, table: ScoreTable, form: Form, catalogue: Catalogue) -> Certificate | None:
    """Score again, gates and all; None where the order has not turned, or the whole cannot be scored."""
    try:
        after = score_catalogue(form, catalogue).column(contest.output.name)
    except SteelyardError:
        return None
    before = table.column(contest.output.name)
    products = list(contest.inputs.products)
    columns = [table.catalogue.products.index(product) for product in products]
    ranked = [c.shown if form.ranks.on.value == "shown" else c.value for c in (before, after)]
    values = ranked[1][columns][np.newaxis]
    if margin_of(values, contest)[0] < TIE:
        return None
    rivals = [r for r in contest.rivals if not np.isnan(values[0, r])]
    stood = [r for r in contest.rivals if contest.published[r]]
    best = max if contest.sign > 0 else min
    return Certificate(
        float(ranked[0][columns[contest.subject]]),
        float(best(ranked[0][[columns[r] for r in stood]])),
        float(values[0, contest.subject]),
        float(best(values[0, rivals])),
    )


def check_published(table: ScoreTable, column: Column, products: Sequence[int]) -> None:
    """A fault for each product without a published value, with the reason.

    Raises
    ------
    StudyError : at least one
    """
    problems = [
        Problem(
            Place(f"the catalogue, product {table.catalogue.products[product]}"),
            f"no published {column.output.name}: {reason(column, product)}",
            "a product with a value that is published",
        )
        for product in products
        if np.isnan(column.value[product])
    ]
    if problems:
        raise StudyError(problems)


def reason(column: Column, product: int) -> str:
    """Why a product has no value, in words."""
    return "; ".join((column.status_text(product), *column.remarks.get(product, ())))


def contest_of(table: ScoreTable, column: Column, subject: int, rival: int | None) -> Contest:
    """The contest of one product against another (of the two alone, where no live reference leans on the rest), or all."""
    program = table.program
    published = ~np.isnan(column.value)
    n_products = len(published)
    if rival is None:
        rivals = tuple(product for product in range(n_products) if product != subject)
        return Contest(program, table.catalogue, table.inputs, column.output, subject, rivals, published)
    if program.figures:
        return Contest(program, table.catalogue, table.inputs, column.output, subject, (rival,), published)
    two = [subject, rival]
    return Contest(program, table.catalogue, only(table.inputs, two), column.output, 0, (1,), published[two])


def only(inputs: Inputs, products: Sequence[int]) -> Inputs:
    """The inputs of some products, in the order given."""
    at = list(products)
    return Inputs(
        products=tuple(inputs.products[product] for product in at),
        values={name: values[:, at] for name, values in inputs.values.items()},
        states={name: states[at] for name, states in inputs.states.items()},
        words={name: tuple(words[product] for product in at) for name, words in inputs.words.items()},
    )
