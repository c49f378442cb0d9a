"""What a run that is killed leaves behind, and what becomes of two that write at once: with real processes."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

HERE = Path(__file__).parent

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="processes are made by fork")


def told(script: str, *arguments: str) -> dict[str, Any]:
    """What one of the scripts beside this file found."""
    command = [sys.executable, str(HERE / script), *arguments]
    environment = {**os.environ, "PYTHONPATH": str(HERE.parents[1])}
    done = subprocess.run(command, capture_output=True, text=True, check=True, env=environment)
    found: dict[str, Any] = json.loads(done.stdout)
    return found


@pytest.mark.parametrize("case", [["folder"], ["file"]], ids="".join)
def test_whoever_is_killed_at_any_step_leaves_the_old_or_the_new(case: list[str]) -> None:
    """Never a mixture, never nothing; the next run takes away what was half-written, and nothing else."""
    found = told("killed.py", *case)
    assert found["old"] > 5
    assert found["new"] > 1
    assert (found["mixed"], found["absent"], found["not cleaned up"]) == (0, 0, 0)


def test_a_folder_that_cannot_be_exchanged_is_replaced_in_two_steps_and_never_mixed() -> None:
    """Where names cannot be exchanged at once, there is one moment without a folder; the next run still loses nothing."""
    found = told("killed.py", "folder", "two-steps")
    assert (found["mixed"], found["absent"], found["not cleaned up"]) == (0, 1, 0)


def test_of_two_corrections_at_once_one_is_done_and_one_is_told() -> None:
    """Both have read the same record. Nothing is lost: whoever says that it is done stands in the file."""
    found = told("raced.py", "correct", "12")
    assert found["done"] == [0, 12, 0]
    assert found["kept"] == 12
    assert {one.split(" (")[0] for one in found["faults"]} == {"DIR/r.json: it was corrected meanwhile"}


def test_of_two_first_publications_at_once_one_is_done_and_one_is_told() -> None:
    """The file is made exclusively."""
    found = told("raced.py", "new", "24")
    assert found["done"] == [0, 24, 0]
    assert [one.split(";")[0] for one in found["faults"]] == ["DIR/r.json: a file that is there already"]
