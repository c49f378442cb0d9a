"""`steelyard sensitivity`: verdicts first, the same bytes for the same seed, files, options, and what it refuses."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from extent import only_long
from laboratory_runs import LaboratoryRuns, Run

from analysis.trials.quantities import SHIFT
from analysis.wording import kind_in_words

ROOT = Path(__file__).parents[2]
PUBLISHED = ROOT / "formulas" / "published"
FORMULA = """\
formula: trial
version: 2.1.0
title: Trial beds
scale: {from: 1, to: 10, show: {step: 0.1, rule: half-up}}
measures:
  noise: {unit: dB, better: lower, plausible: [18, 75], repeatability: 1.2}
  sit_drop: {unit: mm, better: lower, plausible: [15, 170], repeatability: 2.5}
ratings:
  quiet: {measure: noise, curve: {line: {worst: 46, best: 22}}}
  edge: {measure: sit_drop, curve: {points: {40: 10, 80: 6, 135: 1}}}
scores:
  reading: {label: Reading upright, blend: weighted mean, weights: {edge: 3, quiet: 1}, limits: [{when: edge < 4, at_most: 6}]}
  resting: {label: At rest, blend: weighted mean, weights: {edge: 1, quiet: 2}}
"""
READINGS = """\
product,noise,sit_drop
A-01,31,60
A-02,25,120
A-03,38,48
A-04,29,75
A-05,41,55
"""
STUDY = """\
study: what our judges would argue about
formula: trial
beats: [[A-01, A-04]]
vary:
  - {weights: every score, factor: [0.6, 1.4]}
  - {anchors: every rating, within: 5%}
  - {readings: repeatability}
"""
CORRELATED = (
    STUDY
    + "correlations: [{between: [scores.reading.weights.edge, ratings.quiet.curve.line.best], correlation: 0.7}]\n"
)
FEW = ("--draws", "256")


@pytest.fixture
def trial(tmp_path: Path) -> Path:
    """A folder with a formula, readings and a study."""
    for name, text in (("trial.yaml", FORMULA), ("beds.csv", READINGS), ("study.yaml", STUDY)):
        (tmp_path / name).write_text(text, encoding="utf-8")
    return tmp_path


def run(steelyard: Any, folder: Path, *options: object, study: bool = True) -> Any:
    """The command on a trial folder; nothing may come out on standard error but faults."""
    asked = ["--study", folder / "study.yaml"] if study else []
    result = steelyard("sensitivity", folder / "trial.yaml", folder / "beds.csv", *asked, *FEW, *options)
    assert result.exit_code in (0, 2), result.output
    assert bool(result.stderr) == (result.exit_code == 2)
    assert "Traceback" not in result.output
    return result


def document_of(steelyard: Any, folder: Path, *options: object, study: bool = True) -> dict[str, Any]:
    """The JSON document, which stands alone on standard output."""
    found: dict[str, Any] = json.loads(run(steelyard, folder, *options, "--json", study=study).stdout)
    return found


def refused(steelyard: Any, folder: Path, *options: object) -> str:
    """What it says where it must refuse: on standard error only, exit 2, and no file is left behind."""
    before = sorted(path.name for path in folder.rglob("*"))
    result = run(steelyard, folder, *options)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert sorted(path.name for path in folder.rglob("*")) == before
    return str(result.stderr)


@pytest.fixture(scope="module")
def demo(laboratory_runs: LaboratoryRuns) -> Run:
    """A score of the invented laboratory under its own study, as the guides ask for it."""
    found = laboratory_runs.run("sensitivity guest-bed.yaml . --study study.yaml --score two_abed")
    assert (found.exit_code, found.stderr) == (0, "")
    return found


def test_the_verdict_comes_first(steelyard: Any, trial: Path) -> None:
    """After the headline and an empty line stand the sentences of the document's verdict, score by score."""
    lines = run(steelyard, trial, "--out", trial / "found.json").stdout.splitlines()
    verdicts = {
        name: score["verdict"] for name, score in json.loads((trial / "found.json").read_bytes())["scores"].items()
    }
    assert lines[1] == ""
    assert list(verdicts) == ["reading", "resting"]
    first = verdicts["reading"]
    assert lines[2 : 2 + len(first)] == first
    second = lines.index(verdicts["resting"][0])
    assert lines[second : second + len(verdicts["resting"])] == verdicts["resting"]


def test_the_headline_counts_what_varies(demo: Run) -> None:
    """By the study's name, and by kinds."""
    headline = demo.stdout.splitlines()[0]
    assert "guest-bed 1.0.0), study `judgement-and-bench`: 81 arguments vary (28 weights," in headline


def whole(share: float) -> str:
    """A share as a verdict says it."""
    held = min(1.0, max(0.0, share))
    return "under 1" if 0 < held < 0.01 else "over 99" if 0.99 < held < 1 else f"{100 * held:.0f}"


def test_the_verdicts_figures_are_the_documents(demo: Run) -> None:
    """Every group that a first sentence names is printed with its total index and interval on the mean shift in rank, as
    the document has them; chances are its means; the last sentence has its base points."""
    for score in demo.document["scores"].values():
        names = [quantity["what"] for quantity in score["quantities"]]
        shift, first = names.index(SHIFT), names.index("first")
        said = score["verdict"][0]
        groups = {kind_in_words(row["name"]): row for row in score["indices"] if row["level"] == "group"}
        named = [name for name in groups if name in said]
        assert named
        for name in named:
            total, low, high = (whole(groups[name][key][shift]) for key in ("total", "total_low", "total_high"))
            figures = re.escape(name) + r".*?" + rf"{total} %.*?" + rf"{low}(?: %)? to {high}"
            assert re.search(figures, said), (figures, said)
        chance = score["quantities"][first]["mean"]
        assert f"{score['order'][0]}, published first, is first in {whole(chance)} % of draws" in " ".join(
            score["verdict"]
        )
        mean = score["quantities"][shift]["mean"]
        assert f"a product stands {mean:.1f} places on average from its published one" in score["verdict"][1]
        converged = "Converged" if score["converged"] else "NOT converged"
        of = "for shares of the mean shift in rank and nothing else"
        assert score["verdict"][-1] == f"{converged} at {score['base_points']} base points, {of}: {score['ended']}."
        assert score["base_points"] == score["trail"][-1]["base_points"]


def test_the_document_gives_no_index_without_a_reason(demo: Run) -> None:
    """Where an index is null the quantity's state says why; where there is one, its interval has two ends in order."""
    for score in demo.document["scores"].values():
        states = [quantity["state"] for quantity in score["quantities"]]
        assert any("not a number in" in state for state in states)
        for row in score["indices"]:
            for state, first, low, high in zip(states, row["first"], row["first_low"], row["first_high"], strict=True):
                assert (first is not None) == (state == "varies"), state
                assert first is None or low <= high
        assert [level["base_points"] for level in score["trail"]] == [256, 512]


def outputs(steelyard: Any, folder: Path, seed: int, number: int) -> dict[str, bytes]:
    """Everything that one seed gives: text, and every file of a folder of results, the document among them."""
    out = folder / f"run-{seed}-{number}"
    shown = run(steelyard, folder, "--seed", seed, "--score", "reading", "--draws", 512, "--out", out)
    files = {path.name: path.read_bytes() for path in sorted(out.iterdir())}
    return {"text": shown.stdout.replace(out.name, "OUT").encode()} | files


def test_a_seed_gives_the_same_bytes_and_another_gives_others(steelyard: Any, trial: Path) -> None:
    """Text, document, and every figure and table of a folder: seed 7 twice the same, and it differs from 0 in each."""
    runs = {seed: outputs(steelyard, trial, seed, 1) for seed in (0, 7)}
    assert [name for name in runs[0] if name.endswith("g")] == [
        f"reading-{what}.{kind}"
        for what in ("convergence", "heat", "indices-arguments", "indices-groups")
        for kind in ("png", "svg")
    ]
    assert {"text", "sensitivity.csv", "sensitivity.json"} < set(runs[0])
    assert outputs(steelyard, trial, 7, 2) == runs[7]
    assert list(runs[0]) == list(runs[7])
    assert [name for name in runs[0] if runs[0][name] == runs[7][name]] == []


@only_long
def test_processes_that_hash_otherwise_give_the_same_bytes(trial: Path) -> None:
    """Two runs in processes of their own, each with another order of its sets: one to a file, one to standard output."""
    command = [
        sys.executable,
        "-c",
        "from analysis.cli.main import main; main()",
        "sensitivity",
        str(trial / "trial.yaml"),
    ]
    command += [str(trial / "beds.csv"), "--study", str(trial / "study.yaml"), *FEW]
    runs = [
        subprocess.Popen(
            [*command, *more],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            cwd=ROOT,
            env=os.environ | {"PYTHONHASHSEED": seed},
        )
        for more, seed in ((["--out", str(trial / "found.json")], "1"), (["--json"], "2"))
    ]
    (_, quiet), (document, still) = (process.communicate() for process in runs)
    assert [process.returncode for process in runs] == [0, 0]
    assert (quiet, still) == (b"", b"")
    assert (trial / "found.json").read_bytes() == document


@pytest.mark.parametrize("shapley", [False, True], ids=["indices", "shapley"])
@pytest.mark.parametrize("ending", [".csv", ".parquet", ".xlsx", ".json"])
def test_one_file_of_results(steelyard: Any, trial: Path, ending: str, shapley: bool) -> None:
    """A row for every score, quantity and group (or factor), or the document; the same bytes twice, and nothing else is left."""
    out, more = trial / f"found{ending}", ["--score", "reading", *(["--shapley"] if shapley else [])]
    said = run(steelyard, trial, *more, "--out", out).stdout
    assert f"Written to {out}" in said
    first = out.read_bytes()
    run(steelyard, trial, *more, "--out", out)
    assert out.read_bytes() == first
    score = document_of(steelyard, trial, *more)["scores"]["reading"]
    if ending == ".json":
        assert json.loads(first)["scores"]["reading"] == score
    else:
        frame = {".csv": pd.read_csv, ".parquet": pd.read_parquet, ".xlsx": pd.read_excel}[ending](out)
        kind, key, what = ("group", "groups", "effect") if shapley else ("name", "indices", "total")
        rows = score[key]
        assert len(frame) == len(rows) * len(score["quantities"])
        at = [place for place, quantity in enumerate(score["quantities"]) if quantity["what"] == SHIFT]
        column = frame[frame["quantity"] == SHIFT]
        assert column[kind].tolist() == [row["name"] for row in rows]
        assert column[what].tolist() == pytest.approx([row[what][at[0]] for row in rows])
    assert sorted(path.name for path in trial.iterdir()) == sorted(["trial.yaml", "beds.csv", "study.yaml", out.name])


def test_shapley_shares_add_to_one_and_open_with_a_sentence(steelyard: Any, trial: Path) -> None:
    """Correlated inputs are shared out, with the correlation said; Sobol' indices of them are refused and point there."""
    (trial / "study.yaml").write_text(CORRELATED, encoding="utf-8")
    said = run(steelyard, trial, "--score", "reading", "--shapley").stdout.splitlines()
    score = document_of(steelyard, trial, "--score", "reading", "--shapley")["scores"]["reading"]
    assert said[2 : 2 + len(score["verdict"])] == score["verdict"]
    assert "the largest share of the variance of the mean shift in rank (" in score["verdict"][0]
    assert "correlated" in score["verdict"][1].lower()
    at = [quantity["what"] for quantity in score["quantities"]].index(SHIFT)
    assert sum(group["effect"][at] for group in score["groups"]) == pytest.approx(1)
    assert "`--shapley` shares the variance out among correlated groups" in refused(
        steelyard, trial, "--score", "reading"
    )


def test_settings_are_honoured_and_shown(steelyard: Any, trial: Path) -> None:
    """--set is in the headline and the document, and in the published order; the file keeps its bytes."""
    before = (trial / "trial.yaml").read_bytes()
    setting = "scores.reading.weights.quiet=9"
    assert f"(trial 2.1.0, with {setting})" in run(steelyard, trial, "--set", setting).stdout.splitlines()[0]
    plain, tried = (document_of(steelyard, trial, *more) for more in ((), ("--set", setting)))
    assert (plain["set"], tried["set"]) == ([], [setting])
    assert tried["scores"]["reading"]["order"] != plain["scores"]["reading"]["order"]
    assert (trial / "trial.yaml").read_bytes() == before


def test_resolved_prints_a_row_for_each_argument(steelyard: Any, trial: Path) -> None:
    """Of the derived study too: which default put it there."""
    said = run(steelyard, trial, "--resolved", study=False).stdout
    factors = document_of(steelyard, trial, study=False)["study"]["factors"]
    table = said[said.index("The study, resolved") :]
    assert all(re.search(rf"^ *{re.escape(row['factor'])} ", table, re.M) for row in factors)
    assert all(row["from"].startswith("default: ") for row in factors)
    assert "a study derived from the formula (--study FILE for your own ranges)" in said.splitlines()[0]


@pytest.mark.parametrize(
    ("by", "names"),
    [
        ("kind", {"weights", "anchors", "bench noise"}),
        ("rating", {"reading", "quiet", "edge", "readings"}),
        ("section", {"scores", "ratings", "readings"}),
        ("factor", set()),
    ],
)
def test_groups_are_those_asked_for(steelyard: Any, trial: Path, by: str, names: set[str]) -> None:
    """Each kind of grouping swaps its own groups, or factors only."""
    score = document_of(steelyard, trial, "--score", "reading", "--by", by)["scores"]["reading"]
    assert {row["name"] for row in score["indices"] if row["level"] == "group"} == names
    assert sum(row["level"] == "factor" for row in score["indices"]) == 2 + 5 + 1


def test_second_order_between_groups(steelyard: Any, trial: Path) -> None:
    """A row for every pair of groups, and their table in the text."""
    assert "Second order, mean shift in rank" in run(steelyard, trial, "--score", "reading", "--second-order").stdout
    score = document_of(steelyard, trial, "--score", "reading", "--second-order")["scores"]["reading"]
    assert [row["between"] for row in score["second"]] == [
        ["weights", "anchors"],
        ["weights", "bench noise"],
        ["anchors", "bench noise"],
    ]


def test_pairs_and_the_top_are_asked_for(steelyard: Any, trial: Path) -> None:
    """--beats takes the place of the study's pairs, --top of its top; each pair has its sentence."""
    options = ("--score", "reading", "--beats", "A-02,A-05", "--beats", " A-03 , A-01", "--top", "2")
    score = document_of(steelyard, trial, *options)["scores"]["reading"]
    assert [q["of"] for q in score["quantities"] if q["what"] == "beats"] == ["A-02 A-05", "A-03 A-01"]
    assert "in the first 2" in {q["what"] for q in score["quantities"]}
    said = " ".join(score["verdict"])
    assert "A-02 stands above A-05 in" in said
    assert "A-03 stands above A-01 in" in said
    assert "A-01 stands above A-04 in" in " ".join(
        document_of(steelyard, trial, "--score", "reading")["scores"]["reading"]["verdict"]
    )


def test_a_pair_that_is_not_published_is_said(steelyard: Any, trial: Path) -> None:
    """A product without the score that is asked about is in the catalogue, and has no place."""
    (trial / "beds.csv").write_text(READINGS + "A-06,,90\n", encoding="utf-8")
    score = document_of(steelyard, trial, "--score", "reading", "--beats", "A-06,A-01")["scores"]["reading"]
    assert "Whether A-06 stands above A-01 is not asked: A-06 has no published score here." in score["verdict"]


def test_a_score_asked_for_twice_is_told_once(steelyard: Any, trial: Path) -> None:
    """And a rating may be asked for like a score."""
    document = document_of(steelyard, trial, "--score", "quiet", "--score", "quiet")
    assert list(document["scores"]) == ["quiet"]


def test_more_draws_than_are_needed_converge(steelyard: Any, trial: Path) -> None:
    """One weight against a fixed one: the trail ends before the budget does, and says so."""
    (trial / "study.yaml").write_text(
        "study: one\nvary:\n  - {address: scores.resting.weights.edge, uniform: [0.5, 1.5]}\n", encoding="utf-8"
    )
    score = document_of(steelyard, trial, "--score", "resting", "--draws", "4096")["scores"]["resting"]
    assert score["converged"]
    assert score["base_points"] < 4096
    assert score["verdict"][-1].startswith(f"Converged at {score['base_points']} base points,")


REFUSALS = {
    "unknown score": (["--score", "readin"], ["--score: `readin`", "Did you mean `reading`?"]),
    "unknown grouping": (
        ["--by", "kinds"],
        ["--by: `kinds`", "one of kind, rating, section, factor", "Did you mean `kind`?"],
    ),
    "a grouping that is like none": (
        ["--by", "nonsense"],
        ["--by: `nonsense`", "Known: kind, rating, section, factor."],
    ),
    "unknown product": (["--beats", "A-01,A-055"], ["--beats: `A-055`", "Did you mean `A-05`?"]),
    "one product twice": (["--beats", "A-01,A-01"], ["--beats: `A-01,A-01`", "two different products"]),
    "one product": (["--beats", "A-01"], ["two different products, as A-01,A-02"]),
    "three products": (["--beats", "A-01,A-02,A-03"], ["two different products"]),
    "wrong ending": (
        ["--out", "{folder}/found.txt"],
        ["the ending `.txt`", "a folder, or a file ending in .json .csv"],
    ),
    "a folder that is not there": (
        ["--out", "{folder}/nowhere/found.csv"],
        ["nowhere is no folder that can be written"],
    ),
    "a file in the way": (["--out", "{folder}/beds.csv/out"], ["out", "a folder, or a file"]),
    "study not there": (["--study", "{folder}/nowhere.yaml"], ["nowhere.yaml: No such file or directory"]),
    "unknown address": (["--set", "scores.reading.weights.quit=3"], ["Did you mean `scores.reading.weights.quiet`?"]),
}


@pytest.mark.parametrize("name", REFUSALS)
def test_what_cannot_be_done_is_refused_before_any_work(steelyard: Any, trial: Path, name: str) -> None:
    """One line that says where, what was found and what to do; exit 2; nothing on standard output; no file."""
    options, expected = REFUSALS[name]
    said = refused(steelyard, trial, *(option.replace("{folder}", str(trial)) for option in options))
    assert [text for text in expected if text not in said] == []
    assert said.endswith("1 problem; nothing was done.\n")


def test_faults_of_what_is_asked_are_gathered(steelyard: Any, trial: Path) -> None:
    """A score and a pair that are not there: both at once."""
    said = refused(steelyard, trial, "--score", "readin", "--beats", "A-01,A-99")
    assert said.endswith("2 problems; nothing was done.\n")


FAULTY = """\
study: faulty
beats: [[A-01, A-77]]
top: 2.5
vary:
  - {blend: reading, choose: [stated, geometric maen]}
  - {readings: guesses}
"""


def test_every_fault_of_a_study_comes_back_at_once(steelyard: Any, trial: Path) -> None:
    """Each with its file, line and column, in order; no traceback, nothing done."""
    (trial / "study.yaml").write_text(FAULTY, encoding="utf-8")
    lines = refused(steelyard, trial, "--out", trial / "figures").splitlines()
    places = [
        tuple(map(int, found.groups()))
        for found in (re.search(r"study\.yaml:(\d+):(\d+)", line) for line in lines)
        if found
    ]
    assert places == sorted(places)
    assert {line for line, _ in places} == {2, 3, 5, 6}
    assert lines[-1] == f"{len(lines) - 1} problems; nothing was done."


def test_intervals_are_no_columns_that_shapley_could_take(steelyard: Any, trial: Path) -> None:
    """Refused with what to take instead."""
    vary = "  - {weights: reading, between: {edge: [50%, 90%], quiet: [10%, 50%]}}\n"
    (trial / "study.yaml").write_text(f"study: intervals\nvary:\n{vary}", encoding="utf-8")
    assert "any rule but `between`" in refused(steelyard, trial, "--shapley")
    assert run(steelyard, trial, "--score", "reading").exit_code == 0


@pytest.mark.usefixtures("pictures_unseen")
@pytest.mark.parametrize("rows", [1, 2], ids=["one product", "two products"])
def test_a_catalogue_of_one_or_two(steelyard: Any, trial: Path, rows: int) -> None:
    """One product has no order to move; two have one. Tables are written for both."""
    near = ["product,noise,sit_drop", "A-01,31,60", "A-02,30,62"]
    (trial / "beds.csv").write_text("\n".join(near[: rows + 1]) + "\n", encoding="utf-8")
    (trial / "study.yaml").write_text(STUDY.replace("beats: [[A-01, A-04]]\n", ""), encoding="utf-8")
    said = run(steelyard, trial, "--score", "reading", "--out", trial / "out").stdout
    assert ("Reading upright: nothing that varies moves the ranking." in said) == (rows == 1)
    assert "nan" not in said
    assert not pd.read_csv(trial / "out" / "sensitivity.csv").empty


def test_bench_noise_alone(steelyard: Any, trial: Path) -> None:
    """A study of the readings only has one argument, which moves all that moves."""
    (trial / "study.yaml").write_text("study: bench\nvary:\n  - {readings: repeatability}\n", encoding="utf-8")
    result = run(steelyard, trial, "--score", "reading")
    assert result.exit_code == 0
    assert "1 argument varies (1 bench noise)." in result.stdout.splitlines()[0]
    assert "the bench's noise moves the ranking most (" in result.stdout


BARE = """\
formula: trial
scale: {from: 1, to: 10}
measures:
  noise: {unit: dB, better: lower}
  sit_drop: {unit: mm}
ratings:
  quiet: {value: "clamp(12 - noise / 5, 1, 10)"}
"""


def test_a_formula_of_ratings_without_anything_to_vary(steelyard: Any, trial: Path) -> None:
    """Without scores the ratings are looked at; without weights, anchors or repeatability nothing varies: said, not failed."""
    (trial / "trial.yaml").write_text(BARE, encoding="utf-8")
    said = run(steelyard, trial, "--out", trial / "out", study=False).stdout
    assert "0 arguments vary." in said.splitlines()[0]
    assert said.splitlines()[2] == "Quiet: nothing that varies moves the ranking."
    assert "No repeatability is known of noise, sit_drop: the bench's noise does not move it." in said
    assert sorted(path.name for path in (trial / "out").iterdir()) == [
        "manifest.json",
        "sensitivity.csv",
        "sensitivity.html",
        "sensitivity.json",
        "sensitivity.md",
    ]
    assert (
        "0 groups that reach quiet"
        in steelyard("sensitivity", trial / "trial.yaml", trial / "beds.csv", "--shapley").stderr
    )


HOSTILE = ["[bold red]A[/]", "=1+1", "-2+3", "$x^{2$", "%s{0}", "B" * 300, "日本"]


def test_hostile_names_are_only_names(steelyard: Any, trial: Path) -> None:
    """Markup, spreadsheet formulas, mathematics for figures and very long names stay text, on the screen and in every file."""
    rows = ["product,noise,sit_drop", *(f'"{name}",{25 + 2 * i},{50 + 5 * i}' for i, name in enumerate(HOSTILE))]
    (trial / "beds.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    (trial / "study.yaml").write_text(STUDY.replace("[A-01, A-04]", '["=1+1", "[bold red]A[/]"]'), encoding="utf-8")
    said = run(steelyard, trial, "--score", "reading", "--out", trial / "out").stdout
    assert [name for name in HOSTILE if name not in said] == []
    assert "=1+1 stands above [bold red]A[/] in" in said
    frame = pd.read_csv(trial / "out" / "sensitivity.csv")
    assert {f"'{name}" if name[0] in "=-" else name for name in HOSTILE} <= set(frame["of"])
    assert not frame.map(lambda cell: str(cell).startswith(("=", "@"))).any(axis=None)
    assert "$x^{2$" in (trial / "out" / "reading-heat.svg").read_text(encoding="utf-8")


WITH_DATA = {
    "decathlon": "decathlon-full-results",
    "technology-achievement": "technology-23-countries",
    "air-quality-1999": "air-quality-1999",
    "air-quality-2012": "air-quality-2012",
    "air-quality-2024": "air-quality-2024",
    "thermal-comfort": "thermal-comfort",
    "thermal-dissatisfaction": "thermal-dissatisfaction",
    "normalisations": "schooling-23-countries",
    "hdi": "hdi-2022",
}


@pytest.mark.parametrize("formula", WITH_DATA)
def test_every_published_formula_runs_on_its_own_readings(steelyard: Any, formula: str) -> None:
    """Exit 0, silence on standard error, a verdict for each score (or rating, where there are no scores)."""
    result = steelyard(
        "sensitivity",
        PUBLISHED / f"{formula}.yaml",
        PUBLISHED / "data" / f"{WITH_DATA[formula]}.csv",
        "--draws",
        "128",
        "--json",
    )
    assert (result.exit_code, result.stderr) == (0, "")
    document = json.loads(result.stdout)
    assert document["scores"]
    for score in document["scores"].values():
        assert re.search("(moves? the ranking most|nothing that varies moves the ranking)", score["verdict"][0])
        assert not any(re.search(r"\bnan\b", sentence) for sentence in score["verdict"])


#: Readings in the middle of what each formula takes, made up for this test: it has none of its own.
WITHOUT_DATA = ["desirability", "loudness", "metabolic-rate", "repeatability-limit", "restitution", "sound-levels"]


@pytest.mark.parametrize("command", ["sensitivity", "stability"])
@pytest.mark.parametrize("formula", WITHOUT_DATA)
def test_every_other_published_formula_runs_on_made_up_readings(
    steelyard: Any, tmp_path: Path, formula: str, command: str
) -> None:
    """Four products at shares of each measure's plausible range: exit 0 and a verdict."""
    text = (PUBLISHED / f"{formula}.yaml").read_text(encoding="utf-8")
    ranges = re.findall(r"^  (\w+):.*plausible: \[([\d.]+), ([\d.]+)\]", text, re.M)
    assert ranges
    rows = ["product," + ",".join(name for name, *_ in ranges)]
    for share in (0.3, 0.45, 0.5, 0.62):
        rows.append(f"at {share}," + ",".join(str(float(a) + share * (float(b) - float(a))) for _, a, b in ranges))
    (tmp_path / "made-up.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    result = steelyard(command, PUBLISHED / f"{formula}.yaml", tmp_path / "made-up.csv", "--draws", "128", "--json")
    assert (result.exit_code, result.stderr) == (0, "")
    assert all(score["verdict"] for score in json.loads(result.stdout)["scores"].values())


# --- a precision that is asked for ---


def test_a_precision_that_is_not_reached_ends_with_1_and_is_told_by_name(steelyard: Any, trial: Path) -> None:
    """The sentences and the document say of each quantity how closely it is known."""
    asked = ("--within", "0.0001", "--of", "rank:A-01", "--of", "shift", *FEW, "--json")
    short = steelyard("sensitivity", trial / "trial.yaml", trial / "beds.csv", *asked)
    assert (short.exit_code, short.stderr) == (1, "")
    for score in json.loads(short.stdout)["scores"].values():
        assert not score["converged"]
        assert score["precision"]["within"] == 0.0001
        said = score["verdict"][-1]
        assert said.startswith("Asked for within 0.0001, at 256 base points: the rank of A-01: NOT reached")
        assert "; the mean shift in rank: NOT reached" in said


def test_a_precision_that_is_reached_ends_with_0(steelyard: Any, trial: Path) -> None:
    """Shares within four tenths are known at once; the terminal says of what intervals are."""
    flat = " ".join(run(steelyard, trial, "--within", "0.4", "--of", "shift").stdout.split())
    assert "the mean shift in rank: reached, the widest half-width being" in flat
    assert "of the error of the simulation alone" in flat


def test_a_precision_that_cannot_be_asked_for_is_refused(steelyard: Any, trial: Path) -> None:
    """Of Shapley effects, whose sample has a fixed size, and of what is not there: all names at once."""
    assert "Leave out one of the two." in refused(steelyard, trial, "--shapley", "--within", "0.02")
    said = refused(steelyard, trial, "--within", "0.02", "--of", "rank:A-09", "--of", "places")
    assert "--of: `A-09`; expected a product of the catalogue" in said
    assert "--of: `places`; expected one of score, rank" in said
