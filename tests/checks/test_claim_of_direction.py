"""Claims about an output's way with a reading: what the measure's `better` leads one to expect, proved or refuted."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest

from scoring.checks import Finding
from scoring.checks.findings import NOT_CLAIMED, NOT_DECIDED, PROVED, REFUTED

MIXED = (
    "{mix: [{measure: sag, weight: 2, curve: {line: {worst: 50, best: 0}}}, {measure: sag, weight: 1, curve: {points: "
)
PROVABLE = {
    "a line": ("{measure: sag, curve: {line: {worst: 50, best: 0}}}", "sag", "falls with it"),
    "anchors that are no doubles": (
        "{measure: sag, curve: {points: {0.1: 9.9, 0.3: 9.7, 33.3: 1.1}}}",
        "sag",
        "falls with it",
    ),
    "a smooth curve": ("{measure: lift, curve: {smooth: {5: 1, 20: 6, 45: 10}}}", "lift", "rises with it"),
    "a power": ("{measure: lift, curve: {power: {worst: 0, best: 40, exponent: 0.5}}}", "lift", "rises with it"),
    "steps": ("{measure: sag, curve: {steps: {0: 10, 10: 7, 30: 2}}}", "sag", "falls with it"),
    "a live z": ("{measure: warmth, curve: {z: {centre: 5, per_sd: 2, better: lower}}}", "warmth", "falls with it"),
    "a live minmax": ("{measure: lift, curve: {minmax: {}}}", "lift", "rises with it"),
    "a live standing": ("{measure: sag, curve: {standing: {better: lower}}}", "sag", "falls with it"),
    "a live ratio": ("{measure: width, curve: {ratio: {better: lower}}}", "width", "falls with it"),
    "two curves of one measure, of which one prevails": (
        f"{MIXED}{{0: 0, 25: 8, 50: 10}}}}}}]}}",
        "sag",
        "falls with it",
    ),
    "two curves of one measure that cancel": (f"{MIXED}{{0: 0, 50: 10}}}}}}]}}", "sag", "falls with it"),
    "branches that meet": ('{value: "where(sag < 35, 10 - sag/10, 6.5 - (sag - 35)/20)"}', "sag", "falls with it"),
    "a jump downwards": ('{value: "where(sag < 35, 10 - sag/10, 2)"}', "sag", "falls with it"),
    "a choice by a word": ('{value: "where(filling == foam, 10 - sag/10, 8 - sag/20)"}', "sag", "falls with it"),
    "a quotient": ('{value: "10*lift/(lift + sag + 5)"}', "lift", "rises with it"),
    "its other reading": ('{value: "10*lift/(lift + sag + 5)"}', "sag", "falls with it"),
    "below the live mean": ('{value: "where(sag < mean(sag), 8, 3)"}', "sag", "falls with it"),
    "a flat curve": ("{measure: lift, curve: {points: {-10: 3, -5: 4}}}", "lift", "does not matter: it moves nothing"),
    "an unstated measure": ("{measure: warmth, curve: {line: {worst: 0, best: 60}}}", "warmth", "rises with it"),
}


@pytest.mark.parametrize("name", PROVABLE)
def test_a_rating_that_goes_one_way_is_proved(finding_of: Callable[..., Finding], name: str) -> None:
    """The proof closes and the way is told."""
    body, measure, detail = PROVABLE[name]
    finding = finding_of(f"ratings: {{a: {body}}}", "a", "direction", measure)
    assert (finding.verdict, finding.detail) == (PROVED, detail)


REFUTABLE = {
    "an upward curve of what should be low": ("{measure: sag, curve: {line: {worst: 0, best: 50}}}", "sag", 1, 2),
    "a dip": ("{measure: lift, curve: {points: {0: 1, 20: 6, 30: 5, 50: 9}}}", "lift", -1, 2),
    "a narrow dip": ('{value: "lift/10 - 0.5*exp(-(lift - 17.371)**2*100)"}', "lift", -1, 2),
    "both ways of an unstated measure": (
        "{measure: warmth, curve: {target: {low: 0, best: 20, high: 40}}}",
        "warmth",
        1,
        4,
    ),
}


@pytest.mark.parametrize("name", REFUTABLE)
def test_a_rating_that_goes_the_wrong_way_is_refuted(finding_of: Callable[..., Finding], name: str) -> None:
    """Two settings show it, or two pairs where one way or the other would have done."""
    body, measure, sign, count = REFUTABLE[name]
    finding = finding_of(f"ratings: {{a: {body}}}", "a", "direction", measure)
    assert finding.verdict == REFUTED
    assert len(finding.counterexample) == count
    first, second = finding.counterexample[:2]
    assert sign * (second.value - first.value) > 0
    readings = [float(text) for case in (first, second) for name, text, _ in case.inputs if name == measure]
    assert readings[0] < readings[1]


def test_a_cap_on_the_strong_is_refuted_and_one_on_the_weak_is_proved(finding_of: Callable[..., Finding]) -> None:
    """A limit turns the way round where its condition turns on as the reading rises."""
    body = """
ratings:
  a: {measure: lift, curve: {line: {worst: 0, best: 50}}}
  b: {measure: sag, curve: {line: {worst: 50, best: 0}}}
scores:
  weak: {blend: weighted mean, weights: {a: 1, b: 1}, limits: [{when: a < 4, at_most: 3}]}
  strong: {blend: weighted mean, weights: {a: 1, b: 1}, limits: [{when: a > 8, at_most: 6}]}
  lifted: {blend: weighted mean, weights: {a: 1, b: 1}, limits: [{when: a > 8, at_least: 6}]}
"""
    assert finding_of(body, "weak", "direction", "lift").verdict == PROVED
    assert finding_of(body, "lifted", "direction", "lift").verdict == PROVED
    finding = finding_of(body, "strong", "direction", "lift")
    assert finding.verdict == REFUTED
    assert "falls from" in finding.detail


def test_what_is_proved_of_a_rating_carries_through_a_chain_of_scores(finding_of: Callable[..., Finding]) -> None:
    """A score of a score of a rating that needs subdivision is proved without more ado."""
    body = """
ratings: {a: {value: "lift*(110 - lift)/300"}, b: {measure: sag, curve: {line: {worst: 50, best: 0}}}}
scores:
  c: {blend: geometric mean, weights: {a: 2, b: 1}, limits: [{on: b, at_most: {points: {0: 4, 5: 10}}}]}
  d: {blend: harmonic mean, weights: {c: 1, b: 3}, round: {step: 0.1}}
"""
    for measure, detail in (("lift", "rises with it"), ("sag", "falls with it")):
        finding = finding_of(body, "d", "direction", measure)
        assert (finding.verdict, finding.detail) == (PROVED, detail)


def test_the_lowest_rank_turns_the_expectation_round(finding_of: Callable[..., Finding]) -> None:
    """Where the least score ranks first, a score of faults must rise with what is better low."""
    body = "ranks: {on: unrounded, best: lowest}\nratings: {a: {measure: sag, curve: {line: {worst: 0, best: 50}}}}"
    finding = finding_of(body, "a", "direction", "sag")
    assert (finding.verdict, finding.claim) == (PROVED, "does not fall as sag rises")


@pytest.mark.parametrize(
    ("body", "measure"),
    [
        ("{measure: width, curve: {target: {low: 1, best: 5, high: 9}}}", "width"),
        ("{measure: sag, neutral: true, curve: {target: {low: 1, best: 5, high: 9}}}", "sag"),
    ],
    ids=["a measure that is better neither way", "a neutral rating"],
)
def test_no_claim_is_made_where_none_is_meant(finding_of: Callable[..., Finding], body: str, measure: str) -> None:
    """The shape is told, and nothing is refuted."""
    finding = finding_of(f"ratings: {{a: {body}}}", "a", "direction", measure)
    assert finding.verdict == NOT_CLAIMED
    assert finding.detail.startswith("both rises (by 10 at most in the search) and falls (by 10")


def test_a_way_is_told_even_where_none_is_claimed(finding_of: Callable[..., Finding]) -> None:
    """A measure that is better neither way, under a curve that only rises, is proved to rise."""
    finding = finding_of(
        "ratings: {a: {measure: width, curve: {line: {worst: 1, best: 9}}}}", "a", "direction", "width"
    )
    assert (finding.verdict, finding.detail) == (PROVED, "rises with it")


def test_an_open_proof_tells_the_stretch_that_is_open(finding_of: Callable[..., Finding]) -> None:
    """Branches that meet along a curve are not seen to meet: the claim stays open, and says where."""
    body = 'ratings: {a: {value: "where(lift*lift < width*10, lift*lift/300, width/30)"}}'
    finding = finding_of(body, "a", "direction", "lift")
    assert finding.verdict == NOT_DECIDED
    assert re.fullmatch(r"open after \d+ boxes, between 0 and \S+ mm of lift", finding.detail)
