"""`steelyard reread`: the verdict first, the same figures in every face, the same bytes for a seed, and what it refuses."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

FORMULA = """\
formula: trial
version: 2.1.0
title: Trial beds
scale: {from: 1, to: 10, show: {step: 0.1, rule: half-up}}
measures:
  noise: {unit: dB, better: lower, plausible: [18, 75], repeatability: 3}
  drop: {unit: mm, better: lower, plausible: [15, 170], repeatability: 2.5}
ratings:
  quiet: {measure: noise, curve: {line: {worst: 46, best: 22}}}
  edge: {measure: drop, curve: {line: {worst: 135, best: 15}}}
scores:
  reading: {label: Reading upright, blend: weighted mean, weights: {edge: 1, quiet: 1}, missing: {absent_above: 0.6}}
"""
READINGS = """\
product,noise #1,noise #2,drop
A-01,26,28,40
A-02,28,29,42
A-03,33,34,70
A-04,44,45,120
A-05,missing: probe failed,,50
"""


@pytest.fixture
def trial(tmp_path: Path) -> Path:
    """A folder with a formula and invented readings."""
    (tmp_path / "trial.yaml").write_text(FORMULA, encoding="utf-8")
    (tmp_path / "beds.csv").write_text(READINGS, encoding="utf-8")
    return tmp_path


def run(steelyard: Any, folder: Path, *options: object) -> Any:
    """The command on the trial folder, after exit 0 and nothing on standard error."""
    result = steelyard("reread", folder / "trial.yaml", folder / "beds.csv", *options)
    assert (result.exit_code, result.stderr) == (0, ""), result.output
    return result


def test_a_pair_in_full(steelyard: Any, trial: Path) -> None:
    """What is open, what the readings promise, the plan, and its legend."""
    said = run(steelyard, trial, "--settle", "A-01:A-02", "--readings", "12").stdout
    assert said.splitlines()[0] == "Trial beds (trial 2.1.0): what to read again."
    assert "Reading upright: A-01 and A-02 are not told apart (at 95 %, for this pair alone)." in said
    assert "12 further readings settle it, as planned, in " in said
    assert "Reading upright: the plan for 12 further readings" in said
    assert "Only the scatter of repeats falls" in said


def test_the_falls_are_those_of_means_of_repeats(steelyard: Any, trial: Path) -> None:
    """By hand: quiet has 9 / 24 points a dB, edge 9 / 120 a mm, each with half the weight; noise is read twice, drop once."""
    document = json.loads(run(steelyard, trial, "--settle", "A-01:A-02", "--readings", "4", "--json").stdout)
    score = document["scores"]["reading"]
    noise, drop = (9 / 24 / 2) ** 2 * 3**2 / 2, (9 / 120 / 2) ** 2 * 2.5**2
    falls = {(s["product"], s["measure"], s["further"]): s["falls"] for s in score["steps"]}
    for further in (1, 2, 4):
        assert falls["A-01", "noise", further] == pytest.approx(
            noise / (noise + drop) * further / (2 + further), rel=1e-4
        )
        assert falls["A-02", "drop", further] == pytest.approx(
            drop / (noise + drop) * further / (1 + further), rel=1e-4
        )
    proposed = score["plans"]["proposed"]
    assert sum(line["further"] for line in proposed["readings"]) == 4
    assert {(line["measure"], line["now"]) for line in proposed["readings"]} <= {("noise", 2), ("drop", 1)}
    assert proposed["chance"] >= score["plans"]["equal"]["chance"] - 0.01


def test_every_product_in_dispute_is_looked_at_and_a_missing_measure_is_not(steelyard: Any, trial: Path) -> None:
    """A-05 has no noise: only its drop can be read again."""
    score = json.loads(run(steelyard, trial, "--settle", "top", "--top", "3", "--json").stdout)["scores"]["reading"]
    assert score["question"] == "who the first 3 are"
    read = {(step["product"], step["measure"]) for step in score["steps"]}
    assert ("A-05", "noise") not in read
    assert {product for product, _ in read} <= set(score["disputed"])
    gained = [step["gained_per_reading"] for step in score["steps"]]
    assert gained == sorted(gained, reverse=True)


def test_a_settled_question_needs_no_reading(steelyard: Any, trial: Path) -> None:
    """Said in a sentence, with the criterion."""
    said = run(steelyard, trial, "--settle", "A-01:A-04").stdout
    assert "which of A-01 and A-04 is better is settled as it stands (at 95 %, for this pair alone)" in said
    assert "the plan for" not in said


def test_the_criterion_is_that_of_stability(steelyard: Any, trial: Path) -> None:
    """The first place is open here where `stability` leaves it open, and settled where it is, by --set of the noise.

    A product without a reading, which could be the best of all, keeps it open in both, however low the noise.
    """
    complete = "".join(line for line in READINGS.splitlines(keepends=True) if not line.startswith("A-05"))
    (trial / "beds.csv").write_text(complete, encoding="utf-8")
    for repeatability, word in (("3", "is not settled"), ("0.01", "is settled as it stands")):
        setting = ("--set", f"measures.noise.repeatability={repeatability}")
        if word.startswith("is settled"):
            setting += ("--set", "measures.drop.repeatability=0.01")
        said = run(steelyard, trial, *setting).stdout
        assert f"Reading upright: the first place {word} (joint 95 %, as in `stability`)" in said
        other = steelyard("stability", trial / "trial.yaml", trial / "beds.csv", *setting, "--draws", "256", "--json")
        sets = json.loads(other.stdout)["scores"]["reading"]["told_apart"]
        assert (sets["high"][0] == 1) == word.startswith("is settled")


def test_the_same_seed_gives_the_same_bytes_and_files_hold_the_same(steelyard: Any, trial: Path) -> None:
    """--json twice; a folder, and one table with the plan and the steps."""
    options = ("--settle", "A-01:A-02", "--readings", "6", "--seed", "0")
    first, second = (run(steelyard, trial, *options, "--json").stdout for _ in range(2))
    assert first == second
    document = json.loads(first)
    run(steelyard, trial, *options, "--out", trial / "found")
    assert json.loads((trial / "found" / "reread.json").read_text(encoding="utf-8")) == document
    frame = pd.read_csv(trial / "found" / "reread.csv")
    plan = frame[frame["row"] == "plan"]
    proposed = document["scores"]["reading"]["plans"]["proposed"]
    assert plan["further"].tolist() == [line["further"] for line in proposed["readings"]]
    assert (frame["row"] == "step").sum() == len(document["scores"]["reading"]["steps"])
    assert frame.columns[-1] == "cautions"
    np.testing.assert_allclose(plan["chance"], proposed["chance"])


REFUSALS = {
    "no question": (["--settle", "firts"], "--settle: `firts`; expected first, top, or two products as A-01:A-02"),
    "unknown product": (["--settle", "A-01:A-0"], "--settle: `A-0`; expected a product of the catalogue"),
    "one product twice": (["--settle", "A-01:A-01"], "two different products"),
    "unknown score": (["--score", "readin"], "Did you mean `reading`?"),
    "wrong ending": (["--out", "found.txt"], "the ending `.txt`"),
}


@pytest.mark.parametrize("name", REFUSALS)
def test_what_cannot_be_done_is_refused(steelyard: Any, trial: Path, name: str) -> None:
    """Exit 2, one line that says where and what to write, nothing on standard output."""
    options, expected = REFUSALS[name]
    result = steelyard("reread", trial / "trial.yaml", trial / "beds.csv", *options)
    assert (result.exit_code, result.stdout) == (2, "")
    assert expected in result.stderr


def test_a_formula_without_repeatability_is_told_what_to_declare(steelyard: Any, trial: Path) -> None:
    """There is no noise that repeats could take away."""
    text = FORMULA.replace(", repeatability: 3", "").replace(", repeatability: 2.5", "")
    (trial / "trial.yaml").write_text(text, encoding="utf-8")
    result = steelyard("reread", trial / "trial.yaml", trial / "beds.csv")
    assert (result.exit_code, result.stdout) == (2, "")
    assert "no repeatability of any measure" in result.stderr
    assert "Declare `repeatability` of a measure" in result.stderr


def test_a_product_on_an_edge_is_told_by_draws(steelyard: Any, trial: Path) -> None:
    """A-01 reads on a step of its curve, where there is no first order: its noise still has parts that fall."""
    steps = FORMULA.replace(
        "quiet: {measure: noise, curve: {line: {worst: 46, best: 22}}}",
        "quiet: {measure: noise, curve: {steps: {0: 10, 27: 7, 40: 3}}}",
    )
    (trial / "trial.yaml").write_text(steps, encoding="utf-8")
    score = json.loads(run(steelyard, trial, "--settle", "A-01:A-02", "--json").stdout)["scores"]["reading"]
    falls = {s["measure"]: s["falls"] for s in score["steps"] if s["product"] == "A-01" and s["further"] == 16}
    assert 0.5 < falls["noise"] < 1


def test_withheld_products_and_scores_of_one_product_are_said(steelyard: Any, trial: Path) -> None:
    """A pair with a product that has no place anywhere is a fault; a table of one has nothing to settle."""
    (trial / "beds.csv").write_text(READINGS + "A-06,missing: lost,,missing: lost\n", encoding="utf-8")
    result = steelyard("reread", trial / "trial.yaml", trial / "beds.csv", "--settle", "A-01:A-06")
    assert result.exit_code == 2
    assert "A-06: no place in reading" in result.stderr
    (trial / "beds.csv").write_text("\n".join(READINGS.splitlines()[:2]) + "\n", encoding="utf-8")
    said = run(steelyard, trial).stdout
    assert "nothing to settle, fewer than two products have a place in reading." in said
