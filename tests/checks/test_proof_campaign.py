"""A few forms of the campaign of proofs: nothing that `check` says of them is contradicted by what they score."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from extent import some
from proof_campaign import Tally, form_of, hold, try_form
from proof_forms import form_by_chance
from typer.testing import CliRunner

from analysis.cli.main import app
from scoring.checks import Checked, check
from scoring.checks.findings import PROVED
from scoring.program.program import compile_form

BATCHES, EACH = 6, 6
TWO_TABLES = """
formula: chance
scale: {from: 0, to: 10}
measures:
  a: {unit: "1", better: lower, plausible: [0, 100]}
ratings:
  r1: {measure: a, curve: {steps: {0: 10, 30: 5}}}
  r2: {measure: a, curve: {steps: {0: 10, 40: 5}}}
scores: {s1: {parts: [r1, r2]}}
"""


@pytest.mark.parametrize("batch", some(range(BATCHES), 2))
def test_no_form_by_chance_contradicts_its_check(batch: int) -> None:
    """Proofs, bounds of jumps and counter-examples of a batch of forms stand up to their scores."""
    tally = Tally()
    for index in range(batch * EACH, (batch + 1) * EACH):
        try_form(41, index, tally, n_lines=6)
    assert not tally.false, "\n".join(f"{said}\n{text}" for _, said, text in tally.false)
    assert tally.counts["claims proved"] > EACH
    assert tally.counts["jumps met"] > EACH


def test_the_campaign_sees_a_jump_that_is_not_told() -> None:
    """A report of two tables without the jumps of one of them falls, and so does one whose bounds are halved."""
    form = form_of(TWO_TABLES)
    assert form is not None
    program = compile_form(form)
    report = check(program)
    rng = np.random.default_rng(0)
    assert hold(program, report, rng, Tally(), 6) == []
    untold = tuple(replace(f, jumps=f.jumps[:1]) for f in report.findings)
    halved = tuple(
        replace(f, jumps=tuple(replace(j, at_most=j.at_most / 2, exact=False) for j in f.jumps))
        for f in report.findings
    )
    for findings, word in ((untold, "no jump is told there"), (halved, "at most")):
        assert any(word in said for said in hold(program, Checked(findings, ()), rng, Tally(), 6))


def test_the_command_says_what_the_campaign_checks(tmp_path: Path) -> None:
    """`steelyard check --json` gives the verdicts and bounds of the function, for a form by chance."""
    path = tmp_path / "form.yaml"
    path.write_text(form_by_chance(41, 3), encoding="utf-8")
    form = form_of(form_by_chance(41, 3))
    assert form is not None
    findings = check(compile_form(form)).findings
    assert any(finding.verdict == PROVED for finding in findings)
    run = CliRunner().invoke(app, ["check", str(path), "--json"])
    assert run.stderr == ""
    told = json.loads(run.stdout)["findings"]
    assert [(f["output"], f["kind"], f["verdict"]) for f in told] == [(f.output, f.kind, f.verdict) for f in findings]
    assert [[j["at_most"] for j in f["jumps"]] for f in told] == [[j.at_most for j in f.jumps] for f in findings]
