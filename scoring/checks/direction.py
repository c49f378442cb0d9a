"""The claim that an output goes one way with a reading, all else held: other readings, presence, words, the reference."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from scoring.checks.bench import Answers, Setting
from scoring.checks.cases import cases, retyped
from scoring.checks.domain import Domain
from scoring.checks.findings import NOT_CLAIMED, NOT_DECIDED, PROVED, REFUTED, Case, Finding
from scoring.checks.given import gone_on_without, turned_by_none
from scoring.checks.nodes import UNDEFINED, Enclosure
from scoring.checks.proving import MOST_BOXES, NOT_TRIED, Attempt, Box, prove
from scoring.checks.survey import NO_CHANGE, Pair, Survey, look_into
from scoring.checks.wording import advice, as_typed, give_a_range, open_after, open_between
from scoring.form import Measure, Output
from scoring.numbers.intervals import INFINITY, Interval

UP, DOWN, EITHER, NONE = "up", "down", "either", "none"


@dataclass(frozen=True, slots=True, eq=False)
class Way:
    """What is known of an output's way with a reading: its slope over the whole box, as far as it has been proved."""

    slope: Interval
    attempts: tuple[Attempt, ...]


def wanted(output: Output, measure: Measure) -> str:
    """Which way the form expects an output to go with a measure: up or down, either but not both, or none.

    Where its best rank is the lowest the expectation is turned round. A neutral output makes no claim.
    """
    better = measure.better.value
    if output.neutral or better == "neither":
        return NONE
    if better == "unstated":
        return EITHER
    return UP if (better == "higher") == (output.ranks.best.value == "highest") else DOWN


@dataclass(frozen=True, slots=True, eq=False)
class _Asked:
    """Which way one output goes with one measure: what the form wants, and what the search met."""

    survey: Survey
    output: Output
    measure: Measure
    want: str

    @property
    def domain(self) -> Domain:
        return self.survey.bench.domain

    @property
    def key(self) -> tuple[str, str]:
        return self.output.name, self.measure.name

    @property
    def rises(self) -> bool:
        """Whether the search met a rise."""
        return self.key in self.survey.rises

    @property
    def falls(self) -> bool:
        """Whether the search met a fall."""
        return self.key in self.survey.falls

    @property
    def is_contradicted(self) -> bool:
        """Whether what the search met is not what is wanted."""
        return {UP: self.falls, DOWN: self.rises}.get(self.want, self.rises and self.falls)


def direction_finding(survey: Survey, output: Output, measure: Measure) -> Finding:
    """The finding on one output and one measure."""
    asked = _Asked(survey, output, measure, wanted(output, measure))
    way = _prove_way(asked)
    if not _settled(way, asked.want) and not asked.is_contradicted:
        boxes = [box for attempt in way.attempts for box in attempt.open]
        look_into(survey, boxes, output.name, measure.name)
    claim = _claim(asked.want, measure.name)
    samples = survey.samples(output.name, (measure.name,))
    shown: tuple[Case, ...] = ()
    if asked.want != NONE and asked.is_contradicted:
        verdict = REFUTED
        shown, detail = _counterexample(asked)
        detail += _if_meant(asked) + advice(asked.domain, output.name)
    else:
        verdict, detail = _verdict(asked, way)
    return Finding(output.name, "direction", measure.name, claim, verdict, detail, shown, (), samples, output.place)


def _if_meant(asked: _Asked) -> str:
    """What to write where an output is meant to go both ways with a measure of which nothing is said."""
    if asked.want != EITHER:
        return ""
    return f"; if that is meant, write `better: neither` under {asked.measure.address}"


def _prove_way(asked: _Asked) -> Way:
    """Prove what the survey leaves open: that it never falls, that it never rises, or both."""
    domain, (output, measure) = asked.domain, asked.key
    slot, seed = domain.outputs[output], domain.measures[measure]
    attempts, low, high = [], -INFINITY, INFINITY
    if not asked.falls and (asked.want != DOWN or not asked.rises):
        attempt, low = _prove_one(domain, output, measure, 1)
        attempts.append(attempt)
    if not asked.rises and (asked.want != UP or not asked.falls):
        attempt, least = _prove_one(domain, output, measure, -1)
        attempts.append(attempt)
        high = -least
    way = Way(Interval(low, high), tuple(attempts))
    before = domain.tape.slope_facts.get((slot, seed), Interval(-INFINITY, INFINITY))
    domain.tape.slope_facts[slot, seed] = before.meet(way.slope)
    return way


def _prove_one(domain: Domain, output: str, measure: str, sign: int) -> tuple[Attempt, float]:
    """Try to prove that sign times the output never falls; the least slope that was met in it, -infinity if it fails.

    A fall by less than a billionth of a point over the whole range counts as none: half of it is shared out by length,
    half among the boxes, for those that only rounding keeps open (a curve's own end, an anchor that is no double).
    """
    if domain.purse.is_empty:
        return NOT_TRIED, -INFINITY
    slot, seed = domain.outputs[output], domain.measures[measure]
    field = domain.field([slot], output, measure)
    dependent = domain.tape.depending([seed], field.slots)
    by_length, by_box = NO_CHANGE / 2 / field.box[seed].width, NO_CHANGE / 2 / MOST_BOXES
    least = [INFINITY]

    def holds(box: Box, at: Enclosure) -> bool:
        field.spend(dependent)
        slope = domain.tape.slopes(at, seed, dependent).at(slot)
        worst = slope.low if sign > 0 else -slope.high
        if at.hazards[slot] & UNDEFINED or (worst < -by_length and -worst * box[seed].width > by_box):
            return False
        least[0] = min(least[0], worst)
        return True

    attempt = prove(field, holds, MOST_BOXES)
    return attempt, least[0] if attempt.closed else -INFINITY


def _settled(way: Way, want: str) -> bool:
    """Whether the proof answers the claim."""
    rises, falls = way.slope.low > -INFINITY, way.slope.high < INFINITY
    return {UP: rises, DOWN: falls}.get(want, rises or falls)


def _claim(want: str, measure: str) -> str:
    return {
        UP: f"does not fall as {measure} rises",
        DOWN: f"does not rise as {measure} rises",
        EITHER: f"goes one way with {measure}",
        NONE: f"no claim about its way with {measure}",
    }[want]


def _verdict(asked: _Asked, way: Way) -> tuple[str, str]:
    """The verdict and its detail where nothing refutes the claim."""
    domain, output = asked.domain, asked.output.name
    never_falls, never_rises = way.slope.low > -INFINITY, way.slope.high < INFINITY
    if _settled(way, asked.want):
        if (never_falls and never_rises) or way.slope.is_zero:
            detail = "does not matter: it moves nothing"
        elif never_falls:
            detail = "rises with it" if asked.rises else "never falls with it"
        else:
            detail = "falls with it" if asked.falls else "never rises with it"
        turned = turned_by_none(domain.program.form, output, asked.measure.name)
        if turned:
            return NOT_DECIDED, gone_on_without(turned)
        if domain.held_above_zero(output):
            return NOT_DECIDED, f"{detail}, for {give_a_range(domain, output)}"
        return PROVED, detail
    if asked.want == NONE:
        return NOT_CLAIMED, _shape(asked.survey, asked.key)
    boxes = [box for attempt in way.attempts for box in attempt.open]
    between = open_between(boxes, domain.measures[asked.measure.name], asked.measure)
    return NOT_DECIDED, f"{open_after(way.attempts)}{between}" + advice(domain, output)


def _shape(survey: Survey, key: tuple[str, str]) -> str:
    rises, falls = survey.rises.get(key), survey.falls.get(key)
    if rises and falls:
        return f"both rises (by {rises.change:.3g} at most in the search) and falls (by {-falls.change:.3g})"
    return "rises as far as the search went" if rises else "falls as far as the search went"


def _counterexample(asked: _Asked) -> tuple[tuple[Case, ...], str]:
    """Two settings that go the wrong way, or two pairs that go both ways."""
    survey, (output, measure) = asked.survey, asked.key
    pairs: list[tuple[Pair, int]] = []
    if asked.want in (DOWN, EITHER):
        pairs.append((survey.rises[asked.key], 1))
    if asked.want in (UP, EITHER):
        pairs.append((survey.falls[asked.key], -1))
    settings: list[Setting] = []
    for pair, sign in pairs:
        settings += retyped(survey.bench, output, (pair.first, pair.second), _moves(output, pair.change, sign))
    shown = cases(survey.bench, output, settings)
    said = [_said(shown[2 * i : 2 * i + 2], measure) for i in range(len(pairs))]
    return shown, "; ".join(said)


def _moves(output: str, change: float, sign: int) -> Callable[[Answers], bool]:
    def refutes(answers: Answers) -> bool:
        before, after = answers.values[output]
        return bool(sign * (after - before) > abs(change) / 4)

    return refutes


def _said(two: Sequence[Case], measure: str) -> str:
    (first, second), word = two, "rises" if two[1].value > two[0].value else "falls"
    texts = [next(as_typed(text, unit) for name, text, unit in each.inputs if name == measure) for each in two]
    return f"{word} from {first.value:.6g} to {second.value:.6g} as {measure} rises from {texts[0]} to {texts[1]}"
