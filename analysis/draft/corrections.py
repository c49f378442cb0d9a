"""Corrections that a first recipe offers where a point seems to have slipped; none is in force until a human says so."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from analysis.draft.cell_kinds import unit_of
from analysis.draft.findings import Findings
from analysis.draft.guesses import plain
from analysis.draft.marked import DECIDE, marked, written
from analysis.draft.oddities import Slipped, told_slip
from scoring.catalogue.cells import text_of

BECAUSE = "the point slipped"


def correction_lines(findings: Findings, numbers: Sequence[int]) -> Iterator[str]:
    """The corrections of one entry under `tables`, as comments.

    Parameters
    ----------
    numbers : of the tables that the entry reads
    """
    looks = [findings.looks[number] for number in numbers]
    every = [slip for measure in findings.measures for slip in measure.slips]
    slips = [slip for slip in every if slip.look in looks and is_correctable(slip)]
    if not slips:
        return
    names_sheet = len(looks) > 1
    because = "is it wrong? Take the first `# ` away, or where it is right widen its `plausible` in the formula"
    first, *rest = slips
    if not rest:
        yield marked(
            f"    # corrections: [{_correction(first, names_sheet)}]", f"{DECIDE}: {told_slip(first)}: {because}"
        )
        return
    corrections = ", ".join(_correction(slip, names_sheet) for slip in slips)
    told = "; ".join(map(told_slip, slips))
    which = because.replace("is it wrong", "are they wrong").replace("it is right", "they are right")
    which = which.replace("widen its `plausible`", "leave them out here, and widen `plausible`")
    yield marked(f"    # corrections: [{corrections}]", f"{DECIDE}: {told}: {which}")


def is_correctable(slip: Slipped) -> bool:
    """Whether a recipe can name the cell: by its letters, or by the name of a column that no other bears."""
    assert slip.look is not None
    names = slip.look.extent.names
    name = names[slip.reading.column]
    return slip.look.table.is_spreadsheet or bool(name and names.count(name) == 1)


def _correction(slip: Slipped, names_sheet: bool) -> str:
    """One correction as YAML, in the way in which the cell itself writes its number."""
    look = slip.look
    assert look is not None
    row, index = look.row(slip.reading.row), slip.reading.column
    if look.table.is_spreadsheet:
        where = f"cell: {look.table.cell(row, index)}"
        where += f", sheet: {written(look.table.sheet)}" if names_sheet else ""
    else:
        where = f"row: {row}, column: {written(look.extent.names[index])}"
    cell = look.columns[index].cells[slip.reading.row]
    says = text_of(cell)
    mended = plain(slip.reading.value / slip.times)
    mended = mended.replace(".", ",") if isinstance(cell, str) and "," in says else mended
    unit = unit_of(cell)
    mended = f"{mended} {unit}" if unit else mended
    return f"{{{where}, is: {written(mended)}, instead_of: {written(says)}, because: {BECAUSE}}}"
