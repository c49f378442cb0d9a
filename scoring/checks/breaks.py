"""Where an output may jump: steps, limits, roundings, choices, standings, divisions by what may be 0.

A jump is declared where the form says that there is one: a steps curve, a standing, a stepped limit, a rounding (under
`round`, or by `round`, `floor` or `ceil` in an expression). That of a `where` is not, unless its output says `jumps: stated`
and each comparison of the condition that turns is of a name with a number or constant. A `where` whose branches meet
wherever its condition can turn is no break: that is shown either by intervals, with the compared side held at the
boundary, or by exact algebra on the decimals as written. A break that cannot happen in the box, because its condition is
decided, its edge lies outside or its limit never bites, is left out.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

import sympy
from sympy import Expr, Integer, Mul, Pow

from scoring.checks.choices import Choice, Held
from scoring.checks.conditions import Comparison, Every
from scoring.checks.domain import Domain, divisor, is_pole
from scoring.checks.nodes import Enclosure, Own
from scoring.checks.tape import quotient_of
from scoring.form import Rounding
from scoring.numbers.intervals import INFINITY, ONE, Interval, decimal_interval, fraction_interval, written_fraction
from scoring.program.program import Program, Step
from scoring.symbolic.arithmetic import Over, Partial, Raised
from scoring.symbolic.branches import Limited, Unless, Where
from scoring.symbolic.stairs import Stairs, StairTable

#: What may divide.
DIVISIONS = Mul | Pow | Over | Raised
#: Jumps below this are none: nobody publishes a billionth of a point.
NO_JUMP = 1e-9
#: Beyond this many operations, or terms once multiplied out, an expression is not worth an algebraic proof.
MOST_OPERATIONS, MOST_TERMS = 100, 500


@dataclass(frozen=True, slots=True)
class Spot:
    """A reading at which something turns: that of a measure, as it stands in a catalogue, exactly."""

    measure: str
    reading: Fraction


@dataclass(frozen=True, slots=True, eq=False)
class Leap:
    """One place at which a node may jump: in words, as a reading where it is at one, and what is held to a part of its range."""

    where: str
    pinned: Mapping[int, Interval]
    spot: Spot | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Break:
    """A node of the tape that may jump.

    leaps: its places; mover: the slot that turns it where it is moved; state: an expression whose value changes just where
    the node jumps; is_threshold: whether it is a choice that `jumps: stated` declares.
    """

    name: str
    kind: str
    address: str
    output: str
    declared: bool
    slot: int
    mover: int
    leaps: tuple[Leap, ...]
    state: Expr
    is_threshold: bool = False

    @property
    def at_readings(self) -> bool:
        """Whether it turns at readings that can be named."""
        return any(leap.spot is not None for leap in self.leaps)


def breaks_of(domain: Domain) -> tuple[Break, ...]:
    """Every break that can happen in the box, in the order of the steps; meeting branches are noted on the tape."""
    found: list[Break] = list(_of_readings(domain))
    for step in domain.steps:
        for index, node in enumerate(_candidates(step.expression, domain, step.output)):
            broken = _break(domain, step, node, f"{step.symbol}.{index}")
            if broken is not None:
                found.append(broken)
    return tuple(found)


def in_order(breaks: Iterable[Break]) -> tuple[Break, ...]:
    """The order in which a place where several turn is told: under the first of them.

    What turns at named readings, then what is not declared, then limits, standings and tables of other outputs, then
    roundings, those of the latest steps first: the earlier ones move them.
    """
    known = list(breaks)
    at_readings = [each for each in known if each.at_readings]
    return (*at_readings, *sorted((each for each in reversed(known) if not each.at_readings), key=_rank))


def _rank(each: Break) -> int:
    if not each.declared:
        return 1
    return 3 if each.kind == "rounding" else 2


def _of_readings(domain: Domain) -> Iterator[Break]:
    """The roundings of measures."""
    for measure in domain.program.form.measures:
        symbol = domain.program.measures.get(measure.name)
        if measure.round is None or symbol is None:
            continue
        slot, read = domain.tape.slots[symbol], domain.measures[measure.name]
        if domain.wide.root.values[slot].width >= decimal_interval(measure.round.step.text).low / 2:
            leap = Leap(f"where the rounding of {measure.name} turns", {})
            address = f"{measure.address}.round"
            yield Break(f"{symbol}.read", "rounding", address, "", True, slot, read, (leap,), symbol)


def _candidates(expression: Expr, domain: Domain, output: str) -> Iterator[Expr]:
    """Nodes that may jump, inner ones first; what stands in a condition only decides when the outer node jumps."""
    args = expression.args[1:] if isinstance(expression, Where | Limited | Unless) else expression.args
    for arg in args:
        yield from _candidates(arg, domain, output)
    # a reciprocal inside a product has no slot: it stands in the product's quotient
    slot = domain.tape.slots.get(expression)
    divides = isinstance(expression, DIVISIONS)
    pole = divides and slot is not None and is_pole(domain.tape, domain.room(output).root, slot)
    if pole or isinstance(expression, Where | Limited | Stairs):
        yield expression


def _break(domain: Domain, step: Step, node: Expr, name: str) -> Break | None:
    slot = domain.tape.slots[node]
    root = domain.room(step.output).root
    below = divisor(domain.tape, root, slot) if isinstance(node, DIVISIONS) else None
    mover = domain.tape.nodes[slot].args[0] if below is None else below
    if not domain.moves(mover):
        return None
    kind, declared = _kind_of(node)
    is_threshold = isinstance(node, Where) and _is_threshold(domain, node)
    declared = declared or (is_threshold and domain.program.form.output(step.output).jumps is not None)
    if isinstance(node, Where | Limited):
        state, leaps = Where(node.args[0], Integer(1), Integer(0)), _leaps_of_choice(domain, step, node, slot)
    elif below is not None:
        leaps = (Leap("where it divides by 0", {}),)
        state = Where(sympy.Gt(_divided_by(node), Integer(0), evaluate=False), Integer(1), Integer(0))
    else:
        state, leaps = node, _leaps_of_stairs(domain, step, node, slot)
    written = domain.as_written(state)
    if not leaps:
        return None
    return Break(name, kind, step.address, step.output, declared, slot, mover, leaps, written, is_threshold)


def _divided_by(node: Expr) -> Expr:
    """What a quotient, a product or a power divides by."""
    if isinstance(node, Mul):
        return quotient_of(node)[1]
    return node.args[1] if isinstance(node, Over) else node.args[0]


def _kind_of(node: Expr) -> tuple[str, bool]:
    match node:
        case Stairs():
            return node.jumps_as, True
        case Limited():
            return "limit", True
        case Where():
            return "choice", False
    return "division", False


def _is_threshold(domain: Domain, node: Expr) -> bool:
    """Whether all that turns a choice are comparisons of a name with a written number or constant."""
    program = domain.program
    named = {*program.measures.values(), *program.outputs.values()}
    still = {symbol for symbol, _ in program.parameters.values()}
    for relation in node.args[0].atoms(sympy.core.relational.Relational):
        first, second = relation.args
        sides = [(first, second), (second, first)]
        is_stated = any(side in named and other.free_symbols <= still for side, other in sides)
        if domain.moves(domain.tape.slot(relation)) and not is_stated:
            return False
    return True


def _leaps_of_stairs(domain: Domain, step: Step, node: Expr, slot: int) -> tuple[Leap, ...]:
    """The jumps of stairs: of a table by edge, of others anywhere."""
    assert isinstance(node, Stairs)
    root, args = domain.room(step.output).root, domain.tape.nodes[slot].args
    x, *values = (root.values[arg] for arg in args)
    if not isinstance(node, StairTable):
        still = node.jump((x, *values), root.values[slot]).is_zero
        return () if still else (Leap(node.where(step.output), {}),)
    found = []
    for edge, before, after, written in zip(values[2::2], values[1::2], values[3::2], node.args[3::2], strict=False):
        if edge.high > x.low and edge.low <= x.high and before != after:
            found.append(_leap_of_edge(domain, root, node, args[0], edge, written))
    return tuple(found)


def _leap_of_edge(domain: Domain, root: Enclosure, node: Expr, x: int, edge: Interval, written: Expr) -> Leap:
    """The jump at one edge of a table: at a reading, at a value of what it reads, or where that jumps over the edge."""
    source, text = name_of(domain.program, node.args[0]), number_text(domain.program, written)
    measure = domain.program.form.measures_by_name.get(source)
    if measure is not None and measure.name in domain.measures:
        exact = written_fraction(text)
        if measure.round is None:
            return Leap(f"{source} = {text}", {x: edge}, Spot(source, exact))
        reading, after = turning_reading(exact, measure.round)
        read = domain.measures[source]
        where = f"{source} = {decimal_text(reading)}"
        where += "" if reading == after else f" ({decimal_text(after)} after rounding)"
        return Leap(where, {read: fraction_interval(reading)}, Spot(source, reading))
    pinned = {} if _may_jump(domain, root, domain.tape.cone([x])) else {x: edge}
    return Leap(f"{source} = {text}", pinned)


def turning_reading(edge: Fraction, rule: Rounding) -> tuple[Fraction, Fraction]:
    """The reading from which on a rounded one is at or above an edge, and what it is rounded to there."""
    step, name = written_fraction(rule.step.text), rule.rule.value
    after = math.ceil(edge / step) * step
    below = {"floor": Fraction(0), "ceiling": step, "half-up": step / 2, "half-even": step / 2}
    towards_0, away = (Fraction(0), step) if after > 0 else (step, Fraction(0))
    return after - (below | {"down": towards_0, "up": away})[name], after


def decimal_text(value: Fraction) -> str:
    """A decimal number exactly, without an exponent."""
    places = 0
    while (value * 10**places).denominator != 1:
        places += 1
    return f"{Decimal((value * 10**places).numerator).scaleb(-places):f}"


def name_of(program: Program, symbol: Expr) -> str:
    """The name of the measure, rating or score that a symbol stands for."""
    names = {at: name for name, at in (*program.measures.items(), *program.outputs.items())}
    return names.get(symbol, "its value")


def number_text(program: Program, symbol: Expr) -> str:
    """A number of the form as written."""
    texts = {at: number.text for at, number in program.parameters.values()}
    return texts.get(symbol, str(symbol))


def _leaps_of_choice(domain: Domain, step: Step, node: Expr, slot: int) -> tuple[Leap, ...]:
    """How far a `where` or a stepped limit can jump, for each comparison at its boundary; none where it cannot."""
    tape, root, condition = domain.tape, domain.room(step.output).root, domain.tape.nodes[slot].args[0]
    if root.truths[condition] is not None:
        return ()
    limit = domain.program.form.output(step.output).limit_at(step.address)
    written = limit.when if limit is not None else None
    where = f"where `{written.text}` turns" if written is not None else "where its condition turns"
    leaps = []
    for at in tape.cone([condition]):
        comparison = tape.nodes[at]
        if isinstance(comparison, Comparison) and root.truths[at] is None and domain.moves(at):
            pinned = _boundary(domain, root, comparison)
            if pinned is not None:
                pinned = {**pinned, **_needed_here(domain, condition)}
                leaps.append(Leap(where, pinned))
    none = all(_gap(domain, root, slot, leap.pinned).size <= NO_JUMP for leap in leaps)
    smooth = isinstance(node, Where) and not _may_jump(domain, root, tape.cone([condition]))
    if not leaps:
        return ()
    if none or (smooth and _meets_exactly(domain.program, node)):
        tape.meets.add(slot)
        return ()
    return tuple(leaps)


def _needed_here(domain: Domain, condition: int) -> dict[int, Interval]:
    """What must be there for a condition to hold: it turns only where it is."""
    tape = domain.tape
    node = tape.nodes[condition]
    presence = {tape.slots[symbol] for symbol in domain.program.here.values()}
    tests = [tape.nodes[arg] for arg in node.args] if isinstance(node, Every) else [node]
    return {test.args[0]: ONE for test in tests if isinstance(test, Comparison) and test.args[0] in presence}


def _boundary(domain: Domain, root: Enclosure, comparison: Comparison) -> dict[int, Interval] | None:
    """The moving side of a comparison held at the other's value; None where the two cannot be equal in the box.

    Where one side does not move with the readings and the other has no jump of its own, the comparison turns only where
    they are equal. Otherwise nothing is held.
    """
    for moving, still in (comparison.args, comparison.args[::-1]):
        if not domain.moves(still) and not _may_jump(domain, root, domain.tape.cone([moving])):
            boundary, side = root.values[still], root.values[moving]
            return {moving: boundary} if boundary.low <= side.high and side.low <= boundary.high else None
    return {}


def _gap(domain: Domain, root: Enclosure, slot: int, pinned: Mapping[int, Interval]) -> Interval:
    """What the two branches of a node can differ by."""
    tape, node = domain.tape, domain.tape.nodes[slot]
    at = tape.run(beside(root, pinned), tape.depending(pinned, tape.cone([slot])), root, beside=True)
    return node.gap(at) if isinstance(node, Held) else at.values[node.args[1]] - at.values[node.args[2]]


def beside(root: Enclosure, pinned: Mapping[int, Interval]) -> dict[int, Interval]:
    """What is held at a place, with both its sides, as far as they are in the range."""
    found = {}
    for slot, side in pinned.items():
        both = Interval(math.nextafter(side.low, -INFINITY), math.nextafter(side.high, INFINITY))
        found[slot] = both.meet(root.values[slot])
    return found


def _may_jump(domain: Domain, root: Enclosure, slots: Iterable[int]) -> bool:
    """Whether any of the slots may jump in the box."""
    tape = domain.tape
    for slot in slots:
        node = tape.nodes[slot]
        if isinstance(node, Choice | Held) and root.truths[node.args[0]] is None and slot not in tape.meets:
            return True
        if is_pole(tape, root, slot) or (isinstance(node, Own) and isinstance(node.function, Stairs)):
            return True
    return False


def _meets_exactly(program: Program, node: Expr) -> bool:
    """Whether the branches are equal, by exact algebra, wherever any comparison of the condition turns."""
    condition, a, b = (_simplified(arg) for arg in node.args)
    numbers = {symbol: _exactly(number.text) for symbol, number in program.parameters.values()}
    measured = {*program.measures.values(), *program.outputs.values(), *(step.symbol for step in program.steps)}
    for relation in condition.atoms(sympy.core.relational.Relational):
        if not relation.free_symbols & measured:
            continue
        if not any(_equal_at(a - b, side, other, numbers) for side, other in (relation.args, relation.args[::-1])):
            return False
    return True


def _simplified(expression: Expr) -> Expr:
    """An expression as sympy simplifies it: the same wherever it has a value."""
    if not expression.args:
        return expression
    plain = expression.func(*map(_simplified, expression.args))
    return plain.elementary().doit() if isinstance(plain, Partial) else plain


def _equal_at(gap: Expr, side: Expr, other: Expr, numbers: Mapping[Expr, Expr]) -> bool:
    if not side.is_Symbol or side in other.free_symbols or gap.count_ops() > MOST_OPERATIONS:
        return False
    held = gap.xreplace({side: other}).xreplace(dict(numbers))
    above = sympy.together(held).as_numer_denom()[0]
    return _terms(above) <= MOST_TERMS and bool(sympy.expand(above) == 0)


def _terms(expression: Expr) -> int:
    """How many terms an expression has at most once it is multiplied out."""
    if isinstance(expression, sympy.Add):
        return sum(_terms(arg) for arg in expression.args)
    if isinstance(expression, Mul):
        return math.prod(_terms(arg) for arg in expression.args)
    if isinstance(expression, Pow) and expression.exp.is_Integer:
        inner, power = _terms(expression.base), abs(int(expression.exp))
        return math.comb(inner + power - 1, power) if inner > 1 else 1
    return 1


def _exactly(text: str) -> Expr:
    value = written_fraction(text)
    return sympy.Rational(value.numerator, value.denominator)
