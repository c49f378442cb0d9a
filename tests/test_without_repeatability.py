"""What every command says of places where some measures have no repeatability, and where none has one.

A measure without a repeatability counts as read without error. So a sentence that says what the bench tells apart names it; and
where no measure has one, no such sentence is said.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from analysis.cli.main import app
from scoring.measurement_error import NoiseKnown

FORM = """\
formula: porch
version: 1.0.0
title: Porch beds
scale: {from: 1, to: 10, show: {step: 0.1, rule: half-up}}
ranks: {within: class}
attributes: {class: {}}
measures:
  noise: {unit: dB, better: lower, plausible: [18, 75]NOISE}
  drop: {unit: mm, better: lower, plausible: [10, 170]DROP}
ratings:
  quiet: {measure: noise, curve: {line: {worst: 75, best: 18}}}
  edge: {measure: drop, curve: {line: {worst: 170, best: 10}}}
scores:
  both: {label: Both, weights: {edge: 1, quiet: 2}}
"""
KNOWN = ", repeatability: 1"
#: Invented beds: A-01 leads clearly, B-02 and C-03 are near.
BEDS = """\
product,noise,drop,class
A-01,24,40,foam
B-02,30,55,foam
C-03,30.5,56,hybrid
D-04,45,90,hybrid
E-05,60,120,hybrid
"""
#: Words of claims that the noise of the bench carries; of the catalogue of readings and of simulation they say nothing.
CLAIMS = re.compile(
    r"told apart|tells? (\d+|none|two|most|at most \d+) |cannot be told|settle[sd]?\b|bench can tell|bench's noise makes"
    r"|could truly|holds against"
)
#: What says that nothing is claimed, or explains a word without a claim.
NO_CLAIM = re.compile(
    r"nothing is said of what the bench can tell apart|cannot be said|would tell most of the products"
)
PARTLY = "nothing is known of the errors of drop, 1 of 2 measures"
NOTHING = "nothing is known of the errors of noise and drop, 2 of 2 measures"
COMMANDS = (
    ("score", "--score", "both"),
    ("check",),
    ("stability", "--draws", "200"),
    ("reread",),
    ("reread", "--settle", "B-02:C-03"),
    ("reread", "--settle", "top", "--top", "2"),
    ("compare", "--set", "scores.both.weights.edge=3"),
    ("compare", "--set", "ratings.edge.curve.line.worst=150"),
)


def form(*known: str) -> str:
    """The formula, in which these measures have a repeatability."""
    text = FORM
    for name in ("noise", "drop"):
        text = text.replace(name.upper(), KNOWN if name in known else "")
    return text


def run(folder: Path, known: tuple[str, ...], *command: object) -> Any:
    """A command over the beds; which measures have a repeatability."""
    formula, beds = folder / "porch.yaml", folder / "beds.csv"
    formula.write_text(form(*known), encoding="utf-8")
    beds.write_text(BEDS, encoding="utf-8")
    name, *options = command
    files = [formula, formula, beds] if name == "compare" else [formula, beds]
    return CliRunner().invoke(app, [str(one) for one in (name, *files, *options)])


def claims(text: str) -> Iterator[str]:
    """The lines that say what the bench tells apart; a table's cells and titles are marked, and its note is a line."""
    for line in text.splitlines():
        if CLAIMS.search(line) and not NO_CLAIM.search(line) and not is_of_a_table(line):
            yield line


def is_of_a_table(line: str) -> bool:
    """A row, head or title of a table, which is padded: it is marked, and the note under it has the names."""
    return line.rstrip("\n").endswith(" ") or bool(re.search(r"\S  +\S", line))


@pytest.mark.parametrize("command", COMMANDS, ids=" ".join)
def test_each_claim_names_what_has_no_repeatability(tmp_path: Path, command: tuple[str, ...]) -> None:
    """Where one of two measures has none; and with both, nothing is added."""
    result = run(tmp_path, ("noise",), *command)
    assert result.exit_code == 0, result.output
    said = list(claims(result.stdout))
    assert said or "of which no repeatability is known" in result.stdout
    assert [line for line in said if PARTLY not in line] == []
    whole = run(tmp_path, ("noise", "drop"), *command).stdout
    assert "at best" not in whole
    assert "nothing is known" not in whole


@pytest.mark.parametrize("command", COMMANDS, ids=" ".join)
def test_nothing_is_claimed_where_no_noise_is_known(tmp_path: Path, command: tuple[str, ...]) -> None:
    """Without any repeatability; `reread` has nothing to plan by, and says so as a fault."""
    result = run(tmp_path, (), *command)
    assert list(claims(result.stdout)) == []
    if command[0] == "reread":
        assert result.exit_code == 2
        assert "no repeatability of any measure" in result.stderr
    elif command[0] == "check":
        assert "no repeatability: 2 of 2 measures (noise and drop); nothing is said of what the bench" in result.stdout
    else:
        assert NOTHING in result.stdout


def test_cells_and_titles_of_tables_are_marked(tmp_path: Path) -> None:
    """The names stand in the note under the table."""
    said = run(tmp_path, ("noise",), "score", "--score", "both").stdout
    assert "told apart from all others of its class, at best" in said
    assert "(at best: against the noise of noise alone; " + PARTLY + ")." in said
    compared = run(tmp_path, ("noise",), "compare", "--set", "scores.both.weights.edge=9").stdout
    assert "of those that the bench tells apart" not in compared or "tells apart, at best" in compared


def test_check_has_a_line_to_look_at(tmp_path: Path) -> None:
    """How many measures have none, which, and what follows for places."""
    said = run(tmp_path, ("noise",), "check").stdout
    line = "no repeatability: 1 of 2 measures (drop); what is said of places leans on the others alone"
    assert f"- measures.drop: {line}" in said
    assert "no repeatability" not in run(tmp_path, ("noise", "drop"), "check").stdout


def test_a_move_that_no_known_noise_reaches_has_no_u(tmp_path: Path) -> None:
    """The curve of the measure without repeatability alone is changed: its u is not 0 but not known, and no move is told."""
    command = ("compare", "--set", "ratings.edge.curve.line.worst=150")
    found = json.loads(run(tmp_path, ("noise",), *command, "--json").stdout)["scores"]["both"]
    assert found["critical"] is None
    assert {one["u"] for one in found["products"]} == {None}
    assert {one["told"] for one in found["products"]} == {False}
    said = run(tmp_path, ("noise",), *command).stdout
    assert f"of which no repeatability is known: {PARTLY};" in said
    assert f"no noise of the move is known, and {PARTLY}." in said
    whole = json.loads(run(tmp_path, ("noise", "drop"), *command, "--json").stdout)["scores"]["both"]
    assert all(one["u"] > 0 for one in whole["products"])


def test_a_score_on_what_is_not_known_is_not_settled(tmp_path: Path) -> None:
    """A rating of the measure without repeatability alone, beside a measure with one: no noise moves it, and none is known."""
    command = ("reread", "--score", "edge")
    found = json.loads(run(tmp_path, ("noise",), *command, "--json").stdout)["scores"]["edge"]
    assert (found["settled"], found["without_repeatability"]) == (False, ["drop"])
    said = run(tmp_path, ("noise",), *command).stdout
    assert "Edge: the bench's noise is not known: nothing is known of the errors of drop, 1 of 1 measure;" in said
    assert "no reading is planned" in said


@pytest.mark.parametrize(
    "command", [("check",), ("stability", "--draws", "200"), ("reread",), ("compare", "--set", "x=1")]
)
def test_json_names_them(tmp_path: Path, command: tuple[str, ...]) -> None:
    """Beside each score, and of a check beside its warnings; empty where there are none."""
    options = ("--set", "scores.both.weights.edge=3") if command[0] == "compare" else command[1:]
    for known, expected in ((("noise",), ["drop"]), (("noise", "drop"), [])):
        found = json.loads(run(tmp_path, known, command[0], *options, "--json").stdout)
        there = found if command[0] == "check" else found["scores"]["both"]
        assert there["without_repeatability"] == expected


def test_a_page_says_it_too(tmp_path: Path) -> None:
    """What `score --out` writes: the finding of the picture of uncertainty, and the note of the first in each class."""
    out = tmp_path / "scores.html"
    assert run(tmp_path, ("noise",), "score", "--score", "both", "--out", out).exit_code == 0
    page = out.read_text(encoding="utf-8")
    assert page.count(PARTLY) >= 2


def test_two_editions_know_what_both_know() -> None:
    """What is unknown in either is unknown; each measure counts once."""
    one, other = NoiseKnown(("noise",), ("drop",), ("price",)), NoiseKnown(("drop", "rise"), (), ("noise",))
    assert one.beside(other) == NoiseKnown(("noise", "rise"), ("drop",), ("price",))
    assert one.beside(other).of_nothing == "nothing is known of the errors of drop, 1 of 4 measures"


def test_many_measures_are_counted() -> None:
    """The first four are named."""
    noise = NoiseKnown((), tuple("abcdef"))
    assert (
        noise.not_known
        == "the bench's noise is not known: nothing is known of the errors of a, b, c, d and 2 more, 6 of 6 measures"
    )
