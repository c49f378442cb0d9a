"""Which single numbers may turn an order round: thresholds, exponents, ratings at anchors and the rest; none passed over unsaid."""

from __future__ import annotations

import numpy as np
import pytest
from extent import examples
from generated_forms import Drawn, scored_forms
from hypothesis import given, settings
from scipy.optimize import brentq
from written_forms import score

from analysis.flips.contest import Contest, contest_of
from analysis.flips.found import KINDS, READING, Change, Flip
from analysis.flips.study import flip_of
from analysis.flips.unlooked import unlooked_of
from analysis.flips.verdict import verdict
from analysis.flips.ways import EXPONENT, RATING, SHARE, SPREAD, THRESHOLD, WRITTEN, outputs_under, ways_of
from scoring.addresses.addresses import addressed, set_address
from scoring.addresses.publication import is_of_publication
from scoring.form import Choice, Number
from scoring.table.table import ScoreTable, score_catalogue

HEAD = """\
formula: trial
scale: {from: 0, to: 10}
constants: {lift: 1.5}
measures:
  x: {unit: mm, plausible: [0, 100]}
  y: {unit: dB, plausible: [10, 90], reporting_limit: 5}
"""
RATINGS = """\
ratings:
  a: {measure: x, curve: {line: {worst: 0, best: 100}}}
  b: {measure: y, curve: {points: {0: 0, 50: 6, 100: 10}}}
"""
HELD = (
    HEAD
    + RATINGS
    + "scores:\n  s: {blend: weighted mean, weights: {a: 1, b: 1}, limits: [{when: b < 3, at_most: 4}]}\n"
)
POWERED = HEAD + RATINGS + "scores:\n  s: {blend: power mean, exponent: 1, weights: {a: 1, b: 1}}\n"
WROTE = HEAD + RATINGS + "scores:\n  s: {value: 'where(x > 40, a + 0.25 * b, b) + lift', scale: {from: 0, to: 20}}\n"
CURVED = """\
ratings:
  a: {measure: x, curve: {power: {worst: 0, best: 100, exponent: 1}}}
  b: {measure: y, curve: {logistic: {middle: 50, spread: 20, better: higher}}}
scores:
  s: {blend: weighted mean, weights: {a: 1, b: 1}}
"""


def flipped(text: str, **readings: list[float]) -> Flip:
    """The changes by which p2 catches p1."""
    return flip_of(score(text, readings), "s", "p2", "p1", seed=0)


def of(found: Flip, ending: str) -> Change:
    """The change of the number whose address ends so."""
    (change,) = [each for each in found.changes if each.name.endswith(ending)]
    return change


def confirm(table: ScoreTable, change: Change) -> None:
    """What is printed, written into the formula's text and scored again, puts p2 level with p1 or above."""
    ((address, _, text),) = change.settings
    values = score_catalogue(set_address(table.form, address, text), table.catalogue).column("s").value
    assert values[1] >= values[0] - 1e-9, change


def test_a_threshold_by_hand() -> None:
    """b is 6 and 6.4: only a threshold above 6 and not above 6.4 holds p1 at 4, and leaves p2 at its 6.7."""
    found = flipped(HELD, x=[90, 70], y=[50, 55])
    change = of(found, "limits.1.when.1")
    assert change.kind == THRESHOLD
    assert change.exact == pytest.approx(3, abs=1e-6)
    assert change.verdict == "proved"
    assert 6 < float(change.settings[0][2]) <= 6.4
    assert change.certificate is not None
    assert (change.certificate.other_after, change.certificate.after) == pytest.approx((4, 6.7))
    confirm(found.table, change)
    assert "s.limits.1.when.1 goes from 3 to 6.01 points, the smallest change of any single threshold" in verdict(
        found, {}
    )


def test_a_threshold_has_the_room_of_what_it_is_compared_with() -> None:
    """A measure's plausible range, widened to what is stated; a rating's scale; elsewhere as far again on both sides."""
    text = HELD.replace("[{when: b < 3, at_most: 4}]", "[{when: y < 5 or 3 > b or 2 * b < 6, at_most: 4}]")
    rooms = [
        (way.low, way.high, way.unit)
        for way in ways_of(contest(score(text, {"x": [90, 70], "y": [50, 55]})))
        if way.kind == THRESHOLD
    ]
    assert rooms == [(5, 90, "dB"), (0, 10, "points"), (0, 4, ""), (0, 12, "")]


def contest(table: ScoreTable) -> Contest:
    """p2 against p1."""
    return contest_of(table, table.column("s"), 1, 0)


def test_the_exponent_of_a_mean_against_a_root_found_by_another_method() -> None:
    """Parts (9, 4.8) and (6.6, 6.4): p1 leads at 1; the power means are level where Brent's method says."""
    found = flipped(POWERED, x=[90, 66], y=[40, 55])
    change = of(found, ".exponent")

    def lead(e: float) -> float:
        return float(((9**e + 4.8**e) / 2) ** (1 / e) - ((6.6**e + 6.4**e) / 2) ** (1 / e))

    assert change.kind == EXPONENT
    assert lead(1) > 0
    assert 1 + change.exact == pytest.approx(brentq(lead, -9, -0.01), abs=1e-6)
    confirm(found.table, change)


def test_the_exponent_and_the_spread_of_curves_against_roots_found_by_another_method() -> None:
    """0.8^e - 0.7^e falls to what p2 gains in b, or a narrower S gains more: each where Brent's method says."""
    found = flipped(HEAD + CURVED, x=[80, 70], y=[50, 57])
    steep, wide = of(found, "power.exponent"), of(found, "logistic.spread")

    def lead(exponent: float, spread: float) -> float:
        s = [10 / (1 + np.exp(-(y - 50) / spread)) for y in (50, 57)]
        return float(10 * (0.8**exponent - 0.7**exponent) + s[0] - s[1])

    assert (steep.kind, wide.kind) == (EXPONENT, SPREAD)
    assert 1 + steep.exact == pytest.approx(brentq(lambda e: lead(e, 20), 0.1, 1), abs=1e-6)
    assert 20 + wide.exact == pytest.approx(brentq(lambda s: lead(1, s), 2.1, 19), abs=1e-6)
    assert {steep.verdict, wide.verdict} == {"proved"}
    assert wide.share == pytest.approx(np.log(float(wide.settings[0][2]) / 20) / np.log(100))
    for change in (steep, wide):
        confirm(found.table, change)


def test_a_rating_at_an_anchor_by_hand() -> None:
    """a is 8 and 7, b is 6 and 6.4 between anchors at 50 and 100: with the upper one's rating at r, p2 gains (r - 6) / 10."""
    text = HELD.replace("100: 10}", "100: 8}")
    found = flipped(text, x=[73, 70], y=[50, 55])
    (change,) = [each for each in found.changes if each.kind == RATING and each.settings and each.settings[0][1] == 8]
    assert change.exact == pytest.approx(1, abs=1e-6)
    assert change.verdict == "searched"
    confirm(found.table, change)


def test_numbers_of_an_expression_and_constants() -> None:
    """Both readings pass 40: p1 leads by 1 - 0.1, and level needs 2.5 for 0.25, or a threshold between; lift never helps."""
    found = flipped(WROTE, x=[80, 70], y=[50, 55])
    threshold, factor, lift = of(found, "value.1"), of(found, "value.2"), of(found, "constants.lift")
    assert {threshold.kind, factor.kind, lift.kind} == {WRITTEN}
    assert threshold.exact == pytest.approx(40, abs=1e-6)
    assert (factor.verdict, factor.why) == ("impossible", "not from 0 to 0.5")
    assert (lift.verdict, lift.why) == ("impossible", "not from 0 to 3")
    near = of(flipped(WROTE, x=[71.2, 70], y=[50, 55]), "value.2")
    assert near.exact == pytest.approx(0.05, abs=1e-6)
    assert near.verdict == "proved"


def test_a_share_that_may_be_missing_is_looked_at_where_a_part_is() -> None:
    """p1 lacks y, 50 % of b: b stands on x alone until its share is below 50 %, then drops out and leaves a; p2 has all."""
    text = (
        HEAD
        + """\
ratings:
  a: {measure: x, curve: {line: {worst: 0, best: 100}}}
  b:
    mix:
      - {measure: x, weight: 1, curve: {line: {worst: 0, best: 50}}}
      - {measure: y, weight: 1, curve: {line: {worst: 10, best: 90}}}
    missing: {absent_above: 0.6}
scores:
  s: {blend: weighted mean, weights: {a: 1, b: 1}, missing: {absent_above: 0.7}}
"""
    )
    found = flipped(text, x=[50, 60], y=[float("nan"), 50])
    change = of(found, "ratings.b.missing.absent_above")
    assert (change.kind, change.verdict) == (SHARE, "searched")
    assert change.exact == pytest.approx(-0.1, abs=1e-6)
    confirm(found.table, change)
    whole = flipped(text, x=[80, 60], y=[50, 50])
    assert not [each for each in whole.changes if each.kind == SHARE]
    assert "ratings.b.missing.absent_above" in looked_past(whole)["shares that may be missing"]


def looked_past(found: Flip) -> dict[str, tuple[str, ...]]:
    """The addresses of each kind that was not looked at."""
    assert all(one.why and one.addresses for one in found.unlooked)
    return {one.what: one.addresses for one in found.unlooked}


def test_what_is_not_looked_at_is_named_by_kind() -> None:
    """The scale's ends, a reporting limit, a gate, a limit that is off, a percentile's share, a frozen population, choices."""
    text = (
        HEAD
        + """\
ratings:
  a: {measure: x, curve: {standing: {better: higher}, reference: {values: [10, 40, 70]}}}
  b: {value: "percentile(y, 30) / 10", round: {step: 0.01, rule: half-up}}
scores:
  s: {blend: weighted mean, weights: {a: 1, b: 1}, limits: [{when: b < 3, at_most: 4, apply: never}]}
gates:
  - {name: loud, when: y > 80, withhold: too loud, missing: not read}
"""
    )
    past = looked_past(flipped(text, x=[80, 5], y=[50, 55]))
    assert past["switched-off limits"] == ("scores.s.limits.1.when.1", "scores.s.limits.1.at_most")
    assert past["ends of a scale"] == ("scale.from", "scale.to")
    assert past["rounding steps"] == ("ratings.b.round.step",)
    assert past["what is done to readings"] == ("measures.y.reporting_limit",)
    assert past["gates"] == ("gates.loud.when.1",)
    assert past["shares of a percentile"] == ("ratings.b.value.1",)
    assert len(past["frozen populations"]) == 3
    assert "scores.s.limits.1.apply" in past["choices"]
    assert "other numbers" not in past


@settings(max_examples=examples(25))
@given(scored_forms(missing=True))
def test_every_number_is_looked_at_or_named_as_not(drawn: tuple[Drawn, dict[str, list[float]]]) -> None:
    """Of forms drawn at random: each number under a score is in one of the two lists, and none that it computes with is left over."""
    form, readings = drawn
    table = score(form.text, readings)
    for column in table.scores:
        there = np.flatnonzero(~np.isnan(column.value))
        if len(there) < 2:
            continue
        one = contest_of(table, column, int(there[0]), int(there[1]))
        ways = {way.number.address for way in ways_of(one)}
        past = {address for each in unlooked_of(one) for address in each.addresses}
        own = {part.weight.address for part in column.output.parts if part.weight is not None}
        assert not ways & past
        for output in outputs_under(one):
            shown = {output.scale.show.step.address, output.scale.show.rule.address}
            nouns = {noun.address for noun in addressed(output) if isinstance(noun, Number | Choice)}
            shown |= {address for address in nouns if is_of_publication(address)}
            assert nouns - shown <= ways | past | own
        assert not [each for each in unlooked_of(one) if each.what == "other numbers"]


@pytest.mark.parametrize("seed", range(5))
def test_nothing_nearer_turns_the_order_where_that_is_proved(seed: int) -> None:
    """Thresholds, exponents, spreads, written numbers: random values nearer than the change, or in all its room, do not."""
    rng = np.random.default_rng(seed)
    text = HEAD + CURVED.replace(
        "weights: {a: 1, b: 1}",
        "weights: {a: 1, b: 1}, limits: [{when: b < 3 or x < 20, at_most: 4}, {when: a > 8, at_least: 6}]",
    )
    table = score(text, {"x": rng.uniform(10, 90, 2).round(1), "y": rng.uniform(15, 85, 2).round(1)})
    behind = int(np.argmin(table.column("s").value))
    found = flip_of(table, "s", f"p{behind + 1}", f"p{2 - behind}", seed=0)
    one = contest_of(table, table.column("s"), behind, 1 - behind)
    looked = [change for change in found.changes if change.kind in (THRESHOLD, EXPONENT, SPREAD)]
    assert len(looked) == 5
    for change in looked:
        number = one.program.parameters[change.name][1].value
        if change.verdict == "proved":
            values = number + rng.uniform(-0.995, 0.995, 300) * abs(change.exact)
            if change.kind != THRESHOLD:
                values = np.maximum(values, number / 10)
        elif change.verdict == "impossible":
            low, high = (float(word) for word in change.why.removeprefix("not from ").split(" to "))
            values = rng.uniform(low, high, 300)
        else:
            continue
        assert (one.margins({change.name: values}) < 0).all(), change


def test_a_number_that_divides_by_nothing_reaches_nothing() -> None:
    """b is 5 for both over 10; at 0 both scores are infinite, which is no tie."""
    text = HEAD + RATINGS + "scores:\n  s: {value: a + 0 * b / 10}\n"
    change = of(flipped(text, x=[80, 70], y=[50, 50]), "value.2")
    assert (change.name, change.found) == ("scores.s.value.2", False)


def test_every_kind_has_its_place_in_the_order() -> None:
    """No kind of way is unknown to what puts the changes in order."""
    assert {THRESHOLD, EXPONENT, SPREAD, RATING, SHARE, WRITTEN, READING} <= set(KINDS)


def test_the_step_of_a_rounding_in_an_expression_stays_above_0() -> None:
    """It moves by a factor: at 0 nothing can be rounded, and the study ended there."""
    text = (
        HEAD
        + """\
ratings:
  a: {value: "clamp(round(x, 0.5) / 10, 0, 10)"}
  b: {measure: y, curve: {points: {0: 0, 50: 6, 100: 10}}}
scores:
  s: {blend: weighted mean, weights: {a: 1, b: 1}}
"""
    )
    found = flipped(text, x=[52, 48], y=[50, 40])
    assert found.state == "behind"
    ways = ways_of(contest_of(found.table, found.column, 1, 0))
    (way,) = (one for one in ways if one.number.address == "ratings.a.value.1")
    assert (way.number.value, way.low, way.high) == (0.5, 0.05, 5.0)
