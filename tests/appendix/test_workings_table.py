"""The file beside the document holds what every published figure is worked out again from."""

from __future__ import annotations

import io
from pathlib import Path

import pandas as pd
import pytest
from appendix.small import worked

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
