"""The report of a score table: pages with every sentence, figures as the files have them, and no text made of a million rows."""

from __future__ import annotations

import json
import re
from io import BytesIO
from pathlib import Path
from typing import Any

import pandas as pd
import pypdf
import pytest

from analysis import Report, score_report, write_report
from analysis.report.files import FORMATS
from analysis.report.page import MOST_ROWS
from analysis.scores import report as report_of_scores
from analysis.scores.report import Asked, figures_report, leader_in_words, table_report
from scoring import read_catalogue, read_formula, score
from scoring.errors import SteelyardError
from scoring.table.table import Column, ScoreTable

FORM = """\
formula: trial
version: 1.0.0
title: Trial <beds> & "more"
scale: {from: 1, to: 10}
bands: {good: 7, fair: 4, weak: 1}
measures:
  heat: {label: Heat <b>, unit: delta_degC, repeatability: 0.2}
  drop: {label: Drop, unit: mm, repeatability: 2}
attributes: {maker: {label: Maker, required: no}, value: {label: Value, required: no}}
ratings:
  cool: {measure: heat, curve: {points: {1: 10, 9: 1}}}
  edge: {measure: drop, curve: {points: {20: 10, 160: 1}}}
scores:
  reading: {label: Reading_in bed, weights: {cool: 2, edge: 1}, missing: {absent_above: 0.4}}
  Reading: {label: "Upright <i>", weights: {cool: 1, edge: 1}}
gates: [{name: hot, when: heat > 8, withhold: too <hot>}]
"""
BEDS = """\
product,maker,value,heat,drop
A<1>,<u>V,high,1.5,60
B_2,#W,low,3.5,30
C*3,$X,high,6.5,90
D#4,&Y,low,2.5,missing
E$5,"=Z",low,8.5,40
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A formula and a catalogue whose texts mean something to every language."""
    made = tmp_path_factory.mktemp("scored")
    (made / "beds.yaml").write_text(FORM, encoding="utf-8")
    (made / "beds.csv").write_text(BEDS, encoding="utf-8")
    return made


@pytest.fixture(scope="module")
def table(folder: Path) -> ScoreTable:
    """Its score table."""
    formula = read_formula(folder / "beds.yaml")
    return score(formula, read_catalogue(folder / "beds.csv", formula))


@pytest.fixture(scope="module")
def report(folder: Path) -> Report:
    """All of it."""
    return score_report(folder / "beds.yaml", folder / "beds.csv")


def test_who_leads_is_said_of_each_score(report: Report) -> None:
    """Worked by hand: A<1> has 9.4375 and 7.428571, so (2*9.4375 + 7.428571)/3 = 8.767857 and 8.433036; B_2 follows."""
    assert report.verdict == (
        "Reading_in bed: A<1> is first of 4 with 8.8 (good); without a place: 1 withheld.",
        "Upright <i>: A<1> is first of 3 with 8.4 (good); without a place: 1 unrated and 1 withheld.",
    )


def test_those_who_share_the_first_place_are_named(folder: Path) -> None:
    """Two products with the same readings; and a score that nobody has."""
    formula = read_formula(folder / "beds.yaml")
    alike = folder / "alike.csv"
    alike.write_text("product,heat,drop\nA,2,60\nB,2,60\nC,3,60\n", encoding="utf-8")
    shared = score(formula, read_catalogue(alike, formula))
    said = leader_in_words(shared, shared.column("reading"))
    assert said.startswith("Reading_in bed: A and B share the first place of 3 with ")
    alike.write_text("product,heat,drop\nA,8.5,60\nB,8.5,60\nC,8.5,60\n", encoding="utf-8")
    none = score(formula, read_catalogue(alike, formula))
    assert leader_in_words(none, none.column("reading")) == "Reading_in bed: no product has a place: 3 withheld."


@pytest.mark.parametrize("ending", FORMATS)
def test_every_format_is_the_same_on_every_run(folder: Path, report: Report, ending: str, tmp_path: Path) -> None:
    """Written again over itself, which is known as ours."""
    path = write_report(report, tmp_path / f"out{ending}")
    first = path.read_bytes()
    again = score_report(folder / "beds.yaml", folder / "beds.csv")
    assert write_report(again, path).read_bytes() == first


def plain(page: str) -> str:
    """The letters and digits of a page, without what its language puts around them."""
    return re.sub(r"[^a-z0-9.%]", "", re.sub(r"<[^>]+>|&[a-z]+;|#\d+;", "", page).lower())


def test_every_page_has_every_sentence(report: Report, tmp_path: Path) -> None:
    """HTML, Markdown and PDF: who leads, what a first place stands on, what each picture shows, what is warned of."""
    said = [one for one in (*report.verdict, *report.closing, *report.source.cautions) if "<" not in one]
    for ending in (".html", ".md"):
        page = plain(write_report(report, tmp_path / f"out{ending}").read_text(encoding="utf-8"))
        assert [one for one in said if plain(one) not in page] == []
    pages = pypdf.PdfReader(BytesIO(write_report(report, tmp_path / "out.pdf").read_bytes())).pages
    text = plain(" ".join(page.extract_text() for page in pages))
    assert [one for one in said if plain(one) not in text] == []


def test_tables_are_the_documents_figures(report: Report) -> None:
    """Side by side and in full: by product the same value, shown figure, place, band, status and remarks."""
    products = {one["id"]: one for one in report.document["products"]}
    beside = report.frames["scores"].set_index("product")
    for name in ("reading", "Reading"):
        whole = report.frames[f"{name}.places"].set_index("product")
        for product, one in products.items():
            told: dict[str, Any] = one["scores"][name]
            row = whole.loc[product]
            for key in ("value", "shown", "rank"):
                expected = float("nan") if told[key] is None else told[key]
                assert row[key] == pytest.approx(expected, nan_ok=True)
                assert beside.loc[product, f"{name}.{key}"] == pytest.approx(expected, nan_ok=True)
            assert (row["band"] or None, row["status"]) == (told["band"], told["status"])
            assert row["remarks"] == "; ".join(told["remarks"])
        assert whole["attribute.value"].tolist()[0] == "high"
    assert report.frames["scores"].attrs["units"]["reading.shown"] == "points"
    assert "reading.status" not in report.frames["scores"].attrs["units"]


def test_the_table_of_files_is_that_of_the_door(table: ScoreTable, report: Report) -> None:
    """The same columns and values as `ScoreTable.frame`, then what it was made from."""
    flat = report.frame.set_index("product")
    pd.testing.assert_frame_equal(flat.iloc[:, :-5], table.frame(), check_dtype=False, check_index_type=False)
    assert list(flat.columns[-5:]) == ["formula", "formula_sha256", "catalogue_sha256", "set", "cautions"]


def test_a_folder_has_the_page_beside_tables_and_pictures(report: Report, tmp_path: Path) -> None:
    """Names that differ in a capital alone stand under names of their own; each picture is told in `pictures.json`."""
    folder = write_report(report, tmp_path / "out")
    pictures = ["ratings", "reading-parts", "reading-uncertainty", "Reading-parts-2", "Reading-uncertainty-2"]
    pictures += ["cool-curve", "edge-curve"]
    files = {f"{name}.{kind}" for name in pictures for kind in ("svg", "png")}
    files |= {f"scores.{kind}" for kind in ("json", "csv", "html", "md")} | {"pictures.json", "manifest.json"}
    assert {path.name for path in folder.iterdir()} == files
    told = json.loads((folder / "pictures.json").read_bytes())["pictures"]
    assert sorted(one["name"] for one in told) == sorted(pictures)
    assert json.loads((folder / "scores.json").read_bytes()) == json.loads(json.dumps(report.document))
    page = (folder / "scores.html").read_text(encoding="utf-8")
    assert page.count("<img") == len(pictures)


def test_texts_of_files_stay_text(report: Report, tmp_path: Path) -> None:
    """Ids, labels, attributes and remarks bring no element into a page or a notebook."""
    for page in (report._repr_html_(), write_report(report, tmp_path / "out.html").read_text(encoding="utf-8")):
        assert "A&lt;1&gt;" in page
        assert "too &lt;hot&gt;" in page
        assert "<u>" not in page
        assert "<i>" not in page
        assert "<script" not in page


@pytest.mark.parametrize(
    ("name", "pictures"),
    [("Reading", ["Reading-parts-2", "Reading-uncertainty-2"]), ("cool", ["cool-curve"])],
)
def test_one_score_or_rating_in_full(folder: Path, name: str, pictures: list[str]) -> None:
    """Its sentence, its table and its pictures alone, under the names that a folder has; the figures are all there."""
    one = score_report(folder / "beds.yaml", folder / "beds.csv", score=name)
    assert list(one.tables) == [f"{name}.places"]
    assert list(one.pictures) == pictures
    assert set(one.document["products"][0]["scores"]) == {"reading", "Reading"}
    with pytest.raises(SteelyardError, match="reeding"):
        score_report(folder / "beds.yaml", folder / "beds.csv", score="reeding")


def test_a_form_without_scores_has_its_ratings(tmp_path: Path) -> None:
    """The ratings side by side, no score, and no fault."""
    (tmp_path / "f.yaml").write_text(FORM.split("scores:")[0], encoding="utf-8")
    (tmp_path / "f.csv").write_text(BEDS, encoding="utf-8")
    made = score_report(tmp_path / "f.yaml", tmp_path / "f.csv")
    assert list(made.tables) == ["ratings"]
    assert "A&lt;1&gt;" in write_report(made, tmp_path / "f.html").read_text(encoding="utf-8")


def long_table(folder: Path, count: int) -> ScoreTable:
    """So many products."""
    formula = read_formula(folder / "beds.yaml")
    rows = [f"P{i:05d},{1 + 6 * i / count},60" for i in range(count)]
    (folder / "long.csv").write_text("\n".join(["product,heat,drop", *rows]) + "\n", encoding="utf-8")
    return score(formula, read_catalogue(folder / "long.csv", formula))


def test_a_page_of_very_many_products_is_cut_and_says_so(folder: Path, tmp_path: Path) -> None:
    """The last product with a row is there, the next is not; files of figures have all of them."""
    made = table_report(long_table(folder, MOST_ROWS + 3), Asked(only="reading"))
    page = write_report(made, tmp_path / "long.md").read_text(encoding="utf-8")
    assert f"P{MOST_ROWS - 1:05d}" in page
    assert f"P{MOST_ROWS:05d}" not in page
    assert "Tables are cut after 5,000 rows" in page
    assert len(pd.read_csv(write_report(made, tmp_path / "long.csv"))) == MOST_ROWS + 3


def test_figures_make_no_text_of_cells_and_one_product_at_a_time(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Files of figures word no cell and ask for no first place; the document gives products one by one."""

    def never(*given: object) -> str:
        raise AssertionError("a cell was worded")

    monkeypatch.setattr(report_of_scores, "cell", never)
    monkeypatch.setattr(report_of_scores, "first_places", never)
    monkeypatch.setattr(Column, "shown_text", never)
    made = figures_report(long_table(folder, 40))
    for ending in (".csv", ".parquet", ".json"):
        write_report(made, tmp_path / f"figures{ending}")
    products = made.stream["products"]
    assert next(products)["id"] == "P00000"
    assert sum(1 for _ in products) == 39
