"""A form and a catalogue worked out by the words of the guides and the form's page, in exact numbers.

It takes the form's nouns and nothing else of the engine: no program, no sympy, no numpy. What doubles cannot tell is `LEFT_OUT`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import TypeVar

import mpmath
from exact.catalogues import BELOW, MISSING, NOT_APPLICABLE, VALUE, Summary, Written, summary_of
from exact.curves import Around, through
from exact.expressions import GivesNone, Reading, truth_of, value_of
from exact.reals import (
    HALF_ULP,
    ONE,
    Real,
    Truth,
    Undecided,
    Undefined,
    Value,
    compare,
    exponential,
    greatest,
    key_of,
    leaf,
    least,
    logarithm,
    loose,
    minus,
    over,
    plus,
    power,
    rounded,
    sign,
    thirteen,
    times,
    total,
    wide,
)

from scoring.form import BandLimit, Curve, Expression, Form, Gate, Limit, Number, Output, Part

RATED, PARTIAL, UNRATED, ABSENT = "rated", "partial", "unrated", "not applicable"
WITHHELD = "withheld"
#: A share of the weight is compared with its limit to within this.
SHARE_DUST = Fraction(1, 10**9)
#: A value may lie so far beyond its scale before it is a fault.
OFF_SCALE = Fraction(1, 10**9)


@dataclass(frozen=True, slots=True)
class LeftOut:
    """What doubles cannot tell, and why."""

    why: str


Found = Value | LeftOut | None
T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Outcome:
    """One output of one product: how it stands and its value; None where it has none."""

    status: str
    value: Found


@dataclass(frozen=True, slots=True)
class Word:
    """What one gate says of one product."""

    withholds: bool
    remark: str


@dataclass
class Oracle:
    """Everything that a form says of a catalogue; worked out when it is asked for."""

    form: Form
    written: Written
    summaries: dict[tuple[str, str], Summary] = field(default_factory=dict)
    outcomes: dict[tuple[str, str], Outcome] = field(default_factory=dict)
    figures: dict[tuple[str, str, Fraction], Value] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.measures = {measure.name: measure for measure in self.form.measures}
        self.outputs = {output.name: output for output in self.form.outputs}
        self.constants = dict(self.form.constants)
        self.attributes = {attribute.name for attribute in self.form.attributes}

    # what is there

    def summary(self, name: str, product: str) -> Summary:
        """What a product's readings come to."""
        if (name, product) not in self.summaries:
            cells = self.written.cells.get(name, {}).get(product, ())
            self.summaries[name, product] = summary_of(self.measures[name], cells)
        return self.summaries[name, product]

    def state(self, name: str, product: str) -> str:
        """Whether a name is there for a product: VALUE, MISSING or NOT_APPLICABLE."""
        if name in self.constants:
            return VALUE
        if name in self.attributes:
            return VALUE if self.written.words[name][product] else MISSING
        if name in self.measures:
            state = self.summary(name, product).state
            return VALUE if state == BELOW else state
        status = self.status(self.outputs[name], product)
        return {UNRATED: MISSING, ABSENT: NOT_APPLICABLE}.get(status, VALUE)

    def status(self, output: Output, product: str) -> str:
        """How an output stands, by its parts and its missing rule."""
        weights = _weights(output)
        states = {name: self.state(name, product) for name, _ in weights}
        applies = sum((w for name, w in weights if states[name] != NOT_APPLICABLE), Fraction(0))
        gone = sum((w for name, w in weights if states[name] == MISSING), Fraction(0))
        share = gone / applies if applies else Fraction(0)
        is_lowest = output.missing.otherwise.value == "lowest"
        absent = share > Fraction(output.missing.absent_above.text or "0") + SHARE_DUST
        if output.value is not None:
            nothing = NOT_APPLICABLE in states.values()
            absent = absent if is_lowest else MISSING in states.values()
        else:
            nothing = applies == 0
            absent = absent or (not is_lowest and share == 1)
        if _rule(output) == "absent" and output.value is None:
            nothing = nothing or any(w > 0 and states[name] == NOT_APPLICABLE for name, w in weights)
        for needed in output.missing.needs:
            state = self.state(needed, product)
            nothing = nothing or state == NOT_APPLICABLE
            absent = absent or state == MISSING
        if nothing or absent:
            return ABSENT if nothing else UNRATED
        if output.may_be_none and MISSING not in states.values() and self.gives_none(output, product):
            return UNRATED
        lacks = any(w > 0 and states[name] != VALUE for name, w in weights)
        partial = any(
            name in self.outputs and self.status(self.outputs[name], product) == PARTIAL for name, _ in weights
        )
        return PARTIAL if lacks or partial else RATED

    def gives_none(self, output: Output, product: str) -> bool:
        """Whether the branch that is taken says `none`; a condition that doubles cannot tell is left out where the value is."""
        assert output.value is not None
        try:
            value_of(output.value, self.reading(product))
        except GivesNone:
            return True
        except Undecided:
            return False
        return False

    # values

    def outcome(self, name: str, product: str) -> Outcome:
        """One output of one product."""
        if (name, product) not in self.outcomes:
            output = self.outputs[name]
            status = self.status(output, product)
            value: Found = None
            if status in (RATED, PARTIAL):
                value = decided(lambda: self.work_out(output, product))
            self.outcomes[name, product] = Outcome(status, value)
        return self.outcomes[name, product]

    def work_out(self, output: Output, product: str) -> Value:
        """The value, then limits, then rounding."""
        value = self.taken(output, product)
        for limit in output.limits:
            if limit.apply.value == "always":
                value = self.limited(value, limit, output, product)
        if output.round is not None:
            value = rounded(value, Fraction(output.round.step.text), output.round.rule.value)
        return value

    def taken(self, output: Output, product: str) -> Value:
        """By its expression, or by its parts."""
        if output.value is None:
            return self.blended(output, product)
        if any(self.state(name, product) != VALUE for name in output.value.names):
            return leaf(_text(output.scale.low))
        return value_of(output.value, self.reading(product))

    def value(self, name: str, product: str) -> Value:
        """The value of a name that is there."""
        if name in self.constants:
            return leaf(self.constants[name].text)
        if name in self.measures:
            return self.measured(name, product)
        found = self.outcome(name, product).value
        if isinstance(found, LeftOut):
            raise Undecided(found.why)
        assert found is not None
        return found

    def measured(self, name: str, product: str) -> Value:
        """The value of a measure that is there."""
        summary = self.summary(name, product)
        if summary.unsure:
            raise Undecided(summary.unsure)
        assert summary.value is not None
        return summary.value

    def members(self, name: str) -> list[Real]:
        """The value of every product that has one."""
        there = (product for product in self.written.products if self.state(name, product) == VALUE)
        return [value for product in there if isinstance(value := self.value(name, product), Real)]

    def reading(self, product: str) -> Reading:
        return Reading(
            lambda name: self.value(name, product),
            lambda name: self.written.words[name][product],
            self.figure,
        )

    def part(self, part: Part, output: Output, product: str) -> Value:
        """What a part gives: a name's value, through its curve where it has one."""
        value = self.value(part.source, product)
        return value if part.curve is None else self.curved(part.curve, value, part.source, output)

    def curved(self, curve: Curve, x: Value, source: str, output: Output) -> Value:
        high = output.scale.high
        around = Around(
            low=_text(output.scale.low),
            high=None if high is None else _text(high),
            figure=lambda name: self.reference(curve, source, name),
            members=lambda: self.population(curve, source),
        )
        return through(curve, x, around)

    def population(self, curve: Curve, source: str) -> list[Real]:
        """The members of the population that a curve leans on."""
        assert curve.reference is not None
        if not curve.reference.live:
            return [leaf(number.text) for number in curve.reference.values]
        return self.members(source)

    def reference(self, curve: Curve, source: str, name: str) -> Value:
        """A figure of that population."""
        assert curve.reference is not None
        stated = dict(curve.reference.figures)
        if not curve.reference.live and name in stated:
            return leaf(stated[name].text)
        return figure_of(name, self.population(curve, source), Fraction(0))

    def figure(self, measure: str, statistic: str, share: Fraction) -> Value:
        """A statistic of a measure, rating or score over the catalogue."""
        key = (measure, statistic, share)
        if key not in self.figures:
            name = {"minimum": "least", "maximum": "greatest"}.get(statistic, statistic)
            self.figures[key] = figure_of(name, self.members(measure), share)
        return self.figures[key]

    def blended(self, output: Output, product: str) -> Value:
        """The parts that are there under the blend; a mean of one part is that part."""
        parts: list[tuple[Real, Value]] = []
        whole = leaf(0)
        low = leaf(_text(output.scale.low))
        for part in output.parts:
            weight = leaf(part.weight.text if part.weight is not None else 1)
            state = self.state(part.source, product)
            if not (state == NOT_APPLICABLE and _rule(output) == "left out"):
                whole = _real(plus(whole, weight))
            if state == NOT_APPLICABLE or (state == MISSING and output.missing.otherwise.value != "lowest"):
                continue
            if weight.x == 0 and len(output.parts) > 1:
                continue
            parts.append((weight, low if state == MISSING else self.part(part, output, product)))
        name = output.blend.value if output.blend is not None else "weighted mean"
        if len(output.parts) == 1 and name not in ("sum", "product"):
            return parts[0][1]
        written = dict(output.numbers).get("exponent")
        exponent = leaf(written.text) if written is not None else None
        return blend(name, parts, whole, exponent)

    # conditions

    def holds(self, condition: Expression, product: str) -> Truth:
        """Whether a condition holds; it does not where it asks for something that is missing."""
        if any(self.state(name, product) != VALUE for name in condition.names):
            return False
        return truth_of(condition, self.reading(product))

    def limited(self, value: Value, limit: Limit, output: Output, product: str) -> Value:
        """The value under one limit; undefined where its condition or bound is."""
        if limit.when is not None and limit.bound is not None:
            truth = self.holds(limit.when, product)
            if truth is None:
                return Undefined("a limit whose condition has no value")
            bound: Value = leaf(limit.bound.text)
            if not truth:
                return value
        else:
            assert limit.on is not None
            assert limit.curve is not None
            if self.state(limit.on, product) != VALUE:
                return value
            bound = self.curved(limit.curve, self.value(limit.on, product), limit.on, output)
        return least([value, bound]) if limit.sense == "at_most" else greatest([value, bound])

    def gate(self, gate: Gate, product: str, spread: Callable[[str, str], float | None]) -> Word | LeftOut:
        """What a gate says; `spread` is the standard uncertainty of a measure's value."""
        withholds = bool(gate.withhold)
        lost = gate.unknown.value == "withhold"
        if any(self.state(name, product) != VALUE for name in gate.when.names):
            named = f"{', '.join(gate.when.names)} not known: gate {gate.name} not assessed"
            return Word(lost, gate.missing or named)
        try:
            truth = self.holds(gate.when, product)
            if truth is None:
                return Word(lost, gate.missing or f"`{gate.when.text}` has no value: gate {gate.name} not assessed")
            if truth:
                return Word(withholds, gate.withhold or gate.remark)
            if gate.guard is not None and self.near(gate, product, spread):
                return Word(False, gate.near)
        except Undecided as why:
            return LeftOut(str(why))
        return Word(False, "")

    def lowers(self, limit: BandLimit, product: str) -> bool | LeftOut:
        """Whether a limit of bands holds: its condition does, or hangs on what is missing, all of it applying to the product."""
        states = {name: self.state(name, product) for name in limit.when.names}
        lost = Undefined("missing")
        reading = self.reading(product)
        there = Reading(
            lambda name: reading.value(name) if states[name] == VALUE else lost,
            lambda name: reading.word(name) if states[name] == VALUE else lost,
            reading.statistic,
        )
        truth = decided(lambda: truth_of(limit.when, there))
        if isinstance(truth, LeftOut):
            return truth
        return NOT_APPLICABLE not in states.values() if truth is None else truth

    def near(self, gate: Gate, product: str, spread: Callable[[str, str], float | None]) -> bool:
        """Whether the gate would close if the measure lay the guard further on, to either side."""
        assert gate.guard is not None
        (measure,) = gate.when.names
        u = spread(measure, product)
        assert u is not None
        value = self.value(measure, product)
        reach = leaf(Fraction(gate.guard.text.removesuffix("u").strip()) * Fraction(u))
        reach = Real(reach.x, 8 * HALF_ULP * reach.size, key_of("reach", gate.name, product))
        for moved in (minus(value, reach), plus(value, reach)):
            reading = Reading(lambda _, at=moved: at, lambda name: self.written.words[name][product], self.figure)
            if truth_of(gate.when, reading):
                return True
        return False


def decided(work: Callable[[], T]) -> T | LeftOut:
    """What some work gives, or that doubles cannot tell."""
    try:
        return work()
    except Undecided as why:
        return LeftOut(str(why))


def _rule(output: Output) -> str:
    """What is done with a part that does not apply; a total that says nothing of it is not given."""
    said = output.missing.not_applicable
    if said is not None:
        return said.value
    return "absent" if output.blend is not None and output.blend.value in ("sum", "product") else "reweight"


def blend(name: str, parts: Sequence[tuple[Real, Value]], whole: Real, exponent: Real | None) -> Value:
    """Values with their weights under a blend; `whole` is the weight of all parts, there or not."""
    for _, value in parts:
        if isinstance(value, Undefined):
            return value
    values = [_real(value) for _, value in parts]
    if name in ("minimum", "maximum"):
        return (least if name == "minimum" else greatest)(values)
    weights = [weight for weight, _ in parts]
    there = total(weights)
    largest = max(value.size for value in values)
    if name in ("weighted mean", "sum"):
        mean = over(total([times(w, v) for w, v in zip(weights, values, strict=True)]), there)
        result = mean if name == "weighted mean" else times(mean, whole)
        scale = largest * (1 if name == "weighted mean" else sum(w.size for w in weights) + whole.size)
        return loose(result, scale, 4 * len(parts))
    if any(sign(value) < 0 for value in values):
        return Undefined("a part below 0")
    if name in ("geometric mean", "product"):
        if any(value.x == 0 for value in values):
            return leaf(0)
        mean = over(total([times(w, logarithm(v)) for w, v in zip(weights, values, strict=True)]), there)
        result = exponential(mean if name == "geometric mean" else times(mean, whole))
    else:
        raised = exponent if exponent is not None else leaf(-1)
        if raised.x < 0 and any(value.x == 0 for value in values):
            return leaf(0)
        mean = over(total([times(w, power(v, raised)) for w, v in zip(weights, values, strict=True)]), there)
        if isinstance(mean, Real) and mean.x == 0:
            return leaf(0)
        result = power(mean, _real(over(leaf(1), raised)))
    return loose(result, result.size if isinstance(result, Real) else 0.0, 16 * len(parts))


def figure_of(name: str, members: Sequence[Real], share: Fraction) -> Value:
    """One statistic of a population; undefined where too few are there."""
    if len(members) < (2 if name == "sd" else 1):
        return Undefined("too few members")
    ordered = sorted(
        members, key=lambda member: Fraction(str(member.x)) if not isinstance(member.x, Fraction) else member.x
    )
    n, largest = len(ordered), max(member.size for member in ordered)
    if name in ("least", "greatest"):
        return ordered[0 if name == "least" else -1]
    if name == "mean":
        return loose(over(total(ordered), leaf(n)), largest, n)
    if name == "median":
        share = Fraction(50)
    if name in ("median", "percentile"):
        place = share * (n - 1) / 100
        at = min(int(place), n - 1)
        after = ordered[min(at + 1, n - 1)]
        return loose(plus(ordered[at], times(leaf(place - at), minus(after, ordered[at]))), largest)
    if len({member.x for member in ordered}) == 1:
        return leaf(0)
    numbers = [wide(member.x) for member in ordered]
    mean = mpmath.fsum(numbers) / n
    spread = mpmath.sqrt(mpmath.fsum((number - mean) ** 2 for number in numbers) / (n - 1))
    off = 16 * n * HALF_ULP * (largest + float(spread)) + sum(member.off for member in ordered)
    return Real(spread, off, key_of("sd", *(member.key for member in ordered)))


def off_scale(output: Output, value: Real) -> bool | LeftOut:
    """Whether a value lies off its scale."""
    low = _text(output.scale.low) - OFF_SCALE
    ends = [(low, -1)] + ([] if output.scale.high is None else [(_text(output.scale.high) + OFF_SCALE, 1)])
    for end, side in ends:
        gap = side * (wide(value.x) - wide(end))
        if abs(gap) <= value.off + 4 * HALF_ULP * abs(float(end)):
            return LeftOut("about the end of the scale")
        if gap > 0:
            return True
    return False


def places(values: Mapping[str, Real], best: str, ties: str) -> dict[str, Fraction] | LeftOut:
    """The place of each product: equal values share one, by the rule for ties."""
    ordered = sorted(values.items(), key=lambda one: wide(one[1].x), reverse=best == "highest")
    groups: list[list[str]] = []
    for name, value in ordered:
        if groups:
            before = values[groups[-1][0]]
            gap = abs(wide(value.x) - wide(before.x))
            same = gap <= abs(wide(value.x)) * mpmath.mpf(10) ** -40
            if not same and gap <= 2e-11 * value.size + value.off + before.off:
                return LeftOut("values nearly tied")
            if same and not same_in_twelve(value, before):
                return LeftOut("values tied in a digit that doubles cannot tell")
            if same:
                groups[-1].append(name)
                continue
        groups.append([name])
    found: dict[str, Fraction] = {}
    first = 1
    for number, group in enumerate(groups, start=1):
        place = {
            "shared-best": Fraction(first),
            "shared-mean": first + Fraction(len(group) - 1, 2),
            "dense": Fraction(number),
        }
        found |= dict.fromkeys(group, place[ties])
        first += len(group)
    return found


def same_in_twelve(a: Real, b: Real) -> bool:
    """Whether two equal numbers have one decimal of 12 significant digits, however their doubles lie."""
    if a.key == b.key or (a.nearest and b.nearest):
        return True
    exact = thirteen(a.x)
    if exact == 0:
        return a.off == b.off == 0
    digits = exact
    while abs(digits) < 10**12:
        digits *= 10
    while abs(digits) >= 10**13:
        digits /= 10
    return digits % 10 != 5 and max(a.off, b.off) < 1e-13 * a.size


def _real(value: Value) -> Real:
    assert isinstance(value, Real)
    return value


def _text(number: Number) -> Fraction:
    return Fraction(number.text) if number.text else Fraction(repr(number.value))


def _weights(output: Output) -> list[tuple[str, Fraction]]:
    if output.value is not None:
        return [(name, ONE) for name in output.value.names]
    return [(part.source, Fraction(part.weight.text) if part.weight is not None else ONE) for part in output.parts]


__all__ = ["LeftOut", "Oracle", "Outcome", "Word", "compare", "off_scale", "places"]
