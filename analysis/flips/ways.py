"""Which numbers under a rating or score may move to turn an order round, and the room of each: a sensible range by kind."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from analysis.flips.contest import Contest
from scoring.addresses.number_units import compared_with, number_units
from scoring.blends import NUMBERS
from scoring.curves import KINDS
from scoring.declaration import NumberKey
from scoring.form import Curve, Expression, Number, Output, Term
from scoring.table.evaluate import gaps_in
from scoring.units.role import UnitRole

ANCHOR, RATING, LIMIT, THRESHOLD = "anchor", "rating at an anchor", "limit", "threshold"
EXPONENT, SPREAD, WEIGHT, SHARE = "exponent", "spread", "weight in a rating", "share that may be missing"
WRITTEN = "number in the arithmetic"
#: What a number of a curve that stands as a factor or a power is called, by its role.
FACTOR_KINDS = {UnitRole.EXPONENT: EXPONENT, UnitRole.LENGTH: SPREAD}
#: A number next to a fence (a neighbouring anchor) comes as near to it as this share of the way.
NEAR = 1e-3
#: What stands as a factor goes down to its value over this and up to its value times this; a mean's exponent from minus to plus.
FACTOR = 10.0
#: A weight inside a rating goes up to this many times all of its weights.
WEIGHTS = 10.0

Ends = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Way:
    """One number that may move: from where it is stated to both ends of its room.

    span: what a change is set against, `compared` in words; provable: whether intervals say anything of it; in_ratios:
    whether the span is the logarithm of a ratio; unit: of the number, "" for a plain one.
    """

    kind: str
    number: Number
    low: float
    high: float
    span: float
    compared: str
    provable: bool
    in_ratios: bool = False
    unit: str = ""


def ways_of(contest: Contest) -> Iterator[Way]:
    """Every single number under an output that the kinds above name, each once; the output's own weights are not among them."""
    seen: set[str] = set()
    units = number_units(contest.form)
    for output in outputs_under(contest):
        for way in _ways_at(contest, output):
            address = way.number.address
            if address not in seen and (address in contest.program.parameters or way.kind == SHARE):
                seen.add(address)
                yield replace(way, unit=units[address].unit)


def outputs_under(contest: Contest) -> list[Output]:
    """The output and every other one that it leans on, the nearest first."""
    names = (contest.output.name, *contest.form.dependencies.under(contest.output.name))
    return [contest.program.form.output(name) for name in dict.fromkeys(names) if name in contest.program.outputs]


def weighed_together(output: Output) -> bool:
    """Whether its weights are looked at as the weights of a whole."""
    return len(output.parts) > 1 and all(part.weight is not None for part in output.parts)


def _ways_at(contest: Contest, output: Output) -> Iterator[Way]:
    ends = _scale(output)
    for part in output.parts:
        if part.curve is not None:
            yield from _curve(contest, part.curve, part.source, ends)
        if part.weight is not None and not (output is contest.output and weighed_together(output)):
            total = sum(other.weight.value for other in output.parts if other.weight is not None)
            weight = part.weight
            yield Way(WEIGHT, weight, 0.0, WEIGHTS * total, weight.value or math.nan, "the weight", False)
    for name, number in output.numbers:
        yield _of_blend(NUMBERS[name], number)
    if output.value is not None:
        yield from _expression(contest, output.value, WRITTEN)
    for limit in output.limits:
        if limit.apply.value != "always":
            continue
        if limit.bound is not None:
            yield Way(LIMIT, limit.bound, *ends, ends[1] - ends[0], "the scale", True)
        if limit.when is not None:
            yield from _expression(contest, limit.when, THRESHOLD)
        if limit.curve is not None:
            yield from _curve(contest, limit.curve, limit.on or "", ends)
    if gaps_in(contest.program, contest.inputs) and set(output.sources) & set(gaps_in(contest.program, contest.inputs)):
        yield _whole_room(SHARE, output.missing.absent_above, (0.0, 1.0), provable=False)


# the room of a number


def _scale(output: Output) -> Ends:
    low, high = output.scale.low.value, output.scale.high
    return low, high.value if high is not None else low + 10.0


def _room_of(contest: Contest, name: str) -> Ends | None:
    """Where the values of a measure or output lie, where that is known."""
    for measure in contest.form.measures:
        if measure.name == name:
            plausible = measure.plausible
            return (plausible[0].value, plausible[1].value) if plausible else None
    return _scale(contest.program.form.output(name)) if name in contest.program.outputs else None


def _whole_room(kind: str, number: Number, ends: Ends | None, *, provable: bool = True) -> Way:
    """A number that may lie anywhere in a room; where none is known, as far again as its value on both sides."""
    value = number.value
    around = abs(value) or 1.0
    low, high = ends or (value - around, value + around)
    low, high = min(low, value), max(high, value)
    return Way(kind, number, low, high, high - low, "its room", provable)


def _of_blend(declared: NumberKey, number: Number) -> Way:
    """A number of a blend: an exponent from minus to plus, any other in all the room that it is declared to have."""
    low, high = declared.kind.ends
    if declared.kind.role is UnitRole.EXPONENT:
        return _whole_room(EXPONENT, number, (max(low, -FACTOR), min(high, FACTOR)))
    return _whole_room(WRITTEN, number, (low, high) if math.isfinite(high - low) else None)


def _by_factor(kind: str, number: Number) -> Way:
    """A number above 0 that stands as a factor or a power."""
    value = number.value
    return Way(
        kind, number, value / FACTOR, value * FACTOR, math.log(FACTOR * FACTOR), "its room", True, in_ratios=True
    )


# expressions


def _expression(contest: Contest, expression: Expression, kind: str) -> Iterator[Way]:
    """The numbers of an expression, but for a percentile's share; one that a name is compared with has that name's room."""
    beside = compared_with(expression)
    shares, steps = shares_of_percentiles(expression), steps_of_roundings(expression)
    for number in expression.numbers:
        if number in steps:
            yield _by_factor(kind, number)
        elif number not in shares:
            yield _whole_room(kind, number, _room_of(contest, beside.get(number.address, "")))
    for name, number in contest.form.constants:
        if name in expression.names:
            yield _whole_room(WRITTEN, number, None)


def steps_of_roundings(expression: Expression) -> tuple[Number, ...]:
    """The numbers to whose multiples something is rounded: they are above 0."""
    found: list[int] = []
    waiting = [expression.term]
    while waiting:
        term = waiting.pop()
        parts = [arg for arg in term.args if isinstance(arg, Term)]
        if term.op == "round" and len(parts) > 1 and parts[1].op == "number":
            found.append(int(str(parts[1].args[0])))
        waiting += parts
    return tuple(expression.numbers[index] for index in sorted(found))


def shares_of_percentiles(expression: Expression) -> tuple[Number, ...]:
    """The numbers that say which percentile is meant: they are settled before the arithmetic."""
    found: list[int] = []
    waiting = [(expression.term, False)]
    while waiting:
        term, inside = waiting.pop()
        if inside and term.op == "number":
            found.append(int(str(term.args[0])))
        waiting += [(arg, inside or term.op == "percentile") for arg in term.args if isinstance(arg, Term)]
    return tuple(expression.numbers[index] for index in sorted(found))


# curves


def _curve(contest: Contest, curve: Curve, source: str, scale: Ends) -> Iterator[Way]:
    """The numbers of a curve: those along its measure, the ratings at its anchors, its other numbers, frozen figures."""
    ends = _room_of(contest, source)
    yield from _positions(curve, ends)
    for _, rating in curve.anchors:
        low, high = min(scale[0], rating.value), max(scale[1], rating.value)
        yield Way(RATING, rating, low, high, scale[1] - scale[0], "the scale", False)
    kind = KINDS[curve.kind]
    along, factors = kind.positions(curve), kind.above_zero(curve)
    for name, number in curve.numbers:
        role = kind.role_of(name)
        if number in along:
            continue
        if number in factors:
            yield _by_factor(FACTOR_KINDS.get(role, WRITTEN), number)
        else:
            yield _whole_room(WRITTEN, number, scale if role is UnitRole.POINTS else None)
    for name, number in curve.reference.figures if curve.reference is not None else ():
        if name == "sd" and number.value > 0:
            yield _by_factor(WRITTEN, number)
        else:
            yield _whole_room(WRITTEN, number, ends)


def _positions(curve: Curve, ends: Ends | None) -> Iterator[Way]:
    """The numbers of a curve that lie along its measure, each with room up to its neighbours, so that they keep their order."""
    kind = KINDS[curve.kind]
    positions = kind.positions(curve)
    at = [number.value for number in positions]
    if not at:
        return
    stretch = kind.stretch(curve) or (min(at), max(at))
    span = abs(stretch[1] - stretch[0]) or 1.0
    low, high = (min(ends[0], *at), max(ends[1], *at)) if ends else (min(at) - span, max(at) + span)
    if kind.in_ratios:
        low = max(low, NEAR * min(at))
    for number, value in zip(positions, at, strict=True):
        below, above = [x for x in at if x < value], [x for x in at if x > value]
        start = max(below) + NEAR * (value - max(below)) if below else low
        stop = min(above) - NEAR * (min(above) - value) if above else high
        width = math.log(stretch[1] / stretch[0]) if kind.in_ratios else span
        compared = "the logarithm of the curve's stretch" if kind.in_ratios else "the curve's stretch"
        yield Way(ANCHOR, number, start, stop, width, compared, not kind.anchored, in_ratios=kind.in_ratios)
