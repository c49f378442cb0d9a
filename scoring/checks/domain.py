"""The domain of the proofs: every reading within its plausible range, every presence, every word, every reference.

- A measure ranges over its plausible range as written; without one, over all reals. An output that such a measure would
  take to where a logarithm, a root, a division or a ratio-scaled curve has no meaning is looked at for readings above 0
  only, and so is all that builds on it; the findings say so.
- Presence is 0 or 1 for each part on its own: this holds every pattern that a missing rule can publish, and more. What
  an output needs is there. A mean has at least one part: without any, nothing is published.
- A live reference's figures range over the measure's plausible range (or the scale of the rating that it is of), its
  standard deviation from above 0 to the width of it, and its greatest lies above its least: a catalogue in which all readings
  are equal is left out.
- The product that is worked out is one of the catalogue that live references are taken from: none of its values lies above the
  greatest or below the least of them. Only the claim of the scale goes by it: a direction is of a reading that moves alone.
- The form's own numbers are the decimals as written. A reading is taken as it stands in a catalogue; where its measure
  rounds, the formula goes on with the rounded one. A reporting limit is left out.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace

from sympy import Add, Expr, Integer, Symbol

from scoring.checks.hints import hints_of
from scoring.checks.nodes import UNDEFINED, Enclosure, Given, Power, Quotient
from scoring.checks.proving import Box, Field, Purse
from scoring.checks.tape import Tape
from scoring.curves import KINDS
from scoring.form import Form, Measure, Output
from scoring.numbers.intervals import (
    EVERYWHERE,
    INFINITY,
    LEAST,
    ONE,
    UNIT,
    ZERO,
    Interval,
    decimal_interval,
    hull_of,
    point,
)
from scoring.program.program import Figure, Program, Step
from scoring.program.settling import with_symbols
from scoring.symbolic.arithmetic import opposite
from scoring.symbolic.rounded import rounded

ABOVE_ZERO = Interval(LEAST, INFINITY)


#: A part of at least this share of the weight makes the whole absent where it is missing and nothing may be.
SURE_SHARE = 1e-6


@dataclass(frozen=True, slots=True, eq=False)
class Room:
    """One box, the interval of every slot that a proof may split, and the tape run over the whole of it."""

    box: Box
    root: Enclosure


@dataclass(frozen=True, slots=True, eq=False)
class Domain:
    """A program's tape with the boxes that the proofs cover.

    measures, words, outputs: the slots of readings (before any rounding of their own), attributes' words, ratings and
    scores; figures: the slots of live statistics; replaced: figures that are written as a sum of others; steps: the steps
    of outputs as they stand on the tape; wide, narrow: the room of all reals, and the one where the measures `above_zero`
    are; narrowed: the outputs that are proved in the narrow one; bare: measures without a plausible range; ranges: the
    interval of every measure in the narrow room; hints: readings where a curve bends.
    """

    program: Program
    tape: Tape
    measures: Mapping[str, int]
    words: Mapping[tuple[str, str], int]
    outputs: Mapping[str, int]
    replaced: Mapping[Symbol, Expr]
    steps: tuple[Step, ...]
    wide: Room
    narrow: Room
    narrowed: frozenset[str]
    above_zero: frozenset[str]
    bare: frozenset[str]
    ranges: Mapping[str, Interval]
    hints: Mapping[str, tuple[float, ...]]
    purse: Purse
    measure_at: Mapping[int, str]
    leaning: dict[str, tuple[str, ...]] = field(default_factory=dict)

    def room(self, output: str) -> Room:
        """The room that claims about an output are proved in."""
        return self.narrow if output in self.narrowed else self.wide

    def leans_on(self, output: str) -> tuple[str, ...]:
        """The measures that an output depends on, in the form's order."""
        if output not in self.leaning:
            moved = set(self.moves(self.outputs[output]))
            self.leaning[output] = tuple(m.name for m in self.program.form.measures if m.name in moved)
        return self.leaning[output]

    def read_by(self, output: str) -> frozenset[str]:
        """Every measure that an output names, or that something which it names does: whether it is there may count."""
        return frozenset(self.program.form.dependencies.inputs_under(output))

    def with_premise(self, output: str, claim: str) -> str:
        """A claim with what it takes for granted of the live populations that an output leans on."""
        cone = set(self.tape.cone([self.outputs[output]]))
        differing, above_zero = dict[str, None](), dict[str, None]()
        for figure, symbol in self.program.figures.items():
            if not self.slots_of_figure(symbol) & cone:
                continue
            if figure.statistic == "sd" or symbol in self.replaced:
                differing[figure.measure] = None
            elif figure.statistic == "greatest" and self.wide.box[self.tape.slots[symbol]].low == LEAST:
                above_zero[figure.measure] = None
        premises = [f"products differ in {', '.join(differing)}"] if differing else []
        premises += [f"some product lies above 0 in {', '.join(above_zero)}"] if above_zero else []
        return f"{claim}, as long as {' and '.join(premises)}" if premises else claim

    def moves(self, slot: int) -> tuple[str, ...]:
        """The measures that a slot depends on."""
        return tuple(self.measure_at[at] for at in self.tape.cone([slot]) if at in self.measure_at)

    def held_above_zero(self, output: str) -> tuple[str, ...]:
        """The measures that are held above 0 in claims about an output."""
        held = self.above_zero if output in self.narrowed else frozenset[str]()
        return tuple(name for name in self.leans_on(output) if name in held)

    def slots_of_figure(self, symbol: Symbol) -> set[int]:
        """Where a figure stands, or what stands in for it."""
        written = self.replaced.get(symbol, symbol)
        return {self.tape.slots[part] for part in written.free_symbols}

    def on_tape(self, expression: Expr) -> Expr:
        """An expression of the program as it stands on the tape."""
        return with_symbols(_with_spans(expression, self.replaced), self.replaced)

    def as_written(self, expression: Expr) -> Expr:
        """An expression off the tape in the program's own symbols."""
        written = {}
        for figure, total in self.replaced.items():
            (least,) = total.free_symbols & set(self.program.figures.values())
            (span,) = total.free_symbols - {least}
            written[span] = figure - least
        return with_symbols(expression, written)

    def field(self, slots: Iterable[int], output: str, moving: str | None = None) -> Field:
        """What a claim about some slots of an output is proved over.

        A claim about a reading that moves is one about readings that are there, with all that leans on them alone.
        """
        cone, room = self.tape.cone(slots), self.room(output)
        box = {slot: room.box[slot] for slot in cone if slot in room.box}
        cuts = {slot: self.hints[name] for name, slot in self.measures.items()}
        words = frozenset(self.words.values())
        if moving is None:
            return Field(self.tape, cone, box, room.root, cuts, words, None, self.purse)
        there = self.there_with(moving)
        order = self.tape.depending(there, cone)
        self.purse.spent += self.tape.work(order)
        root = self.tape.run(there, order, room.root)
        return Field(self.tape, cone, box, root, cuts, words, self.measures[moving], self.purse)

    def there_with(self, measure: str) -> dict[int, Interval]:
        """The presence of a measure, and of each output that is sure to be there when it is: it leans on nothing else."""
        known = {measure, *(name for name, _ in self.program.form.constants)}
        for name in self.program.order:
            output = self.program.form.output(name)
            needs = {part.source for part in output.parts if part.weight is None or part.weight.value > 0}
            if output.value is not None:
                needs.update(output.value.names)
            elif not needs:
                continue  # no part has a weight, so that nothing makes it sure
            if needs <= known:
                known.add(name)
        presence = (self.program.here, self.program.applies)
        symbols = [of[name] for of in presence for name in known & of.keys()]
        return {self.tape.slots[symbol]: ONE for symbol in symbols}

    def note_value(self, slot: int, proved: Interval) -> None:
        """Note what has been proved of a slot's value over its whole room, for all that builds on it."""
        self.tape.value_facts[slot] = proved
        for room in (self.wide, self.narrow):
            at = self.tape.run(room.box, range(len(self.tape.nodes)))
            room.root.values[:], room.root.hazards[:], room.root.truths[:] = at.values, at.hazards, at.truths


def domain_of(program: Program) -> Domain:
    """The tape of a program and the boxes of its proofs."""
    tape = Tape()
    measures = {
        name: _place_reading(tape, program.form.measure(name), symbol) for name, symbol in program.measures.items()
    }
    words = {word: _place(tape, symbol) for word, symbol in program.words.items()}
    figures, replaced = _place_figures(tape, program)
    _place_fixed(tape, program)
    _note_members(tape, program, replaced)
    steps = tuple(_placed(tape, program, step, replaced) for step in program.steps if step.kind != "gate")
    outputs = {name: tape.slots[symbol] for name, symbol in program.outputs.items()}
    scales = {output.name: scale_of(output) for output in program.form.outputs}

    def room(ranges: Mapping[str, Interval]) -> Room:
        box = {slot: ranges[name] for name, slot in measures.items()} | dict.fromkeys(words.values(), UNIT)
        known = scales | {name: rounded_range(program.form.measure(name), ends) for name, ends in ranges.items()}
        box |= {slot: _figure_range(statistic, known[name]) for slot, (name, statistic) in figures.items()}
        return Room(box, tape.run(box, range(len(tape.nodes))))

    bare = frozenset(measure.name for measure in program.form.measures if measure.plausible is None)
    ranges = dict(_ranges(program.form, frozenset()))
    wide = room(ranges)
    strange = set(_strange_slots(tape, wide.root))
    cones = [set(tape.cone([slot])) for slot in strange]
    moved = {name for name, at in measures.items() if any(at in cone for cone in cones)}
    above_zero = (frozenset(_ratio_scaled(program.form)) | moved) & bare
    narrow = room(dict(_ranges(program.form, above_zero)))
    cured = strange - set(_strange_slots(tape, narrow.root))
    cured |= {outputs[name] for name in _over_ratio_scaled(program.form, above_zero)}
    narrowed = frozenset(name for name, slot in outputs.items() if cured & set(tape.cone([slot])))
    return Domain(
        program=program,
        tape=tape,
        measures=measures,
        words=words,
        outputs=outputs,
        replaced=replaced,
        steps=steps,
        wide=wide,
        narrow=narrow if narrowed else wide,
        narrowed=narrowed,
        above_zero=above_zero if narrowed else frozenset(),
        bare=bare,
        ranges=dict(_ranges(program.form, above_zero)) if narrowed else ranges,
        hints=hints_of(program.form),
        purse=Purse(),
        measure_at={slot: name for name, slot in measures.items()},
    )


def _place(tape: Tape, symbol: Symbol, interval: Interval = EVERYWHERE) -> int:
    slot = tape.slots[symbol] = tape.place(Given(), interval)
    return slot


def _place_reading(tape: Tape, measure: Measure, symbol: Symbol) -> int:
    """A reading as it stands in a catalogue; the formula's symbol stands for what its measure's rounding makes of it."""
    if measure.round is None:
        return _place(tape, symbol)
    read, step = Symbol(f"{symbol.name}_read", real=True), Symbol(f"{symbol.name}_step", real=True)
    slot = _place(tape, read)
    _place(tape, step, decimal_interval(measure.round.step.text))
    tape.slots[symbol] = tape.slot(rounded(read, step, measure.round.rule.value))
    return slot


def rounded_range(measure: Measure, ends: Interval) -> Interval:
    """What the rounding of a measure makes of a range of readings."""
    if measure.round is None:
        return ends
    step = decimal_interval(measure.round.step.text)
    held: Interval = rounded(Integer(0), Integer(1), measure.round.rule.value).enclose([ends, step, ZERO])
    return held


def _ranges(form: Form, above_zero: frozenset[str]) -> Iterator[tuple[str, Interval]]:
    for measure in form.measures:
        if measure.plausible is not None:
            low, high = (decimal_interval(number.text) for number in measure.plausible)
            yield measure.name, low.hull(high)
        else:
            yield measure.name, ABOVE_ZERO if measure.name in above_zero else EVERYWHERE


def _place_figures(tape: Tape, program: Program) -> tuple[dict[int, tuple[str, str]], dict[Symbol, Expr]]:
    """Live figures by slot; where both ends of a population are used, its greatest is its least plus a span."""
    placed: dict[int, tuple[str, str]] = {}
    replaced: dict[Symbol, Expr] = {}
    for figure, symbol in program.figures.items():
        least = program.figures.get(Figure(figure.measure, "least"))
        if figure.statistic == "greatest" and least is not None:
            between = Symbol(f"{symbol.name}_span", real=True)
            placed[_place(tape, between)] = (figure.measure, "span")
            replaced[symbol] = Add(least, between, evaluate=False)
        else:
            placed[_place(tape, symbol)] = (figure.measure, figure.statistic)
    return placed, replaced


def scale_of(output: Output) -> Interval:
    """The scale of an output: no table is published with a value off it, so that its population lies there."""
    high = output.scale.high
    low = decimal_interval(output.scale.low.text)
    return Interval(low.low, INFINITY) if high is None else low.hull(decimal_interval(high.text))


def _note_members(tape: Tape, program: Program, replaced: Mapping[Symbol, Expr]) -> None:
    """What follows from a product being one of its own catalogue: it lies between the least and the greatest of that."""
    members = {**program.measures, **program.outputs}
    for figure, symbol in program.figures.items():
        member = members.get(figure.measure)
        if member is None:  # no product's own reading is asked for
            continue
        if figure.statistic == "greatest":
            tape.note_never_above(member, replaced.get(symbol, symbol))
        elif figure.statistic == "least":
            tape.note_never_above(symbol, member)
        if symbol in replaced:
            least, span = replaced[symbol].args
            tape.note_never_above(Add(member, opposite(least), evaluate=False), span, from_zero=True)


def _figure_range(statistic: str, reading: Interval) -> Interval:
    if statistic in ("sd", "span"):
        return Interval(LEAST, max(reading.width, LEAST))
    if statistic == "greatest" and reading.low >= 0:
        return reading.greater_of(point(LEAST))
    return reading


def _place_fixed(tape: Tape, program: Program) -> None:
    """The form's numbers, frozen references, and presence."""
    for symbol, number in program.parameters.values():
        _place(tape, symbol, decimal_interval(number.text))
    for symbol, values in program.populations.values():
        _place(tape, symbol, hull_of([point(value) for value in values]))
    for presence in (program.here, program.applies):
        for symbol in presence.values():
            _place(tape, symbol, UNIT)


def _placed(tape: Tape, program: Program, step: Step, replaced: Mapping[Symbol, Expr]) -> Step:
    """A step put on the tape; what its output needs is there."""
    stands_in: dict[Symbol, Expr] = dict(replaced)
    for presence, names in _sure(program, program.form.output(step.output)):
        stands_in |= {presence[name]: Integer(1) for name in names if name in presence}
    placed = replace(step, expression=with_symbols(_with_spans(step.expression, replaced), stands_in))
    tape.slots[step.symbol] = tape.slot(placed.expression)
    return placed


def _sure(program: Program, output: Output) -> Iterator[tuple[Mapping[str, Symbol], tuple[str, ...]]]:
    """What is sure of an output that is given: which names apply, and which are there."""
    rule = output.missing
    yield from ((presence, rule.needs) for presence in (program.here, program.applies))
    if not rule.asks_for_all or output.value is not None:
        return
    weights = [(part.source, part.weight.value if part.weight is not None else 1.0) for part in output.parts]
    yield program.applies, tuple(name for name, weight in weights if weight > 0)
    if rule.absent_above.value <= 0 and rule.otherwise.value == "reweight":
        # a share that is dust beside the others may be missing
        enough = SURE_SHARE * sum(weight for _, weight in weights)
        yield program.here, tuple(name for name, weight in weights if weight > enough)


def _with_spans(expression: Expr, replaced: Mapping[Symbol, Expr]) -> Expr:
    """The greatest less the least of a population as its span: written out, an interval of it would hold 0."""
    if not expression.args:
        return expression
    if isinstance(expression, Add) and len(expression.args) == 2:
        first, second = expression.args
        for greatest, total in replaced.items():
            least, span = total.args
            if (first, second) == (greatest, opposite(least)):
                return span
            if (first, second) == (least, opposite(greatest)):
                return opposite(span)
    return expression.func(*(_with_spans(arg, replaced) for arg in expression.args), evaluate=False)


def _strange_slots(tape: Tape, at: Enclosure) -> Iterator[int]:
    """Where a value may be lost for the first time, or a division by what changes its sign stands."""
    for slot, node in enumerate(tape.nodes):
        lost = at.hazards[slot] & UNDEFINED and not any(at.hazards[arg] & UNDEFINED for arg in node.args)
        if lost or is_pole(tape, at, slot):
            yield slot


def divisor(tape: Tape, at: Enclosure, slot: int) -> int | None:
    """The slot of what a node divides by, a negative power being a division too; None where it divides by nothing."""
    node = tape.nodes[slot]
    if isinstance(node, Quotient):
        return node.args[1]
    return node.args[0] if isinstance(node, Power) and at.values[node.args[1]].low < 0 else None


def is_pole(tape: Tape, at: Enclosure, slot: int) -> bool:
    """Whether a node divides by something that may change its sign in the box."""
    below = divisor(tape, at, slot)
    return below is not None and at.values[below].low < 0 < at.values[below].high


def _ratio_scaled(form: Form) -> Iterator[str]:
    """Measures under a curve that needs a unit whose zero means none."""
    for output in form.outputs:
        yield from (source for source, curve in output.curves if KINDS[curve.kind].ratio_scaled)


def _over_ratio_scaled(form: Form, measures: frozenset[str]) -> Iterator[str]:
    """Outputs with such a curve on one of the given measures."""
    for output in form.outputs:
        if any(KINDS[curve.kind].ratio_scaled and source in measures for source, curve in output.curves):
            yield output.name
