"""What happens to the invented laboratory later: each documented command line prints what is kept beside it, byte for byte."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from extent import only_long
from laboratory_runs import LATER, LaboratoryRuns

LABORATORY = Path(__file__).resolve().parents[2] / "examples" / "laboratory"
#: By default `correction`, which the guides run too, stands for the comparisons, and what README.md quotes of `stability` and
#: `reread` for the others.
LONG = ("method_change", "late_entry", "withdrawn_item", "repeatability_alone", "sessions_and_specimens", "next_week")


@pytest.mark.parametrize("event", [pytest.param(name, marks=[only_long] * (name in LONG)) for name in LATER])
def test_a_documented_command_line_prints_what_is_kept(event: str, laboratory_runs: LaboratoryRuns) -> None:
    """Standard output, then standard error, as in `expected`."""
    found = laboratory_runs.run(LATER[event])
    expected = (LABORATORY / "expected" / f"{event}.txt").read_text(encoding="utf-8")
    assert found.exit_code == (2 if event == "unit_slip_file" else 0)
    assert (found.stdout + found.stderr).replace(os.sep, "/") == expected


def test_every_event_is_documented() -> None:
    """The README beside it has each command line."""
    text = (LABORATORY / "README.md").read_text(encoding="utf-8")
    assert [line for line in LATER.values() if f"steelyard {line}" not in text] == []


def test_what_the_readme_quotes_stands_in_what_is_kept() -> None:
    """Every quoted line is one that a command printed."""
    text = (LABORATORY / "README.md").read_text(encoding="utf-8")
    quoted = [line.removeprefix("> ") for line in text.splitlines() if line.startswith("> ")]
    kept = {
        line.strip() for path in (LABORATORY / "expected").iterdir() for line in path.read_text("utf-8").splitlines()
    }
    assert len(quoted) == 7
    assert [line for line in quoted if line not in kept] == []
