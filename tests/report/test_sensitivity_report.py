"""The report on sensitivity: one study behind command and function, in every format, with the figures of its document."""

from __future__ import annotations

import json
import math
import re
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pypdf
import pytest

from analysis import Report, sensitivity, write_report
from analysis.indices.report import precision_reached
from analysis.report.files import FORMATS
from analysis.study import load_study
from analysis.trials.quantities import SHIFT
from scoring import read_catalogue, read_formula
from scoring.errors import StudyError

FORM = """\
formula: trial
version: 1.0.0
title: Trial <beds> & "more"
scale: {from: 1, to: 10}
measures:
  heat: {label: Heat <b>, unit: delta_degC, repeatability: 0.2}
  drop: {label: Drop, unit: mm, repeatability: 2}
ratings:
  cool: {measure: heat, curve: {points: {1: 10, 9: 1}}}
  edge: {measure: drop, curve: {points: {20: 10, 160: 1}}}
scores:
  reading: {label: Reading_in bed, weights: {cool: 2, edge: 1}}
  resting: {label: At *rest*, weights: {cool: 1, edge: 3}}
"""
BEDS = "product,heat,drop\nA<1>,1.5,60\nB_2,3.5,30\nC*3,6.5,90\nD#4,2.5,120\nE$5,8.5,40\n"
STUDY = """\
study: what <our> judges argue about
formula: trial
beats: [["A<1>", "B_2"]]
vary:
  - {weights: every score, factor: [0.5, 2], group: "<b>judges</b>"}
  - {anchors: every rating, within: 5%}
  - {readings: repeatability}
"""
FEW = {"draws": 256, "seed": 3}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A formula, a catalogue and a study whose texts mean something to every language."""
    made = tmp_path_factory.mktemp("report")
    for name, text in (("beds.yaml", FORM), ("beds.csv", BEDS), ("study.yaml", STUDY)):
        (made / name).write_text(text, encoding="utf-8")
    return made


def reported(folder: Path, **asked: Any) -> Report:
    """A report from the paths of its files."""
    given: dict[str, Any] = {"study": folder / "study.yaml", **FEW, **asked}
    return sensitivity(folder / "beds.yaml", str(folder / "beds.csv"), **given)


@pytest.fixture(scope="module")
def report(folder: Path) -> Report:
    """A report on both scores, with second order and a trail of two steps."""
    return reported(folder, second_order=True, draws=512)


@pytest.fixture(scope="module")
def shapley(folder: Path) -> Report:
    """A report on Shapley effects of one score."""
    return reported(folder, scores=["reading"], shapley=True)


def test_what_is_read_already_gives_the_same_as_paths(folder: Path) -> None:
    """Formula, catalogue, frame and study in place of their files; all in the document."""
    formula = read_formula(folder / "beds.yaml")
    beds = read_catalogue(folder / "beds.csv", formula)
    study = load_study(folder / "study.yaml", formula.form, beds)
    expected = reported(folder, scores=["reading"]).document
    assert sensitivity(formula, beds, study=study, scores=["reading"], **FEW).document == expected
    derived = sensitivity(formula, beds, scores=["reading"], **FEW).document["study"]
    assert (derived["name"], derived["sha256"]) == ("default", None)


def test_the_base_points_stand_beside_the_seed(folder: Path, report: Report, shapley: Report) -> None:
    """As they were rounded up; Shapley effects come from a sample of a size that nobody asks for."""
    assert report.source.lines()[-2:] == ["Seed 3.", "At most 512 base points."]
    assert report.document["draws"] == 512
    assert reported(folder, draws=300, scores=["reading"]).document["draws"] == 512
    assert shapley.source.lines()[-1] == "Seed 3."
    assert "draws" not in shapley.document


@pytest.mark.parametrize("ending", FORMATS)
def test_every_format_has_the_same_bytes_on_every_run(report: Report, ending: str, tmp_path: Path) -> None:
    """Written twice over itself: the second run knows the file as ours."""
    path = write_report(report, tmp_path / f"out{ending}")
    first = path.read_bytes()
    assert len(first) > 1000
    assert write_report(report, path).read_bytes() == first


def test_the_study_run_again_gives_the_same_page(folder: Path, tmp_path: Path) -> None:
    """Sentences, tables and pictures from the same seed; another seed gives others."""
    pages = [
        write_report(reported(folder, scores=["reading"], seed=seed), tmp_path / f"{number}.html").read_bytes()
        for number, seed in enumerate((3, 3, 4))
    ]
    assert pages[0] == pages[1] != pages[2]


def plain(page: bytes) -> str:
    """The letters and digits of a page, without what its language puts around them."""
    return re.sub(r"[^a-z0-9.%]", "", re.sub(r"<[^>]+>|&[a-z]+;|#\d+;", "", page.decode()).lower())


@pytest.mark.parametrize("what", ["report", "shapley"])
def test_every_page_has_every_sentence_and_caution(what: str, request: pytest.FixtureRequest, tmp_path: Path) -> None:
    """HTML, Markdown and PDF say what `verdict` says, and of what intervals are."""
    made: Report = request.getfixturevalue(what)
    said = [line for line in (*made.verdict, *made.source.cautions) if not re.search("[<*_#$]", line)]
    said += ["95 % intervals of shares are of the error of the simulation alone: what more draws would change."]
    assert len(said) >= 2
    pages = {ending: write_report(made, tmp_path / f"out{ending}").read_bytes() for ending in (".html", ".md", ".pdf")}
    read = pypdf.PdfReader(BytesIO(pages[".pdf"])).pages
    pages[".pdf"] = " ".join(page.extract_text() for page in read).encode()
    for ending, page in pages.items():
        assert [line for line in said if plain(line.encode()) not in plain(page)] == [], ending


def test_texts_of_files_stay_text(report: Report, tmp_path: Path) -> None:
    """Neither a label, nor a product, nor a group or name of the study file becomes an element of a page."""
    for page in (write_report(report, tmp_path / "out.html").read_text(encoding="utf-8"), report._repr_html_()):
        assert "&lt;b&gt;judges&lt;/b&gt;" in page
        assert "A&lt;1&gt;" in page
        assert "<b>" not in page
        assert "<our>" not in page
        assert "<script" not in page


def index_rows(document: dict[str, Any], score: str, level: str) -> tuple[int, list[dict[str, Any]]]:
    """Which quantity is the mean shift in rank, and the rows of one level."""
    found = document["scores"][score]
    shift = [quantity["what"] for quantity in found["quantities"]].index(SHIFT)
    return shift, [row for row in found["indices"] if row["level"] == level]


@pytest.mark.parametrize(("table", "level"), [("groups", "group"), ("arguments", "factor")])
def test_index_tables_are_the_documents_figures(report: Report, table: str, level: str) -> None:
    """Every index and both ends of its interval, strongest first."""
    shift, rows = index_rows(report.document, "resting", level)
    frame = report.frames[f"resting.{table}"].set_index("name")
    assert sorted(frame.index) == sorted(row["name"] for row in rows)
    for row in rows:
        for key in ("first", "first_low", "first_high", "total", "total_low", "total_high"):
            assert frame.loc[row["name"], key] == pytest.approx(row[key][shift], rel=1e-8)
    assert frame["total"].is_monotonic_decreasing


def test_second_order_and_derivatives_are_the_documents_figures(report: Report) -> None:
    """A row for every pair of groups, and for every number with a derivative."""
    found = report.document["scores"]["reading"]
    shift, _ = index_rows(report.document, "reading", "group")
    second = report.frames["reading.second"].set_index(["between", "and"])
    assert len(second) == len(found["second"]) == 3
    for row in found["second"]:
        assert second.loc[tuple(row["between"]), "second"] == pytest.approx(row["second"][shift], rel=1e-8)
    local = report.frames["reading.local"].set_index("factor")
    known = [row for row in found["local"] if any(value is not None for value in row["points_per_sd"])]
    assert sorted(local.index) == sorted(row["factor"] for row in known)
    for row in known:
        sizes = [abs(value) for value in row["points_per_sd"] if value is not None]
        assert local.loc[row["factor"], "mean_size"] == pytest.approx(np.mean(sizes), rel=1e-8)
        assert abs(local.loc[row["factor"], "largest"]) == pytest.approx(max(sizes), rel=1e-8)
        assert local.loc[row["factor"], "broken"] == len(row["points_per_sd"]) - len(sizes)
    assert report.frames["reading.local"].attrs["units"] == {"mean_size": "points", "largest": "points"}


def test_the_products_table_is_the_documents_figures(report: Report) -> None:
    """Mean and standard deviation of scores and ranks, and the group with the greatest total index of each."""
    found = report.document["scores"]["reading"]
    _, groups = index_rows(report.document, "reading", "group")
    frame = report.frames["reading.products"].set_index("product")
    assert list(frame.index) == found["order"]
    for at, quantity in enumerate(found["quantities"]):
        family, product = quantity["what"], quantity["of"]
        if family not in ("score", "rank"):
            continue
        assert frame.loc[product, f"{family}_mean"] == pytest.approx(quantity["mean"], rel=1e-8)
        assert frame.loc[product, f"{family}_sd"] == pytest.approx(math.sqrt(quantity["variance"]), rel=1e-6, abs=1e-9)
        if quantity["state"] == "varies":
            assert frame.loc[product, f"{family}_total"] == pytest.approx(max(row["total"][at] for row in groups))


def test_a_product_without_a_score_in_some_draws_says_so(folder: Path, tmp_path: Path) -> None:
    """No mean and no cause is shown of it, in place of figures of the draws that have a score."""
    (tmp_path / "beds.csv").write_text(BEDS + "F6,,50\n", encoding="utf-8")
    text = FORM.replace("weights: {cool: 2, edge: 1}", "weights: {cool: 2, edge: 3}, missing: {absent_above: 0.41}")
    (tmp_path / "beds.yaml").write_text(text, encoding="utf-8")
    made = sensitivity(
        tmp_path / "beds.yaml", tmp_path / "beds.csv", study=folder / "study.yaml", scores=["reading"], **FEW
    )
    (table,) = (one for one in made.sections[0].tables if one.name == "products")
    (row,) = (row for row in table.cells() if row[1] == "F6")
    assert row[2:] == ["–", "–", "no score in some draws", "", "–", "–", "no score in some draws", ""]
    assert any("No shares are given for the score and the rank of F6" in said for said in made.verdict)


def test_the_shapley_table_is_the_documents_figures(shapley: Report) -> None:
    """The shares of the mean shift in rank add to 1; beside them those of the first place."""
    found = shapley.document["scores"]["reading"]
    names = [quantity["what"] for quantity in found["quantities"]]
    frame = shapley.frames["reading.shapley"].set_index("name")
    assert frame["effect"].sum() == pytest.approx(1)
    for row in found["groups"]:
        assert frame.loc[row["name"], "effect"] == pytest.approx(row["effect"][names.index(SHIFT)], rel=1e-8)
        assert frame.loc[row["name"], "winner_high"] == pytest.approx(row["high"][names.index("first")], rel=1e-8)


def test_a_folder_has_document_table_pages_and_pictures(report: Report, tmp_path: Path) -> None:
    """What a folder holds, by name; its document is that of `--json`, its table that of `frame`."""
    made = write_report(report, tmp_path / "out")
    pictures = [
        f"{score}-{what}.{kind}"
        for score in ("reading", "resting")
        for what in ("convergence", "heat", "indices-arguments", "indices-groups")
        for kind in ("png", "svg")
    ]
    files = [f"sensitivity.{kind}" for kind in ("csv", "html", "json", "md")]
    assert sorted(path.name for path in made.iterdir()) == sorted(["manifest.json", *pictures, *files])
    assert json.loads((made / "sensitivity.json").read_bytes()) == json.loads(json.dumps(report.document))
    assert list(pd.read_csv(made / "sensitivity.csv").columns) == list(report.frame.columns)


def test_a_picture_says_what_is_to_be_seen(report: Report) -> None:
    """Its finding is a sentence with figures, and none is its title."""
    for name, picture in report.pictures.items():
        assert picture.finding.endswith("."), name
        assert picture.title not in picture.finding
    said = report.pictures["reading-heat"].finding
    counts = [int(count) for count in re.findall(r"\((\d+)\)", said)]
    assert said.startswith("Reading_in bed: largest share in the scores of 5 products: ")
    assert sum(counts) == 5


def test_the_precision_that_is_asked_for_is_reached_or_not(folder: Path, report: Report, shapley: Report) -> None:
    """Nothing is missed where nothing is asked."""
    close, far = (reported(folder, scores=["reading"], within=within) for within in (0.0001, 0.45))
    assert [precision_reached(one) for one in (close, far, report, shapley)] == [False, True, True, True]
    assert "NOT reached" in close.verdict[-1]


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ({"by": "kinds"}, "Did you mean `kind`?"),
        ({"within": 0.02, "shapley": True}, "Leave out one of the two."),
        ({"of": ["shift"]}, "no precision"),
        ({"of": ["shift"], "shapley": True}, "no precision"),
        ({"scores": ["readin"]}, "Did you mean `reading`?"),
        ({"pairs": [("A<1>", "A<1>")]}, "two different products"),
    ],
)
def test_what_cannot_be_asked_is_refused(folder: Path, asked: dict[str, Any], says: str) -> None:
    """With what to do instead."""
    with pytest.raises(StudyError) as fault:
        reported(folder, **asked)
    assert says in str(fault.value)
