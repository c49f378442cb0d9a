"""What products are called stands beside their ids in every output, as text, whatever it is."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pandas as pd
import pytest
from typer.testing import CliRunner
from unseen import pictures_unseen

from analysis import compare, explain, flip, record, reread, score_report, sensitivity, stability, verify, weights
from analysis.cli.main import app
from analysis.page.document import page_text
from analysis.records.document import keep_new
from analysis.report.files import write_report
from analysis.report.products import Mentions, named_document
from analysis.report.report import Report
from scoring import read_catalogue, read_formula, score
from scoring.catalogue import ProductNames
from scoring.errors import SteelyardError

FORM = """\
formula: beds
version: 1.0.0
scale: {from: 1, to: 10}
bands: {good: 7, fair: 4, weak: 1}
attributes:
  title: {column: "Trade name", shown_as: name}
  firm: {shown_as: maker}
measures:
  heat: {unit: delta_degC, repeatability: 0.2, plausible: [0, 12]}
  drop: {unit: mm, repeatability: 2, plausible: [20, 160]}
ratings:
  cool: {measure: heat, curve: {points: {1: 10, 9: 1}}}
  edge: {measure: drop, curve: {line: {worst: 135, best: 40}}}
scores:
  reading: {label: Reading, weights: {cool: 2, edge: 1}}
"""
BEDS = """\
product,Trade name,firm,heat,drop
A-01,Alder Cloud,Vorrlin,2,60
A-02,<b>Bold</b> & =1+1,Dapquist,4,50
A-03,,Plumvane,6,130
A-04,Alder Cloud,Vorrlin,5,80
"""
#: The same bed, now better on one measure.
ANEW = BEDS.replace("A-04,Alder Cloud,Vorrlin,5,80", "A-04,Alder Cloud,Vorrlin,1.5,80")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A formula, two catalogues and a record of the first."""
    (tmp_path / "beds.yaml").write_text(FORM, encoding="utf-8")
    (tmp_path / "beds.csv").write_text(BEDS, encoding="utf-8")
    (tmp_path / "anew.csv").write_text(ANEW, encoding="utf-8")
    made = record(tmp_path / "beds.yaml", tmp_path / "beds.csv", date="2026-01-02").found
    keep_new(tmp_path / "record.json", dict(made.document))
    return tmp_path


Made = Callable[[Path], Report]
REPORTS: dict[str, Made] = {
    "score": lambda at: score_report(at / "beds.yaml", at / "beds.csv"),
    "score of one": lambda at: score_report(at / "beds.yaml", at / "beds.csv", score="reading"),
    "explain": lambda at: explain(at / "beds.yaml", at / "beds.csv", "A-01"),
    "sensitivity": lambda at: sensitivity(at / "beds.yaml", at / "beds.csv", draws=256),
    "stability": lambda at: stability(at / "beds.yaml", at / "beds.csv", draws=128),
    "compare": lambda at: compare(at / "beds.yaml", at / "beds.yaml", at / "beds.csv", catalogue_new=at / "anew.csv"),
    "weights": lambda at: weights(at / "beds.yaml", at / "beds.csv"),
    "flip": lambda at: flip(at / "beds.yaml", at / "beds.csv", "A-02", "A-01"),
    "reread": lambda at: reread(at / "beds.yaml", at / "beds.csv"),
    "record": lambda at: record(at / "beds.yaml", at / "beds.csv", date="2026-01-02"),
    "verify": lambda at: verify(at / "record.json", at / "beds.yaml", at / "anew.csv"),
}


@pytest.mark.parametrize("name", REPORTS)
def test_every_table_of_products_has_their_names(folder: Path, name: str) -> None:
    """In tables, frames, the one table of files, and under each id of the document."""
    made = REPORTS[name](folder)
    called = {"A-01": "Alder Cloud", "A-02": "<b>Bold</b> & =1+1", "A-03": "", "A-04": "Alder Cloud"}
    with_products = [frame for frame in (*made.frames.values(), made.frame) if "product" in frame]
    for frame in with_products:
        products = frame["product"].fillna("")
        assert frame["name"].tolist() == [called.get(product, "") for product in products]
        assert set(frame["maker"]) <= {"Vorrlin", "Dapquist", "Plumvane", ""}
    if name == "record":  # its document is the record, which has the words among its readings
        return
    for product, named in _beside_ids(made.document):
        assert named == (called[product] or None)
    assert with_products or "Alder Cloud" in str(made)


def test_a_document_has_the_name_beside_each_id(folder: Path) -> None:
    """Of every product of the score table; null where one has none."""
    found = _beside_ids(REPORTS["score"](folder).document)
    assert found == [("A-01", "Alder Cloud"), ("A-02", "<b>Bold</b> & =1+1"), ("A-03", None), ("A-04", "Alder Cloud")]
    assert _beside_ids(REPORTS["explain"](folder).document)[0] == ("A-01", "Alder Cloud")


def _beside_ids(noun: object) -> list[tuple[str, object]]:
    """Each id of a document with the name beside it."""
    if isinstance(noun, dict):
        own = [(noun[key], noun["name"]) for key in ("product", "id") if str(noun.get(key)).startswith("A-")]
        return own + [pair for value in noun.values() for pair in _beside_ids(value)]
    if isinstance(noun, list):
        return [pair for value in noun for pair in _beside_ids(value)]
    return []


@pytest.mark.parametrize("ending", [".html", ".md", ".tex", ".typ", ".csv", ".xlsx", ".parquet", ".json"])
def test_a_hostile_name_stays_text(folder: Path, ending: str) -> None:
    """No page makes a tag of it, and no sheet a formula."""
    path = folder / f"scores{ending}"
    with pictures_unseen():
        write_report(REPORTS["score of one"](folder), path)
    if ending in (".html", ".md", ".tex", ".typ"):
        text = path.read_text(encoding="utf-8")
        assert "<b>Bold" not in text.replace('#"<b>Bold', "")  # in a string of Typst it is text
        assert "Bold" in text
        return
    if ending == ".json":
        assert json.loads(path.read_text(encoding="utf-8"))["products"][1]["name"] == "<b>Bold</b> & =1+1"
        return
    read = {".csv": pd.read_csv, ".xlsx": pd.read_excel, ".parquet": pd.read_parquet}[ending]
    assert read(path)["name"].tolist()[1] == "<b>Bold</b> & =1+1"


def test_a_name_that_a_sheet_would_run_does_not_run(tmp_path: Path) -> None:
    """It is led by an apostrophe, as any text that begins so."""
    (tmp_path / "beds.yaml").write_text(FORM, encoding="utf-8")
    (tmp_path / "beds.csv").write_text(BEDS.replace("<b>Bold</b> & =1+1", "=1+1"), encoding="utf-8")
    path = write_report(
        score_report(tmp_path / "beds.yaml", tmp_path / "beds.csv", score="reading"), tmp_path / "s.csv"
    )
    assert pd.read_csv(path)["name"].tolist()[1] == "'=1+1"


def test_python_and_a_notebook_have_the_names(folder: Path) -> None:
    """In the frames of a score table, and as text in what a notebook shows."""
    formula = read_formula(folder / "beds.yaml")
    table = score(formula, read_catalogue(folder / "beds.csv", formula))
    for frame in (table.frame(), table.frame("reading"), table.readings_frame()):
        assert frame["name"].tolist() == ["Alder Cloud", "<b>Bold</b> & =1+1", "", "Alder Cloud"]
    shown = table._repr_html_()
    assert "&lt;b&gt;Bold" in shown
    assert "<b>Bold" not in shown


def test_the_page_knows_the_names_and_no_tag_of_them(folder: Path) -> None:
    """They stand in its model beside the ids; the attribute is not told twice."""
    formula = read_formula(folder / "beds.yaml")
    text = page_text(score(formula, read_catalogue(folder / "beds.csv", formula)))
    assert '"names":["Alder Cloud",' in text
    assert "<b>Bold" not in text
    assert '"name":"title"' not in text


def test_a_terminal_names_a_product_once_and_keeps_makers_for_files(folder: Path) -> None:
    """First mention alone; the column of makers is in files and pages."""
    said = CliRunner().invoke(app, ["score", str(folder / "beds.yaml"), str(folder / "beds.csv"), "--score", "reading"])
    assert "Reading: A-01 (Alder Cloud) is first" in said.stdout
    assert "Vorrlin" not in said.stdout
    assert "Vorrlin" in score_report(folder / "beds.yaml", folder / "beds.csv", score="reading").frame.to_csv()


def test_a_long_name_is_cut_on_a_terminal_and_in_a_picture_alone(folder: Path) -> None:
    """The id beside it tells it apart; files and pages have all of it."""
    long = "Alder Cloud of the Northern Reaches, Edition Two"
    (folder / "beds.csv").write_text(BEDS.replace("A-01,Alder Cloud", f'A-01,"{long}"'), encoding="utf-8")
    made = score_report(folder / "beds.yaml", folder / "beds.csv", score="reading")
    (table,) = made.tables.values()
    assert long in [cell for row in table.cells() for cell in row]
    assert "Alder Cloud of the Nort…" in [cell for row in table.in_brief().cells() for cell in row]
    assert ProductNames({"A-01": long}).label("A-01") == "A-01 Alder Cloud of the Nor…"


@pytest.mark.parametrize(
    ("given", "hint"),
    [
        ("<b>bold</b> & =1+1", "Did you mean `A-02` (<b>Bold</b> & =1+1)?"),
        ("alder cloud", "Did you mean `A-01` (Alder Cloud) or `A-04` (Alder Cloud)?"),
        ("Alder Clout", "Did you mean `A-04` (Alder Cloud)?"),
        ("A-3", "Did you mean `A-03`?"),
    ],
)
def test_a_name_where_an_id_is_expected_is_told_by_its_id(folder: Path, given: str, hint: str) -> None:
    """Two of one name are both told; an id that is nearly one is told as ever."""
    for asked in (
        lambda: explain(folder / "beds.yaml", folder / "beds.csv", given),
        lambda: flip(folder / "beds.yaml", folder / "beds.csv", given, "A-01"),
        lambda: reread(folder / "beds.yaml", folder / "beds.csv", settle=f"{given}:A-01"),
    ):
        with pytest.raises(SteelyardError) as fault:
            asked()
        assert fault.value.problems[0].hint == hint


def test_a_changed_name_is_no_drift_of_a_figure(folder: Path) -> None:
    """The record keeps the name as published; what is called otherwise stands by itself, and the figures hold."""
    renamed = BEDS.replace("A-01,Alder Cloud,Vorrlin", "A-01,Birch Cloud,Vorrlind")
    (folder / "beds.csv").write_text(renamed, encoding="utf-8")
    made = verify(folder / "record.json", folder / "beds.yaml", folder / "beds.csv")
    assert [(one.kind, one.says) for one in made.found.drift] == [
        ("name", "A-01: published as called Alder Cloud, now called Birch Cloud"),
        ("name", "A-01: published as made by Vorrlin, now made by Vorrlind"),
    ]
    assert made.verdict[0] == "What was published holds, but for what products are called."
    assert made.document["causes"] == []
    (folder / "beds.csv").write_text(renamed.replace(",2,60", ",3,60"), encoding="utf-8")
    both = verify(folder / "record.json", folder / "beds.yaml", folder / "beds.csv")
    assert both.verdict[0] == "What was published has drifted."
    assert {one.kind for one in both.found.drift} == {"name", "data", "figure"}


NAMES = ProductNames({"A-1": "Alder", "A-2": "Birch", "A-3": "Cedar", "12": "Dozen", "first": "Premier"})


@pytest.mark.parametrize(
    ("sentence", "named"),
    [
        ("A-1 is first.", "A-1 (Alder) is first."),
        ("First: A-1, then A-2 and A-1.", "First: A-1 (Alder), then A-2 (Birch) and A-1."),
        ("A-1, A-2 and A-3 tie.", "A-1, A-2 and A-3 tie."),
        ("12 of 60 have the first place.", "12 of 60 have the first place."),
        ("Try `flip f c A-1 A-2`.", "Try `flip f c A-1 A-2`."),
        ("AA-1 and A-12 are others.", "AA-1 and A-12 are others."),
    ],
)
def test_a_sentence_names_a_product_at_its_first_mention(sentence: str, named: str) -> None:
    """Not in what is there to be copied, not where an id may be a figure or a word, and not where there are many."""
    assert Mentions(NAMES).named(sentence) == named


def test_a_product_is_named_once_in_a_section() -> None:
    """Sentences after the first have its id alone."""
    mentions = Mentions(NAMES)
    assert [mentions.named("A-1 leads."), mentions.named("A-1 and A-2 are close.")] == [
        "A-1 (Alder) leads.",
        "A-1 and A-2 (Birch) are close.",
    ]


def test_a_document_without_names_is_left_as_it_is() -> None:
    """The same nouns, not copies."""
    document = {"product": "A-1"}
    assert named_document(document, ProductNames()) is document


@pytest.mark.parametrize(
    ("attributes", "found"),
    [
        (
            "{a: {shown_as: name}, b: {shown_as: name}}",
            "`shown_as: name` in attributes.b, which attributes.a has already",
        ),
        ("{a: {column: X}, b: {column: X}}", "`column: X` in attributes.b, which attributes.a has already"),
        ("{a: {shown_as: name, public: no}}", "`public: no` beside `shown_as: name` in attributes.a"),
        ("{a: {shown_as: nick}}", "`nick` for attributes.a.shown_as"),
        ("{a: {public: maybe}}", "attributes.a.public"),
    ],
)
def test_attributes_that_cannot_be(tmp_path: Path, attributes: str, found: str) -> None:
    """Two names, two of one column, a name that is kept, words that are none: each is a fault at its line."""
    start = FORM.index("attributes:")
    text = FORM[:start] + f"attributes: {attributes}\n" + FORM[FORM.index("measures:") :]
    (tmp_path / "f.yaml").write_text(text, encoding="utf-8")
    with pytest.raises(SteelyardError, match="attributes") as fault:
        read_formula(tmp_path / "f.yaml")
    assert any(found in problem.found for problem in fault.value.problems)
    assert all(problem.place.line == 5 for problem in fault.value.problems)


def test_a_column_that_is_not_there_is_a_fault_and_the_nearest_is_named(folder: Path) -> None:
    """Or nothing, where the formula does not require it."""
    text = FORM.replace('{column: "Trade name", shown_as: name}', "{column: Trade_name, shown_as: name}")
    (folder / "f.yaml").write_text(text, encoding="utf-8")
    with pytest.raises(SteelyardError) as fault:
        read_catalogue(folder / "beds.csv", read_formula(folder / "f.yaml"))
    (problem,) = fault.value.problems
    assert "Trade name" in f"{problem.found} {problem.expected} {problem.hint} {problem.place}"
    gone = FORM.replace("firm: {shown_as: maker}", "colour: {}")
    (folder / "f.yaml").write_text(gone, encoding="utf-8")
    with pytest.raises(SteelyardError) as fault:
        read_catalogue(folder / "beds.csv", read_formula(folder / "f.yaml"))
    (problem,) = fault.value.problems
    assert problem.found == "no column of the attribute `colour`"
    assert problem.expected == "a column called `colour`"
    assert "`required: no`" in problem.hint
    (folder / "f.yaml").write_text(gone.replace("colour: {}", "colour: {required: no}"), encoding="utf-8")
    assert set(read_catalogue(folder / "beds.csv", read_formula(folder / "f.yaml")).attributes["colour"]) == {""}
