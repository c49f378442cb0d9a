"""What a condition says of the numbers under it: a guarded division has a value, and one that is not guarded may have none."""

from __future__ import annotations

import pytest
from written_forms import form_of

from scoring.checks import check
from scoring.program.program import compile_form

HEAD = """\
formula: guards
scale: {from: 0, to: 10}
measures:
  a: {unit: "1", plausible: [0, 10]}
  b: {unit: "1", plausible: [0, 10]}
"""

GUARDED = [
    "where(b > 0, clamp(a / b, 0, 10), 0)",
    "where(b <= 0, 0, clamp(a / b, 0, 10))",
    "where(b == 0, 0, clamp(a / b, 0, 10))",
    "where(b != 0, clamp(a / b, 0, 10), 0)",
    "where(0 < b, clamp(a / b, 0, 10), 0)",
    "where(b >= 1, clamp(a / b, 0, 10), 0)",
    "where(b > 0 and a / b < 5, 1, 2)",
    "where(b <= 0 or a / b < 5, 1, 2)",
    "where(not (b > 0 and a > 2), 3, clamp(log(b), 0, 5))",
    "where(a - b > 1, clamp(1 / (a - b), 0, 10), 0)",
    "where(a >= 2 and a <= 4, sqrt(a - 2), 1)",
]
UNGUARDED = [
    "clamp(a / b, 0, 10)",
    "where(a > 0, clamp(a / b, 0, 10), 0)",
    "where(b >= 0, clamp(a / b, 0, 10), 0)",
    "where(b > 0 or a > 1, clamp(a / b, 0, 10), 0)",
    "where(a / b < 5, 1, 2)",
    "where(a > 1 and a / b < 5, 1, 2)",
    "where(b > 0, 1, clamp(a / b, 0, 10))",
    "where(a >= 2 or a <= 4, clamp(sqrt(a - 2), 0, 10), 1)",
]


def verdict_of(value: str) -> str:
    """What becomes of the claim that the rating has a value on its scale everywhere."""
    report = check(compile_form(form_of(f"{HEAD}ratings:\n  r: {{value: '{value}'}}\n")))
    return next(finding.verdict for finding in report.findings if finding.kind == "scale")


@pytest.mark.parametrize("value", GUARDED)
def test_what_stands_under_a_guard_is_proved_to_have_a_value(value: str) -> None:
    """The condition is taken into the branch, and into the conditions beside it."""
    assert verdict_of(value) == "proved"


@pytest.mark.parametrize("value", UNGUARDED)
def test_what_no_guard_keeps_from_0_is_refuted(value: str) -> None:
    """The same arithmetic under a condition that lets a 0 through."""
    assert verdict_of(value) == "refuted"


def gate_warnings(condition: str, more: str = "") -> list[str]:
    """What is said of a gate under a condition on two measures that may be 0."""
    text = f"{HEAD}ratings:\n  r: {{value: a}}\ngates:\n  - {{name: g, when: '{condition}', withhold: no{more}}}\n"
    report = check(compile_form(form_of(text)))
    return [warning.says for warning in report.warnings if warning.topic == "no value"]


@pytest.mark.parametrize("condition", ["a > 5", "b > 0 and a / b < 5", "not (b <= 0 or a / b < 5)", "r / (b + 1) > 2"])
def test_nothing_is_said_of_a_gate_that_can_be_asked_everywhere(condition: str) -> None:
    """No division by 0 in it, or one that another condition keeps away."""
    assert gate_warnings(condition) == []


def test_a_gate_that_may_have_no_value_is_said_to_let_through_or_to_withhold() -> None:
    """With the remark that stands there."""
    (said,) = gate_warnings("a / b < 5")
    remark = "with the remark “`a / b < 5` has no value: gate g not assessed”"
    lead = "`a / b < 5` may have no value somewhere (a division by 0, say); "
    assert said == f"{lead}the scores stand there, {remark}: write `unknown: withhold` if they must not"
    (said,) = gate_warnings("a / b < 5", ", unknown: withhold")
    assert said == f"{lead}the scores are withheld there, {remark}"


def test_what_has_no_value_somewhere_is_not_continuous() -> None:
    """The place that refutes the scale decides continuity as well."""
    report = check(compile_form(form_of(f"{HEAD}ratings:\n  r: {{value: 'clamp(a / b, 0, 10)'}}\n")))
    verdicts = {f.kind: (f.verdict, f.detail.split(" where")[0]) for f in report.findings if f.kind != "direction"}
    assert verdicts == {"scale": ("refuted", "has no value"), "continuity": ("refuted", "has no value")}
