"""The file beside the document holds what every published figure is worked out again from."""

from __future__ import annotations

import io
from pathlib import Path

import pandas as pd
import pytest
from appendix.small import WHOLE, worked

from analysis.languages.facts import Steps, plain_text
from analysis.methods_appendix.worked import worked_section
from analysis.methods_appendix.workings import workings_files


def test_a_score_can_be_worked_out_again_from_the_file(tmp_path: Path) -> None:
    """A-04 by hand: noise (40 + 33 + 27) / 3 = 33.33 dB, drop 97.5 mm; both curves, the weights, and what is shown."""
    frame = pd.read_csv(io.BytesIO(workings_files(worked(tmp_path))["workings.csv"])).set_index("product")
    row = frame.loc["A-04"]
    noise, drop = 100 / 3, 97.5
    assert (row["noise.value"], row["drop.value"]) == (pytest.approx(noise), drop)
    quiet = 1 + 9 * (46 - noise) / (46 - 22)
    edge = 6 - 5 * (drop - 80) / (135 - 80)
    assert row["quiet.value"] == pytest.approx(quiet)
    assert row["edge.value"] == pytest.approx(edge)
    assert row["reading.value"] == pytest.approx((3 * edge + quiet) / 4)
    assert row["reading.shown"] == round((3 * edge + quiet) / 4, 1)
    assert frame.loc["A-03", "noise.state"] == "missing"
    assert pd.isna(frame.loc["A-03", "reading.value"])
    assert frame.loc["A-01", "noise.state"] == "value"


def test_the_same_workings_give_the_same_file(tmp_path: Path) -> None:
    """Byte for byte."""
    assert workings_files(worked(tmp_path)) == workings_files(worked(tmp_path))


def test_the_repeats_stand_there_as_they_were_written_down(tmp_path: Path) -> None:
    """In the bench's unit: 3.5 in are 88.9 mm; one text a product beside the values, one row a reading in the other file."""
    readings = WHOLE.replace("drop #1", "drop [in] #1").replace(",60,61", ",2.5,2.6").replace(",98,97", ",3.5,3.4")
    found = worked(tmp_path, readings=readings.replace("drop #2", "drop [in] #2"))
    files = {name: pd.read_csv(io.BytesIO(content)) for name, content in workings_files(found).items()}
    frame = files["workings.csv"].set_index("product")
    assert frame.loc["A-04", "drop.repeats"] == "3.5 in; 3.4 in"
    assert frame.loc["A-04", "noise.repeats"] == "40; 33; 27"
    assert frame.loc["A-03", "noise.repeats"] == "missing; missing; missing"
    repeats = files["repeats.csv"].set_index(["product", "measure", "repeat"]).loc[("A-04", "drop", 1)]
    assert (repeats["as_read"], repeats["unit_as_read"], repeats["value"], repeats["unit"]) == (3.5, "in", 88.9, "mm")
    assert {"session", "specimen", "operator"}.isdisjoint(files["repeats.csv"].columns)


def test_a_worked_example_converts_each_repeat_on_a_line(tmp_path: Path) -> None:
    """2.5 and 2.6 in, and the mean of 63.5 and 66.04 mm."""
    readings = WHOLE.replace("drop #", "drop [in] #").replace(",60,61", ",2.5,2.6")
    section = worked_section(worked(tmp_path, readings=readings, products=1))
    (steps,) = (block for block in section.blocks if isinstance(block, Steps))
    lines = [(plain_text(step.what), step.arithmetic, step.result) for step in steps.lines]
    assert ("Edge sink, repeat 1, 2.5 in, as mm", "2.5 * 25.4", "63.5") in lines
    assert ("Edge sink, repeat 2, 2.6 in, as mm", "2.6 * 25.4", "66.04") in lines
    assert ("Edge sink, mm, mean", "(63.5 + 66.04)/2", "64.77") in lines
