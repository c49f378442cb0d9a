"""What happens to the invented laboratory later: each documented command line prints what is kept beside it, byte for byte."""

from __future__ import annotations

import importlib.util
import os
import shutil
from pathlib import Path
from typing import Any

import pytest

LABORATORY = Path(__file__).resolve().parents[2] / "examples" / "laboratory"


def scenarios() -> Any:
    """The laboratory's own script."""
    found = importlib.util.spec_from_file_location("laboratory_scenarios", LABORATORY / "scenarios.py")
    assert found is not None
    assert found.loader is not None
    module = importlib.util.module_from_spec(found)
    found.loader.exec_module(module)
    return module


COMMANDS: dict[str, str] = scenarios().COMMANDS


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the laboratory with the catalogues of what happened later."""
    copy = tmp_path_factory.mktemp("laboratory")
    for name in ("guest-bed.yaml", "items.csv", "readings.csv", "study.yaml"):
        shutil.copy(LABORATORY / name, copy / name)
    scenarios().write_all(copy / "later")
    return copy


@pytest.mark.parametrize("event", COMMANDS)
def test_a_documented_command_line_prints_what_is_kept(
    steelyard: Any, folder: Path, event: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Standard output, then standard error, as in `expected`."""
    monkeypatch.chdir(folder)
    result = steelyard(*COMMANDS[event].split())
    expected = (LABORATORY / "expected" / f"{event}.txt").read_text(encoding="utf-8")
    assert result.exit_code == (2 if event == "unit_slip_file" else 0)
    assert (result.stdout + result.stderr).replace(os.sep, "/") == expected


def test_every_event_is_documented() -> None:
    """The README beside it has each command line."""
    text = (LABORATORY / "README.md").read_text(encoding="utf-8")
    assert [line for line in COMMANDS.values() if f"steelyard {line}" not in text] == []


def test_what_the_readme_quotes_stands_in_what_is_kept() -> None:
    """Every quoted line is one that a command printed."""
    text = (LABORATORY / "README.md").read_text(encoding="utf-8")
    quoted = [line.removeprefix("> ") for line in text.splitlines() if line.startswith("> ")]
    kept = {
        line.strip() for path in (LABORATORY / "expected").iterdir() for line in path.read_text("utf-8").splitlines()
    }
    assert len(quoted) == 7
    assert [line for line in quoted if line not in kept] == []
