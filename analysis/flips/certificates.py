"""Proofs that an order turns nowhere on a way, by intervals; and certificates that it has turned, by scoring again."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

import numpy as np

from analysis.flips.contest import TIE, Contest, margin_of
from scoring.addresses.addresses import read, set_together
from scoring.catalogue import Catalogue
from scoring.checks.domain import Domain, domain_of
from scoring.checks.nodes import UNDEFINED, Enclosure
from scoring.errors import SteelyardError
from scoring.form import Form, Number
from scoring.numbers.intervals import Interval, point
from scoring.table.evaluate import symbols_at
from scoring.table.table import score_catalogue

#: A proof looks at so many pieces of the way at most, and at so many rivals, the nearest above first.
PIECES, RIVALS = 400, 3


@dataclass(frozen=True, slots=True)
class Moved:
    """What moves on the tape: its slot, the slots that lean on it in their order, and the product's column, -1 for all."""

    slot: int
    order: Sequence[int]
    product: int


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
        if self.contest.output.ranks.on.value == "shown" or any(
            figure.measure == measure for figure in program.figures
        ):
            return False
        symbol = program.parameters[address][0] if address else program.measures[measure]
        slot = tape.slots[symbol]
        order = tape.depending([slot], tape.cone([self.domain.outputs[self.contest.output.name]]))
        moved = Moved(slot, order, product)
        waiting = [(low, high)]
        for _ in range(PIECES):
            if not waiting:
                return True
            start, stop = waiting.pop()
            if self._behind(Interval(start, stop), moved):
                continue
            middle = (start + stop) / 2
            if not start < middle < stop:
                return False
            waiting += [(start, middle), (middle, stop)]
        return not waiting

    def _behind(self, piece: Interval, moved: Moved) -> bool:
        """Whether the subject stays behind one of its rivals all over a piece of the way."""
        own = self._value(self.contest.subject, piece, moved)
        if own is None:
            return False
        others = (column for column in self.roots if column != self.contest.subject)
        values = [self._value(column, piece, moved) for column in others]
        if self.contest.sign > 0:
            return any(value is not None and own.high - value.low < TIE for value in values)
        return any(value is not None and value.high - own.low < TIE for value in values)

    def _value(self, column: int, piece: Interval, moved: Moved) -> Interval | None:
        """Where the score of a product lies over a piece of the way; None where it may be undefined."""
        slot, root = self.domain.outputs[self.contest.output.name], self.roots[column]
        is_moved = moved.product in (-1, column)
        at = self.domain.tape.run({moved.slot: piece}, moved.order, root) if is_moved else root
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


def numbers_confirmed(contest: Contest, settings: Sequence[tuple[Number, float]]) -> Certificate | None:
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
    return confirmed(contest, changed, contest.catalogue)


def confirmed(contest: Contest, form: Form, catalogue: Catalogue) -> Certificate | None:
    """Score again, gates and all; None where the order has not turned, or the whole cannot be scored."""
    try:
        after = score_catalogue(form, catalogue).column(contest.output.name)
    except SteelyardError:
        return None
    before = contest.table.column(contest.output.name)
    products = list(contest.inputs.products)
    columns = [contest.catalogue.products.index(product) for product in products]
    ranked = [c.shown if c.output.ranks.on.value == "shown" else c.value for c in (before, after)]
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


def written_as(number: Number, value: float) -> str:
    """A value as it is set at a number's address: as a percentage where it is written as one."""
    exact = Decimal(repr(float(value)))
    if number.text.strip().endswith("%"):
        return format(exact * 100, "f") + "%"
    return format(exact, "f")
