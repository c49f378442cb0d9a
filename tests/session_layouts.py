"""Layouts of bench workbooks by chance in which words of products stand more than once, or reasons beside readings."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from further_layouts import body
from messy_layouts import Cells, Drawn, Layout, bench, plain, truth_of

KINDS_OF_BED = ("foam", "hybrid", "latex")


def classes(n_beds: int) -> list[str]:
    """A kind for each bed."""
    return [KINDS_OF_BED[number % 3] for number in range(n_beds)]


def class_on_each_sheet(drawn: Drawn) -> Layout:
    """Two sheets of sessions, with kinds, days and notes on both; the first bed stands on both, the second sheet has more."""
    own = bench(drawn)
    head: list[object] = ["Bed", "Class", *own.heads, "Tested by", "Notes"]
    rows: Cells = [
        [row[0], kind, *row[1:], "K. Orrin", None] for row, kind in zip(body(own), classes(len(own.ids)), strict=True)
    ]
    rows[-1][-1] = "loud slat"  # so that the column of notes is empty on the first sheet
    few = int(drawn.integers(2, len(rows) // 2))
    sheets = {"Spring": [head, *rows[:few]], "Summer": [head, *rows[few:], rows[0]]}
    truth = truth_of(own, rows=len(rows) + 1, sessions="each sheet", attributes=frozenset({"Class"}))
    return Layout(sheets, truth)


def class_on_sheets_read_apart(drawn: Drawn) -> Layout:
    """The same where the header stands again in the middle of one sheet, so that each sheet is read in its own way."""
    layout = class_on_each_sheet(drawn)
    summer = layout.sheets["Summer"]
    half = len(summer) // 2 + 1
    again = [*summer[:half], summer[0], *summer[half:]]
    return replace(layout, sheets={**layout.sheets, "Summer": again})


def class_that_differs(drawn: Drawn) -> Layout:
    """Two sheets that call one bed by two kinds."""
    layout = class_on_each_sheet(drawn)
    summer = layout.sheets["Summer"]
    other = [summer[-1][0], "waterbed", *summer[-1][2:]]
    return replace(layout, sheets={**layout.sheets, "Summer": [*summer[:-1], other]})


def slip_on_one_sheet(drawn: Drawn) -> Layout:
    """Two sheets of sessions, with a reading ten times its neighbours on the second."""
    own = bench(drawn)
    rows = body(own)
    rows[3] = [rows[3][0], round(float(str(rows[3][1])) * 10, 2), *rows[3][2:]]
    sheets = {"Spring": plain(own), "Summer": [["Bed", *own.heads], *rows]}
    truth = truth_of(own, (1,), rows=2 * len(rows), sessions="each sheet", slips=frozenset({"sheet Summer B5"}))
    return Layout(sheets, truth)


def slip_among_commas(drawn: Drawn) -> Layout:
    """A text file with decimal commas, in which a reading is a tenth of its neighbours."""
    own = bench(drawn)
    rows: Cells = [[f"{float(str(one)):.2f}".replace(".", ",") for one in row] for row in own.rows]
    slipped = float(str(own.rows[2][0])) / 10
    rows[2][0] = f"{slipped:.3f}".replace(".", ",")
    slips = frozenset({f"row 4, column {own.heads[0]}"})
    return Layout({"": plain(replace(own, rows=rows))}, truth_of(own, comma=True, slips=slips), "bench.csv")


def reasons_in_cells(drawn: Drawn) -> Layout:
    """Why a reading is missing, or does not apply, as the catalogue's own grammar has it, below a title."""
    own = bench(drawn)
    rows = [list(row) for row in own.rows]
    rows[1][0], rows[2][1] = "missing: K. dropped probe 2", "not applicable: no edge"
    words = frozenset({"missing: k. dropped probe 2", "not applicable: no edge"})
    return Layout({"Data": [["Invented"], [], *plain(replace(own, rows=rows))]}, truth_of(own, (3,), words=words))


SESSIONS: tuple[Callable[[Drawn], Layout], ...] = (
    class_on_each_sheet,
    class_on_sheets_read_apart,
    class_that_differs,
    slip_on_one_sheet,
    slip_among_commas,
    reasons_in_cells,
)
