"""The claim that a rating or score stays on its scale, and has a value wherever it is published."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from scoring.checks.bench import Answers, Bench, Setting
from scoring.checks.cases import cases, retyped_as_scored
from scoring.checks.domain import Domain, scale_of
from scoring.checks.findings import NOT_DECIDED, PROVED, REFUTED, Case, Finding
from scoring.checks.nodes import INFINITE, UNDEFINED, Enclosure
from scoring.checks.proving import MOST_BOXES, NOT_TRIED, Attempt, Box, Field, prove
from scoring.checks.survey import Extreme, Survey, look_into
from scoring.checks.wording import advice, at_inputs, give_a_range, open_after
from scoring.form import Output
from scoring.numbers.intervals import ZERO, Interval, point

#: How far off its scale a value may be and count as on it.
SLACK = 1e-9
QUICK = 64
#: How many readings of a measure without a plausible range are tried, to see whether it is it that takes the value away.
BARE_READINGS = 9
MOST_SIDES = 8


@dataclass(frozen=True, slots=True)
class Ends:
    """The scale's ends, the top being infinite where it is open, and the same with the slack."""

    low: float
    high: float

    @property
    def allowed(self) -> Interval:
        """The scale with its slack."""
        return Interval(self.low - SLACK, self.high + SLACK)


def ends_of(output: Output) -> Ends:
    """The ends of an output's scale."""
    scale = scale_of(output)
    return Ends(scale.low, scale.high)


def prove_on_scale(domain: Domain, output: Output, budget: int = QUICK) -> Attempt:
    """Try to prove it; what is proved is noted on the tape, for all that builds on this output."""
    if domain.purse.is_empty:
        return NOT_TRIED
    slot = domain.outputs[output.name]
    allowed = ends_of(output).allowed
    field = domain.field([slot], output.name)

    has_nones, has_shares = domain.tape.has_nones(field.slots), domain.tape.has_shares(field.slots)

    def holds(box: Box, at: Enclosure) -> bool:
        if has_nones or has_shares:
            field.spend(field.slots)
            at = domain.tape.run(box, field.slots, field.root, given=has_nones, among=True)
        if at.hazards[slot] & (UNDEFINED | INFINITE):
            return False
        if _inside(at.values[slot], allowed):
            return True
        # slopes know nothing of what is not given, nor of a product that is among its own population
        by_slopes = not (has_nones or has_shares) and len(box) <= MOST_SIDES
        return by_slopes and _holds_at_ends(field, box, at, slot, allowed)

    attempt = prove(field, holds, budget)
    if attempt.closed:
        domain.note_value(slot, allowed)
    return attempt


def _inside(value: Interval, allowed: Interval) -> bool:
    return allowed.low <= value.low and value.high <= allowed.high


def _holds_at_ends(field: Field, box: Box, at: Enclosure, slot: int, allowed: Interval) -> bool:
    """Whether the value fits once its slopes are looked at.

    A side along which it only rises, or only falls, is drawn to the end that counts; along the others it lies within the
    slope's reach of its value in the middle.
    """
    bottom, top = dict(box), dict(box)
    reach = ZERO
    for side, interval in box.items():
        field.spend(field.slots)
        slope = field.tape.slopes(at, side, field.slots).at(slot)
        if slope.low >= 0 or slope.high <= 0:
            low, high = (interval.low, interval.high) if slope.low >= 0 else (interval.high, interval.low)
            bottom[side], top[side] = point(low), point(high)
        else:
            bottom[side] = top[side] = point(interval.middle)
            reach = reach + slope * (interval - point(interval.middle))
    lowest, highest = (field.run(ends).values[slot] + reach for ends in (bottom, top))
    return lowest.low >= allowed.low and highest.high <= allowed.high


def scale_finding(survey: Survey, output: Output, quick: Attempt) -> Finding:
    """The finding: from the proof at hand, a counter-example, or a longer attempt at either."""
    domain, attempt, refuting = survey.bench.domain, quick, None
    if not quick.closed:
        refuting = _off_scale(survey, output)
        if refuting is None:
            attempt = prove_on_scale(domain, output, MOST_BOXES)
    if not attempt.closed and refuting is None:
        look_into(survey, attempt.open, output.name)
        refuting = _off_scale(survey, output)
    claim = domain.with_premise(output.name, _claim(output))
    samples = survey.samples(output.name, domain.leans_on(output.name))
    if attempt.closed:
        verdict, detail = PROVED, "for all readings in their plausible ranges, whatever is missing"
        if domain.held_above_zero(output.name):
            verdict, detail = NOT_DECIDED, "holds for " + give_a_range(domain, output.name)
        return Finding(output.name, "scale", "", claim, verdict, detail, (), (), samples, output.place)
    if refuting is None:
        detail = open_after([attempt]) + advice(domain, output.name)
        return Finding(output.name, "scale", "", claim, NOT_DECIDED, detail, (), (), samples, output.place)
    shown, verdict, detail = _refuted(survey.bench, output, refuting)
    return Finding(output.name, "scale", "", claim, verdict, detail, shown, (), samples, output.place)


def _claim(output: Output) -> str:
    low, high = output.scale.low, output.scale.high
    return (
        f"stays on its scale, {low.text} or more" if high is None else f"stays on its scale, {low.text} to {high.text}"
    )


def _off_scale(survey: Survey, output: Output) -> Extreme | None:
    """A setting at which the output leaves its scale, the furthest there is, or else one at which it has no value.

    The search holds the reference population still; what is told must come out with the product in it.
    """
    allowed = ends_of(output).allowed
    found = [(survey.most.get(output.name), 1), (survey.least.get(output.name), -1)]
    out = [
        (extreme.value - allowed.high if sign > 0 else allowed.low - extreme.value, extreme)
        for extreme, sign in found
        if extreme is not None
    ]
    ordered = [extreme for by, extreme in sorted(out, key=lambda pair: -pair[0]) if by > 0]
    lost = survey.without.get(output.name)
    told = [*ordered, *([lost] if lost is not None else [])]
    return next((extreme for extreme in told if _comes_out(survey.bench, output, extreme.setting)), None)


def _comes_out(bench: Bench, output: Output, setting: Setting) -> bool:
    there, placed = bench.as_scored(setting)
    answers = there.ask([placed])
    value, published = float(answers.values[output.name][0]), bool(answers.published[output.name][0])
    return published and not ends_of(output).allowed.contains(value)


def _refuted(bench: Bench, output: Output, refuting: Extreme) -> tuple[tuple[Case, ...], str, str]:
    """The counter-example as it is typed in again, the verdict, and its detail."""
    allowed, name = ends_of(output).allowed, output.name
    has_value = not math.isnan(refuting.value)

    def refutes(answers: Answers) -> bool:
        value, published = float(answers.values[name][0]), bool(answers.published[name][0])
        return published and (not allowed.contains(value) if has_value else math.isnan(value))

    there, setting = retyped_as_scored(bench, name, refuting.setting, refutes)
    shown = cases(there, name, [setting])
    value = shown[0].value
    lost = not math.isfinite(value)
    detail = ("has no value" if lost else f"is {value:.10g}") + at_inputs(shown[0])
    open_still = lost and not _lost_whatever_is_bare(there, name, setting)
    return shown, NOT_DECIDED if open_still else REFUTED, detail + advice(bench.domain, name)


def _lost_whatever_is_bare(bench: Bench, output: str, setting: Setting) -> bool:
    """Whether an output has no value at a setting, whatever is read of the measures without a plausible range."""
    moved, domain = [setting], bench.domain
    for name in sorted(domain.bare & set(domain.leans_on(output))):
        low, high = bench.spans[name]
        readings = {*np.linspace(low, high, BARE_READINGS).tolist(), *bench.hints[name]}
        moved += [setting.moved(name, reading) for reading in sorted(readings)]
    answers = bench.ask(moved)
    return bool(np.all(answers.published[output] & ~np.isfinite(answers.values[output])))
