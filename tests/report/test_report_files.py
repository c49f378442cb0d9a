"""One report in every format: the same sentences and figures, byte for byte the same again, and nothing of ours lost."""

from __future__ import annotations

import json
import re
from io import BytesIO
from pathlib import Path
from typing import Any

import pandas as pd
import pypdf
import pytest

from analysis import Report, weights, write_report
from analysis.languages.facts import Run
from analysis.languages.writing import Sentences
from analysis.report.files import FORMATS
from scoring.errors import FileError

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
"""
BEDS = "product,heat,drop\nA<1>,1.5,60\nB_2,3.5,30\nC*3,6.5,90\nD#4,2.5,120\nE$5,8.5,40\n"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A formula and a catalogue whose texts mean something to every language."""
    made = tmp_path_factory.mktemp("report")
    (made / "beds.yaml").write_text(FORM, encoding="utf-8")
    (made / "beds.csv").write_text(BEDS, encoding="utf-8")
    return made


@pytest.fixture(scope="module")
def report(folder: Path) -> Report:
    """A report on weights."""
    return weights(folder / "beds.yaml", str(folder / "beds.csv"), seed=0)


@pytest.mark.parametrize("ending", FORMATS)
def test_every_format_is_the_same_on_every_run_and_is_known_as_ours(
    folder: Path, report: Report, ending: str, tmp_path: Path
) -> None:
    """Written twice over itself: the second run knows the file as ours, and gives the same bytes."""
    path = write_report(report, tmp_path / f"out{ending}")
    first = path.read_bytes()
    again = weights(folder / "beds.yaml", folder / "beds.csv", seed=0)
    assert write_report(again, path).read_bytes() == first


@pytest.mark.parametrize("ending", FORMATS)
def test_nothing_of_somebody_else_is_written_over(report: Report, ending: str, tmp_path: Path) -> None:
    """A file that steelyard did not write stays, unless it is forced."""
    path = tmp_path / f"out{ending}"
    path.write_text("mine", encoding="utf-8")
    with pytest.raises(FileError, match="did not write"):
        write_report(report, path)
    assert path.read_text(encoding="utf-8") == "mine"
    assert write_report(report, path, force=True).read_bytes() != b"mine"


def plain(page: bytes) -> str:
    """The letters and digits of a page, without what its language puts around them."""
    return re.sub(r"[^a-z0-9.%]", "", re.sub(r"<[^>]+>|&[a-z]+;|#\d+;", "", page.decode()).lower())


def test_every_page_has_every_sentence_and_caution(report: Report, tmp_path: Path) -> None:
    """HTML, Markdown and PDF say what `verdict` says, and warn of what every publication warns of."""
    said = [sentence for sentence in (*report.verdict, *report.source.cautions) if "<" not in sentence]
    assert len(said) > 5
    for ending in (".html", ".md"):
        page = plain(write_report(report, tmp_path / f"out{ending}").read_bytes())
        assert [sentence for sentence in said if plain(sentence.encode()) not in page] == []
    pages = pypdf.PdfReader(BytesIO(write_report(report, tmp_path / "out.pdf").read_bytes())).pages
    text = plain(" ".join(page.extract_text() for page in pages).encode())
    assert [sentence for sentence in said if plain(sentence.encode()) not in text] == []


def test_tables_are_the_documents_figures(report: Report) -> None:
    """A frame holds what the document holds, at full width."""
    parts: dict[str, Any] = report.document["scores"]["reading"]["parts"]
    frame = report.frames["reading.parts"].set_index("part")
    for name, part in parts.items():
        assert frame.loc[name, "effective"] == pytest.approx(part["effective"]["value"], rel=1e-8)
        assert frame.loc[name, "squared"] == pytest.approx(part["squared"], rel=1e-8)


def test_a_folder_has_document_table_pages_and_pictures(report: Report, tmp_path: Path) -> None:
    """What a folder holds, by name; its document is that of `--json`, its table that of `frame`."""
    folder = write_report(report, tmp_path / "out")
    names = sorted(path.name for path in folder.iterdir())
    pictures = [f"reading-{what}.{kind}" for what in ("spearman", "worth") for kind in ("png", "svg")]
    assert names == sorted(["manifest.json", *pictures, *(f"weights.{kind}" for kind in ("csv", "html", "json", "md"))])
    assert json.loads((folder / "weights.json").read_bytes()) == json.loads(json.dumps(report.document))
    assert list(pd.read_csv(folder / "weights.csv").columns) == list(report.frame.columns)


def test_a_notebook_shows_it_without_script_or_markup_of_files(report: Report) -> None:
    """Texts of files are text: no element comes from them."""
    shown = report._repr_html_()
    assert "<script" not in shown
    assert "<b>" not in shown
    assert "Trial &lt;beds&gt; &amp; &quot;more&quot;" in shown
    assert repr(report).startswith("<weights of trial 1.0.0: ")


@pytest.mark.parametrize("name", ["out.doc", "missing/out.pdf"])
def test_a_place_that_cannot_be_is_refused(report: Report, name: str, tmp_path: Path) -> None:
    """An ending that is none of the formats, and a folder that is not there."""
    with pytest.raises(FileError):
        write_report(report, tmp_path / name)


def test_what_stands_between_backticks_is_code_and_a_files_own_backticks_stay() -> None:
    """An option is set as code; a label that holds backticks is left as it is; the letters are all there."""
    said = Sentences(["a `tick` bed", "سرير"], with_code=True).runs("Try `--want cool=0.3` for a `tick` bed, سرير.")
    assert [(run.text, run.kind) for run in said] == [
        ("Try ", ""),
        ("--want cool=0.3", "code"),
        (" for ", ""),
        ("a `tick` bed", ""),
        (", ", ""),
        ("سرير", "name"),
        (".", ""),
    ]
    assert Sentences([]).runs("`x` stays") == (Run("`x` stays"),)
