"""Run a command as a user would, and look at what came back."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from analysis.cli.main import app

LABORATORY = Path(__file__).parents[2] / "examples" / "laboratory"

Steelyard = Callable[..., Result]


@pytest.fixture
def steelyard() -> Steelyard:
    """The command line: `steelyard("score", formula, catalogue)`."""
    runner = CliRunner()

    def run(*arguments: object) -> Result:
        return runner.invoke(app, [str(argument) for argument in arguments])

    return run


@pytest.fixture(scope="session")
def laboratory() -> Path:
    """The invented laboratory's folder; its formula is guest-bed.yaml."""
    return LABORATORY


@pytest.fixture
def small(tmp_path: Path) -> Path:
    """A folder with a small formula (beds.yaml) and catalogue (beds.csv)."""
    (tmp_path / "beds.yaml").write_text(SMALL, encoding="utf-8")
    (tmp_path / "beds.csv").write_text(READINGS, encoding="utf-8")
    return tmp_path


SMALL = """\
formula: beds
version: 1.0.0
scale: {from: 1, to: 10, show: {step: 0.1, rule: half-up}}
bands: {strong: 7, fair: 4, weak: 1}
attributes:
  maker: {label: Maker, required: no}
measures:
  noise: {unit: dB, better: lower, plausible: [18, 75], repeatability: 1.2}
  sit_drop: {unit: mm, better: lower, plausible: [15, 170], repeatability: 2.5}
ratings:
  quiet: {measure: noise, curve: {line: {worst: 46, best: 22}}}
  edge: {measure: sit_drop, curve: {points: {40: 10, 80: 6, 135: 1}}}
scores:
  reading:
    label: Reading upright
    blend: weighted mean
    weights: {edge: 3, quiet: 1}   # the lead's draft
    limits: [{when: edge < 4, at_most: 6}]
    missing: {needs: [edge], absent_above: 0.3}
"""
READINGS = """\
product,maker,noise #1,noise #2,noise #3,sit_drop
A-01,Vorrlin,31,32,33,60
A-02,Dapquist,22,22,22,120
A-03,Plumvane,missing: probe failed,,,80
"""
