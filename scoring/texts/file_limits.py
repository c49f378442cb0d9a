"""How much is read of a file: every limit, what it is for, and how it is lifted.

A few bytes can claim to be thousands of millions of cells. Limits are looked at before a file is unpacked, and again while
it is read. A cell of a table takes about 120 bytes of memory once it is read (measured on wide and long CSV files), so that
the default of 25 million cells takes about 3 GB: a million products with 24 readings each, or 5 million rows of a long file.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, fields, replace

from scoring.errors import Place, Problem, SteelyardError, nearest

#: A formula or a study, as a file and as text; nobody writes as much by hand.
FORMULA_BYTES = 2_000_000
FORMULA_CHARACTERS = 500_000
#: The parts of a workbook that hold neither cells nor texts: its formats, above all. A byte of these takes about 130 in memory.
XLSX_OTHER_BYTES = 10_000_000
#: Repeats of one measure of one product.
REPEATS = 1_000


@dataclass(frozen=True, slots=True)
class Limits:
    """What a laboratory may meet in earnest, and therefore can lift.

    file_bytes : of one table file, or of a bridge; unpacked : bytes of what a workbook or a column store holds, or letters of
    what a database gives; rows, columns, cells : of one table; record_bytes : of a record
    """

    file_bytes: int = 500_000_000
    unpacked: int = 500_000_000
    rows: int = 5_000_000
    columns: int = 10_000
    cells: int = 25_000_000
    record_bytes: int = 500_000_000


#: What each limit counts, as a message calls it.
COUNTS = {
    "file_bytes": "bytes",
    "unpacked": "bytes once unpacked",
    "rows": "rows",
    "columns": "columns",
    "cells": "cells",
    "record_bytes": "bytes",
}
BY_DEFAULT = Limits()
_IN_FORCE: ContextVar[Limits] = ContextVar("limits in force", default=BY_DEFAULT)


def limits() -> Limits:
    """The limits that are in force here."""
    return _IN_FORCE.get()


@contextmanager
def lifted(**to: int) -> Iterator[None]:
    """Within the block, some limits stand elsewhere.

    Examples
    --------
    >>> with lifted(cells=400_000_000):
    ...     limits().cells
    400000000
    """
    token = _IN_FORCE.set(replace(limits(), **to))
    try:
        yield
    finally:
        _IN_FORCE.reset(token)


def over_limits(place: Place, *, so_far: bool = False, **counts: int) -> list[Problem]:
    """A fault for each limit, by its name, that is lower than what a file holds; `so_far`, as far as it was read."""
    found = limits()
    over = {name: count for name, count in counts.items() if count > getattr(found, name)}
    return [too_many(name, count, place, so_far=so_far) for name, count in over.items()]


def too_many(name: str, count: int, place: Place, *, so_far: bool = False, what: str = "") -> Problem:
    """The fault of `count` where the limit called `name` is lower; `what` it counts here, where that is something else."""
    found = f"{'at least ' if so_far else ''}{count:_} ".replace("_", " ") + (what or COUNTS[name])
    expected = f"at most {getattr(limits(), name):_}".replace("_", " ")
    hint = f"`steelyard --limit {name}=N COMMAND ...` reads more, where there is memory for it."
    return Problem(place, found, expected, hint)


def read_limits(settings: Iterable[str]) -> Mapping[str, int]:
    """Limits as they are written after `--limit`: `cells=400000000`.

    Raises
    ------
    SteelyardError : a name that is no limit, or what is no whole number above 0
    """
    names = [field.name for field in fields(Limits)]
    problems, found = list[Problem](), dict[str, int]()
    for text in settings:
        name, _, number = text.partition("=")
        digits = number.strip().replace("_", "")
        if name not in names:
            problems.append(Problem(Place("--limit"), f"`{name}`", f"one of {', '.join(names)}", nearest(name, names)))
        elif not (digits.isascii() and digits.isdigit() and 0 < len(digits) <= 15 and int(digits)):
            problems.append(Problem(Place("--limit"), f"`{text}`", f"a whole number, as `{name}=100000000`"))
        else:
            found[name] = int(digits)
    if problems:
        raise SteelyardError(problems)
    return found
