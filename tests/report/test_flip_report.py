"""What turns an order round, in every format: the sentences and figures of its document, and texts of files as texts."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pandas as pd
import pytest
from typer.testing import CliRunner

from analysis import Report, flip, write_report
from analysis.cli.main import app
from analysis.report.files import FORMATS
from scoring import read_catalogue, read_formula
from scoring.errors import FileError, StudyError

FORM = """\
formula: trial
version: 1.0.0
title: Trial <beds> & "more"
scale: {from: 1, to: 10}
measures:
  heat: {label: Heat <b>, unit: delta_degC, plausible: [0, 20], repeatability: 0.2}
  drop: {label: Drop, unit: mm, plausible: [0, 200], repeatability: 2}
ratings:
  cool: {measure: heat, curve: {points: {1: 10, 9: 1}}}
  edge: {measure: drop, curve: {points: {20: 10, 160: 1}}}
scores:
  reading: {label: Reading_in bed, weights: {cool: 2, edge: 1}}
  propped: {label: Propped, weights: {cool: 3, edge: 1}, missing: {absent_above: 0.5}}
"""
BEDS = "product,heat,drop\nA<1>,1.5,60\nB_2,3.5,30\nC*3,6.5,\n"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A formula and a catalogue whose texts mean something to every language."""
    made = tmp_path_factory.mktemp("flip")
    (made / "beds.yaml").write_text(FORM, encoding="utf-8")
    (made / "beds.csv").write_text(BEDS, encoding="utf-8")
    return made


@pytest.fixture(scope="module")
def report(folder: Path) -> Report:
    """What makes the second bed at least equal to the first."""
    return flip(folder / "beds.yaml", folder / "beds.csv", "A<1>", "B_2")


def test_paths_and_read_objects_give_the_same(folder: Path, report: Report) -> None:
    """A formula and a catalogue that were read before, and a pandas frame."""
    formula = read_formula(folder / "beds.yaml")
    again = flip(formula, read_catalogue(folder / "beds.csv", formula), "A<1>", "B_2")
    assert again.document == report.document
    frame = pd.read_csv(folder / "beds.csv")
    assert flip(formula, frame, "A<1>", "B_2", scores=["reading"]).verdict[0] == report.verdict[0]


@pytest.mark.parametrize("ending", FORMATS)
def test_every_format_is_written_and_is_the_same_on_every_run(
    folder: Path, report: Report, ending: str, tmp_path: Path
) -> None:
    """Written over itself: the second run knows the file as ours."""
    path = write_report(report, tmp_path / f"out{ending}")
    first = path.read_bytes()
    assert write_report(flip(folder / "beds.yaml", folder / "beds.csv", "A<1>", "B_2"), path).read_bytes() == first


def letters(page: str) -> str:
    """The letters and digits of a page, without what its language puts around them."""
    return re.sub(r"[^a-z0-9.%]", "", re.sub(r"</?[a-z][^>]*>|&[a-z]+;|#\d+;|&#\d+;", "", page).lower())


@pytest.mark.parametrize("ending", [".html", ".md"])
def test_a_page_has_every_sentence_every_change_and_every_address(report: Report, ending: str, tmp_path: Path) -> None:
    """Also what a terminal leaves out: all that was not looked at, address by address."""
    page = write_report(report, tmp_path / f"out{ending}").read_text(encoding="utf-8")
    assert "<b>" not in page
    said = letters(page)
    assert [
        sentence
        for sentence in report.verdict
        if letters(sentence.replace("<1>", "1")) not in said.replace("lt1gt", "1")
    ] == []
    unlooked = [one for score in report.document["scores"].values() for one in score["not_looked_at"]]
    addresses = [address for one in unlooked for address in one["addresses"]]
    assert len(addresses) > 10
    assert [address for address in addresses if letters(address) not in said] == []


def test_tables_hold_the_documents_figures(report: Report) -> None:
    """A row for every change that was found, one for every change that was not."""
    changes = report.document["scores"]["reading"]["changes"]
    found = [one for one in changes if one["scored_again"]]
    frame = report.frames["reading.changes"]
    assert len(frame) == len(found) > 3
    assert frame["change"].tolist() == [one["change"] for one in found]
    assert frame["after_subject"].tolist() == [one["scored_again"]["after"]["subject"] for one in found]
    assert frame["what"].dropna().tolist() == [one["what"] for one in found if one["what"]]
    assert len(report.frames["reading.no_change"]) == len(changes) - len(found)


def test_the_one_table_has_a_row_a_change_under_the_documents_names(report: Report) -> None:
    """And one for a score that has nothing to change; what it was made from stands at the end."""
    frame = report.frame
    for name, score in report.document["scores"].items():
        rows = frame[frame["score"] == name]
        assert len(rows) == max(1, len(score["changes"]))
        assert set(rows["state"]) == {score["state"]}
        assert rows["exact"].dropna().tolist() == [one["exact"] for one in score["changes"] if one["exact"] is not None]
    assert list(frame.columns)[-1] == "cautions"


def test_one_that_is_to_come_first_and_what_is_asked_wrongly(folder: Path) -> None:
    """`first` stands in place of two products; anything else is refused."""
    files = folder / "beds.yaml", folder / "beds.csv"
    assert flip(*files, first="B_2", scores=["reading"]).document["scores"]["reading"]["at_least"] is None
    for wrong in (
        {},
        {"a": "A<1>"},
        {"a": "A<1>", "b": "A<1>"},
        {"a": "A<1>", "b": "B_2", "first": "B_2"},
        {"first": "B"},
    ):
        with pytest.raises(StudyError):
            flip(*files, **wrong)


def test_a_score_that_is_not_published_is_said(folder: Path) -> None:
    """By name, with its reason, where other scores are; the document says it too."""
    report = flip(folder / "beds.yaml", folder / "beds.csv", "A<1>", "C*3")
    assert set(report.document["not_looked_at"]) | set(report.document["scores"]) == {"reading", "propped"}
    assert all(any(why in sentence for sentence in report.verdict) for why in report.document["not_looked_at"].values())
    assert report.document["not_looked_at"]


def test_the_command_writes_what_the_function_gives(folder: Path, report: Report, tmp_path: Path) -> None:
    """`--out` of the command: a folder whose document is that of the function; what is read is never written over."""
    files = [str(folder / "beds.yaml"), str(folder / "beds.csv")]
    done = CliRunner().invoke(app, ["flip", *files, "A<1>", "B_2", "--out", str(tmp_path / "out")])
    assert done.exit_code == 0, done.output
    names = sorted(path.name for path in (tmp_path / "out").iterdir())
    assert names == ["flip.csv", "flip.html", "flip.json", "flip.md", "manifest.json"]
    assert json.loads((tmp_path / "out" / "flip.json").read_bytes()) == json.loads(json.dumps(report.document))
    refused = CliRunner().invoke(app, ["flip", *files, "A<1>", "B_2", "--out", files[1], "--force"])
    assert refused.exit_code == 2
    with pytest.raises(FileError):
        write_report(report, tmp_path / "out.doc")
