"""Figures: drawn from the table, the same bytes twice, readable in grey."""

from __future__ import annotations

from pathlib import Path

import pytest

from analysis.figures.canvas import FILLS, figure_bytes
from analysis.scores.curve_and_parts import curve_and_parts
from scoring.catalogue import read_catalogue
from scoring.program.program import compile_form
from scoring.reader import read_form
from scoring.table.table import score_catalogue

LABORATORY = Path(__file__).parents[1] / "examples" / "laboratory"


@pytest.mark.parametrize("kind", ["svg", "png"])
def test_a_figure_has_the_same_bytes_twice(kind: str) -> None:
    """Nothing in it depends on the moment or on chance; an SVG names the products and parts that it shows."""
    form = read_form(LABORATORY / "guest-bed.yaml")
    program = compile_form(form)
    table = score_catalogue(form, read_catalogue(LABORATORY, form), program)
    first, second = (figure_bytes(curve_and_parts(table, program, "quiet", "two_abed"), kind) for _ in range(2))
    assert first == second
    if kind == "svg":
        text = first.decode()
        for word in ("QB-029", "stillness", "noise_dba, dB", "rating points"):
            assert word in text


def test_fills_differ_without_colour() -> None:
    """No two fills share both grey and hatch."""
    assert len(set(FILLS)) == len(FILLS)
