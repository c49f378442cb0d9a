"""The report on what to read again: from paths and from what is read, in every format, its tables those of the document."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from written_beds import plain, write_trial

from analysis import Report, reread, write_report
from analysis.next_readings.report import steps_table
from analysis.report.files import FORMATS
from scoring import read_catalogue, read_formula
from scoring.errors import StudyError

ASKED = {"settle": "A<1>:B_2", "readings": 12, "seed": 2}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A formula and a catalogue."""
    return write_trial(tmp_path_factory.mktemp("reread"))


@pytest.fixture(scope="module")
def report(folder: Path) -> Report:
    """A report on both scores."""
    return reread(folder / "beds.yaml", str(folder / "beds.csv"), **ASKED)


@pytest.fixture(scope="module")
def again(folder: Path) -> Report:
    """The same once more, of what is read."""
    formula = read_formula(folder / "beds.yaml")
    return reread(formula, read_catalogue(folder / "beds.csv", formula), **ASKED)


def test_what_is_read_and_its_path_give_one_document(report: Report, again: Report) -> None:
    """The hashes of the files are in it too."""
    assert again.document == report.document
    pd.testing.assert_frame_equal(again.frame, report.frame)


@pytest.mark.parametrize("ending", FORMATS)
def test_every_format_is_the_same_on_every_run(report: Report, again: Report, ending: str, tmp_path: Path) -> None:
    """Written over itself by a second run: the file is known as ours, and gets the same bytes."""
    path = write_report(report, tmp_path / f"out{ending}")
    first = path.read_bytes()
    assert write_report(again, path).read_bytes() == first


def test_pages_hold_every_sentence_and_no_markup_of_files(report: Report, tmp_path: Path) -> None:
    """Every sentence of the verdict, what was not looked at, every caution; names stay text."""
    said = [*report.verdict, *report.closing, *report.source.cautions]
    for ending in (".html", ".md"):
        page = write_report(report, tmp_path / f"out{ending}").read_bytes()
        text = plain(page.replace(b"A&lt;1&gt;", b"A<1>"))
        assert [sentence for sentence in said if plain(sentence) not in text] == []
    page = write_report(report, tmp_path / "out.html").read_bytes()
    assert b"<1>" not in page
    assert b"A&lt;1&gt;" in page
    assert "<b>" not in report._repr_html_()


def test_tables_are_the_documents_figures(report: Report) -> None:
    """The lines of the plan and the single steps, those that gain most a reading first."""
    for name, score in json.loads(json.dumps(report.document))["scores"].items():
        plan, steps = report.frames[f"{name}.plan"], report.frames[f"{name}.steps"]
        planned = pd.DataFrame(score["plans"]["proposed"]["readings"])
        assert plan[["product", "measure", "now", "further"]].to_dict("list") == planned[
            ["product", "measure", "now", "further"]
        ].to_dict("list")
        np.testing.assert_allclose(plan["falls"], planned["falls"], rtol=1e-8)
        assert plan["further"].sum() <= ASKED["readings"]
        document = pd.DataFrame([step for step in score["steps"] if step["chance"] > 0])
        assert len(document)
        assert list(steps.columns) == list(document.columns)
        np.testing.assert_allclose(steps["gained_per_reading"], document["gained_per_reading"], rtol=1e-8)
        assert steps["gained_per_reading"].is_monotonic_decreasing


def test_a_terminal_lists_some_of_the_steps_that_may_settle_it(folder: Path, report: Report) -> None:
    """At most twelve of them, of one score alone; pages have all, JSON and sheets those that gain nothing too."""
    for section in report.sections:
        (steps,) = (one for one in section.tables if one.name == "steps")
        assert steps.on_screen.most == 12
        assert min(steps.fields["chance"]) > 0
        assert not section.in_full
    assert (report.frame["row"] == "step").sum() == sum(len(one.steps) for one in report.found)
    assert report.on_screen == ("`--score NAME` prints the plan of one score.",)
    one = reread(folder / "beds.yaml", folder / "beds.csv", scores=["reading"], **ASKED)
    assert one.sections[0].in_full
    with pytest.raises(StudyError, match="Did you mean `reading`"):
        reread(folder / "beds.yaml", folder / "beds.csv", scores=["readin"], **ASKED)


def test_steps_that_settle_nothing_are_no_rows(report: Report) -> None:
    """Those after the helping ones are left out of the table, and a table of none has no row."""
    found = report.found[0]
    steps = (replace(found.steps[0], chance=0.5), *(replace(step, chance=0.0) for step in found.steps[1:]))
    assert len(steps_table(replace(found, steps=steps))) == 1
    assert len(steps_table(replace(found, steps=steps[1:]))) == 0


def test_a_budget_without_a_reading_is_refused(folder: Path) -> None:
    """There is nothing to plan."""
    with pytest.raises(StudyError, match="readings: `0`; expected 1 or more"):
        reread(folder / "beds.yaml", folder / "beds.csv", readings=0)
