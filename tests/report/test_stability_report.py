"""The report on stability: from paths and from what is read, in every format, its tables those of the document."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from written_beds import plain, write_trial

from analysis import Report, stability, write_report
from analysis.rankings.study import StabilityFound
from analysis.report.files import FORMATS
from scoring import read_catalogue, read_formula
from scoring.errors import StudyError

FEW = {"draws": 128, "seed": 3}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A formula, a catalogue and a study."""
    return write_trial(tmp_path_factory.mktemp("stability"))


@pytest.fixture(scope="module")
def report(folder: Path) -> Report:
    """A report on both scores, of what the study varies."""
    return stability(folder / "beds.yaml", folder / "beds.csv", study=folder / "study.yaml", **FEW)


@pytest.fixture(scope="module")
def again(folder: Path) -> Report:
    """The same once more, of a formula, a frame and a path as text."""
    formula = read_formula(folder / "beds.yaml")
    beds = read_catalogue(folder / "beds.csv", formula)
    return stability(formula, beds, study=str(folder / "study.yaml"), **FEW)


def test_what_is_read_and_its_path_give_one_document(report: Report, again: Report) -> None:
    """The hashes of the files are in it too."""
    assert again.document == report.document
    pd.testing.assert_frame_equal(again.frame, report.frame)


def test_the_number_of_draws_stands_beside_the_seed(report: Report) -> None:
    """In the page's head, the document and the table."""
    assert report.source.lines()[-2:] == ["Seed 3.", "128 draws of each source of variation."]
    assert report.document["draws"] == 128
    assert set(report.frame["draws"]) == {128}


@pytest.mark.parametrize("ending", FORMATS)
def test_every_format_is_the_same_on_every_run(report: Report, again: Report, ending: str, tmp_path: Path) -> None:
    """Written over itself by a second run: the file is known as ours, and gets the same bytes."""
    path = write_report(report, tmp_path / f"out{ending}")
    first = path.read_bytes()
    assert write_report(again, path).read_bytes() == first


def test_pages_hold_every_sentence_and_no_markup_of_files(report: Report, tmp_path: Path) -> None:
    """Every sentence of the verdict, what is said of all scores, every caution; names stay text."""
    found = report.found
    assert isinstance(found, StabilityFound)
    of_all = "all 2 tables' statements hold at once less often than each"
    said = [*report.verdict, *report.source.cautions, of_all]
    for ending in (".html", ".md"):
        page = write_report(report, tmp_path / f"out{ending}").read_bytes()
        text = plain(page.replace(b"A&lt;1&gt;", b"A<1>"))
        assert [sentence for sentence in said if plain(sentence) not in text] == []
    page = write_report(report, tmp_path / "out.html").read_bytes()
    assert b"<1>" not in page
    assert b"<beds>" not in page
    assert b"A&lt;1&gt;" in page
    shown = report._repr_html_()
    assert "<b>" not in shown
    assert "Trial &lt;beds&gt; &amp; &quot;more&quot;" in shown


def scores_of(report: Report) -> dict[str, Any]:
    """The document's scores, as JSON gives them."""
    found: dict[str, Any] = json.loads(json.dumps(report.document))["scores"]
    return found


def test_tables_are_the_documents_figures(report: Report) -> None:
    """Sets, shrunken scores, places, agreement, typical weights and changes to the catalogue, at full width."""
    frames = report.frames
    for name, score in scores_of(report).items():
        left_open, places = frames[f"{name}.open"], frames[f"{name}.places"]
        assert left_open["product"].tolist() == places["product"].tolist() == score["order"]
        assert left_open["set_low"].tolist() == score["told_apart"]["low"]
        assert left_open["set_high"].tolist() == score["told_apart"]["high"]
        assert left_open["alone_low"].tolist() == score["findings"]["alone"]["low"]
        assert left_open["letters"].tolist() == score["told_apart"]["letters"]
        np.testing.assert_allclose(left_open["shrunken"], score["findings"]["shrunken"]["scores"], rtol=1e-8)
        top = left_open.loc[left_open["in_top_set"], "product"].tolist()
        assert top == score["findings"]["top"]["products"]
        both = score["sources"]["both"]
        np.testing.assert_allclose(places["first"], both["first"])
        np.testing.assert_allclose(places["low_5"], both["rank"]["low"])
        compared = [*score["sources"].values()]
        compared.insert(2, score["retest"])
        agreement = frames[f"{name}.agreement"]
        for kind, key in (("Kendall tau-b", "kendall_tau_b"), ("mean shift in rank", "mean_shift_in_rank")):
            for end in ("mean", "low", "high"):
                np.testing.assert_allclose(agreement[f"{key}_{end}"], [one["agreement"][kind][end] for one in compared])
        typical = frames[f"{name}.typical_weights"]
        judged = score["sources"]["judgement"]
        rows = [score["order"].index(product) for product in typical["product"]]
        assert typical["first"].is_monotonic_decreasing
        np.testing.assert_allclose(
            typical[["share_cool", "share_edge"]], np.array(judged["typical_weights"]["shares"], float)[rows], rtol=1e-8
        )
        changes = frames[f"{name}.catalogue"]
        assert changes["ranks_moved"].tolist() == [change["ranks_moved"] for change in score["catalogue"]["changes"]]
    units = frames["reading.open"].attrs["units"]
    assert units["published_rank"] == units["set_low"] == "place"
    assert frames["factors"]["factor"].tolist() == [row["factor"] for row in report.document["study"]["factors"]]


def test_pictures_say_what_is_to_be_seen(report: Report) -> None:
    """Names, and findings that are other than the titles and hold figures of the document."""
    names = [f"ranks-{source}" for source in ("judgement", "bench", "both")]
    names += [f"places-{source}" for source in ("judgement", "bench", "both")]
    expected = {f"{score}-{what}" for score in ("reading", "resting") for what in (*names, "pairs-both")}
    assert set(report.pictures) == expected
    for name, picture in report.pictures.items():
        assert picture.finding not in (picture.title, "")
        if "-ranks-" in name:
            assert picture.finding in report.verdict
    both = scores_of(report)["reading"]["sources"]["both"]
    above = [both["beats"][i][i + 1] for i in range(len(both["beats"]) - 1)]
    least = int(np.argmin(above))
    order = scores_of(report)["reading"]["order"]
    said = report.pictures["reading-pairs-both"].finding
    assert f"{order[least]} and {order[least + 1]} keep theirs most seldom, in {100 * above[least]:.0f} %" in said


def test_a_folder_has_document_table_pages_and_pictures(report: Report, tmp_path: Path) -> None:
    """What a folder holds, by name."""
    folder = write_report(report, tmp_path / "out")
    pictures = [f"{name}.{kind}" for name in report.pictures for kind in ("png", "svg")]
    tables = [f"stability.{kind}" for kind in ("csv", "html", "json", "md")]
    assert sorted(path.name for path in folder.iterdir()) == sorted(["manifest.json", *tables, *pictures])
    assert json.loads((folder / "stability.json").read_bytes())["scores"] == scores_of(report)


def test_what_is_asked_of_the_study_is_looked_at(folder: Path) -> None:
    """One score, another top and confidence; a score that is not there is refused."""
    given = folder / "beds.yaml", folder / "beds.csv"
    one = stability(*given, scores=["resting"], top=2, coverage=0.9, **FEW)
    assert list(one.document["scores"]) == ["resting"]
    assert one.document["study"]["top"] == 2
    assert one.document["scores"]["resting"]["told_apart"]["coverage"] == 0.9
    assert one.sections[0].in_full
    with pytest.raises(StudyError, match="Did you mean `resting`"):
        stability(*given, scores=["restin"], **FEW)
    with pytest.raises(StudyError) as fault:
        stability(*given, draws=99, coverage=95)
    assert [str(problem) for problem in fault.value.problems] == [
        "draws: `99`; expected 100 or more.",
        "coverage: `95`; expected above 0.5 and below 1.",
    ]
