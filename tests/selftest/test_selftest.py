"""The shelf and the closed cases together: what holds, what does not, and the page that is printed from them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from typer.testing import CliRunner

from analysis.cli.main import app
from analysis.selftest import selftest
from analysis.selftest.closed_case import ClosedCase
from analysis.selftest.document import not_as_they_should, selftest_document
from analysis.selftest.selftest import Selftest, furthest
from analysis.selftest.shelf import (
    AS_LISTED,
    AS_PUBLISHED,
    DIFFERS,
    NO_LONGER,
    PublishedFigure,
    Reworked,
    ShelfLine,
    read_cases,
    read_shelf,
    rework,
)
from analysis.selftest.shelf_page import check_row, shelf_page

PUBLISHED = Path(__file__).resolve().parents[2] / "formulas" / "published"
LINES = {line.what: line for line in read_shelf(PUBLISHED)}
RESTITUTION = LINES["Coefficient of restitution"]


def figure(ours: float | None, *, within: float = 0.0, because: str = "") -> Reworked:
    """A published 2.5 beside ours."""
    return Reworked(PublishedFigure("a", "scores.b.value", 2.5, "worked out"), ours, within, because)


@pytest.mark.parametrize(
    ("found", "verdict"),
    [
        (figure(2.5), AS_PUBLISHED),
        (figure(2.5 + 4e-16), AS_PUBLISHED),
        (figure(2.5001), DIFFERS),
        (figure(2.54, within=0.05), AS_PUBLISHED),
        (figure(2.56, within=0.05), DIFFERS),
        (figure(2.6, because="printed wrong"), AS_LISTED),
        (figure(2.5, because="printed wrong"), NO_LONGER),
        (figure(None), DIFFERS),
        (figure(None, because="no value then"), AS_LISTED),
        (figure(float("nan")), DIFFERS),
    ],
)
def test_a_figure_holds_where_it_is_as_near_as_it_must_be(found: Reworked, verdict: str) -> None:
    """An exception that comes out after all is a fault like a figure that does not."""
    assert found.verdict == verdict
    assert found.holds == (verdict in (AS_PUBLISHED, AS_LISTED))


def test_a_formula_that_changes_is_noticed(tmp_path: Path) -> None:
    """The cube root in place of the square root gives another coefficient."""
    changed = tmp_path / "restitution.yaml"
    text = RESTITUTION.formula.read_text(encoding="utf-8")
    changed.write_text(
        text.replace("sqrt(rebound_height / drop_height)", "(rebound_height / drop_height) ** (1 / 3)"),
        encoding="utf-8",
    )
    assert [f.holds for f in rework(RESTITUTION)] == [True]
    line = replace(RESTITUTION, formula=changed)
    found = Selftest(((line, tuple(rework(line))),), (), 0)
    assert not found.holds
    assert list(not_as_they_should(found)) == ["Coefficient of restitution: ball, scores.restitution.shown: differs"]
    assert selftest_document(found)["holds"] is False


def test_a_product_or_figure_that_is_gone_does_not_hold(tmp_path: Path) -> None:
    """A case that names neither is no case that passes."""
    cases = tmp_path / "cases.csv"
    cases.write_text("id,scores.restitution.shown,scores.other.shown\nball,0.8367,1\ncube,0.5,\n", encoding="utf-8")
    line: ShelfLine = replace(RESTITUTION, cases=cases)
    assert [(c.product, c.figure) for c in read_cases(line)] == [
        ("ball", "scores.restitution.shown"),
        ("ball", "scores.other.shown"),
        ("cube", "scores.restitution.shown"),
    ]
    assert [f.holds for f in rework(line)] == [True, False, False]


def test_the_furthest_is_looked_for_among_those_that_should_agree() -> None:
    """A listed exception is told elsewhere."""
    figures = figure(2.5), figure(9.0, because="printed wrong"), figure(2.52, within=0.05)
    assert furthest(figures) is figures[2]


def test_a_closed_case_that_is_no_number_does_not_hold() -> None:
    """NaN is near to nothing, and null in JSON."""
    case = ClosedCase("ranking", "nothing", "worked out", 1.0, 0.5, "wide", float("nan"))
    found = Selftest((), (case,), 0)
    assert not found.holds
    assert selftest_document(found)["cases"][0]["ours"] is None
    assert len(list(not_as_they_should(found))) == 1


def test_the_page_of_the_shelf_is_the_one_that_comes_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """Written again by `python -m analysis.selftest.shelf_page`; `check` of the two slow formulas is looked at below."""
    page = (PUBLISHED / "README.md").read_text(encoding="utf-8")
    rows = {
        line.split("`")[1]: line + "\n"
        for line in page.splitlines()
        if line.startswith("| `") and line.count("|") == 6 and line.split("|")[2].strip().isdigit()
    }
    assert len(rows) == 15
    monkeypatch.setattr("analysis.selftest.shelf_page.check_row", lambda path: rows[path.name])
    assert shelf_page(PUBLISHED) == page
    for name in ("hdi.yaml", "restitution.yaml", "loudness.yaml", "desirability.yaml"):
        assert check_row(PUBLISHED / name) == rows[name]


def test_a_fault_in_the_shelf_makes_the_command_fail(monkeypatch: pytest.MonkeyPatch) -> None:
    """Exit 1, and the line to report; exit 0 where all holds. The closed cases have a test of their own."""
    monkeypatch.setattr(selftest, "GROUPS", ())
    monkeypatch.setattr(selftest, "read_shelf", lambda folder: (RESTITUTION,))
    good = CliRunner().invoke(app, ["selftest"])
    assert good.exit_code == 0
    assert "1 published figures of 1 sets of readings: 1 as published, 0 differ" in good.stdout
    assert "All came out as they should." in good.stdout
    monkeypatch.setattr("analysis.selftest.shelf._figure", lambda product, path: 0.9)
    bad = CliRunner().invoke(app, ["selftest"])
    assert bad.exit_code == 1
    assert "Coefficient of restitution: ball, scores.restitution.shown: differs" in bad.stdout
    assert "DIFFERS" in CliRunner().invoke(app, ["selftest", "--every"]).stdout
