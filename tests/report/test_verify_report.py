"""Whether a record holds, as a report: in Python, and in every format."""

from __future__ import annotations

import json
from pathlib import Path

import pandas as pd
import pytest

from analysis import record, verify, write_report
from analysis.records.document import RecordError
from scoring import read_formula
from scoring.errors import AddressError

FORM = """\
formula: trial
version: 1.0.0
title: Trial <beds>
scale: {from: 1, to: 10, show: {step: 0.5}}
measures: {heat: {unit: delta_degC}}
ratings: {cool: {measure: heat, curve: {points: {1: 10, 9: 1}}}}
scores: {resting: {weights: {cool: 1}}}
"""


@pytest.fixture
def published(tmp_path: Path) -> Path:
    """A folder with a formula, readings and their record."""
    (tmp_path / "beds.yaml").write_text(FORM, encoding="utf-8")
    (tmp_path / "beds.csv").write_text("product,heat\nA<1>,1.6\nB,3.5\nC,\n", encoding="utf-8")
    made = record(tmp_path / "beds.yaml", tmp_path / "beds.csv", date="2026-03-01")
    write_report(made, tmp_path / "record.json")
    return tmp_path


def test_what_holds_is_said_first(published: Path) -> None:
    """Alone, and against formula and readings as they stand; nothing is found."""
    alone = verify(published / "record.json")
    today = verify(published / "record.json", published / "beds.yaml", published / "beds.csv")
    assert (alone.found.holds, today.found.holds) == (True, True)
    assert alone.verdict[0].startswith("The record is sound.")
    assert today.verdict[0] == "What was published holds."
    assert (alone.tables, len(today.frame)) == ({}, 0)


@pytest.mark.parametrize("ending", [".html", ".md", ".csv", ".xlsx", ".parquet", ".json", ".tex", ".typ"])
def test_what_drifted_stands_in_every_format(published: Path, ending: str, tmp_path: Path) -> None:
    """A reading that moved: the figures that drifted in a table; the same bytes again, over itself."""
    (published / "beds.csv").write_text("product,heat\nA<1>,1.6\nB,4.5\nC,\n", encoding="utf-8")
    found = verify(published / "record.json", read_formula(published / "beds.yaml"), published / "beds.csv")
    assert found.verdict[0] == "What was published has drifted."
    assert found.frames["figures"]["product"].tolist() == ["B", "B"]
    assert found.frames["data"]["product"].tolist() == ["B"]
    assert json.loads(json.dumps(found.document))["drift"][0]["product"] == "B"
    path = write_report(found, tmp_path / f"drift{ending}")
    first = path.read_bytes()
    assert write_report(found, path).read_bytes() == first
    if ending in (".html", ".md"):
        assert all(part in first.decode() for part in ("What was published has drifted.", "3.5", "4.5"))


def test_what_was_tried_is_tried_again(published: Path) -> None:
    """A record of a trial is compared with the same trial; an address that is gone is a fault, and names the record."""
    tried = read_formula(published / "beds.yaml", set={"scale.show.step": 0.1})
    write_report(record(tried, published / "beds.csv", date="2026-03-02"), published / "tried.json")
    found = verify(published / "tried.json", published / "beds.yaml", published / "beds.csv")
    assert found.found.holds
    assert "with scale.show.step=0.1" in found.heading


def test_what_was_tried_and_is_gone_is_a_fault(published: Path) -> None:
    """An address that today's formula does not have names the record, in which it stands."""
    tried = read_formula(published / "beds.yaml", set={"scores.resting.weights.cool": 2})
    write_report(record(tried, published / "beds.csv", date="2026-03-02"), published / "tried.json")
    (published / "beds.yaml").write_text(FORM.replace("cool", "chill"), encoding="utf-8")
    with pytest.raises(AddressError, match="the record's `set`"):
        verify(published / "tried.json", published / "beds.yaml", published / "beds.csv")


def test_a_frame_is_todays_catalogue_too(published: Path) -> None:
    """Readings in pandas are compared as those of a file are; one that moved is named."""
    beds = pd.DataFrame({"product": ["A<1>", "B", "C"], "heat": [1.6, 3.5, None]})
    assert verify(published / "record.json", published / "beds.yaml", beds).found.holds
    moved = verify(published / "record.json", published / "beds.yaml", beds.assign(heat=[1.6, 4.5, None]))
    assert moved.frames["data"]["product"].tolist() == ["B"]


def test_a_formula_alone_is_refused(published: Path) -> None:
    """Both or neither."""
    with pytest.raises(RecordError, match="a formula without a catalogue"):
        verify(published / "record.json", published / "beds.yaml")
    with pytest.raises(RecordError, match="a catalogue without a formula"):
        verify(published / "record.json", catalogue=published / "beds.csv")
