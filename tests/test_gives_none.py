"""Expressions that give no value under a condition: `none` as a branch of `where`, and what becomes of what takes it."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner
from written_forms import HEAD, faults_of, form_of, inputs_of_arrays, score, statuses_of, values_of

from analysis.cli.main import app
from analysis.explanation.trace import trace
from analysis.methods_appendix.formulas import formulas_of
from scoring.addresses.addresses import set_address
from scoring.checks import check
from scoring.checks.given import turned_by_none
from scoring.errors import ScoringError
from scoring.program.program import compile_form
from scoring.table.evaluate import evaluate, kernel_for, stages
from scoring.table.table import GIVES_NONE

FORM = """\
formula: trial
scale: {{from: 0, to: 10}}
measures:
  x: {{unit: "1", better: lower, plausible: [0, 100], repeatability: 1}}
  y: {{unit: "1", better: higher, plausible: [0, 100], repeatability: 1}}
ratings:
  quiet: {{value: "{value}"}}
  edge: {{measure: y, curve: {{line: {{worst: 0, best: 100}}}}}}
scores:
  total: {{weights: {{quiet: 1, edge: 3}}{missing}}}
"""
LOUD = "where(x < 30, none, 12 - x / 15)"
READINGS = {"x": [20.0, 30.0, 75.0], "y": [40.0, 50.0, 90.0]}
# 12 - 30/15 = 10 and 12 - 75/15 = 7; edge is 4, 5 and 9.
TOTALS = {
    "": [None, (10 + 15) / 4, (7 + 27) / 4],
    ", missing: {absent_above: 0.3}": [4, 6.25, 8.5],
    ", missing: {absent_above: 0.2}": [None, 6.25, 8.5],
    ", missing: {otherwise: lowest}": [3, 6.25, 8.5],
    ", missing: {absent_above: 1, needs: [quiet]}": [None, 6.25, 8.5],
}


@pytest.mark.parametrize("missing", TOTALS)
def test_what_is_not_given_is_missing_for_what_takes_it(missing: str) -> None:
    """By each missing rule, worked by hand; the rating has no value, and says why."""
    table = score(FORM.format(value=LOUD, missing=missing), READINGS)
    assert statuses_of(table, "quiet") == ["unrated", "rated", "rated"]
    assert table.column("quiet").remarks == {0: (GIVES_NONE,)}
    found = [None if math.isnan(value) else value for value in table.column("total").value]
    assert found == [None if value is None else pytest.approx(value) for value in TOTALS[missing]]
    assert table.column("total").remarks[0] == (f"quiet is missing ({GIVES_NONE})",)


WORKED = {
    "where(x > 30, 5, none)": [None, None, 5],
    "where(x < 30, none, where(x > 60, none, 3))": [None, 3, None],
    "where(x < 30, where(y < 45, none, 1), 2)": [None, 2, 2],
    "where(y > 45, none, 1 / (y - 50))": None,  # the third product: y is 90, and is none; the first 1 / -10
}


@pytest.mark.parametrize("value", [one for one, expected in WORKED.items() if expected])
def test_every_branch_that_says_none_gives_none(value: str) -> None:
    """The other way round, nested, and under two conditions."""
    found = values_of(FORM.format(value=value, missing=""), "quiet", **READINGS)
    assert [None if math.isnan(one) else one for one in found] == WORKED[value]


def test_a_condition_without_a_value_is_no_none() -> None:
    """Three values: it neither holds nor fails, and the table is refused as for any other `where`."""
    text = FORM.format(value="where(1 / (x - 30) > 0, none, 3)", missing="")
    with pytest.raises(ScoringError, match="1 is divided by 0"):
        score(text, READINGS)
    beside = FORM.format(value="where(x == 30 or 1 / (x - 30) > 0, none, 3)", missing="")
    assert statuses_of(score(beside, READINGS), "quiet") == ["rated", "unrated", "unrated"]


def test_what_is_not_taken_need_have_no_value() -> None:
    """A division by 0 under the condition that says `none` is none, and beside it a fault."""
    fine = FORM.format(value="where(x == 30, none, clamp(1 / (x - 30), 0, 10))", missing="")
    assert statuses_of(score(fine, READINGS), "quiet") == ["rated", "unrated", "rated"]
    with pytest.raises(ScoringError, match="divided by 0"):
        score(FORM.format(value="where(x == 20, none, clamp(1 / (x - 30), 0, 10))", missing=""), READINGS)


def test_what_is_missing_stays_missing() -> None:
    """A product without the reading has no value for want of it, and not by its expression."""
    table = score(FORM.format(value=LOUD, missing=""), {"x": [math.nan], "y": [40.0]})
    assert table.column("quiet").remarks == {0: ("x is missing",)}


@pytest.mark.parametrize(
    "value",
    [
        "none", "1 + none", "where(x < 3, none, none)", "min(none, x)", "where(none > 3, 1, 2)", "2 * where(x < 3, none, 1)",
        "where(x < where(y < 3, none, 4), 1, 2)", "-none",
    ],
)  # fmt: skip
def test_none_stands_where_a_whole_value_may(value: str) -> None:
    """Anywhere else a number would be made of what has none."""
    (fault,) = faults_of(f"{HEAD}ratings:\n  r: {{value: '{value}'}}\n")
    assert "`none` where a number is needed" in fault
    assert "As in where(x < 30, none, 12 - x / 15)" in fault


def test_a_condition_takes_no_none_and_a_word_none_is_a_word() -> None:
    """An attribute may be `none`, and a measure be called so."""
    assert (
        "`none` where a number is needed"
        in faults_of(f"{HEAD}ratings: {{r: {{value: x}}}}\ngates: [{{when: 'x > none', remark: no}}]\n")[0]
    )
    worded = f"{HEAD}attributes: {{fire: {{values: [ok, none]}}}}\nratings:\n  r: {{value: 'where(fire == none, none, x)'}}\n"
    found = score(worded, {"x": [3.0, 4.0]}, {"fire": ["ok", "none"]})
    assert statuses_of(found, "r") == ["rated", "unrated"]
    called = 'formula: t\nscale: {from: 0, to: 10}\nmeasures: {none: {unit: "1"}}\nratings:\n  r: {value: none + 1}\n'
    assert values_of(called, "r", none=[3.0]) == [4]


def test_each_draw_gives_what_it_gives() -> None:
    """Draws of the threshold, each against the form with it written in; noise takes a product below it in some draws."""
    form = form_of(FORM.format(value=LOUD, missing=", missing: {absent_above: 0.3}"))
    program, inputs, address = compile_form(form), inputs_of_arrays(READINGS), "ratings.quiet.value.1"
    drawn = evaluate(
        kernel_for(program, inputs, ["quiet", "total"], [address]), inputs, {address: np.array([10.0, 30.0, 50.0])}
    )
    for row, threshold in enumerate(("10", "30", "50")):
        changed = compile_form(set_address(form, address, threshold))
        expected = evaluate(kernel_for(changed, inputs, ["quiet", "total"]), inputs)
        for name in ("quiet", "total"):
            np.testing.assert_array_equal(drawn.values[name][row], expected.values[name][0])
    assert np.isnan(drawn.values["quiet"]).tolist() == [[False] * 3, [True, False, False], [True, True, False]]


def test_a_population_is_of_those_that_have_a_value() -> None:
    """The best of the others."""
    text = FORM.format(value=LOUD, missing="").replace(
        "scores:", "  best: {value: '10 * quiet / maximum(quiet)'}\nscores:"
    )
    assert values_of(text, "best", **READINGS)[1:] == [10, 7]


def test_every_face_says_it() -> None:
    """The trace of a product, and the formula as a textbook sets it."""
    table = score(FORM.format(value=LOUD, missing=""), READINGS)
    lines = trace(table.program, table.inputs, stages(table.program, table.inputs), 2)
    said = next(line.arithmetic for line in lines if line.output == "quiet")
    assert said == "12 - 75/15 [a value is given, as 75 < 30 does not hold]"
    (line,) = formulas_of(table.program, table.form.output("quiet"))
    assert "no value" in repr(line.right)


def test_proofs_take_it_as_declared() -> None:
    """12 - x/15 leaves the scale only where nothing is given: on its scale, continuous and falling, all proved."""
    report = check(compile_form(form_of(FORM.format(value=LOUD, missing=""))))
    assert {one.verdict for one in report.findings if one.output in ("quiet", "total")} == {"proved"}
    off = check(compile_form(form_of(FORM.format(value="where(x < 20, none, 12 - x / 15)", missing=""))))
    assert {one.kind: one.verdict for one in off.findings if one.output == "quiet"} == {
        "scale": "refuted", "continuity": "proved", "direction": "proved",
    }  # fmt: skip


def test_what_rises_across_a_gap_is_not_proved_to_fall() -> None:
    """Falling on either side of readings that give nothing, and higher beyond them."""
    value = "where(x > 40 and x < 60, none, where(x <= 40, 5 - x / 20, 9 - x / 20))"
    report = check(compile_form(form_of(FORM.format(value=value, missing=""))))
    (finding,) = (one for one in report.findings if one.output == "quiet" and one.kind == "direction")
    assert finding.verdict == "refuted"


def test_what_goes_on_without_a_part_is_not_proved_still() -> None:
    """A score whose part goes as a reading passes the threshold turns there; no proof says that it does not."""
    form = form_of(FORM.format(value=LOUD, missing=", missing: {absent_above: 0.3}"))
    assert turned_by_none(form, "total") == ("total",)
    assert turned_by_none(form_of(FORM.format(value=LOUD, missing="")), "total") == ()
    verdicts = {
        (one.kind, one.measure): one.verdict for one in check(compile_form(form)).findings if one.output == "total"
    }
    assert verdicts["continuity", ""] == "not decided"
    assert verdicts["direction", "x"] == "refuted"
    assert verdicts["direction", "y"] == verdicts["scale", ""] == "proved"


def test_whole_commands_go_by_it(tmp_path: Path) -> None:
    """Scores, an explanation, the appendix and a study of draws."""
    (tmp_path / "f.yaml").write_text(
        FORM.format(value=LOUD, missing=", missing: {absent_above: 0.3}"), encoding="utf-8"
    )
    (tmp_path / "c.csv").write_text("product,x,y\na,20,40\nb,30,50\nc,75,90\n", encoding="utf-8")
    files = [str(tmp_path / "f.yaml"), str(tmp_path / "c.csv")]

    def said(*command: str) -> str:
        result = CliRunner().invoke(app, [*command])
        assert result.exit_code == 0, result.output
        return " ".join(result.stdout.split())

    assert f"quiet is missing ({GIVES_NONE})" in said("score", *files, "--score", "total")
    assert f"Quiet (quiet) [unrated] {GIVES_NONE}" in said("explain", *files, "a")
    said("appendix", *files, "--out", str(tmp_path / "a.md"))
    assert "no value" in (tmp_path / "a.md").read_text(encoding="utf-8")
    assert "first" in said("stability", *files, "--score", "total", "--seed", "1", "--draws", "256")


def test_jumps_of_what_is_given_are_told() -> None:
    """A `where` under a `none` jumps as it does without one."""
    inner = "where(x < 50, 8, 6)"
    found = []
    for value in (inner, f"where(x > 90, none, {inner})"):
        (finding,) = (
            one
            for one in check(compile_form(form_of(FORM.format(value=value, missing="")))).findings
            if one.output == "quiet" and one.kind == "continuity"
        )
        found.append((finding.verdict, [(jump.at_most, jump.declared) for jump in finding.jumps]))
    assert found[0] == found[1] == ("refuted", [(2.0, False)])


def test_a_jump_where_a_part_goes_is_bounded_by_the_scale_alone() -> None:
    """Whatever else turns at the same reading."""
    form = form_of(FORM.format(value=LOUD, missing=", missing: {otherwise: lowest}"))
    (finding,) = (
        one for one in check(compile_form(form)).findings if one.output == "total" and one.kind == "continuity"
    )
    assert [(jump.kind, jump.where, jump.at_most) for jump in finding.jumps] == [
        ("none", "where a part of total gives no value", 10.0)
    ]


def test_a_name_that_is_missing_is_dealt_with_as_missing() -> None:
    """Under `otherwise: lowest` the low end of the scale, whatever the condition on what is there says."""
    text = FORM.format(value="where(y > 45, none, 12 - x / 15)", missing="").replace(
        'x / 15)"', 'x / 15)", missing: {otherwise: lowest}'
    )
    assert statuses_of(score(text, {"x": [math.nan, 30.0], "y": [50.0, 50.0]}), "quiet") == ["partial", "unrated"]
