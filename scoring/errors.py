"""Faults, their places, and the one family of exceptions that carries them."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

MOST_COMPARED = 500


@dataclass(frozen=True, slots=True, order=True)
class Place:
    """Where something stands: a line and column of a text, or a row and column of a table (counted from 1).

    `label` is what a row is called besides its number. A place in a spreadsheet has its `sheet`, and is told as a cell.
    """

    source: str
    line: int = 0
    column: int = 0
    column_name: str = ""
    label: str = ""
    sheet: str = ""

    def __str__(self) -> str:
        if self.sheet:
            return f"{self.source}, sheet {self.sheet}{self._in_sheet()}"
        if self.column_name:
            label = f" ({self.label})" if self.label else ""
            row = f", row {self.line}{label}" if self.line else ""
            return f"{self.source}{row}, column {self.column_name}"
        return ":".join([self.source, *(str(n) for n in (self.line, self.column) if n)])

    def _in_sheet(self) -> str:
        """The cell, or the row or column alone, with the column's name."""
        name = f" ({self.column_name})" if self.column_name else ""
        if self.line and self.column:
            return f", cell {column_letters(self.column)}{self.line}{name}"
        if self.column:
            return f", column {column_letters(self.column)}{name}"
        row = f", row {self.line}" if self.line else ""
        return f"{row}, column {self.column_name}" if self.column_name else row


@dataclass(frozen=True, slots=True)
class Problem:
    """One fault: where it stands, what was found, what was expected, what to try."""

    place: Place
    found: str
    expected: str
    hint: str = ""

    def __str__(self) -> str:
        hint = f" {self.hint}" if self.hint else ""
        return f"{self.place}: {self.found}; expected {self.expected}.{hint}"


def column_letters(number: int) -> str:
    """A column of a spreadsheet by its letters, counted from 1.

    Examples
    --------
    >>> column_letters(3), column_letters(26), column_letters(27)
    ('C', 'Z', 'AA')
    """
    letters = ""
    while number:
        number, last = divmod(number - 1, 26)
        letters = chr(ord("A") + last) + letters
    return letters


class SteelyardError(Exception):
    """The input is wrong; `problems` holds every fault that was found."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems: tuple[Problem, ...] = tuple(dict.fromkeys(problems))
        super().__init__("\n".join(str(problem) for problem in self.problems))


class FormulaError(SteelyardError):
    """A formula file cannot be read as a form."""


class AddressError(SteelyardError):
    """An address names nothing in the form, or its value does not fit."""


class CatalogueError(SteelyardError):
    """A catalogue holds readings that cannot be taken as they stand."""


class ScoringError(SteelyardError):
    """A formula gives no number where it should: a score that is infinite, or not a number."""


class StudyError(SteelyardError):
    """A study asks for what cannot be done, or its file cannot be read."""


class FileError(SteelyardError):
    """A file cannot be written."""


def nearest(name: str, known: Iterable[str]) -> str:
    """A hint that names the known word nearest to `name`, or lists the known ones when none is near."""
    names = list(islice(known, MOST_COMPARED))
    alike = [known for known in names if known.casefold() == name.strip().casefold()]
    close = alike or difflib.get_close_matches(name, names, n=1, cutoff=0.6)
    if close:
        edge = ", without the space at its edge" if name.strip() == close[0] != name else ""
        return f"Did you mean `{close[0]}`{edge}?"
    if not names:
        return ""
    shown = ", ".join(names[:12]) + (", ..." if len(names) > 12 else "")
    return f"Known: {shown}."


def nearest_file(path: Path, endings: Iterable[str]) -> str:
    """A hint at the file of a similar name and a fitting ending beside one that is not there."""
    folder = path.parent
    if not folder.is_dir():
        return f"There is no folder `{folder}`."
    beside = sorted(other.name for other in islice(folder.iterdir(), MOST_COMPARED))
    fitting = [name for name in beside if name.lower().endswith(tuple(endings))]
    same = [name for name in fitting if Path(name).stem == path.name]
    hint = f"Did you mean `{same[0]}`?" if same else nearest(path.name, fitting)
    return hint if hint.startswith("Did") else ""
