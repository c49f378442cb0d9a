"""The report of an explanation: the same in every format, its tables the document's figures, texts of files only texts."""

from __future__ import annotations

import json
import re
from io import BytesIO
from pathlib import Path
from typing import Any

import pandas as pd
import pypdf
import pytest

from analysis import Report, explain, write_report
from analysis.explanation.verdict import made_of, uncertainty_in_words, way_up, ways_up
from analysis.report.files import FORMATS
from scoring import read_catalogue, read_formula
from scoring.errors import SteelyardError

FORM = """\
formula: trial
version: 1.0.0
title: Trial <beds> & "more"
scale: {from: 1, to: 10}
bands: {good: 7, fair: 4, weak: 1}
measures:
  heat: {label: Heat <b>, unit: delta_degC, plausible: [0, 15], repeatability: 0.2}
  drop: {label: Drop, unit: mm, plausible: [10, 170], repeatability: 2, systematic: 1}
attributes: {maker: {label: Maker}}
ratings:
  cool: {measure: heat, curve: {points: {1: 10, 9: 1}}}
  edge: {measure: drop, curve: {points: {20: 10, 160: 1}}}
scores:
  reading: {label: Reading_in bed, weights: {cool: 2, edge: 1}}
  upright: {label: "Upright <i>", weights: {cool: 1, edge: 1}}
gates: [{name: hot, when: heat > 8, remark: too <hot>}]
"""
BEDS = "product,maker,heat,heat,drop\nA<1>,<u>V,1.5,1.7,60\nB_2,#W,5.5,5.6,100\nC*3,$X,8.5,8.4,90\n"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A formula and a catalogue whose texts mean something to every language."""
    made = tmp_path_factory.mktemp("explained")
    (made / "beds.yaml").write_text(FORM, encoding="utf-8")
    (made / "beds.csv").write_text(BEDS.replace("heat,heat", "heat #1,heat #2"), encoding="utf-8")
    return made


@pytest.fixture(scope="module")
def report(folder: Path) -> Report:
    """A product of which all is said, one of its readings set aside."""
    return explain(folder / "beds.yaml", folder / "beds.csv", "B_2", without=["heat/2"])


def test_paths_and_what_was_read_give_the_same(folder: Path, report: Report) -> None:
    """The formula and the catalogue may be read already; one score may be asked for."""
    formula = read_formula(folder / "beds.yaml")
    beds = read_catalogue(folder / "beds.csv", formula)
    assert explain(formula, beds, "B_2", without=["heat/2"]).document == report.document
    one = explain(formula, beds, "B_2", score="reading")
    assert list(one.document["outputs"]) == ["reading"]
    tried = explain(formula.set({"scores.reading.weights.edge": 2}), beds, "B_2")
    assert tried.document["set"] == ["scores.reading.weights.edge=2"]


@pytest.mark.parametrize("wrong", [{"product": "Z"}, {"score": "reeding"}, {"without": ["heat"]}], ids=str)
def test_what_is_not_there_is_a_fault(folder: Path, wrong: dict[str, Any]) -> None:
    """A product, a score, and a reading that is none."""
    asked: dict[str, Any] = {"product": "B_2", **wrong}
    with pytest.raises(SteelyardError):
        explain(folder / "beds.yaml", folder / "beds.csv", asked.pop("product"), **asked)


@pytest.mark.parametrize("ending", FORMATS)
def test_every_format_is_the_same_on_every_run(folder: Path, report: Report, ending: str, tmp_path: Path) -> None:
    """Written again over itself, which is known as ours."""
    path = write_report(report, tmp_path / f"out{ending}")
    first = path.read_bytes()
    again = explain(folder / "beds.yaml", folder / "beds.csv", "B_2", without=["heat/2"])
    assert write_report(again, path).read_bytes() == first


def plain(page: str) -> str:
    """The letters and digits of a page, without what its language puts around them."""
    return re.sub(r"[^a-z0-9.%]", "", re.sub(r"<[^>]+>|&[a-z]+;|#\d+;", "", page).lower())


def sentences_of(report: Report) -> list[str]:
    """Every sentence that is said of a figure."""
    found = report.found
    said = [*report.verdict, *report.closing, *report.source.cautions]
    known = {note.measure.name: note.repeat_sd for note in found.readings}
    for note in found.outputs:
        said += uncertainty_in_words(found, note)
        said += [made_of(note.contributions)] if len(note.contributions.parts) > 1 else []
        said += [way_up(*note.next_band, ways_up(note, known))] if note.next_band is not None else []
    return said


def test_every_page_has_every_sentence(report: Report, tmp_path: Path) -> None:
    """HTML, Markdown and PDF say what a terminal says, and each line of the arithmetic."""
    said = [one for one in sentences_of(report) if "<" not in one]
    said += [line.arithmetic for note in report.found.outputs for line in note.lines]
    assert len(said) > 15
    for ending in (".html", ".md"):
        page = plain(write_report(report, tmp_path / f"out{ending}").read_text(encoding="utf-8"))
        assert [one for one in said if plain(one) not in page] == []
    pages = pypdf.PdfReader(BytesIO(write_report(report, tmp_path / "out.pdf").read_bytes())).pages
    text = plain(" ".join(page.extract_text() for page in pages))
    assert [one for one in said if plain(one) not in text] == []


def test_tables_are_the_documents_figures(report: Report) -> None:
    """Traces, parts, budgets, ways up, readings and challenges: each frame holds what the document holds."""
    document, frames = report.document, report.frames
    assert frames["readings"]["u"].tolist() == [one["u"] for one in document["readings"]]
    assert frames["challenges"]["move"].tolist() == [one["move"] for one in document["challenges"]]
    assert len(frames["components"]) == sum(len(one["components"]) > 1 for one in document["readings"]) * 2
    for name, output in document["outputs"].items():
        trace = frames[f"{name}.trace"]
        trace_keys = ["kind", "address", "arithmetic", "value"]
        columns = trace[trace_keys].to_dict("records")
        assert columns == [{key: one[key] for key in trace_keys} for one in output["trace"]]
        if len(output["contributions"]["parts"]) > 1:
            parts = frames[f"{name}.contributions"][["part", "points"]].to_numpy().tolist()
            assert parts[:2] == output["contributions"]["parts"]
        assert frames[f"{name}.budget"].to_numpy().tolist() == output["uncertainty"]["budget"]
        if output["next_band"] is not None and f"{name}.next_band" in frames:
            change = frames[f"{name}.next_band"].set_index("measure")["change"].to_dict()
            told = {one["measure"]: one["change"] for one in output["next_band"]["changes"] if one["change"]}
            assert change == told
    assert frames["reading.contributions"].attrs["units"] == {"points": "points"}


def test_a_file_says_of_what_and_without_what(report: Report, tmp_path: Path) -> None:
    """One row a line of the trace; product, what was set aside, seed and draws in the last columns."""
    frame = pd.read_csv(write_report(report, tmp_path / "trace.csv"))
    lines = [line for output in report.document["outputs"].values() for line in output["trace"]]
    assert frame["value"].tolist() == pytest.approx([line["value"] for line in lines])
    assert set(frame["product"]) == {"B_2"}
    assert set(frame["set_aside"]) == {"heat/2"}
    assert list(frame.columns[-4:]) == ["set_aside", "seed", "draws", "cautions"]


def test_a_folder_has_document_table_and_pages(report: Report, tmp_path: Path) -> None:
    """The document is that of `--json`."""
    folder = write_report(report, tmp_path / "out")
    names = ["explain.csv", "explain.html", "explain.json", "explain.md", "manifest.json"]
    assert sorted(path.name for path in folder.iterdir()) == names
    assert json.loads((folder / "explain.json").read_bytes()) == json.loads(json.dumps(report.document))


def test_texts_of_files_stay_text(folder: Path, report: Report, tmp_path: Path) -> None:
    """Ids, labels, attributes and remarks bring no element into a page or a notebook."""
    hostile = explain(folder / "beds.yaml", folder / "beds.csv", "A<1>")
    for page in (hostile._repr_html_(), write_report(hostile, tmp_path / "out.html").read_text(encoding="utf-8")):
        assert "A&lt;1&gt;" in page
        assert "<b>" not in page
        assert "<u>" not in page
        assert "<script" not in page
    hot = explain(folder / "beds.yaml", folder / "beds.csv", "C*3")
    assert "too &lt;hot&gt;" in hot._repr_html_()


def test_a_remark_that_turns_the_direction_is_set_apart(folder: Path, tmp_path: Path) -> None:
    """Figures after it keep their place: it stands in an element of its own, in the headline too."""
    remark = "\u05d7\u05dd 9"
    (tmp_path / "turned.yaml").write_text(FORM.replace("too <hot>", remark), encoding="utf-8")
    made = explain(tmp_path / "turned.yaml", folder / "beds.csv", "C*3", score="reading")
    assert remark in made.verdict[0]
    page = write_report(made, tmp_path / "turned.html").read_text(encoding="utf-8")
    assert page.count(remark) == page.count(f"<bdi>{remark}</bdi>") > 1
