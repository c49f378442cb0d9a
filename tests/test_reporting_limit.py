"""The reporting limit: what lies below it, and what that counts as."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from catalogues import read_text
from forms import form, measure

from scoring.catalogue import State
from scoring.catalogue.reporting_limit import recount


@pytest.mark.parametrize(
    ("choice", "counted", "state"),
    [
        ("limit", 22.0, State.BELOW),
        ("half", 11.0, State.BELOW),
        ("zero", 0.0, State.BELOW),
        ("missing", np.nan, State.MISSING),
    ],
)
@pytest.mark.parametrize("cell", ["< 22", "<20", "21.9", "18"])
def test_a_reading_below_the_floor_counts_as_the_formula_says(
    tmp_path: Path, cell: str, choice: str, counted: float, state: State
) -> None:
    """Marked or not, and whatever limit below the declared one was stored, all count alike."""
    using = form([measure("noise", unit="dB", plausible=(18, 75), reporting_limit=22.0, below_limit=choice)])
    readings = read_text(tmp_path, f"product,noise\nA,{cell}\n", using).readings["noise"]
    np.testing.assert_array_equal(readings.values, [[counted]])
    assert readings.states[0, 0] == state
    assert readings.reasons == ({(0, 0): "below the reporting limit of 22 dB"} if choice == "missing" else {})


@pytest.mark.parametrize(("cell", "value"), [("22", 22.0), ("30", 30.0)])
def test_a_reading_at_the_floor_is_a_value(tmp_path: Path, cell: str, value: float) -> None:
    """The limit itself can be read."""
    readings = read_text(tmp_path, f"product,noise\nA,{cell}\n").readings["noise"]
    assert (readings.values[0, 0], readings.states[0, 0]) == (value, State.VALUE)


def test_a_stored_floor_above_the_declared_one_holds(tmp_path: Path) -> None:
    """On that day the bench could not read below 30 dB."""
    readings = read_text(tmp_path, "product,noise\nA,< 30\n").readings["noise"]
    assert (readings.values[0, 0], readings.states[0, 0]) == (30.0, State.BELOW)


def test_a_floor_is_not_crossed_by_the_dust_of_a_conversion(tmp_path: Path) -> None:
    """0.3 in of 7.62 mm is at the limit, whatever the binary product says."""
    using = form([measure("sag", unit="mm", reporting_limit=7.62)])
    assert read_text(tmp_path, "product,sag [in]\nA,0.3\n", using).readings["sag"].states[0, 0] == State.VALUE


def test_a_flag_without_a_value_stands_for_the_declared_floor(tmp_path: Path) -> None:
    """The flag says below; the formula says below what."""
    readings = read_text(tmp_path, "id,measure,value,flag\nA,noise,,below\n").readings["noise"]
    assert (readings.values[0, 0], readings.states[0, 0]) == (22.0, State.BELOW)


def test_readings_can_be_counted_anew_under_another_choice(tmp_path: Path) -> None:
    """A study of the choice needs no second reading of the file."""
    content = "product,noise\nA,< 22\nB,21\nC,30\nD,missing: mute\n"
    using = {
        name: measure("noise", unit="dB", reporting_limit=22.0, below_limit=name)
        for name in ("limit", "half", "missing")
    }
    first = read_text(tmp_path, content, form([using["limit"]])).readings["noise"]
    for name in ("half", "missing", "limit"):
        expected = read_text(tmp_path, content, form([using[name]])).readings["noise"]
        first = recount(using[name], first)
        np.testing.assert_array_equal(first.values, expected.values)
        np.testing.assert_array_equal(first.states, expected.states)
        assert first.reasons == expected.reasons
