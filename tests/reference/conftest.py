"""What every reference test uses: the command, run as a user runs it, and the published cases of the shelf."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from analysis.cli.main import app

PUBLISHED = Path(__file__).resolve().parents[2] / "formulas" / "published"

Score = Callable[..., dict[str, Any]]
Refusal = Callable[..., str]
Table = Callable[[str], list[dict[str, str]]]
Sheet = Callable[[Iterable[Mapping[str, object]]], Path]


@pytest.fixture(scope="session")
def published() -> Path:
    """The folder of published formulas; their catalogues are in `data` below it."""
    return PUBLISHED


@pytest.fixture(scope="session")
def score() -> Score:
    """`steelyard score FORMULA CATALOGUE --json [--set ...]`: the document, after exit 0 and a silent stderr."""

    def run(formula: Path, catalogue: Path, *settings: str) -> dict[str, Any]:
        result = CliRunner().invoke(app, _arguments(formula, catalogue, settings))
        assert (result.exit_code, result.stderr) == (0, "")
        document: dict[str, Any] = json.loads(result.stdout)
        return document

    return run


@pytest.fixture(scope="session")
def refusal() -> Refusal:
    """The same command where it must refuse: what stderr says, after exit 2 and a silent stdout."""

    def run(formula: Path, catalogue: Path, *settings: str) -> str:
        result = CliRunner().invoke(app, _arguments(formula, catalogue, settings))
        assert (result.exit_code, result.stdout) == (2, "")
        return result.stderr

    return run


@pytest.fixture(scope="session")
def cases() -> Table:
    """Read a file of published cases of the shelf, by the name of its readings."""

    def read(name: str) -> list[dict[str, str]]:
        with (PUBLISHED / "cases" / f"{name}.csv").open(encoding="utf-8", newline="") as stream:
            return list(csv.DictReader(stream))

    return read


@pytest.fixture
def sheet(tmp_path: Path) -> Sheet:
    """Write rows as a catalogue."""

    def write(rows: Iterable[Mapping[str, object]]) -> Path:
        listed = list(rows)
        path = tmp_path / "readings.csv"
        with path.open("w", encoding="utf-8", newline="") as stream:
            writer = csv.DictWriter(stream, list(listed[0]))
            writer.writeheader()
            writer.writerows(listed)
        return path

    return write


def _arguments(formula: Path, catalogue: Path, settings: Iterable[str]) -> list[str]:
    options = [word for setting in settings for word in ("--set", setting)]
    return ["score", str(formula), str(catalogue), *options, "--json"]
