"""Claims that an output stays on its scale: proved, refuted with inputs to type in again, or left open with a reason."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from scoring.checks import Finding, check
from scoring.checks.findings import NOT_DECIDED, PROVED, REFUTED
from scoring.program.program import Program

HEAD_OPEN = "formula: invented\nscale: {from: 0}\nmeasures: {sag: {unit: mm, plausible: [0, 50]}}"
PROVABLE = {
    "a clamped line": "{measure: sag, curve: {line: {worst: 50, best: 0}}}",
    "a smooth curve": "{measure: width, curve: {smooth: {1: 2, 3: 7, 5: 10, 7: 3}}}",
    "a quotient that nears the top": '{value: "10*lift/(lift + sag + 5)"}',
    "a parabola that touches the top inside": '{value: "sag*(50 - sag)/62.5"}',
    "a bump": '{value: "5 + 4*exp(-(sag - 20)**2/50)"}',
    "a reciprocal of what is never 0": '{value: "clamp(1/(lift*lift - lift + 1), 0, 10)"}',
    "a choice by word": '{value: "where(filling == foam, 10 - sag/10, 8 - sag/10)"}',
    "a rounding that goes up": "{measure: sag, curve: {line: {worst: 50, best: 0}}, round: {step: 0.5, rule: up}}",
    "a live z": "{measure: sag, curve: {z: {centre: 5, per_sd: 3}}}",
    "a live standing": "{measure: sag, curve: {standing: {better: lower}}}",
    "a measure without a range": "{measure: noise, curve: {logistic: {middle: 35, spread: 3}}}",
}


@pytest.mark.parametrize("name", PROVABLE)
def test_a_rating_that_stays_on_its_scale_is_proved(finding_of: Callable[..., Finding], name: str) -> None:
    """The proof closes for every kind of curve and for expressions whose bounds only just hold."""
    finding = finding_of(f"ratings: {{a: {PROVABLE[name]}}}", "a", "scale")
    assert finding.verdict == PROVED, finding
    assert finding.counterexample == ()


REFUTABLE = {
    "a line carried on": ("{measure: sag, curve: {line: {worst: 45, best: 10}, outside: extended}}", 10.0, math.inf),
    "points above the scale": ("{measure: lift, curve: {points: {0: 2, 30: 10.5, 50: 3}}}", 10.0, 10.5),
    "a peak between the samples": ('{value: "10.01 - (sag - 17.371)**2/250"}', 10.0, 10.01),
    "a sum of weights above 1": (
        "{blend: sum, mix: [{measure: sag, weight: 1.2, curve: {line: {worst: 50, best: 0}}}]}",
        10.0,
        12.0,
    ),
    "below the scale": ('{value: "3 - lift/10"}', -2.0, 0.0),
}


@pytest.mark.parametrize("name", REFUTABLE)
def test_a_rating_that_leaves_its_scale_is_refuted_with_its_inputs(
    finding_of: Callable[..., Finding], name: str
) -> None:
    """The counter-example lies off the scale, and its inputs have few digits."""
    body, low, high = REFUTABLE[name]
    finding = finding_of(f"ratings: {{a: {body}}}", "a", "scale")
    assert finding.verdict == REFUTED
    (case,) = finding.counterexample
    assert low <= case.value <= high
    assert not 0 <= case.value <= 10
    assert all(len(text) <= 6 and unit == "mm" for _, text, unit in case.inputs)


def test_a_counterexample_can_be_typed_in_again(finding_of: Callable[..., Finding]) -> None:
    """The printed reading, put through the line by hand, gives the printed value."""
    finding = finding_of(f"ratings: {{a: {REFUTABLE['a line carried on'][0]}}}", "a", "scale")
    (case,) = finding.counterexample
    ((name, text, unit),) = case.inputs
    assert (name, unit) == ("sag", "mm")
    assert case.value == pytest.approx(10 * (float(text) - 45) / (10 - 45), abs=1e-12)


def test_a_reading_without_a_value_refutes_the_claim(finding_of: Callable[..., Finding]) -> None:
    """A logarithm below 0 within the plausible range is found, and the reading is named."""
    finding = finding_of("ratings: {a: {measure: warmth, curve: {log: {worst: 1, best: 60}}}}", "a", "scale")
    assert finding.verdict == REFUTED
    assert math.isnan(finding.counterexample[0].value)
    assert finding.detail.startswith("has no value where warmth = -")


@pytest.mark.parametrize(
    "body",
    ["{measure: noise, curve: {log: {worst: 60, best: 20}}}", '{value: "clamp(300/noise, 0, 10)"}'],
    ids=["a log curve", "a division"],
)
def test_a_measure_without_a_range_is_asked_for_one(finding_of: Callable[..., Finding], body: str) -> None:
    """Where all reals make no sense, readings above 0 are proved, the verdict stays open and a range is asked for."""
    finding = finding_of(f"ratings: {{a: {body}}}", "a", "scale")
    assert finding.verdict == NOT_DECIDED
    assert finding.detail == "holds for `noise` above 0 only; give the measure `noise` a plausible range"


def test_only_what_needs_it_is_held_above_zero(finding_of: Callable[..., Finding]) -> None:
    """Another rating of the same measure is proved over all reals; a score of both is not."""
    body = """
ratings:
  logs: {measure: noise, curve: {log: {worst: 60, best: 20}}}
  calm: {measure: noise, curve: {line: {worst: 60, best: 20}}}
scores: {both: {blend: weighted mean, weights: {logs: 1, calm: 1}}}
"""
    assert finding_of(body, "calm", "scale").verdict == PROVED
    assert finding_of(body, "both", "scale").verdict == NOT_DECIDED


def test_a_root_below_its_range_is_left_open_where_the_range_is_not_stated(finding_of: Callable[..., Finding]) -> None:
    """A reading without a value refutes nothing where no plausible range says that it can occur."""
    finding = finding_of('ratings: {a: {value: "clamp(sqrt(noise - 30), 0, 10)"}}', "a", "scale")
    assert finding.verdict == NOT_DECIDED
    assert finding.detail.startswith("has no value where noise = ")
    assert finding.detail.endswith("; give the measure `noise` a plausible range")


def test_a_scale_that_is_open_at_the_top_is_held_at_its_low_end_only(finding_of: Callable[..., Finding]) -> None:
    """Points without a top are proved; one that can fall below 0 is refuted."""
    fine = finding_of("ratings: {a: {measure: sag, curve: {points: {0: 0, 50: 5000}}}}", "a", "scale", head=HEAD_OPEN)
    assert (fine.verdict, fine.claim) == (PROVED, "stays on its scale, 0 or more")
    poor = finding_of('ratings: {a: {value: "sag - 1"}}', "a", "scale", head=HEAD_OPEN)
    assert poor.verdict == REFUTED


def test_an_unproved_claim_says_how_far_it_was_taken(finding_of: Callable[..., Finding]) -> None:
    """Two terms that cancel without the algebra being seen stay open, with the boxes and the samples told."""
    finding = finding_of('ratings: {a: {value: "10 + (exp(sag/10) - exp(sag/20)**2)/1000"}}', "a", "scale")
    assert finding.verdict == NOT_DECIDED
    assert finding.detail.startswith("open after ")
    assert finding.samples > 1000


def test_a_formula_without_measures_is_checked_too(program_of: Callable[..., Program]) -> None:
    """A constant is proved on its scale and continuous, and nothing is asked of the kernel in vain."""
    report = check(program_of('ratings: {a: {value: "3"}}', "formula: invented"))
    assert [(f.kind, f.verdict) for f in report.findings] == [("scale", PROVED), ("continuity", PROVED)]


def test_missing_parts_cannot_lift_a_score_off_its_scale(finding_of: Callable[..., Finding]) -> None:
    """Every pattern of missing parts is within the proof, for each blend."""
    body = """
ratings:
  a: {measure: sag, curve: {line: {worst: 50, best: 0}}}
  b: {measure: lift, curve: {line: {worst: 0, best: 50}}}
scores: {s: {blend: BLEND, weights: {a: 0.3, b: 0.7}, missing: {absent_above: 0.8, otherwise: OTHERWISE}}}
"""
    for blend in ("weighted mean", "geometric mean", "harmonic mean", "minimum", "maximum", "sum", "product"):
        for otherwise in ("reweight", "lowest"):
            text = body.replace("BLEND", blend).replace("OTHERWISE", otherwise)
            assert finding_of(text, "s", "scale").verdict == PROVED, (blend, otherwise)
