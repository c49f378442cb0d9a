"""What a report does with a great many rows, with lines in place of a table, and with a document that is never held whole."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from analysis import Report, write_report
from analysis.cli.reports import deliver, show_section
from analysis.outputs.guard import Guard
from analysis.report.page import MOST_ROWS
from analysis.report.report import Said, Section
from analysis.report.source import source_of
from analysis.report.tables import Made, OnScreen, Table, figures, words
from scoring import read_catalogue, read_formula, score

FORM = "formula: trial\nmeasures: {heat: {unit: delta_degC}}\nratings: {cool: {measure: heat, curve: {points: {1: 10, 9: 1}}}}\n"
LONG = MOST_ROWS + 1


@pytest.fixture
def long_report(tmp_path: Path) -> Callable[[int], Report]:
    """A report of one table with so many rows, whose document gives them one by one."""
    (tmp_path / "trial.yaml").write_text(FORM, encoding="utf-8")
    (tmp_path / "trial.csv").write_text("product,heat\nA,1\n", encoding="utf-8")
    form = read_formula(tmp_path / "trial.yaml")
    source = source_of(score(form, read_catalogue(tmp_path / "trial.csv", form)))

    def made(count: int) -> Report:
        table = Table(
            "rows",
            "Rows",
            (words("row", "row", Made(count, lambda row: f"row-{row}-")), figures("value", "value", range(count), 1)),
        )
        return Report(
            "trial",
            "A trial",
            "A trial.",
            source,
            (Section("", "All", ("One sentence.",), (table,)),),
            body=lambda: {"rows": ({"row": row} for row in range(count))},
            whole=lambda: pd.DataFrame({"row": range(count)}),
            found=None,
            called="trials",
            beside=lambda: {"other.json": b'{"written_by": "steelyard"}'},
        )

    return made


def test_a_page_is_cut_after_many_rows_and_says_where_the_rest_is(
    long_report: Callable[[int], Report], tmp_path: Path
) -> None:
    """The last row but one is there, the last is not; under the title and under the table the page says so."""
    for ending in (".html", ".md"):
        page = write_report(long_report(LONG), tmp_path / f"long{ending}").read_text(encoding="utf-8")
        assert f"row-{MOST_ROWS - 1}-" in page
        assert f"row-{MOST_ROWS}-" not in page
        assert "Tables are cut after 5,000 rows" in page
        assert "The first 5,000 of 5,001 rows" in page
    whole = write_report(long_report(MOST_ROWS), tmp_path / "whole.html").read_text(encoding="utf-8")
    assert "cut" not in whole
    assert len(pd.read_csv(write_report(long_report(LONG), tmp_path / "long.csv"))) == LONG
    assert len(long_report(LONG).frames["rows"]) == LONG


def test_a_terminal_counts_what_it_leaves_out(
    long_report: Callable[[int], Report], capsys: pytest.CaptureFixture[str]
) -> None:
    """The rest is counted and never made into text."""
    asked: list[int] = []
    (section,) = long_report(LONG + 7).sections
    values = Made(LONG + 7, lambda row: asked.append(row) or "x")  # type: ignore[func-returns-value]
    table = Table("rows", "Rows", (words("row", "row", values),), on_screen=OnScreen(more="They are elsewhere."))
    show_section(Section("", "All", (), (table,)))
    assert "... and 8 more rows: They are elsewhere." in capsys.readouterr().out
    assert asked == list(range(MOST_ROWS))
    assert len(section.tables[0]) == LONG + 7


def test_a_document_is_given_row_by_row_and_is_whole_when_asked_for(
    long_report: Callable[[int], Report], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A file, standard output, a folder and `document` hold the same; the first two go through the rows once."""
    report = long_report(3)
    assert isinstance(report.stream["rows"], Iterator)
    assert report.document["rows"] == [{"row": 0}, {"row": 1}, {"row": 2}]
    path = write_report(report, tmp_path / "one.json")
    deliver(report, out=None, as_json=True, guard=Guard())
    assert json.loads(path.read_bytes()) == json.loads(capsys.readouterr().out) == report.document
    folder = write_report(report, tmp_path / "folder")
    assert (folder / "trials.json").read_bytes() == path.read_bytes()


def test_a_folder_has_the_reports_own_names_and_what_stands_beside(
    long_report: Callable[[int], Report], tmp_path: Path
) -> None:
    """Files bear the name that was chosen, and one of the study's own is there too."""
    folder = write_report(long_report(3), tmp_path / "folder")
    names = {path.name for path in folder.iterdir()}
    assert names == {"trials.json", "trials.csv", "trials.html", "trials.md", "other.json", "manifest.json"}


@pytest.mark.parametrize(("close", "printed"), [(True, "Said.\n  a line\n  in\nleft\n\n"), (False, None)])
def test_lines_stand_in_place_of_a_table_on_a_terminal(
    close: bool, printed: str | None, capsys: pytest.CaptureFixture[str]
) -> None:
    """A table with lines of its own shows them, one with none shows nothing; a page has both tables."""
    lines = Table("a", "A", (words("x", "x", ["cell"]),), on_screen=OnScreen(lines=("  a line",)))
    nothing = Table("b", "B", (words("x", "x", ["cell"]),), on_screen=OnScreen(most=0))
    section = Section("s", "S", ("Said.",), (lines, nothing, Said(("  in", "left"))), close=close)
    show_section(section)
    out = capsys.readouterr().out
    assert "cell" not in out
    assert out == (printed or "Said.\n\n  a line\n  in\nleft\n\n")


def test_a_section_for_pages_alone_is_not_on_a_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    """Nothing of it is printed, and its sentences are the report's all the same."""
    show_section(Section("s", "S", ("Said.",), (Said(("more",)),), on_screen=False))
    assert capsys.readouterr().out == ""


def test_what_else_was_asked_is_said_everywhere(long_report: Callable[[int], Report]) -> None:
    """Head of the document, last columns and lines under the title name it; what is empty has no line."""
    about: dict[str, Any] = {"product": "A", "set_aside": ["heat/1"], "left": []}
    source = replace(long_report(1).source, about=about, seed=3, draws=2000)
    keys = ["written_by", "formula", "catalogue", "set", "product", "set_aside", "left", "seed", "draws", "cautions"]
    assert list(source.document()) == keys
    assert source.columns()["set_aside"] == "heat/1"
    assert source.lines()[-4:] == ["Product: A.", "Set aside: heat/1.", "Seed 3.", "2,000 draws."]
