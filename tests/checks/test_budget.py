"""The budget of a check: work is counted, what it leaves open is not decided, and says what ended it."""

from __future__ import annotations

import warnings
from collections.abc import Callable

import pytest

from scoring.checks import Finding, check, proving, sizes
from scoring.checks.check import prove_claims
from scoring.checks.findings import NOT_DECIDED, PROVED, REFUTED
from scoring.program.program import Program

#: A value that subdivision alone can hold on its scale.
BENT = 'ratings: {a: {value: "5 + (sag - 25)*(lift - 25)/150 - (sag - 25)*(lift - 25)/160 + (sag*sag - 50*sag)/2500"}}'
STEPPED = (
    "ratings: {a: {measure: sag, curve: {steps: {0: 10, 20: 4}}}, b: {measure: lift, curve: {steps: {0: 1, 20: 4}}}}"
)


def many_limits(count: int) -> tuple[str, str]:
    """A head and a body of so many measures, ratings and limits on one score."""
    names = range(count)
    head = "formula: invented\nscale: {from: 0, to: 10}\nmeasures:\n"
    head += "\n".join(f"  m{i}: {{unit: mm, better: lower, plausible: [0, 100]}}" for i in names)
    ratings = "\n".join(f"  r{i}: {{measure: m{i}, curve: {{points: {{0: 10, 100: 0}}}}}}" for i in names)
    limits = ", ".join(f"{{when: r{i} < 4, at_most: {4 + i % 5}}}" for i in names)
    weights = ", ".join(f"r{i}: {1 + i % 5}" for i in names)
    return head, f"ratings:\n{ratings}\nscores: {{s: {{weights: {{{weights}}}, limits: [{limits}]}}}}"


def test_what_the_work_runs_out_for_is_not_decided(
    finding_of: Callable[..., Finding], monkeypatch: pytest.MonkeyPatch
) -> None:
    """With next to no work set aside the claim stays open and says so; the whole box is still looked at."""
    assert finding_of(BENT, "a", "scale").verdict == PROVED
    for name, amount in (("MOST_WORK", 40), ("MOST_WORK_IN_ALL", 40), ("MOST_WORK_ON_WHOLE_BOXES", 100_000)):
        monkeypatch.setattr(proving, name, amount)
    finding = finding_of(BENT, "a", "scale")
    assert (finding.verdict, finding.detail) == (
        NOT_DECIDED,
        "open after 1 box, where the work set aside for proofs was spent",
    )
    assert finding_of(STEPPED, "a", "scale").verdict == PROVED


def test_jumps_that_the_work_runs_out_for_are_not_decided(
    finding_of: Callable[..., Finding], monkeypatch: pytest.MonkeyPatch
) -> None:
    """An output whose places were not all looked at is not proved continuous but for those that were."""
    assert finding_of(STEPPED, "b", "continuity").verdict == PROVED
    monkeypatch.setattr(sizes, "MOST_WORK_ON_JUMPS", 0)
    finding = finding_of(STEPPED, "b", "continuity")
    assert finding.verdict == NOT_DECIDED
    assert finding.detail == "open: the work set aside for jumps ended before every place was looked at"


def test_a_form_of_many_limits_stays_within_its_work(program_of: Callable[..., Program]) -> None:
    """Sixteen limits on one score: what is spent is what is set aside, and one attempt's last box."""
    head, body = many_limits(16)
    findings, domain = prove_claims(program_of(body, head))
    assert domain.purse.spent < proving.MOST_WORK_IN_ALL + proving.MOST_WORK
    assert domain.purse.on_jumps < proving.MOST_WORK_ON_JUMPS
    (continuity,) = (f for f in findings if (f.output, f.kind) == ("s", "continuity"))
    assert (continuity.verdict, len(continuity.jumps)) == (PROVED, 16)


def test_a_setting_off_the_scale_refutes_beside_one_without_a_value(finding_of: Callable[..., Finding]) -> None:
    """A logarithm of a reading without a range may be lost, and is off the scale where it is not: that decides."""
    finding = finding_of('ratings: {a: {value: "20 + log(noise)"}}', "a", "scale")
    assert finding.verdict == REFUTED
    assert finding.counterexample[0].value == finding.counterexample[0].value


def test_a_value_that_a_measure_with_a_range_takes_away_is_refuted(finding_of: Callable[..., Finding]) -> None:
    """The root of a negative has no value whatever the noise is, though the noise has no range."""
    finding = finding_of('ratings: {a: {value: "clamp(sqrt(sag - 25) + noise, 0, 10)"}}', "a", "scale")
    assert finding.verdict == REFUTED
    assert finding.detail.startswith("has no value where sag = ")


def test_nothing_is_said_on_standard_error(program_of: Callable[..., Program]) -> None:
    """States and values that are infinite are no matter for a warning of numpy's."""
    bodies = (
        'ratings: {a: {value: "clamp(round(1/(sag - 25)), 0, 10)"}}',
        'ratings: {a: {value: "round(log(sag))", round: {step: 0.5}}, b: {value: "where(a < 2, 1/sag, log(lift))"}}',
    )
    for body in bodies:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            check(program_of(body))
