"""`steelyard stability`: verdicts first, the same bytes for the same seed, files, odd catalogues, and what it refuses."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from extent import only_long
from laboratory_runs import LaboratoryRuns, Run
from typer.testing import CliRunner

from analysis.cli.main import app
from analysis.rankings.verdict import ONE_DOSE

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
product,noise #1,noise #2,sit_drop
A-01,31,33,60
A-02,25,26,120
A-03,38,37,48
A-04,29,31,75
A-05,41,44,55
"""
#: The same, read once.
ONCE = "product,noise,sit_drop\nA-01,31,60\nA-02,25,120\nA-03,38,48\nA-04,29,75\nA-05,41,55\n"
STUDY = """\
study: what our judges would argue about
formula: trial
vary:
  - {weights: every score, factor: [0.6, 1.4]}
  - {anchors: every rating, within: 5%}
  - {limits: every score}
  - {readings: repeatability}
"""
FEW = ("--draws", "256")


def write_trial(folder: Path) -> Path:
    """Write them into a folder."""
    for name, text in (("trial.yaml", FORMULA), ("beds.csv", READINGS), ("study.yaml", STUDY)):
        (folder / name).write_text(text, encoding="utf-8")
    return folder


@pytest.fixture
def trial(tmp_path: Path) -> Path:
    """A folder with a formula, readings and a study."""
    return write_trial(tmp_path)


def run(steelyard: Any, folder: Path, *options: object, study: bool = True) -> Any:
    """The command on a trial folder; nothing may come out on standard error but faults."""
    asked = ["--study", folder / "study.yaml"] if study else []
    result = steelyard("stability", folder / "trial.yaml", folder / "beds.csv", *asked, *FEW, *options)
    assert result.exit_code in (0, 2), result.output
    assert bool(result.stderr) == (result.exit_code == 2)
    assert "Traceback" not in result.output
    return result


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
    found = laboratory_runs.run("stability guest-bed.yaml . --study study.yaml --score two_abed")
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


def test_the_verdicts_figures_are_the_documents(demo: Run) -> None:
    """Shifts, tau and chances of each source as printed are the document's, rounded; settled places are its sets."""
    for score in demo.document["scores"].values():
        said = " ".join(score["verdict"])
        for name, source in (
            ("Judgement alone", "judgement"),
            (f"Bench noise alone ({ONE_DOSE})", "bench"),
            ("Both together", "both"),
        ):
            figures = score["sources"][source]
            shift, tau = figures["agreement"]["mean shift in rank"], figures["agreement"]["Kendall tau-b"]
            assert (
                f"{name}: a product moves {shift['mean']:.1f} places on average ({shift['low']:.1f} to {shift['high']:.1f} in"
                in said
            )
            assert (
                f"is {tau['mean']:.2f} ({tau['low']:.2f} to {tau['high']:.2f}); {score['order'][0]}, published first"
                in said
            )
            found = re.search(rf"{re.escape(name)}:.*?is first in (.*?) of [\d,]+ draws", said)
            assert found is not None
            chance = figures["first"][0]
            assert found[1] in (f"{100 * chance:.0f} %", "under 1 %", "over 99 %")
            assert (found[1] == "100 %") == (chance == 1)
        again = score["retest"]["agreement"]["mean shift in rank"]
        assert (
            f"A re-test (everything read again; both tables err): a product stands {again['mean']:.1f} places" in said
        )
        assert again["mean"] > score["sources"]["bench"]["agreement"]["mean shift in rank"]["mean"]
        found = re.search(r"is first again in (.*?) of [\d,]+ draws", said)
        assert found is not None
        assert found[1] in (f"{100 * score['retest']['first'][0]:.0f} %", "under 1 %", "over 99 %")
        told = score["told_apart"]
        settled = re.search(r"the first place \((\S+)\) is settled", said)
        assert (settled is not None) == (told["high"][0] == 1)
        run = re.search(r"places (\d+) to (\d+) cannot be told apart", said)
        assert run is not None
        letters = [set(told["letters"][line - 1].split()) for line in range(int(run[1]), int(run[2]) + 1)]
        assert all(one & other for one in letters for other in letters)


def test_the_document_holds_what_was_asked_and_found(demo: Run) -> None:
    """Seed, study, every factor with where it was said, sets, chances that add up, and the repeatability behind it."""
    document = demo.document
    assert document["seed"] == 0
    assert document["set"] == []
    assert len(document["study"]["factors"]) == 81
    assert all(row["from"].startswith("study.yaml:") for row in document["study"]["factors"])
    assert "heat_flux_w_m2" in document["repeatability"]["measures"]
    assert any("No real product" in caution for caution in document["cautions"])
    for score in document["scores"].values():
        count = len(score["order"])
        assert all(
            1 <= low <= high <= count
            for low, high in zip(score["told_apart"]["low"], score["told_apart"]["high"], strict=True)
        )
        for source in score["sources"].values():
            for chances, absent in zip(source["acceptability"], source["absent"], strict=True):
                assert sum(chances) == pytest.approx(1 - absent)


def outputs(steelyard: Any, folder: Path, seed: int, number: int) -> dict[str, bytes]:
    """Everything that one seed gives: text, and every file of a folder of results, the document among them."""
    out = folder / f"run-{seed}-{number}"
    shown = run(steelyard, folder, "--seed", seed, "--score", "reading", "--out", out)
    files = {path.name: path.read_bytes() for path in sorted(out.iterdir())}
    return {"text": shown.stdout.replace(out.name, "OUT").encode()} | files


def test_a_seed_gives_the_same_bytes_and_another_gives_others(steelyard: Any, trial: Path) -> None:
    """Text, document, and every figure and table of a folder: seed 7 twice the same, and it differs from 0 in each."""
    rows = [f"B-{number:02},{30 + number % 5},{30 + number % 5},{70 + number}" for number in range(12)]
    (trial / "beds.csv").write_text("\n".join([READINGS.splitlines()[0], *rows]) + "\n", encoding="utf-8")
    (trial / "study.yaml").write_text(
        "study: weights\nvary:\n  - {weights: reading, simplex: uniform}\n", encoding="utf-8"
    )
    runs = {seed: outputs(steelyard, trial, seed, 1) for seed in (0, 7)}
    assert [name for name in runs[0] if name.endswith("g")] == [
        f"reading-{what}-judgement.{kind}" for what in ("pairs", "places", "ranks") for kind in ("png", "svg")
    ]
    assert {"text", "stability.csv", "stability.json"} < set(runs[0])
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
        "stability",
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


@pytest.fixture(scope="module")
def trials_document(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """What the trial's document says, wherever it lies."""
    folder = write_trial(tmp_path_factory.mktemp("trial"))
    words = ["stability", folder / "trial.yaml", folder / "beds.csv", "--study", folder / "study.yaml", *FEW, "--json"]
    found: dict[str, Any] = json.loads(CliRunner().invoke(app, [str(word) for word in words]).stdout)
    return found


@pytest.mark.parametrize("ending", [".csv", ".parquet", ".xlsx", ".json"])
def test_one_file_of_results(steelyard: Any, trial: Path, trials_document: dict[str, Any], ending: str) -> None:
    """A row for every score, source and product, or the document; two runs give the same bytes, and nothing else is left."""
    out = trial / f"found{ending}"
    said = run(steelyard, trial, "--out", out).stdout
    assert f"Written to {out}" in said
    first = out.read_bytes()
    run(steelyard, trial, "--out", out)
    assert out.read_bytes() == first
    document = trials_document
    if ending == ".json":
        assert json.loads(first)["scores"] == document["scores"]
    else:
        frame = {".csv": pd.read_csv, ".parquet": pd.read_parquet, ".xlsx": pd.read_excel}[ending](out)
        assert len(frame) == 2 * 3 * 5
        one = frame[(frame["score"] == "reading") & (frame["source"] == "both")]
        score = document["scores"]["reading"]
        assert one["product"].tolist() == score["order"]
        assert one["first"].tolist() == pytest.approx(score["sources"]["both"]["first"])
        assert one["set_low"].tolist() == score["told_apart"]["low"]
    assert sorted(path.name for path in trial.iterdir()) == sorted(["trial.yaml", "beds.csv", "study.yaml", out.name])


def test_one_score_in_full(steelyard: Any, trial: Path) -> None:
    """Every product with what it may hold, its letters and its places; typical weights; the catalogue; all columns aligned."""
    said = run(steelyard, trial, "--score", "reading").stdout
    for title in ("Reading upright: both together", "Typical weights under which", "Robustness to the catalogue"):
        assert title in said
    assert [name for name in ("A-01", "A-02", "A-03", "A-04", "A-05") if f" {name} " not in said] == []
    assert "At rest" not in said


def test_what_the_bench_leaves_open_in_every_face(steelyard: Any, trial: Path) -> None:
    """The lead, the top set, sets of one product alone and shrunken scores: in sentences, the table, the document, the file."""
    said = run(steelyard, trial, "--score", "reading").stdout
    document = json.loads(run(steelyard, trial, "--score", "reading", "--json").stdout)
    score = document["scores"]["reading"]
    found, ids = score["findings"], score["order"]
    margin = found["lead"]["margin"]
    assert margin["low"] <= margin["estimate"] <= margin["high"]
    assert margin["published"] == pytest.approx(score["published_score"][0] - score["published_score"][1])
    assert f"{ids[0]} leads {ids[1]} by {margin['published']:.2g} points; corrected for both having been picked" in said
    assert found["top"]["products"] == [
        ids[i] for i, low in enumerate(score["told_apart"]["low"]) if low <= found["top"]["places"]
    ]
    assert sum(found["shrunken"]["expected_ranks"]) == pytest.approx(len(ids) * (len(ids) + 1) / 2)
    assert set(found) == {"alone", "top", "lead", "shrunken"}
    assert {"alone", "top", "lead", "shrunken"} <= set(document["methods"])
    head = next(line for line in said.splitlines() if "may hold" in line)
    columns = ["#", "product", "reading", "may hold", "alone", "in top 5", "shrunken", "expected", "group"]
    assert re.split(r"   +", head.strip()) == columns
    assert "pairs turned: pairs in the other order, of " in said
    out = trial / "found.csv"
    run(steelyard, trial, "--score", "reading", "--out", out)
    frame = pd.read_csv(out)
    own = frame[frame["source"] == "bench"]
    assert own["alone_low"].tolist() == found["alone"]["low"]
    np.testing.assert_allclose(own["expected_rank"], found["shrunken"]["expected_ranks"])


def test_settings_are_honoured_and_shown(steelyard: Any, trial: Path) -> None:
    """--set is in the headline and the document, and in the published scores; the file keeps its bytes."""
    before = (trial / "trial.yaml").read_bytes()
    setting = "scores.reading.weights.quiet=9"
    assert f"(trial 2.1.0, with {setting})" in run(steelyard, trial, "--set", setting).stdout.splitlines()[0]
    documents = [json.loads(run(steelyard, trial, *more, "--json").stdout) for more in ((), ("--set", setting))]
    assert [document["set"] for document in documents] == [[], [setting]]
    scores = [document["scores"]["reading"] for document in documents]
    assert scores[1]["order"] != scores[0]["order"]
    # quiet 1 + 9 * 14 / 24 = 6.25, edge 10 - 4 * 20 / 40 = 8: (9 * 6.25 + 3 * 8) / 12 = 6.6875
    assert scores[1]["published_score"][scores[1]["order"].index("A-01")] == pytest.approx(6.6875)
    assert (trial / "trial.yaml").read_bytes() == before


def test_resolved_prints_a_row_for_each_argument(steelyard: Any, trial: Path) -> None:
    """What varies, how, in what unit, and which line of the study said so."""
    said = run(steelyard, trial, "--resolved").stdout
    factors = json.loads(run(steelyard, trial, "--json").stdout)["study"]["factors"]
    table = said[said.index("The study, resolved") :]
    assert len(factors) == 4 + 5 + 1 + 1
    assert all(re.search(rf"^ *{re.escape(row['factor'])} ", table, re.M) for row in factors)
    assert [row["from"].rsplit("study.yaml", 1)[1] for row in factors[:5]] == [":4:5"] * 4 + [":5:5"]


def test_coverage_is_asked_for(steelyard: Any, trial: Path) -> None:
    """The joint level is in the sentence and the document; more confidence leaves no set narrower."""
    documents = [json.loads(run(steelyard, trial, "--json", "--coverage", level).stdout) for level in ("0.6", "0.999")]
    told = [document["scores"]["reading"]["told_apart"] for document in documents]
    assert [one["coverage"] for one in told] == [0.6, 0.999]
    assert all(a <= b for a, b in zip(told[0]["high"], told[1]["high"], strict=True))
    assert "joint 99.9 %" in documents[1]["scores"]["reading"]["verdict"][0]


REFUSALS = {
    "unknown score": (["--score", "readin"], ["--score: `readin`", "Did you mean `reading`?"]),
    "wrong ending": (
        ["--out", "{folder}/found.txt"],
        ["the ending `.txt`", "a folder, or a file ending in .json .csv"],
    ),
    "a folder that is not there": (
        ["--out", "{folder}/nowhere/found.csv"],
        ["nowhere is no folder that can be written"],
    ),
    "a file in the way": (["--out", "{folder}/beds.csv/out"], ["out", "a folder, or a file"]),
    "a name too long": (["--out", "{folder}/" + "x" * 300], ["name too long"]),
    "study not there": (["--study", "{folder}/nowhere.yaml"], ["nowhere.yaml: No such file or directory"]),
    "unknown address": (["--set", "scores.reading.weights.quit=3"], ["Did you mean `scores.reading.weights.quiet`?"]),
}


@pytest.mark.parametrize("name", REFUSALS)
def test_what_cannot_be_done_is_refused_before_any_work(steelyard: Any, trial: Path, name: str) -> None:
    """One line that says where, what was found and what to do; exit 2; nothing on standard output; no file."""
    options, expected = REFUSALS[name]
    said = refused(steelyard, trial, *(option.replace("{folder}", str(trial)) for option in options))
    assert [text for text in expected if text.lower() not in said.lower()] == []
    assert said.endswith("1 problem; nothing was done.\n")


def test_a_folder_that_may_not_be_written_is_refused(
    steelyard: Any, trial: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Before the study is run: the system says that nothing can be written there."""
    monkeypatch.setattr("os.access", lambda _, mode: mode != os.W_OK)
    assert "is no folder that can be written" in refused(steelyard, trial, "--out", trial / "figures")


FAULTY = """\
study: faulty
formula: other
vary:
  - {weights: readin, factor: [0.6, 1.4]}
  - {weights: resting, factor: [1.4, 0.6]}
  - {address: ratings.quiet.curve.worst, normal: {sd: -1}}
  - {anchors: every rating}
  - {wieghts: resting, factor: [0.6, 1.4]}
"""


def test_every_fault_of_a_study_comes_back_at_once(steelyard: Any, trial: Path) -> None:
    """Each with its file, line and column, in order; no traceback, nothing done."""
    (trial / "study.yaml").write_text(FAULTY, encoding="utf-8")
    said = refused(steelyard, trial, "--out", trial / "figures")
    lines = said.splitlines()
    places = [
        tuple(map(int, found.groups()))
        for found in (re.search(r"study\.yaml:(\d+):(\d+)", line) for line in lines)
        if found
    ]
    assert places == sorted(places)
    assert {line for line, _ in places} == {2, 4, 5, 6, 7, 8}
    assert lines[-1] == f"{len(lines) - 1} problems; nothing was done."


def test_a_study_that_is_no_yaml_is_refused(steelyard: Any, trial: Path) -> None:
    """With the place where it breaks."""
    (trial / "study.yaml").write_text("study: [unclosed\nvary:\n", encoding="utf-8")
    assert re.search(r"study\.yaml:\d+:\d+", refused(steelyard, trial)) is not None


@pytest.mark.usefixtures("pictures_unseen")
@pytest.mark.parametrize("rows", [1, 2], ids=["one product", "two products"])
def test_a_catalogue_of_one_or_two(steelyard: Any, trial: Path, rows: int) -> None:
    """One product has no order; two have one. Figures and tables are written for both."""
    (trial / "beds.csv").write_text("\n".join(READINGS.splitlines()[: rows + 1]) + "\n", encoding="utf-8")
    said = run(steelyard, trial, "--score", "reading", "--out", trial / "out").stdout
    assert ("A-01 alone has a published score" in said) == (rows == 1)
    assert "nan" not in said
    frame = pd.read_csv(trial / "out" / "stability.csv")
    assert len(frame) == 3 * rows
    assert len(list((trial / "out").glob("*.png"))) == (6 if rows == 1 else 7)


def test_without_any_repeatability_nothing_is_said_of_the_bench(steelyard: Any, trial: Path) -> None:
    """No declared one and no repeats: the verdict says so, the measures are named, and no letter or set is printed."""
    (trial / "trial.yaml").write_text(re.sub(r", repeatability: [\d.]+", "", FORMULA), encoding="utf-8")
    (trial / "beds.csv").write_text(ONCE, encoding="utf-8")
    said = run(steelyard, trial, "--score", "reading", study=False).stdout
    assert "nothing is said of what the bench can tell apart" in said
    assert "No repeatability is known of noise, sit_drop: the bench's noise does not move it." in said
    assert "may hold" not in said
    (trial / "study.yaml").write_text(STUDY, encoding="utf-8")
    assert "no repeatability of any measure" in refused(steelyard, trial)


def test_bench_noise_alone(steelyard: Any, trial: Path) -> None:
    """A study of the readings only: no judgement, no typical weights, nothing together."""
    (trial / "study.yaml").write_text("study: bench\nvary:\n  - {readings: repeatability}\n", encoding="utf-8")
    said = run(steelyard, trial, "--score", "reading").stdout
    assert f"Bench noise alone ({ONE_DOSE}): a product moves" in said
    assert " A re-test " in said[said.index("drawn rankings against the published one") :]
    for absent in ("Judgement alone", "Both together", "Typical weights"):
        assert absent not in said


def test_noise_that_reaches_no_score(steelyard: Any, trial: Path) -> None:
    """Every product past its best anchors by many standard deviations: the bench settles nothing, and is not said to."""
    (trial / "beds.csv").write_text("product,noise,sit_drop\nA-01,18,20\nA-02,19,22\n", encoding="utf-8")
    (trial / "study.yaml").write_text("study: bench\nvary:\n  - {readings: repeatability}\n", encoding="utf-8")
    calm = ("--set", "measures.noise.repeatability=0.1", "--set", "measures.sit_drop.repeatability=0.1")
    said = run(steelyard, trial, "--score", "reading", *calm).stdout
    assert "The bench's noise moves no score here: nothing is said of what the bench can tell apart." in said
    assert "no product changes place in any of 256 draws" in said
    assert "settled" not in said
    assert "may hold" not in said


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
    (trial / "beds.csv").write_text(ONCE, encoding="utf-8")
    out = trial / "out"
    said = run(steelyard, trial, "--out", out, study=False).stdout
    assert "0 arguments vary." in said.splitlines()[0]
    assert said.splitlines()[2] == "Quiet: nothing varies in this study."
    files = [f"stability.{kind}" for kind in ("csv", "html", "json", "md")]
    assert sorted(path.name for path in out.iterdir()) == ["manifest.json", *files]
    assert pd.read_csv(out / "stability.csv").empty


HOSTILE = ["[bold red]A[/]", "=1+1", "-2+3", "$x^{2$", "%s{0}", "B" * 300, "日本"]


def test_hostile_names_are_only_names(steelyard: Any, trial: Path) -> None:
    """Markup, spreadsheet formulas, mathematics for figures and very long names stay text, on the screen and in every file."""
    rows = ["product,noise,sit_drop", *(f'"{name}",{25 + 2 * i},{50 + 5 * i}' for i, name in enumerate(HOSTILE))]
    (trial / "beds.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    said = run(steelyard, trial, "--score", "reading", "--out", trial / "out").stdout
    assert [name for name in HOSTILE if name not in said] == []
    frame = pd.read_csv(trial / "out" / "stability.csv")
    assert sorted(set(frame["product"])) == sorted("'" + name if name[0] in "=-" else name for name in HOSTILE)
    svg = (trial / "out" / "reading-ranks-both.svg").read_text(encoding="utf-8")
    assert "[bold red]A[/]" in svg
    assert "$x^{2$" in svg


def test_a_mark_that_turns_the_line_is_written_out(steelyard: Any, trial: Path) -> None:
    """A right-to-left override in an id neither turns the terminal nor goes unseen."""
    (trial / "beds.csv").write_text(READINGS.replace("A-01", "A\u202e10"), encoding="utf-8")
    result = run(steelyard, trial, "--score", "reading")
    assert "\u202e" not in result.output
    assert "\\u202e" in result.output or "U+202E" in result.output


WITH_DATA = {
    "hdi": "hdi-2022",
    "decathlon": "decathlon-full-results",
    "technology-achievement": "technology-23-countries",
    "air-quality-1999": "air-quality-1999",
    "air-quality-2012": "air-quality-2012",
    "air-quality-2024": "air-quality-2024",
    "thermal-comfort": "thermal-comfort",
    "thermal-dissatisfaction": "thermal-dissatisfaction",
    "normalisations": "schooling-23-countries",
}


@pytest.mark.parametrize("formula", WITH_DATA)
def test_every_published_formula_runs_on_its_own_readings(steelyard: Any, formula: str) -> None:
    """Exit 0, silence on standard error, a verdict for each score (or rating, where there are no scores)."""
    result = steelyard(
        "stability",
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
        assert score["told_apart"] is None
        assert score["verdict"][0]
        assert not any(re.search(r"\bnan\b", sentence) for sentence in score["verdict"])
