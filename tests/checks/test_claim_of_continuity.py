"""Claims of continuity: declared jumps are listed with their sizes, undeclared ones refute with two near readings."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from scoring.checks import Finding
from scoring.checks.findings import NOT_DECIDED, PROVED, REFUTED

FALLING = "measure: sag, curve: {line: {worst: 50, best: 0}}"
CONTINUOUS = {
    "a broken line": "{measure: sag, curve: {points: {0: 10, 12.5: 7, 40: 1}}}",
    "branches that meet at a number": '{value: "where(sag < 35, 10 - sag/10, 6.5 - (sag - 35)/20)"}',
    "branches that meet along a line": '{value: "where(sag < lift, sag*width, lift*width)/50"}',
    "branches that meet in two conditions": '{value: "where(sag < 10 or sag > 30, 3, 3 + (sag - 10)*(30 - sag)/100)"}',
    "a choice by a word": '{value: "where(filling == foam, 10 - sag/10, 8)"}',
    "a condition that never turns": '{value: "where(sag < 60, 10 - sag/10, 0)"}',
    "a smooth limit": f"{{{FALLING}, limits: [{{on: lift, at_most: {{points: {{0: 2, 9: 10}}}}}}]}}",
    "a division by what is never 0": '{value: "clamp(10/(lift*lift - lift + 1), 0, 10)"}',
    "a limit that never bites": f"{{{FALLING}, limits: [{{when: lift < 9, at_most: 10}}]}}",
}


@pytest.mark.parametrize("name", CONTINUOUS)
def test_a_continuous_rating_is_proved_so(finding_of: Callable[..., Finding], name: str) -> None:
    """No jump is listed, and the claim is proved."""
    finding = finding_of(f"ratings: {{a: {CONTINUOUS[name]}}}", "a", "continuity")
    assert (finding.verdict, finding.jumps, finding.claim) == (PROVED, (), "is continuous"), finding


UNDECLARED = {
    "a choice": ('{value: "where(sag < 35, 8, 3)"}', 5.0, 34.9, 35.1),
    "a division by 0 in the midst": ('{value: "clamp(5 + 1/(sag - 20), 0, 10)"}', 10.0, 19.9, 20.1),
    "branches that nearly meet": ('{value: "where(sag < 35, 10 - sag/10, 6.49)"}', 0.01, 34.9, 35.1),
}


@pytest.mark.parametrize("name", UNDECLARED)
def test_an_undeclared_jump_is_refuted_by_two_near_readings(finding_of: Callable[..., Finding], name: str) -> None:
    """The two readings lie close together, the values apart by the jump."""
    body, size, low, high = UNDECLARED[name]
    finding = finding_of(f"ratings: {{a: {body}}}", "a", "continuity")
    assert finding.verdict == REFUTED
    first, second = finding.counterexample
    readings = [float(case.inputs[0][1]) for case in (first, second)]
    assert low <= readings[0] < readings[1] <= high
    assert readings[1] - readings[0] <= 0.1
    assert abs(second.value - first.value) == pytest.approx(size, rel=0.11)


WRITTEN_ROUNDINGS = {
    "a floor": ('{value: "floor(sag/5)"}', 1.0),
    "a ceiling in a product": ('{value: "ceil(sag/50 + 0.5)*5"}', 5.0),
    "a rounding inside": ('{value: "round(sag/10, 0.5)"}', 0.5),
}


@pytest.mark.parametrize("name", WRITTEN_ROUNDINGS)
def test_a_rounding_in_an_expression_is_declared(finding_of: Callable[..., Finding], name: str) -> None:
    """Whoever writes floor, ceil or round says that it jumps; the size is told."""
    body, size = WRITTEN_ROUNDINGS[name]
    finding = finding_of(f"ratings: {{a: {body}}}", "a", "continuity")
    assert finding.verdict == PROVED
    assert {(jump.kind, jump.declared) for jump in finding.jumps} == {("rounding", True)}
    assert max(jump.at_most for jump in finding.jumps) == pytest.approx(size, rel=1e-6)


def test_a_standing_jumps_at_every_member(finding_of: Callable[..., Finding]) -> None:
    """A percentile rank is stepped by nature: whoever writes `standing` says so."""
    finding = finding_of("ratings: {a: {measure: sag, curve: {standing: {better: lower}}}}", "a", "continuity")
    assert finding.verdict == PROVED
    (jump,) = finding.jumps
    assert (jump.kind, jump.address, jump.declared) == ("standing", "ratings.a", True)


def test_the_steps_of_a_table_are_listed_with_their_exact_sizes(finding_of: Callable[..., Finding]) -> None:
    """Each edge within the plausible range where the rating changes, and no other."""
    body = "ratings: {a: {measure: sag, curve: {steps: {0: 10, 10: 7, 20: 7, 30: 2, 60: 1}}}}"
    finding = finding_of(body, "a", "continuity")
    assert (finding.verdict, finding.claim) == (PROVED, "is continuous but for 2 declared jumps")
    assert [(j.where, j.at_most, j.exact, j.kind) for j in finding.jumps] == [
        ("sag = 10", 3.0, True, "steps"),
        ("sag = 30", 5.0, True, "steps"),
    ]


def test_a_jump_shrinks_with_its_share_of_the_weight(finding_of: Callable[..., Finding]) -> None:
    """A table of a quarter of the weight jumps by a quarter of its steps; with parts missing, by up to all of them."""
    body = """
ratings:
  a: {measure: sag, curve: {steps: {0: 10, 10: 6}}}
  b: {measure: lift, curve: {line: {worst: 0, best: 50}}}
scores:
  s: {blend: weighted mean, weights: {a: 1, b: 3}, missing: {needs: [a, b]}}
  t: {blend: weighted mean, weights: {a: 1, b: 3}}
"""
    (jump,) = finding_of(body, "s", "continuity").jumps
    assert (jump.where, jump.address, jump.exact) == ("sag = 10", "ratings.a", True)
    assert (jump.at_most, jump.met) == (pytest.approx(1.0), pytest.approx(1.0))
    (jump,) = finding_of(body, "t", "continuity").jumps
    assert not jump.exact
    assert (jump.at_most, jump.met) == (pytest.approx(4.0), pytest.approx(4.0))


def test_a_stepped_limit_is_bounded_where_its_condition_turns(finding_of: Callable[..., Finding]) -> None:
    """At a = 4 the mean of a and b is 7 at most: a cap of 5 takes 2 points off, and the search meets that."""
    body = """
ratings:
  a: {measure: lift, curve: {line: {worst: 0, best: 50}}}
  b: {measure: sag, curve: {line: {worst: 50, best: 0}}}
scores: {s: {blend: weighted mean, weights: {a: 1, b: 1}, limits: [{when: a < 4, at_most: 5}]}}
"""
    finding = finding_of(body, "s", "continuity")
    (jump,) = finding.jumps
    assert (finding.verdict, jump.kind, jump.where, jump.declared) == (PROVED, "limit", "where `a < 4` turns", True)
    assert jump.at_most == pytest.approx(2.0, abs=1e-9)
    assert jump.met == pytest.approx(2.0, abs=1e-6)


def test_a_rounding_under_round_is_declared(finding_of: Callable[..., Finding]) -> None:
    """A score rounded by its own rule jumps by its step, exactly, and the claim stands."""
    body = "ratings: {a: {measure: sag, curve: {line: {worst: 50, best: 0}}, round: {step: 0.5}}}"
    finding = finding_of(body, "a", "continuity")
    assert finding.verdict == PROVED
    (jump,) = finding.jumps
    assert (jump.kind, jump.exact) == ("rounding", True)
    assert (jump.at_most, jump.met) == (pytest.approx(0.5), pytest.approx(0.5))


def test_an_undeclared_jump_refutes_what_builds_on_it(finding_of: Callable[..., Finding]) -> None:
    """A score inherits the jump of its rating, and names the rating's address."""
    body = """
ratings: {a: {value: "where(sag < 35, 8, 3)"}, b: {measure: lift, curve: {line: {worst: 0, best: 50}}}}
scores: {s: {blend: weighted mean, weights: {a: 1, b: 1}, missing: {needs: [a, b]}}}
"""
    finding = finding_of(body, "s", "continuity")
    assert finding.verdict == REFUTED
    assert "at ratings.a.value" in finding.detail
    assert abs(finding.counterexample[0].value - finding.counterexample[1].value) == pytest.approx(2.5, rel=0.01)


def test_branches_whose_meeting_is_not_seen_stay_open(finding_of: Callable[..., Finding]) -> None:
    """Branches that meet along a curve are not seen to meet: the search meets no jump, and the claim stays open."""
    body = 'ratings: {a: {value: "where(lift*lift < sag*10, lift*lift/300, sag/30)"}}'
    finding = finding_of(body, "a", "continuity")
    assert finding.verdict == NOT_DECIDED
    assert finding.detail == "open at ratings.a.value, though the search met no jump"


def test_a_declared_jump_below_a_choice_is_not_held_against_it(finding_of: Callable[..., Finding]) -> None:
    """A choice on a table of steps whose branches are equal at 4 turns only where the table jumps: nothing is refuted."""
    body = """
ratings:
  a: {measure: sag, curve: {steps: {0: 10, 10: 2}}}
  b: {value: "where(a < 4, a, 2*a - 4)/2"}
"""
    finding = finding_of(body, "b", "continuity")
    assert finding.verdict == NOT_DECIDED
    assert [jump.kind for jump in finding.jumps] == ["steps", "choice"]
