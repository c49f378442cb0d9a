"""A program as a tape: its steps turned once into a list of operations, run over many boxes.

Facts that have been proved of an output over the whole box (that it stays on its scale, that it never falls with a
reading) are kept on the tape, so that what builds on it need not prove them again.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction

import sympy
from sympy import Expr

from scoring.checks.choices import Choice, GivenUnless, Held, whole
from scoring.checks.conditions import Comparison, Every, Reversed, Some
from scoring.checks.nodes import (
    INFINITE,
    UNDEFINED,
    Absolute,
    Enclosure,
    Exponential,
    Given,
    Logarithm,
    Node,
    Own,
    Power,
    Product,
    Quotient,
    Share,
    Slopes,
    Sum,
)
from scoring.numbers.intervals import EVERYWHERE, INFINITY, ONE, Interval, fraction_interval, point
from scoring.program.kernel_code import SIGNS
from scoring.symbolic.arithmetic import Ln, Over, Raised, Root, divided_by
from scoring.symbolic.branches import Limited, Unless, Where
from scoring.symbolic.conditions import Both, Denied, Either
from scoring.symbolic.functions import OwnFunction


@dataclass(slots=True, eq=False)
class Tape:
    """Operations in order; `slots` says where each expression and each step's symbol stands.

    never_above: pairs of which the first is never greater than the second, for a product among its own population; whether the
    first is never below 0.
    """

    nodes: list[Node] = field(default_factory=list)
    start: Enclosure = field(default_factory=lambda: Enclosure([], [], []))
    slots: dict[Expr, int] = field(default_factory=dict)
    users: list[list[int]] = field(default_factory=list)
    meets: set[int] = field(default_factory=set)
    value_facts: dict[int, Interval] = field(default_factory=dict)
    slope_facts: dict[tuple[int, int], Interval] = field(default_factory=dict)
    never_above: dict[tuple[object, object], bool] = field(default_factory=dict)
    _orders: dict[tuple[int, ...], tuple[int, ...]] = field(default_factory=dict)

    def cone(self, slots: Iterable[int]) -> tuple[int, ...]:
        """Every slot that the given ones lead back to, in order."""
        found: set[int] = set()
        rest = list(slots)
        while rest:
            slot = rest.pop()
            if slot not in found:
                found.add(slot)
                rest += self.nodes[slot].args
        return tuple(sorted(found))

    def after(self, seeds: Iterable[int]) -> tuple[int, ...]:
        """Every slot that builds on one of the seeds, in order, the seeds left out."""
        known = set(seeds)
        found: set[int] = set()
        rest = list(known)
        while rest:
            new = [slot for slot in self.users[rest.pop()] if slot not in known and slot not in found]
            found.update(new)
            rest += new
        return tuple(sorted(found))

    def work(self, slots: Iterable[int]) -> int:
        """How much work running some slots is: a node and each of its arguments count one."""
        return sum(1 + len(self.nodes[slot].args) for slot in slots)

    def depending(self, seeds: Iterable[int], within: Iterable[int]) -> tuple[int, ...]:
        """The slots among `within` (in order) that depend on a seed, the seeds left out."""
        known = set(seeds)
        found = []
        for slot in within:
            if slot not in known and any(arg in known for arg in self.nodes[slot].args):
                known.add(slot)
                found.append(slot)
        return tuple(found)

    def run(
        self,
        box: Mapping[int, Interval],
        slots: Iterable[int],
        held: Enclosure | None = None,
        *,
        beside: bool = False,
        given: bool = False,
        among: bool = False,
    ) -> Enclosure:
        """The tape over a box: `slots` are worked out in order, all others stay as in `held`.

        A slot of the box that is no input is pinned: it keeps its interval.
        """
        before = held or self.start
        at = Enclosure(before.values.copy(), before.hazards.copy(), before.truths.copy(), beside, given, among)
        for slot, interval in box.items():
            at.values[slot] = interval
        for slot in slots:
            if slot not in box:
                self.nodes[slot].run(at, slot)
                if slot in self.value_facts:  # that there is a value was proved with it
                    at.values[slot] = at.values[slot].meet(self.value_facts[slot])
                    at.hazards[slot] = 0
        return at

    def worked_out(self, pins: Mapping[int, Interval], slot: int, at: Enclosure) -> Enclosure:
        """The tape where some slots keep to less than their intervals, as far as one slot that builds on them needs it."""
        key = (slot, *sorted(pins))
        if key not in self._orders:
            self._orders[key] = self.depending(pins, self.cone([slot]))
        return self.run(pins, self._orders[key], at, given=at.given, among=at.among)

    def slopes(self, at: Enclosure, seed: int, slots: Iterable[int]) -> Slopes:
        """Difference quotients with respect to one slot, over the box of `at`."""
        slopes = Slopes({seed: ONE})
        known = {seed}
        for slot in slots:
            node = self.nodes[slot]
            if slot != seed and any(arg in known for arg in node.args):
                known.add(slot)
                node.pass_on(at, slot, slopes)
                fact = self.slope_facts.get((slot, seed))
                if fact is not None:
                    slopes.of[slot] = slopes.of[slot].meet(fact)
        return slopes

    def place(self, node: Node, value: Interval = EVERYWHERE, hazard: int = 0, truth: bool | None = None) -> int:
        """Put a node at the end of the tape."""
        self.nodes.append(node)
        self.start.values.append(value)
        self.start.hazards.append(hazard)
        self.start.truths.append(truth)
        self.users.append([])
        for arg in node.args:
            self.users[arg].append(len(self.nodes) - 1)
        return len(self.nodes) - 1

    def slot(self, expression: Expr) -> int:
        """Where an expression stands; it is put on the tape if it is not there yet."""
        if expression not in self.slots:
            self.slots[expression] = self._convert(expression)
        return self.slots[expression]

    def has_nones(self, slots: Iterable[int]) -> bool:
        """Whether an expression that may say `none` stands at one of some slots."""
        return any(isinstance(self.nodes[slot], GivenUnless) for slot in slots)

    def _convert(self, expression: Expr) -> int:
        if expression in (sympy.true, sympy.false):
            return self.place(Given(), truth=bool(expression))
        if expression.is_Number:
            return self._number(expression)
        if isinstance(expression, sympy.Mul):
            above, below = quotient_of(expression)
            if below != 1:
                return self.place(self.quotient(above, below))
        args = tuple(self.slot(arg) for arg in expression.args)
        if isinstance(expression, Root):
            return self.place(Power((args[0], self.slot(sympy.Rational(1, 2)))))
        if isinstance(expression, Limited):
            return self.place(Held((args[0], args[1], args[2]), whole(expression.args[3])))
        if isinstance(expression, Where):
            return self.place(Choice((args[0], args[1], args[2]), self.meets, self))
        if isinstance(expression, Unless):
            return self.place(GivenUnless((args[0], args[1], args[2]), self))
        if isinstance(expression, OwnFunction):
            return self.place(_own(self, expression, args))
        if isinstance(expression, tuple(SIGNS)):
            return self.place(Comparison(SIGNS[type(expression)], (args[0], args[1])))
        node = _elementary(expression, args)
        return self.place(node) if node is not None else self.place(Given(), EVERYWHERE, UNDEFINED)

    def note_never_above(self, first: Expr, second: Expr, *, from_zero: bool = False) -> None:
        """Note that `first` is never greater than `second`, for a product among its own population."""
        self.never_above[side_of(first), side_of(second)] = from_zero

    def has_shares(self, slots: Iterable[int]) -> bool:
        """Whether a member of a population over its greatest, or the like, stands at one of some slots."""
        return any(isinstance(self.nodes[slot], Share) for slot in slots)

    def quotient(self, above: Expr, below: Expr) -> Quotient:
        """The node of a quotient: a share, where what is below is known never to be less than a factor above."""
        args = (self.slot(above), self.slot(below))
        factors = above.args if isinstance(above, sympy.Mul) else (above,)
        for number, factor in enumerate(factors):
            from_zero = self.never_above.get((side_of(factor), side_of(below)))
            if from_zero is not None:
                others = tuple(self.slot(other) for place, other in enumerate(factors) if place != number)
                return Share(args, self.slot(factor), others, from_zero)
        return Quotient(args)

    def _number(self, number: Expr) -> int:
        if number.is_infinite:
            end = INFINITY if number > 0 else -INFINITY
            return self.place(Given(), point(end), INFINITE)
        exact = sympy.Rational(number)
        return self.place(Given(), fraction_interval(Fraction(int(exact.p), int(exact.q))))


def side_of(expression: Expr) -> object:
    """An expression to be found again, in whatever order a sum has its terms."""
    return frozenset(expression.args) if isinstance(expression, sympy.Add) else expression


def quotient_of(product: Expr) -> tuple[Expr, Expr]:
    """A product as what stands above the line and what it is divided by."""
    factors = [divided_by(factor) for factor in product.args]
    above, below = ([part for part, divides in factors if divides is wanted] for wanted in (False, True))
    return sympy.Mul(*above, evaluate=False), sympy.Mul(*below, evaluate=False)


def _own(tape: Tape, expression: OwnFunction, args: tuple[int, ...]) -> Node:
    """The node of a function of ours: its own, where the tape knows more of it than its rigorous face says."""
    match expression:
        case Over():
            return tape.quotient(*expression.args)
        case Raised():
            return Power((args[0], args[1]))
        case Ln():
            return Logarithm((args[0],), strict=True)
        case Either():
            return Some(args, tape)
        case Both():
            return Every(args, tape)
        case Denied():
            return Reversed((args[0],))
    return Own(expression, args)


def _elementary(expression: Expr, args: tuple[int, ...]) -> Node | None:
    """The node of a plain sympy operation; None for one that the walk of expressions never makes."""
    match expression:
        case sympy.Add():
            return Sum(args)
        case sympy.Mul():
            return Product(args)
        case sympy.Pow():
            return Power((args[0], args[1]))
        case sympy.exp():
            return Exponential((args[0],))
        case sympy.log():
            return Logarithm((args[0],))
        case sympy.Abs():
            return Absolute((args[0],))
    return None
