"""Draw the README's picture from the invented laboratory: `python examples/picture.py`."""

from __future__ import annotations

from pathlib import Path

from analysis.figures.canvas import figure_bytes
from analysis.scores.curve_and_parts import curve_and_parts
from scoring.catalogue import read_catalogue
from scoring.program.program import compile_form
from scoring.reader import read_form
from scoring.table.table import score_catalogue

LABORATORY = Path(__file__).parent / "laboratory"


def main() -> None:
    """Write picture.png beside this file."""
    form = read_form(LABORATORY / "guest-bed.yaml")
    program = compile_form(form)
    table = score_catalogue(form, read_catalogue(LABORATORY, form), program)
    figure = curve_and_parts(table, program, "quiet", "two_abed")
    (Path(__file__).parent / "picture.png").write_bytes(figure_bytes(figure, "png"))


if __name__ == "__main__":
    main()
