"""Queries: one statement that reads, whatever a driver would take beside it, and its rows, counted as they come."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence

from scoring.catalogue.formats.grid import Row
from scoring.errors import CatalogueError, Place, Problem
from scoring.texts.file_limits import over_limits

#: What a statement that reads begins with.
_READS = ("select", "with", "values", "table")
#: Texts, names in quotes and remarks, in which a semicolon ends nothing.
_QUOTED = re.compile(
    r"'(?:[^']|'')*'|\"(?:[^\"]|\"\")*\"|`[^`]*`|\[[^\]]*\]|--[^\n]*(?:\n|$)|/\*.*?\*/",
    re.DOTALL,
)
_REMARK = re.compile(r"--[^\n]*(?:\n|$)|/\*.*?\*/", re.DOTALL)


def fault_of_query(query: str, place: Place) -> Problem | None:
    """What keeps a query from being one statement that reads."""
    bare = _QUOTED.sub(_without_words, query).strip().rstrip(";").strip()
    if not bare:
        return Problem(place, "no query", "one statement that reads", "Write `query: select ... from ...`.")
    if ";" in bare:
        return Problem(place, "a query of several statements", "one statement that reads, and no semicolon in it")
    first = bare.lstrip("(").split(None, 1)[0].casefold() if bare.lstrip("(") else ""
    if first.rstrip("(") not in _READS:
        return Problem(place, f"a query that begins with `{first[:30]}`", "one statement that reads, as `select`")
    return None


def counted(names: Sequence[object], rows: Iterable[Sequence[object]], source: str) -> Iterator[Row]:
    """The names of the columns as row 1, and the rows of a query.

    Raises
    ------
    CatalogueError : there are more rows, cells or letters than the limits say
    """
    yield 1, names
    letters = 0
    for n_rows, cells in enumerate(rows, start=1):
        letters += sum(len(cell) for cell in cells if isinstance(cell, str | bytes))
        many = over_limits(Place(source), so_far=True, rows=n_rows, cells=n_rows * len(names), unpacked=letters)
        if many:
            raise CatalogueError(many)
        yield n_rows + 1, cells


def in_one_line(fault: BaseException) -> str:
    """What a library says, on one line, of letters that show."""
    words = " ".join(str(fault).split())[:200]
    return "".join(sign for sign in words if sign.isprintable())


def _without_words(quoted: re.Match[str]) -> str:
    """A remark is a blank; what stands in quotes is a word of no meaning here."""
    return " " if _REMARK.fullmatch(quoted[0]) else "x"
