"""Two editions as one report: from paths and from what was read, the same in every format, and the figures of the document."""

from __future__ import annotations

import html
import json
import re
from io import BytesIO
from pathlib import Path

import numpy as np
import pandas as pd
import pypdf
import pytest

from analysis import Report, compare, write_report
from analysis.report.files import FORMATS
from scoring import read_catalogue, read_formula
from scoring.errors import CatalogueError, SteelyardError

FORM = """\
formula: trial
version: 1.0.0
title: Trial <beds> & "more"
scale: {from: 1, to: 10}
bands: {strong: 7, fair: 4, weak: 1}
cautions: [Nobody <i>slept</i> on these.]
measures:
  heat: {label: Heat <b>, unit: delta_degC, repeatability: 0.2}
  drop: {label: Drop, unit: mm, repeatability: 2}
ratings:
  cool: {measure: heat, curve: {points: {1: 10, 9: 1}}}
  edge: {measure: drop, curve: {points: {20: 10, 160: 1}}}
scores:
  reading: {label: Reading_in bed, weights: {cool: 2, edge: 1}}
  sitting: {label: Sitting <up>, weights: {cool: 1, edge: 3}}
"""
BEDS = "product,heat,drop\nA<1>,1.5,60\nB_2,3.5,30\nC*3,6.5,90\nD#4,2.5,120\nE$5,8.5,40\nF,,70\n"
#: The same beds later: B_2 read again, D#4 gone, G new; heat of all but two of three by a new method.
LATER = "product,heat,drop\nA<1>,1.5,60\nB_2,3.5,55\nC*3,6.5,90\nE$5,8.5,40\nF,,70\nG,2,30\n"
BRIDGE = "product,old,new\nA<1>,1.5,1.7\nB_2,3.5,3.4\nC*3,9.5,9.9\n"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two formulas, two catalogues and a bridge, whose texts mean something to every language."""
    made = tmp_path_factory.mktemp("compared")
    later = FORM.replace("{cool: 2, edge: 1}", "{cool: 1, edge: 2}").replace("{1: 10, 9: 1}", "{1: 10, 11: 1}")
    written = {"old.yaml": FORM, "new.yaml": later, "old.csv": BEDS, "new.csv": LATER, "bridge.csv": BRIDGE}
    for name, text in written.items():
        (made / name).write_text(text, encoding="utf-8")
    return made


def compared(folder: Path, scores: tuple[str, ...] = ()) -> Report:
    """Everything at once, from paths."""
    return compare(
        folder / "old.yaml",
        str(folder / "new.yaml"),
        folder / "old.csv",
        catalogue_new=folder / "new.csv",
        scores=scores,
        bridges={"heat": folder / "bridge.csv"},
    )


@pytest.fixture(scope="module")
def report(folder: Path) -> Report:
    """Of both scores."""
    return compared(folder)


@pytest.mark.parametrize("scores", [(), ("reading",)], ids=["all", "one"])
def test_every_format_is_the_same_on_every_run(folder: Path, tmp_path: Path, scores: tuple[str, ...]) -> None:
    """Of all scores and of one: two reports give the same bytes, in each format and in a folder."""
    one, other = compared(folder, scores), compared(folder, scores)
    assert tuple(score.name for score in one.found.scores) == (scores or ("reading", "sitting"))
    for ending in FORMATS:
        first = write_report(one, tmp_path / f"one{ending}").read_bytes()
        assert write_report(other, tmp_path / f"other{ending}").read_bytes() == first
    folders = [write_report(each, tmp_path / name) for each, name in ((one, "a"), (other, "b"))]
    files = [{path.name: path.read_bytes() for path in made.iterdir()} for made in folders]
    assert files[0] == files[1]
    assert {"compare.html", "compare.md", "compare.json", "compare.csv"} <= files[0].keys()
    assert "1-reading-places.svg" in files[0]
    assert any(name.startswith("1-reading-causes-") for name in files[0])


def plain(page: str) -> str:
    """The letters and digits of a page, without what its language puts around them."""
    return re.sub(r"[^a-z0-9.%]", "", html.unescape(re.sub(r"<[^>]+>|#\d+;", "", page)).lower())


def test_every_page_has_what_the_report_says(report: Report, tmp_path: Path) -> None:
    """Verdicts, changes, notes, reasons, cells and cautions, in HTML, Markdown and PDF."""
    tables = [*report.tables.values()]
    cells = [cell for table in tables for row in table.cells() for cell in row]
    said = [
        *report.verdict,
        *report.closing,
        *report.source.cautions,
        *(note for table in tables for note in table.notes),
    ]
    said = [text for text in (*said, *cells) if not re.search(r"[<>]\w", text)]
    assert len(said) > 60
    assert any(text.startswith("Bridge of heat: ") for text in said)
    assert any(text.startswith("C*3: the bridge has 9.5") for text in said)
    page, markdown = (write_report(report, tmp_path / f"out{ending}").read_text("utf-8") for ending in (".html", ".md"))
    pages = pypdf.PdfReader(BytesIO(write_report(report, tmp_path / "out.pdf").read_bytes())).pages
    printed = "".join(one.extract_text() for one in pages)
    for text in (page, markdown, printed):
        held = plain(text)
        assert [sentence for sentence in said if plain(sentence) not in held] == []
    assert page.count("<figure") == len(report.pictures)


def test_texts_of_files_stay_text(report: Report, tmp_path: Path) -> None:
    """No element comes from a name, a label or a caution; a notebook shows them too."""
    for page in (write_report(report, tmp_path / "out.html").read_text("utf-8"), report._repr_html_()):
        assert "Trial &lt;beds&gt; &amp;" in page
        assert "A&lt;1&gt;" in page
        assert not re.search(r"<(b|i|up|beds|1)>", page)
        assert "<script" not in page


def test_frames_are_the_documents_figures(report: Report) -> None:
    """Every product of a table has the figures that the document has of it, under the same names."""
    assert str(report.document["written_by"]).startswith("steelyard")
    for name, score in report.document["scores"].items():
        frame = report.frames[f"{name}.moves"].set_index("product")
        known = {one["id"]: one for one in score["products"]}
        touched = {
            key
            for key, one in known.items()
            if one["move"] or one["climb"] or None in (one["old"]["rank"], one["new"]["rank"])
        }
        assert set(frame.index) == {key for key in touched if known[key]["old"]["rank"] or known[key]["new"]["rank"]}
        for product, row in frame.iterrows():
            one = known[str(product)]
            figures = {"move": one["move"], "u": one["u"], "climb": one["climb"]}
            for edition in ("old", "new"):
                figures |= {f"{edition}_{key}": one[edition][key] for key in ("value", "rank")}
                assert row[f"{edition}_status"] == one[edition]["status"]
                assert (row[f"{edition}_letters"] or None) == one[edition]["letters"]
            figures |= {f"why {cause}": share["score"] for cause, share in one["why"].items()}
            for key, value in figures.items():
                assert row[key] == pytest.approx(
                    np.nan if value is None else value, rel=1e-8, abs=1e-12, nan_ok=True
                ), key
        assert frame.attrs["units"]["move"] == "points"
    changed = report.frames["changes"]
    assert changed["says"].tolist()[: len(report.document["changes"])] == [
        one["says"] for one in report.document["changes"]
    ]
    assert changed["kind"].tolist()[-2:] == ["readings", "products"]


def test_the_one_table_says_what_it_was_made_from(report: Report, tmp_path: Path) -> None:
    """Both formulas, both catalogues, and the cautions at the very end."""
    frame = pd.read_csv(write_report(report, tmp_path / "out.csv"))
    made_from = [
        f"{edition}_{what}" for edition in ("old", "new") for what in ("formula", "formula_sha256", "catalogue_sha256")
    ]
    assert [*frame.columns[-9:]] == [*made_from, "set", "seed", "cautions"]
    assert len(frame) == 2 * 7
    lines = report.source.lines()
    for edition in ("old", "new"):
        assert any(report.document[edition]["formula"]["sha256"] in line for line in lines)
        assert any(report.document[edition]["catalogue"]["sha256"] in line for line in lines)


def test_what_was_read_gives_what_its_paths_give(folder: Path) -> None:
    """A formula with what was tried on it, catalogues that were read for the old one, and frames."""
    old = read_formula(folder / "old.yaml")
    before, after = (read_catalogue(folder / name, old) for name in ("old.csv", "new.csv"))
    tried = old.set({"scores.reading.weights.edge": 4})
    found = compare(old, tried, before, catalogue_new=after, scores=["reading"], top=2, seed=3)
    paths = compare(old, tried, folder / "old.csv", catalogue_new=folder / "new.csv", scores=["reading"], top=2, seed=3)
    assert json.dumps(found.document) == json.dumps(paths.document)
    frames = [pd.read_csv(folder / name) for name in ("old.csv", "new.csv")]
    framed = compare(old, tried, frames[0], catalogue_new=frames[1], scores=["reading"], top=2, seed=3)
    assert json.dumps(framed.document["scores"]) == json.dumps(found.document["scores"])
    assert (found.document["set"], found.document["seed"]) == (["scores.reading.weights.edge=4"], 3)
    assert found.found.scores[0].top == 2
    assert found.heading.endswith("trial 1.0.0, against trial 1.0.0, with scores.reading.weights.edge=4")


def test_what_was_tried_on_the_old_formula_is_said_too(folder: Path) -> None:
    """Else its name would be that of a file that says something else."""
    old = read_formula(folder / "old.yaml")
    tried = {"scores.reading.weights.edge": 4}
    found = compare(old.set(tried), old, folder / "old.csv", scores=["reading"])
    assert (found.document["set_on_old"], found.document["set"]) == (["scores.reading.weights.edge=4"], [])
    assert found.heading.endswith("trial 1.0.0, with scores.reading.weights.edge=4, against trial 1.0.0")
    assert "Set on old: scores.reading.weights.edge=4." in found.source.lines()
    assert set(found.frame["set_on_old"]) == {"scores.reading.weights.edge=4"}


def test_a_catalogue_in_another_unit_than_a_formula_has_is_refused(folder: Path, tmp_path: Path) -> None:
    """It was read for the other one."""
    (tmp_path / "cm.yaml").write_text(
        FORM.replace("unit: mm, repeatability: 2", "unit: cm, repeatability: 0.2"), "utf-8"
    )
    old = read_formula(folder / "old.yaml")
    with pytest.raises(CatalogueError, match="readings in mm"):
        compare(old, tmp_path / "cm.yaml", read_catalogue(folder / "old.csv", old))


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ({"scores": ["readin"]}, "Did you mean `reading`"),
        ({"bridges": {"heet": "bridge.csv"}}, "Did you mean `heat`"),
        ({"catalogue_new": "none.csv"}, "none.csv"),
    ],
    ids=["score", "bridge", "catalogue"],
)
def test_what_is_not_there_is_refused(folder: Path, options: dict[str, object], said: str) -> None:
    """As the command refuses it."""
    with pytest.raises(SteelyardError, match=re.escape(said)):
        compare(folder / "old.yaml", folder / "new.yaml", folder / "old.csv", **options)  # type: ignore[arg-type]


def test_a_terminal_shows_less_of_the_same_table(report: Report) -> None:
    """Two decimals, two causes and a mark where a page has three, all, and a column of its own; the rows are the same."""
    table = report.tables["reading.moves"]
    brief = table.in_brief()
    assert [heading for heading in table.headings if heading not in brief.headings] == ["more than the bench can tell"]
    scored = table.headings.index("score")
    for full, short in zip(table.cells(), brief.cells(), strict=True):
        assert full[0] == short[0]
        assert len(full[scored]) == len(short[scored]) + (full[scored] != "–")
        assert len(short[-1].removeprefix("= ").split(", ")) <= 2
