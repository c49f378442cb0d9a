"""The corrections of a recipe, applied to the cells of a table; nothing is written to its file."""

from __future__ import annotations

import decimal
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from scoring.catalogue.cells import shown, text_of
from scoring.catalogue.corrected import CorrectedCell
from scoring.errors import Place, Problem
from scoring.numbers.array_types import Texts
from scoring.recipe.corrections import Correction


@dataclass(slots=True, eq=False)
class Cells:
    """The cells of a table that may be corrected: the rows of its header, and the columns below with their row numbers."""

    header: list[tuple[int, Sequence[object]]]
    columns: list[Texts]
    lines: list[int]

    def get(self, row: int, index: int) -> tuple[object] | None:
        """What a cell says; None where there is no such cell."""
        for line, cells in self.header:
            if line == row:
                return (cells[index],) if index < len(cells) else None
        there = 0 <= index < len(self.columns) and row in self.lines
        return (self.columns[index][self.lines.index(row)],) if there else None

    def put(self, row: int, index: int, cell: object) -> None:
        """Let a cell say something else."""
        for number, (line, cells) in enumerate(self.header):
            if line == row:
                self.header[number] = (line, [cell if i == index else one for i, one in enumerate(cells)])
                return
        column = self.columns[index].copy()
        column[self.lines.index(row)] = cell
        self.columns[index] = column


@dataclass(frozen=True, slots=True, eq=False)
class Where:
    """How a column is found by its name, and how a cell is told; `find` gives None where no column is called so."""

    find: Callable[[str], int | None]
    place: Callable[[int, int], Place]


def correct(
    cells: Cells, corrections: Sequence[Correction], where: Where, problems: list[Problem]
) -> list[CorrectedCell]:
    """Correct cells, and say which; a correction that does not fit goes to `problems`."""
    done = []
    for one in corrections:
        index = one.letters if one.cell else where.find(one.column)
        if index is None:
            problems.append(Problem(one.place, f"no column {shown(one.column)}", "a column of the table"))
            continue
        held = cells.get(one.row, index)
        if held is None:
            found = f"{one.cell or f'row {one.row}'}, which is no cell of the table"
            problems.append(Problem(one.place, found, "a cell of the header or below it"))
            continue
        place = where.place(one.row, index)
        if not _says(held[0], one.instead_of):
            problems.append(_outlived(one, held[0], place))
            continue
        cells.put(one.row, index, _typed_as(held[0], one.becomes))
        done.append(CorrectedCell(place, one.becomes, one.instead_of, one.because, one.on, index))
    return done


def _outlived(one: Correction, cell: object, place: Place) -> Problem:
    """The fault of a correction whose cell does not say what it corrects."""
    hint = "Look at it again: the file was changed, or another cell is meant."
    if _says(cell, one.becomes):
        hint = "Take the correction away: the file is mended."
    said = shown(cell) if text_of(cell) else "nothing"
    return Problem(one.place, f"{said} in {place}", f"{shown(one.instead_of)}, as `instead_of` says", hint)


def _says(cell: object, text: str) -> bool:
    """Whether a cell says just this; a number cell, this number."""
    if text_of(cell) == text.strip():
        return True
    number = _number(text)
    return _is_number(cell) and number is not None and number == float(cell)  # type: ignore[arg-type]  # it is a number


def _typed_as(cell: object, text: str) -> object:
    """A text as the cell in whose place it stands: a number for a number."""
    number = _number(text)
    return number if number is not None and _is_number(cell) else text


def _is_number(cell: object) -> bool:
    return isinstance(cell, int | float | decimal.Decimal) and not isinstance(cell, bool)


def _number(text: str) -> float | None:
    try:
        return float(text)
    except ValueError:
        return None
