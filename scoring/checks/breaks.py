"""Where an output may jump: steps, limits, roundings, choices, standings, divisions by what may be 0.

A jump is declared where the form says that there is one: a steps curve, a standing, a stepped limit, a rounding (under
`round`, or by `round`, `floor` or `ceil` in an expression). That of a `where` is not. A `where` whose branches meet
wherever its condition can turn is no break: that is shown either by intervals, with the compared side held at the
boundary, or by exact algebra on the decimals as written. A break that cannot happen in the box, because its condition is
decided, its edge lies outside or its limit never bites, is left out.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

import sympy
from sympy import Expr, Integer, Mul, Pow

from scoring.arithmetic import Over, Partial, Raised
from scoring.branches import Limited, Where
from scoring.checks.choices import Choice, Held
from scoring.checks.conditions import Comparison, Every
from scoring.checks.domain import Domain, divisor, is_pole
from scoring.checks.nodes import Enclosure, Own
from scoring.checks.tape import quotient_of
from scoring.curves.leaning import Standing
from scoring.curves.steps import Steps
from scoring.intervals import EVERYWHERE, ONE, Interval, written_fraction
from scoring.program import Program, Step
from scoring.rounded import Rounded

#: What may divide.
DIVISIONS = Mul | Pow | Over | Raised
#: Jumps below this are none: nobody publishes a billionth of a point.
NO_JUMP = 1e-9
#: Beyond this many operations, or terms once multiplied out, an expression is not worth an algebraic proof.
MOST_OPERATIONS, MOST_TERMS = 100, 500


@dataclass(frozen=True, slots=True, eq=False)
class Leap:
    """How far a node itself jumps at one place, in words, and the slots that are held there to a part of their range."""

    where: str
    change: Interval
    pinned: Mapping[int, Interval]


@dataclass(frozen=True, slots=True, eq=False)
class Break:
    """A node of the tape that may jump.

    leaps: its jumps by place; exact: whether these are sizes, not bounds; state: an expression whose value changes just
    where the node jumps.
    """

    name: str
    kind: str
    address: str
    output: str
    declared: bool
    slot: int
    leaps: tuple[Leap, ...]
    exact: bool
    state: Expr


def breaks_of(domain: Domain) -> tuple[Break, ...]:
    """Every break that can happen in the box, in the order of the steps; meeting branches are noted on the tape."""
    found: list[Break] = []
    for step in domain.steps:
        for index, node in enumerate(_candidates(step.expression, domain, step.output)):
            broken = _break(domain, step, node, f"{step.symbol}.{index}")
            if broken is not None:
                found.append(broken)
    return tuple(found)


def declared_below(domain: Domain, breaks: Iterable[Break], one: Break) -> frozenset[str]:
    """The declared breaks that an undeclared one builds on; none for a declared one."""
    below = set(domain.tape.cone([one.slot])) - {one.slot}
    return frozenset(each.name for each in breaks if each.declared and not one.declared and each.slot in below)


def _candidates(expression: Expr, domain: Domain, output: str) -> Iterator[Expr]:
    """Nodes that may jump, inner ones first; what stands in a condition only decides when the outer node jumps."""
    args = expression.args[1:] if isinstance(expression, Where | Limited) else expression.args
    for arg in args:
        yield from _candidates(arg, domain, output)
    # a reciprocal inside a product has no slot: it stands in the product's quotient
    slot = domain.tape.slots.get(expression)
    divides = isinstance(expression, DIVISIONS)
    pole = divides and slot is not None and is_pole(domain.tape, domain.room(output).root, slot)
    if pole or isinstance(expression, Where | Limited | Rounded | Steps | Standing):
        yield expression


def _break(domain: Domain, step: Step, node: Expr, name: str) -> Break | None:
    slot = domain.tape.slots[node]
    root = domain.room(step.output).root
    below = divisor(domain.tape, root, slot) if isinstance(node, DIVISIONS) else None
    if not domain.moves(domain.tape.nodes[slot].args[0] if below is None else below):
        return None
    kind, declared = _kind_of(node)
    if isinstance(node, Where | Limited):
        state, leaps = Where(node.args[0], Integer(1), Integer(0)), _leaps_of_choice(domain, step, node, slot)
    elif below is not None:
        leaps = (Leap("where it divides by 0", EVERYWHERE, {}),)
        state = Where(sympy.Gt(_divided_by(node), Integer(0), evaluate=False), Integer(1), Integer(0))
    else:
        state, leaps = node, _leaps_of_table(domain, step, node, slot)
    exact = isinstance(node, Steps | Rounded)
    written = domain.as_written(state)
    return Break(name, kind, step.address, step.output, declared, slot, leaps, exact, written) if leaps else None


def _divided_by(node: Expr) -> Expr:
    """What a quotient, a product or a power divides by."""
    if isinstance(node, Mul):
        return quotient_of(node)[1]
    return node.args[1] if isinstance(node, Over) else node.args[0]


def _kind_of(node: Expr) -> tuple[str, bool]:
    match node:
        case Steps():
            return "steps", True
        case Limited():
            return "limit", True
        case Rounded():
            return "rounding", True
        case Where():
            return "choice", False
        case Standing():
            return "standing", True
    return "division", False


def _leaps_of_table(domain: Domain, step: Step, node: Expr, slot: int) -> tuple[Leap, ...]:
    """The jumps of a steps curve by edge, of a rounding by its step, of a standing anywhere."""
    root, args = domain.room(step.output).root, domain.tape.nodes[slot].args
    x, *values = (root.values[arg] for arg in args)
    if isinstance(node, Standing):
        return (Leap("every member of the reference population", Interval(0.0, 1.0), {}),)
    if isinstance(node, Rounded):
        still = root.values[slot].width < values[0].low / 2
        return () if still else (Leap("every multiple of the step", values[0], {}),)
    source, found = name_of(domain.program, node.args[0]), []
    for edge, before, after, written in zip(values[2::2], values[1::2], values[3::2], node.args[3::2], strict=False):
        if edge.high > x.low and edge.low <= x.high and before != after:
            where = f"{source} = {number_text(domain.program, written)}"
            found.append(Leap(where, after - before, {args[0]: edge}))
    return tuple(found)


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
    limits = {limit.address: limit.when for limit in domain.program.output(step.output).limits}
    written = limits.get(step.address)
    where = f"where `{written.text}` turns" if written is not None else "where its condition turns"
    leaps = []
    for at in tape.cone([condition]):
        comparison = tape.nodes[at]
        if isinstance(comparison, Comparison) and root.truths[at] is None and domain.moves(at):
            pinned = _boundary(domain, root, comparison)
            if pinned is not None:
                pinned = {**pinned, **_needed_here(domain, condition)}
                leaps.append(Leap(where, _gap(domain, root, slot, pinned), pinned))
    none = all(leap.change.size <= NO_JUMP for leap in leaps)
    smooth = isinstance(node, Where) and not _may_jump(domain, root, tape.cone([condition]))
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
    at = tape.run(pinned, tape.depending(pinned, tape.cone([slot])), root)
    return node.gap(at) if isinstance(node, Held) else at.values[node.args[1]] - at.values[node.args[2]]


def _may_jump(domain: Domain, root: Enclosure, slots: Iterable[int]) -> bool:
    """Whether any of the slots may jump in the box."""
    tape = domain.tape
    for slot in slots:
        node = tape.nodes[slot]
        if isinstance(node, Choice | Held) and root.truths[node.args[0]] is None and slot not in tape.meets:
            return True
        if is_pole(tape, root, slot) or (
            isinstance(node, Own) and isinstance(node.function, Rounded | Steps | Standing)
        ):
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
