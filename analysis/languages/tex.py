"""A document as LaTeX, for pdflatex with what every TeX has: amsmath, array, graphicx and longtable."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from analysis.languages.facts import Column, Facts, Run, Runs, Steps, Table
from analysis.languages.latex import STAND_IN, latex, latex_code, latex_prose, latex_text
from analysis.languages.pdf import MARKS
from analysis.languages.plain import pieces
from analysis.languages.rendering import Files, environment, figure_files

#: Sizes of type for tables, the largest first, and how many letters of each go into a line.
SIZES = (("footnotesize", 104.0), ("scriptsize", 112.0), ("tiny", 130.0))
#: The gap beside a column, in letters; how much wider bold letters are; the longest word that is kept
#: whole, and a stand-in, which is of capitals.
GAP, BOLD, LONGEST_WORD, STAND_IN_LETTERS = 2.5, 1.18, 24, 11


@dataclass(frozen=True, slots=True)
class Laid:
    """A column of a table: whether figures stand in it, and its share of the line, as a TeX length."""

    numeric: bool
    width: str


@dataclass(frozen=True, slots=True)
class Layout:
    """The size of type of a table, as a command of TeX, and its columns."""

    size: str
    columns: tuple[Laid, ...]


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
    """The document in LaTeX, in ASCII alone, and its pictures beside it."""
    made = environment(escape=False, **MARKS)
    made.filters |= {"text": latex_prose, "code": latex_code, "latex": latex, "layout": layout, "steps": step_lines}
    return {
        f"{facts.name}.tex": made.get_template("document.tex").render(facts=facts).encode("ascii"),
        **figure_files(facts),
    }


def layout(table: Table | Lines) -> Layout:
    """The largest type in which every word fits its column, and widths by what stands in the columns."""
    cells = [[row[at] for row in table.rows] for at in range(len(table.columns))]
    pairs = list(zip(table.columns, cells, strict=True))
    wanted = [_widest(column, below, _letters) for column, below in pairs]
    least = [
        min(most, _widest(column, below, _longest_word)) for most, (column, below) in zip(wanted, pairs, strict=True)
    ]
    size, line = next((one for one in SIZES if sum(least) <= one[1]), SIZES[-1])
    gap = 2 * (len(wanted) - 1) / len(wanted)
    widths = _fitted(wanted, least, line)
    columns = tuple(
        Laid(column.numeric, rf"\dimexpr {width / line:.4f}\linewidth-{gap:.2f}\tabcolsep\relax")
        for column, width in zip(table.columns, widths, strict=True)
    )
    return Layout(size, columns)


def _fitted(wanted: Sequence[float], least: Sequence[float], line: float) -> list[float]:
    """Widths that fit into a line: each column has room for its longest word, and what is left goes where it is wanted."""
    if sum(wanted) <= line:
        return list(wanted)
    if sum(least) >= line:
        return [width * line / sum(least) for width in least]
    share = (line - sum(least)) / (sum(wanted) - sum(least))
    return [low + share * (high - low) for low, high in zip(least, wanted, strict=True)]


def _widest(column: Column, cells: Sequence[Runs], measured: Callable[[Runs], float]) -> float:
    """What a column asks for, in letters, with the gap beside it."""
    return GAP + max([BOLD * measured(column.head), *(measured(cell) for cell in cells)])


def _letters(cell: Runs) -> float:
    """How many letters a cell takes in one line; code is wider."""
    return sum(len(run.text) * (1.1 if run.kind == "code" else 1.0) for run in cell)


def _longest_word(cell: Runs) -> float:
    """How many letters the longest stretch takes that no line cuts."""
    words = [_uncut(word) for run in cell if run.kind != "code" for word in run.text.split()]
    parts = [1.1 * len(piece) for run in cell if run.kind == "code" for piece in pieces(run.text)]
    return min(LONGEST_WORD, max([*words, *parts], default=0.0))


def _uncut(word: str) -> int:
    """How many letters of a word no line cuts: all of them, or what stands between its stand-ins, and each of those."""
    between = STAND_IN.split(latex_text(word))
    return len(word) if len(between) == 1 else max(STAND_IN_LETTERS, min(len(word), max(map(len, between))))


def step_lines(steps: Steps) -> Lines:
    """A worked example as rows: line, what, arithmetic, result."""
    heads = (("line", True), ("what", False), ("arithmetic", False), ("result", True))
    rows = tuple(
        ((Run(str(number)),), step.what, (Run(step.arithmetic, "code"),), (Run(step.result, "code"),))
        for number, step in enumerate(steps.lines, start=1)
    )
    return Lines(tuple(Column((Run(head),), numeric) for head, numeric in heads), rows)
