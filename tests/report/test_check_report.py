"""What is proved of a formula, and how closely repeats agree, in every format and from Python."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from typer.testing import CliRunner

from analysis import Report, check, repeatability, write_report
from analysis.cli.main import app
from analysis.report.files import FORMATS
from scoring import read_catalogue, read_formula

FORM = """\
formula: trial
version: 1.0.0
title: Trial <beds> & "more"
scale: {from: 1, to: 10, show: {step: 0.1, rule: half-up}}
measures:
  heat: {label: Heat <b>, unit: delta_degC, better: lower, plausible: [0, 20], repeatability: 0.2}
  drop: {label: Drop, unit: mm, better: lower, plausible: [0, 200], repeatability: 5%}
ratings:
  cool: {label: Cool <i>, measure: heat, curve: {points: {1: 1, 9: 10}}}
  edge: {measure: drop, curve: {points: {20: 10, 160: 1}}}
scores:
  reading: {label: Reading_in bed, weights: {cool: 2, edge: 1}, limits: [{when: edge < 4, at_most: 6}, {when: edge < 2, at_most: 3}]}
"""
BEDS = "product,heat #1,heat #2,heat #3,drop\nA<1>,1.5,1.6,1.4,60\nB_2,3.5,3.5,9.9,30\nC*3,6.5,6.4,6.6,90\n"


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """A formula that rates heat the wrong way round, and a catalogue, whose texts mean something to every language."""
    made = tmp_path_factory.mktemp("check")
    (made / "beds.yaml").write_text(FORM, encoding="utf-8")
    (made / "beds.csv").write_text(BEDS, encoding="utf-8")
    return made / "beds.yaml", made / "beds.csv"


FUNCTIONS: dict[str, Callable[..., Report]] = {"check": check, "repeatability": repeatability}
OPTIONS = {"check": [], "repeatability": ["--repeatability"]}


@pytest.fixture(scope="module")
def reports(files: tuple[Path, Path]) -> dict[str, Report]:
    """Both reports, by their names."""
    return {name: function(*files) for name, function in FUNCTIONS.items()}


@pytest.mark.parametrize("name", FUNCTIONS)
def test_paths_and_read_objects_give_the_same(files: tuple[Path, Path], reports: dict[str, Report], name: str) -> None:
    """A formula and a catalogue that were read before, and a pandas frame."""
    formula = read_formula(files[0])
    assert FUNCTIONS[name](formula, read_catalogue(files[1], formula)).document == reports[name].document
    assert FUNCTIONS[name](formula, pd.read_csv(files[1])).verdict == reports[name].verdict


@pytest.mark.parametrize("ending", FORMATS)
@pytest.mark.parametrize("name", FUNCTIONS)
def test_every_format_is_written_and_is_the_same_on_every_run(
    files: tuple[Path, Path], reports: dict[str, Report], name: str, ending: str, tmp_path: Path
) -> None:
    """Written over itself: the second run knows the file as ours."""
    path = write_report(reports[name], tmp_path / f"out{ending}")
    first = path.read_bytes()
    assert write_report(FUNCTIONS[name](*files), path).read_bytes() == first


def letters(page: str) -> str:
    """The letters and digits of a page, without what its language puts around them."""
    return re.sub(r"[^a-z0-9.%]", "", re.sub(r"</?[a-z][^>]*>|&[a-z]+;|&?#\d+;", "", page).lower())


@pytest.mark.parametrize("ending", [".html", ".md"])
@pytest.mark.parametrize("name", FUNCTIONS)
def test_a_page_has_every_sentence_and_no_markup_of_files(
    reports: dict[str, Report], name: str, ending: str, tmp_path: Path
) -> None:
    """Labels with angle brackets stay texts."""
    page = write_report(reports[name], tmp_path / f"out{ending}").read_text(encoding="utf-8")
    assert "<b>" not in page
    assert "<i>" not in page
    sentences = [sentence for sentence in reports[name].verdict if "<" not in sentence]
    assert len(sentences) >= 2
    assert [sentence for sentence in sentences if letters(sentence) not in letters(page)] == []


def test_a_page_of_claims_has_every_finding_with_its_counter_example(
    reports: dict[str, Report], tmp_path: Path
) -> None:
    """Claim, verdict and evidence, of what is proved too, which a terminal says in fewer words."""
    page = letters(write_report(reports["check"], tmp_path / "out.html").read_text(encoding="utf-8"))
    document = reports["check"].document
    assert document["refuted"] is True
    for finding in document["findings"]:
        assert letters(finding["claim"]) in page
        assert letters(finding["detail"]) in page
        for case in finding["counterexample"]:
            inputs = ", ".join(f"{name} = {text} {unit}".rstrip() for name, text, unit in case["inputs"])
            assert letters(inputs) in page
    assert any(finding["counterexample"] for finding in document["findings"])


def test_the_tables_of_claims_hold_the_documents_figures(reports: dict[str, Report]) -> None:
    """Findings, counter-examples and jumps of each output; the one table has a row a finding."""
    report = reports["check"]
    findings = report.document["findings"]
    of_score: list[dict[str, Any]] = [one for one in findings if one["output"] == "reading"]
    assert report.frames["reading.findings"]["claim"].tolist() == [one["claim"] for one in of_score]
    cases = [case["value"] for one in of_score if one["verdict"] == "refuted" for case in one["counterexample"]]
    assert report.frames["reading.counterexamples"]["value"].tolist() == cases
    jumps = report.frames["reading.jumps"]
    assert jumps["at_most"].tolist() == [jump["at_most"] for one in of_score for jump in one["jumps"]]
    assert len(jumps) == 2
    frame = report.frame
    assert frame[["output", "verdict", "samples"]].to_dict("records") == [
        {key: one[key] for key in ("output", "verdict", "samples")} for one in findings
    ]


def test_what_is_refuted_is_said_first_and_without_a_catalogue_too(files: tuple[Path, Path]) -> None:
    """The counts, then each refuted claim; a formula alone has no catalogue in its document."""
    report = check(files[0])
    refuted = [one for one in report.document["findings"] if one["verdict"] == "refuted"]
    assert report.verdict[0].startswith(f"{len(report.document['findings'])} claims: {len(refuted)} refuted")
    for sentence, finding in zip(report.verdict[1:], refuted, strict=False):
        assert finding["claim"] in sentence
        assert finding["detail"] in sentence
    assert "catalogue" not in report.document
    assert "first_places" not in report.document


def test_the_tables_of_repeats_hold_the_documents_figures(reports: dict[str, Report]) -> None:
    """As they are, whatever unit they are shown in; a measure that was read once has none."""
    report = reports["repeatability"]
    measures, frame = report.document["measures"], report.frames["agreement.measures"].set_index("measure")
    assert frame.loc["heat", "sd"] == measures["heat"]["sd"]
    assert frame.loc["drop", "declared"] == measures["drop"]["declared"] == 0.05
    assert measures["drop"]["sd"] is None
    assert pd.isna(frame.loc["drop", "sd"])
    whole = report.frame.set_index("measure")
    assert whole.loc["heat", "counts_readings"] == measures["heat"]["counts"]["readings"] == 9
    assert whole.loc["heat", "limit"] == pytest.approx(2.8 * measures["heat"]["sd"])


@pytest.mark.parametrize(("name", "code"), [("check", 1), ("repeatability", 0)])
def test_the_command_writes_what_the_function_gives(
    files: tuple[Path, Path], reports: dict[str, Report], name: str, code: int, tmp_path: Path
) -> None:
    """A folder of `--out`; a claim that is refuted ends the command with 1 all the same."""
    words = ["check", *map(str, files), *OPTIONS[name]]
    done = CliRunner().invoke(app, [*words, "--out", str(tmp_path / "out")])
    assert done.exit_code == code, done.output
    names = sorted(path.name for path in (tmp_path / "out").iterdir())
    assert names == sorted(["manifest.json", *(f"{name}.{ending}" for ending in ("csv", "html", "json", "md"))])
    document = json.loads((tmp_path / "out" / f"{name}.json").read_bytes())
    assert document == json.loads(json.dumps(reports[name].document))


@pytest.mark.parametrize("option", ["--addresses", "--reference"])
def test_a_list_to_copy_is_written_to_no_file(files: tuple[Path, Path], option: str, tmp_path: Path) -> None:
    """`--out` beside it is a fault, and no silence."""
    done = CliRunner().invoke(app, ["check", *map(str, files), option, "--out", str(tmp_path / "out.html")])
    assert (done.exit_code, done.stdout) == (2, "")
    assert f"beside {option}" in done.stderr
    assert not (tmp_path / "out.html").exists()


def test_what_is_read_is_never_written_over(files: tuple[Path, Path]) -> None:
    """Not with --force either."""
    done = CliRunner().invoke(app, ["check", *map(str, files), "--out", str(files[1]), "--force"])
    assert done.exit_code == 2
    assert files[1].read_text(encoding="utf-8") == BEDS
