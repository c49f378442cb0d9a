"""The domain of the proofs: every reading within its plausible range, every presence, every word, every reference.

- A measure ranges over its plausible range as written; without one, over all reals. Where that would take a logarithm,
  a root, a division or a ratio-scaled curve to where it has no meaning, the measure is held above 0 instead, and the
  findings that lean on it say so.
- Presence is 0 or 1 for each part on its own: this holds every pattern that a missing rule can publish, and more. What
  an output needs is there. A mean has at least one part: without any, nothing is published.
- A live reference's figures range over the measure's plausible range, its standard deviation from above 0 to the width
  of it, and its greatest lies above its least: a catalogue in which all readings are equal is left out.
- The form's own numbers are the decimals as written.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from sympy import Expr, Integer, Symbol

from scoring.checks.nodes import UNDEFINED, Enclosure, Given, Power
from scoring.checks.tape import Tape
from scoring.curves import KINDS
from scoring.form import Curve, Form
from scoring.intervals import EVERYWHERE, INFINITY, LEAST, UNIT, Interval, decimal_interval, hull_of, point
from scoring.program import Figure, Program, Step

ABOVE_ZERO = Interval(LEAST, INFINITY)


@dataclass(frozen=True, slots=True, eq=False)
class Domain:
    """A program's tape with the box that the proofs cover.

    measures, words: the slots of readings and of attributes' words; outputs: the slots of ratings and scores; box: the
    interval of every slot that a proof may split; root: the tape run over the whole of it; ranges: the interval of every
    measure; bare: measures without a plausible range; above_zero: those among them that are held above 0.
    """

    program: Program
    tape: Tape
    measures: Mapping[str, int]
    words: Mapping[tuple[str, str], int]
    outputs: Mapping[str, int]
    box: Mapping[int, Interval]
    root: Enclosure
    ranges: Mapping[str, Interval]
    bare: frozenset[str]
    above_zero: frozenset[str]
    replaced: Mapping[Symbol, Expr]

    def slot_of(self, expression: Expr, output: str) -> int:
        """Where an expression out of a step of `output` stands on the tape."""
        return self.tape.slots[expression.xreplace(_replaced_for(self.program, output, self.replaced))]

    def leans_on(self, output: str) -> tuple[str, ...]:
        """The measures that an output depends on, in the form's order."""
        cone = set(self.tape.cone([self.outputs[output]]))
        return tuple(m.name for m in self.program.form.measures if self.measures.get(m.name) in cone)

    def splittable(self, slots: Iterable[int]) -> dict[int, Interval]:
        """The part of the box that the given slots (a cone) depend on."""
        return {slot: self.box[slot] for slot in slots if slot in self.box}


def domain_of(program: Program) -> Domain:
    """The tape of a program and the box of its proofs."""
    bare = frozenset(measure.name for measure in program.form.measures if measure.plausible is None)
    held = frozenset(_ratio_scaled(program.form)) & bare
    domain = _build(program, bare, held)
    troubled = _troubled(domain)
    if not troubled:
        return domain
    narrowed = _build(program, bare, held | troubled)
    return narrowed if len(_troubled_outputs(narrowed)) < len(_troubled_outputs(domain)) else domain


def _ratio_scaled(form: Form) -> Iterable[str]:
    """Measures under a curve that needs a unit whose zero means none."""
    for output in form.outputs:
        for part in output.parts:
            if part.curve is not None and KINDS[part.curve.kind].ratio_scaled:
                yield part.source
        for limit in output.limits:
            if limit.curve is not None and limit.on is not None and KINDS[limit.curve.kind].ratio_scaled:
                yield limit.on


def _troubled_outputs(domain: Domain) -> list[str]:
    """Outputs that may have no value, or that lean on a division by what may be 0 in the midst of its range."""
    found = []
    for name, slot in domain.outputs.items():
        poles = (at for at in domain.tape.cone([slot]) if is_pole(domain.tape, domain.root, at))
        if domain.root.hazards[slot] & UNDEFINED or any(True for _ in poles):
            found.append(name)
    return found


def is_pole(tape: Tape, at: Enclosure, slot: int) -> bool:
    """Whether a node is a negative power of something that changes its sign in the box."""
    node = tape.nodes[slot]
    if not isinstance(node, Power):
        return False
    base, exponent = at.values[node.args[0]], at.values[node.args[1]]
    return exponent.low < 0 and base.low < 0 < base.high


def _troubled(domain: Domain) -> frozenset[str]:
    names = {name for output in _troubled_outputs(domain) for name in domain.leans_on(output)}
    return frozenset(names) & domain.bare - domain.above_zero


def _build(program: Program, bare: frozenset[str], above_zero: frozenset[str]) -> Domain:
    ranges = {}
    for measure in program.form.measures:
        low_high = measure.plausible
        if low_high is not None:
            ranges[measure.name] = decimal_interval(low_high[0].text).hull(decimal_interval(low_high[1].text))
        else:
            ranges[measure.name] = ABOVE_ZERO if measure.name in above_zero else EVERYWHERE
    tape, box = Tape(), dict[int, Interval]()

    def place(symbol: Symbol, interval: Interval, *, split: bool = False) -> int:
        slot = tape.slots[symbol] = tape.place(Given(), interval)
        if split:
            box[slot] = interval
        return slot

    for symbol, number in program.parameters.values():
        place(symbol, decimal_interval(number.text))
    for symbol, values in program.populations.values():
        place(symbol, hull_of([point(value) for value in values]))
    for presence in (program.here, program.applies):
        for symbol in presence.values():
            place(symbol, UNIT)
    measures = {name: place(symbol, ranges[name], split=True) for name, symbol in program.measures.items()}
    words = {word: place(symbol, UNIT, split=True) for word, symbol in program.words.items()}
    replaced = _place_figures(program, ranges, place)
    for step in program.steps:
        if step.kind != "gate":
            _place_step(tape, program, step, replaced)
    outputs = {name: tape.slots[symbol] for name, symbol in program.outputs.items()}
    root = tape.run({}, range(len(tape.nodes)))
    return Domain(program, tape, measures, words, outputs, box, root, ranges, bare, above_zero, replaced)


def _place_figures(program: Program, ranges: Mapping[str, Interval], place: object) -> dict[Symbol, Expr]:
    """Put live figures on the tape; where both ends of a population are used, its greatest is its least plus a span."""
    assert callable(place)
    replaced: dict[Symbol, Expr] = {}
    for figure, symbol in program.figures.items():
        reading = ranges[figure.measure]
        least = program.figures.get(Figure(figure.measure, "least"))
        span = Interval(LEAST, max(reading.width, LEAST))
        if figure.statistic == "greatest" and least is not None:
            between = Symbol(f"{symbol.name}_span", real=True)
            place(between, span, split=True)
            replaced[symbol] = least + between
        elif figure.statistic == "sd":
            place(symbol, span, split=True)
        elif figure.statistic == "greatest" and reading.low >= 0:
            place(symbol, reading.greater_of(point(LEAST)), split=True)
        else:
            place(symbol, reading, split=figure.statistic != "population")
    return replaced


def _place_step(tape: Tape, program: Program, step: Step, replaced: Mapping[Symbol, Expr]) -> None:
    expression = step.expression.xreplace(_replaced_for(program, step.output, replaced))
    tape.slots[step.symbol] = tape.slot(expression)


def _replaced_for(program: Program, output: str, replaced: Mapping[Symbol, Expr]) -> dict[Symbol, Expr]:
    """What stands in for symbols in the steps of one output: what it needs is there."""
    there: dict[Symbol, Expr] = dict(replaced)
    for name in program.output(output).missing.needs:
        there |= {presence[name]: Integer(1) for presence in (program.here, program.applies) if name in presence}
    return there


def curve_hints(curve: Curve) -> list[float]:
    """Readings at which a curve bends or steps, for splitting and sampling; nothing is proved from them."""
    places = [at.value for at, _ in curve.anchors]
    places += [number.value for name, number in curve.numbers if name not in ("exponent", "per_sd", "centre")]
    return places


def hints_of(form: Form) -> dict[str, tuple[float, ...]]:
    """For each measure, the readings at which something may happen: anchors, edges, numbers that it is compared with."""
    found: dict[str, set[float]] = {measure.name: set() for measure in form.measures}
    for output in form.outputs:
        curves = [(part.source, part.curve) for part in output.parts]
        curves += [(limit.on or "", limit.curve) for limit in output.limits]
        for source, curve in curves:
            if curve is not None and source in found:
                found[source].update(curve_hints(curve))
        for expression in (output.value, *(limit.when for limit in output.limits)):
            for name in expression.names if expression is not None else ():
                if name in found and expression is not None:
                    found[name].update(number.value for number in expression.numbers)
    return {
        measure.name: tuple(sorted(v for v in found[measure.name] if _plausible(measure.plausible, v)))
        for measure in form.measures
    }


def _plausible(ends: tuple[object, object] | None, value: float) -> bool:
    return ends is None or ends[0].value <= value <= ends[1].value  # type: ignore[attr-defined]
