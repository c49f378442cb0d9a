"""Which part alone decided a figure: the part that is a minimum or maximum, or the limit that moved it last."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from typer.testing import CliRunner
from written_forms import NAN, form_of, score

from analysis.cli.main import app
from scoring.table.deciding import can_be_decided
from scoring.table.table import ScoreTable

FORM = """\
formula: trial
scale: {{from: 0, to: 10}}
measures:
  x: {{unit: "1", better: higher, plausible: [0, 10]}}
  y: {{unit: "1", better: higher, plausible: [0, 10]}}
ratings:
  quiet: {{measure: x, curve: {{line: {{worst: 0, best: 10}}}}}}
  edge: {{measure: y, curve: {{line: {{worst: 0, best: 10}}}}}}
scores:
  s: {{{score}}}
{rest}"""
READINGS = {"x": [2.0, 5.0, 7.0, 6.0], "y": [4.0, 5.0, 9.0, 3.0]}
# x and y against each other, then what a limit makes of it.
WORKED = {
    "blend: minimum, parts: [quiet, edge]": ["quiet", "quiet edge", "quiet", "edge"],
    "blend: maximum, parts: [quiet, edge]": ["edge", "quiet edge", "edge", "quiet"],
    "blend: maximum, weights: {quiet: 1, edge: 0}": ["quiet"] * 4,
    "blend: minimum, parts: [quiet, edge], limits: [{name: cap, when: quiet > 6, at_most: 5}]": [
        "quiet", "quiet edge", "limit cap", "edge",
    ],
    "blend: minimum, parts: [quiet, edge], limits: [{when: quiet > 6, at_most: 8}]": [
        "quiet", "quiet edge", "quiet", "edge",
    ],  # it holds, and moves nothing
    "weights: {quiet: 1, edge: 1}, limits: [{on: quiet, at_most: {points: {0: 0, 5: 5, 10: 10}}}]": [
        "limit 1", "", "limit 1", "",
    ],
    "parts: [quiet, edge], limits: [{when: edge > 0, at_most: 3}, {when: quiet > 5, at_least: 4}]": [
        "", "limit 1", "limit 2", "limit 2",
    ],  # the last that moved it
    "parts: [quiet, edge], limits: [{when: edge > 0, at_most: 3, apply: never}]": None,
    "weights: {quiet: 1, edge: 1}": None,
    "value: 'min(quiet, edge)'": None,
    "blend: minimum, parts: [quiet]": None,  # there is nothing to decide between
}  # fmt: skip


def decided(table: ScoreTable, name: str = "s") -> list[str]:
    """What decided a score, product by product."""
    column = table.column(name)
    return [" ".join(table.decided_by(column, product)) for product in range(len(column.value))]


@pytest.mark.parametrize("text", WORKED)
def test_each_figure_says_what_decided_it(text: str) -> None:
    """Worked by hand; nothing is said where nothing can decide alone."""
    table = score(FORM.format(score=text, rest=""), READINGS)
    expected = WORKED[text]
    assert decided(table) == (expected or [""] * 4)
    assert ("s" in table.deciders) is (expected is not None)
    assert can_be_decided(table.form.output("s")) is (expected is not None)


def test_what_is_missing_decides_where_it_counts_as_the_lowest() -> None:
    """And is left out where it does not; a product without a figure has nothing that decided it."""
    lowest = FORM.format(score="blend: minimum, parts: [quiet, edge], missing: {otherwise: lowest}", rest="")
    assert decided(score(lowest, {"x": [2.0, NAN], "y": [NAN, 4.0]})) == ["edge", "quiet"]
    reweighted = FORM.format(score="blend: minimum, parts: [quiet, edge], missing: {absent_above: 0.6}", rest="")
    assert decided(score(reweighted, {"x": [2.0, NAN, NAN], "y": [NAN, 4.0, NAN]})) == ["quiet", "edge", ""]
    withheld = FORM.format(
        score="blend: minimum, parts: [quiet, edge]", rest="gates: [{when: x > 4, withhold: too loud}]\n"
    )
    assert decided(score(withheld, READINGS)) == ["quiet", "", "", ""]


def test_parts_of_a_mix_have_their_names_in_it() -> None:
    """Twice the same measure: the second is told from the first as in its address."""
    mix = "[{measure: x, curve: {line: {worst: 0, best: 10}}}, {measure: x, curve: {line: {worst: 6, best: 7}}}]"
    text = FORM.format(score="parts: [worse]", rest="").replace(
        "scores:", f"  worse: {{blend: minimum, mix: {mix}}}\nscores:"
    )
    assert decided(score(text, READINGS), "worse") == ["x_2", "x_2", "x", "x_2"]


@given(st.lists(st.tuples(st.integers(0, 100), st.integers(0, 100)), min_size=1, max_size=6))
def test_what_decided_has_the_value_of_the_whole(readings: list[tuple[int, int]]) -> None:
    """By a second way: the parts that are named, and no others, are the score."""
    x, y = (np.array([pair[at] / 10 for pair in readings]) for at in (0, 1))
    table = score(FORM.format(score="blend: minimum, parts: [quiet, edge]", rest=""), {"x": x, "y": y})
    for product, words in enumerate(decided(table)):
        least = min(readings[product])
        assert words.split() == [
            name for name, value in zip(("quiet", "edge"), readings[product], strict=True) if value == least
        ]


def test_every_face_publishes_it(tmp_path: Path) -> None:
    """A column in files, a key in JSON, a line in `explain`, a remark in the appendix; a record does without."""
    text = FORM.format(
        score="blend: minimum, parts: [quiet, edge], limits: [{name: cap, when: quiet > 6, at_most: 5}]", rest=""
    )
    (tmp_path / "f.yaml").write_text(text, encoding="utf-8")
    (tmp_path / "c.csv").write_text("product,x,y\na,2,4\nb,5,5\nc,7,9\nd,6,3\n", encoding="utf-8")
    files = [str(tmp_path / "f.yaml"), str(tmp_path / "c.csv")]
    table = score(text, READINGS)
    assert table.frame("s")["decided_by"].tolist() == ["quiet", "quiet, edge", "limit cap", "edge"]
    assert table.frame()["s.decided_by"].tolist() == ["quiet", "quiet, edge", "limit cap", "edge"]
    assert "quiet.decided_by" not in table.frame()

    def said(*command: str) -> str:
        result = CliRunner().invoke(app, [*command])
        assert result.exit_code == 0, result.output
        return result.stdout

    products = json.loads(said("score", *files, "--json"))["products"]
    expected = [["quiet"], ["quiet", "edge"], ["limit cap"], ["edge"]]
    assert [one["scores"]["s"]["decided_by"] for one in products] == expected
    assert "decided_by" not in products[0]["ratings"]["quiet"]
    assert "decided by" in said("score", *files, "--score", "s")
    assert "decided by: quiet and edge, which are equal" in said("explain", *files, "b", "--score", "s")
    said("record", *files, "--date", "2026-01-02", "--out", str(tmp_path / "r.json"))
    assert "decided_by" not in (tmp_path / "r.json").read_text(encoding="utf-8")
    said("verify", str(tmp_path / "r.json"))
    assert "decided by Edge" in said("appendix", *files, "--out", str(tmp_path / "a.md")) + (
        tmp_path / "a.md"
    ).read_text(encoding="utf-8")


def test_a_form_that_can_decide_nothing_is_left_alone() -> None:
    """No stage is worked out for it."""
    assert not any(can_be_decided(output) for output in form_of(FORM.format(score="parts: [quiet]", rest="")).outputs)
