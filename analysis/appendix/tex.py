"""The appendix as LaTeX, for pdflatex with what every TeX has: amsmath, array, graphicx and longtable."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from analysis.appendix.facts import Column, Facts, Run, Runs, Steps, Table
from analysis.appendix.latex import latex
from analysis.appendix.latex_letters import latex_text
from analysis.appendix.pdf import MARKS
from analysis.appendix.rendering import Files, environment, figure_files

#: After these a long address or line of arithmetic may go on in the next line.
BREAKS = "._/*+,=-)"
#: Letters that go into a line of a table, and the widest column that keeps its width where they do not suffice.
LINE, KEPT = 104, 15


@dataclass(frozen=True, slots=True)
class Laid:
    """A column of a table: whether figures stand in it, and its share of the line, as a TeX length."""

    numeric: bool
    width: str


@dataclass(frozen=True, slots=True)
class Lines:
    """The lines of a worked example as a table."""

    columns: tuple[Column, ...]
    rows: tuple[tuple[Runs, ...], ...]

    @property
    def heads(self) -> tuple[Runs, ...]:
        """What stands over each column."""
        return tuple(column.head for column in self.columns)


def tex_files(facts: Facts) -> Files:
    """The appendix in LaTeX, in ASCII alone, and its pictures beside it."""
    made = environment(escape=False, **MARKS)
    made.filters |= {"text": latex_text, "code": code, "latex": latex, "layout": layout, "steps": step_lines}
    return {
        "appendix.tex": made.get_template("appendix.tex").render(facts=facts).encode("ascii"),
        **figure_files(facts),
    }


def code(text: str) -> str:
    """An address, a hash or arithmetic, letter for letter, with places where a line may end."""
    return "".join(rf"{latex_text(sign)}\allowbreak{{}}" if sign in BREAKS else latex_text(sign) for sign in text)


def layout(table: Table | Lines) -> tuple[Laid, ...]:
    """The columns of a table with widths in proportion to what stands in them."""
    wanted = [_letters([column.head, *(row[at] for row in table.rows)]) for at, column in enumerate(table.columns)]
    gap = 2 * (len(wanted) - 1) / len(wanted)
    return tuple(
        Laid(column.numeric, rf"\dimexpr {width / LINE:.4f}\linewidth-{gap:.2f}\tabcolsep\relax")
        for column, width in zip(table.columns, _fitted(wanted), strict=True)
    )


def _fitted(wanted: Sequence[float]) -> list[float]:
    """Widths that fit into a line: narrow columns keep theirs, wide ones share what is left in proportion."""
    kept = sum(width for width in wanted if width <= KEPT)
    wide = sum(width for width in wanted if width > KEPT)
    if kept + wide <= LINE:
        return list(wanted)
    if not wide or kept >= 0.8 * LINE:
        return [width * LINE / (kept + wide) for width in wanted]
    return [width if width <= KEPT else width * (LINE - kept) / wide for width in wanted]


def _letters(cells: Sequence[Runs]) -> float:
    """How many letters of a line a column asks for: its longest cell, code counted wider, and the gap beside it."""
    return 2.5 + max(sum(len(run.text) * (1.2 if run.kind == "code" else 1.0) for run in cell) for cell in cells)


def step_lines(steps: Steps) -> Lines:
    """A worked example as rows: line, what, arithmetic, result."""
    heads = (("line", True), ("what", False), ("arithmetic", False), ("result", True))
    rows = tuple(
        ((Run(str(number)),), step.what, (Run(step.arithmetic, "code"),), (Run(step.result, "code"),))
        for number, step in enumerate(steps.lines, start=1)
    )
    return Lines(tuple(Column((Run(head),), numeric) for head, numeric in heads), rows)
