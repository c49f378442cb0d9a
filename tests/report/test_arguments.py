"""Faults of the package's functions name the arguments of Python, and those of the command its options."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from commands.conftest import READINGS, SMALL
from typer.testing import CliRunner

import analysis
from analysis.cli.main import app
from analysis.report.arguments import by_arguments
from scoring.errors import FormulaError, Place, Problem, SteelyardError

CASES: list[tuple[str, tuple[str, ...], dict[str, Any], str]] = [
    ("stability", (), {"draws": 5}, "draws: `5`; expected 100 or more"),
    ("stability", (), {"scores": "nope"}, "scores: `nope`; expected the name of a score or rating"),
    ("explain", ("A-99",), {}, "product: `A-99`; expected the id of a product"),
    ("explain", ("A-01",), {"without": ["noise"]}, "without: `noise`; expected MEASURE/REPEAT"),
    ("explain", ("A-01",), {"score": "nope"}, "score: `nope`"),
    ("sensitivity", (), {"pairs": [("a", "b")]}, "pairs: `a`; expected a product of the catalogue"),
    ("reread", (), {"readings": 0}, "readings: `0`; expected 1 or more"),
]


@pytest.fixture
def beds(tmp_path: Path) -> tuple[Path, Path]:
    """A formula and its catalogue."""
    (tmp_path / "beds.yaml").write_text(SMALL, encoding="utf-8")
    (tmp_path / "beds.csv").write_text(READINGS, encoding="utf-8")
    return tmp_path / "beds.yaml", tmp_path / "beds.csv"


@pytest.mark.parametrize(("name", "given", "options", "says"), CASES, ids=[case[3][:25] for case in CASES])
def test_a_fault_names_the_argument(
    beds: tuple[Path, Path], name: str, given: tuple[str, ...], options: dict[str, Any], says: str
) -> None:
    """No option of the command line stands in it."""
    with pytest.raises(SteelyardError) as fault:
        getattr(analysis, name)(*beds, *given, **options)
    assert str(fault.value).startswith(says)
    assert "--" not in str(fault.value)
    assert [str(problem) for problem in fault.value.problems] == str(fault.value).split("\n")


def test_the_command_still_names_its_option(beds: tuple[Path, Path]) -> None:
    """The same fault, typed."""
    found = CliRunner().invoke(app, ["explain", *map(str, beds), "A-01", "--without", "noise"])
    assert found.stderr.startswith("--without: `noise`; expected MEASURE/REPEAT")


def test_an_option_that_the_function_has_not_stays() -> None:
    """And so does everything else of a fault: its kind, its other words."""

    def study(draws: int) -> None:
        raise FormulaError([Problem(Place("--limit"), "`x`", "one of those that `--draws` has", "Try --set.")])

    with pytest.raises(FormulaError, match=r"--limit: `x`; expected one of those that `draws` has. Try --set."):
        by_arguments(study)(draws=3)
