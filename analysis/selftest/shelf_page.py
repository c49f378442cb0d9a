"""The shelf as a page of Markdown: formula, source, cases, how many come out, exceptions with their reasons."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

from analysis.selftest.shelf import AS_LISTED, Reworked, ShelfLine, read_shelf, rework
from analysis.wording import listed
from scoring.checks import check
from scoring.checks.findings import NOT_CLAIMED, NOT_DECIDED, PROVED, REFUTED
from scoring.program.program import compile_form
from scoring.reader import read_form

HEAD = """# Published formulas

Open standards and published indices, written in our form. Each file opens with its source. `data/` holds readings of the world
outside, `cases/` what was published for them, and `cases/shelf.yaml` says which belongs to which. `steelyard selftest` works
every figure again, and the tests do so by the command itself.

This page is printed from `cases/shelf.yaml` (`python -m analysis.selftest.shelf_page`), and a test holds it to what comes out.
Where nothing else is said, figures must be equal as printed.
"""
CHECKED = """## What `steelyard check` says of each

Without readings, over the plausible range of every measure.

| formula | proved | refuted | not decided | not claimed |
| --- | ---: | ---: | ---: | ---: |
"""
OUTSIDE = """## What is not on this shelf, and why

- The analytic hierarchy process is a way to get weights, not a formula: `examples/pairwise-weights/` works it out, and its
  published cases are in `tests/reference/`. Weights that the handbook got by it stand in `technology-achievement.yaml`.
- The benefit of the doubt (each country judged under the weights that suit it best, by a linear programme) is no formula with
  one set of weights: `steelyard weights --json` gives it for any score, and `selftest` holds it to the handbook's table.
- Outranking (a matrix of who beats whom in most indicators, and the order that agrees with it best) gives places without
  scores. The form says scores, so it does not say this.
- A rank as a number to reckon on with: the form has the percentile rank instead (`standing`), and places as a column.
- An equation that is solved by iteration: `thermal-comfort.yaml` writes out six steps of Newton's method, one a rating. It is
  exact, and long; of all files here it is the one that the form does not say plainly.
"""


def shelf_page(folder: Path) -> str:
    """The whole page.

    Parameters
    ----------
    folder : of the published formulas

    Raises
    ------
    SteelyardError
        A formula or its readings are refused.
    """
    worked = [(line, tuple(rework(line))) for line in read_shelf(folder)]
    rows = [
        "| formula | on what | source | figures | as published |",
        "| --- | --- | --- | ---: | ---: |",
        *(_row(line, figures) for line, figures in worked),
    ]
    formulas = dict.fromkeys(line.formula for line, _ in worked)
    parts = [HEAD, "\n".join(rows) + "\n", _exceptions(worked), CHECKED + "".join(map(check_row, formulas)), OUTSIDE]
    return "\n".join(parts)


def check_row(formula: Path) -> str:
    """How many claims of a formula are proved, refuted, not decided, not claimed."""
    found = [finding.verdict for finding in check(compile_form(read_form(formula)), None, None, seed=0).findings]
    counts = " | ".join(str(found.count(verdict)) for verdict in (PROVED, REFUTED, NOT_DECIDED, NOT_CLAIMED))
    return f"| `{formula.name}` | {counts} |\n"


def _row(line: ShelfLine, figures: Sequence[Reworked]) -> str:
    near = sum(figure.near for figure in figures)
    source = line.source + (f" (near enough: {_nearness(line)}; {line.why})" if line.within else "")
    return f"| `{line.formula.name}` | {line.what}: `{line.readings.name}` | {source} | {len(figures)} | {near} |"


def _nearness(line: ShelfLine) -> str:
    return listed([f"`{figure}` within {nearness:g}" for figure, nearness in line.within.items()])


def _exceptions(worked: Iterable[tuple[ShelfLine, Sequence[Reworked]]]) -> str:
    lines = ["## What does not come out as printed, and why", ""]
    lines += ["| on what | product | figure | published | ours | why |", "| --- | --- | --- | ---: | ---: | --- |"]
    for line, figures in worked:
        for figure in figures:
            if figure.verdict == AS_LISTED:
                case = figure.published
                ours = "none" if figure.ours is None else f"{figure.ours:.6g}"
                words = line.what, case.product, f"`{case.figure}`", f"{case.published:.6g}", ours, figure.because
                lines.append(f"| {' | '.join(words)} |")
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    home = Path(__file__).resolve().parents[2] / "formulas" / "published"
    (home / "README.md").write_text(shelf_page(home), encoding="utf-8")
