"""Printing: aligned tables, plain lines, faults. Nothing else in the project prints."""

from __future__ import annotations

import json
import sys
import unicodedata
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from rich.box import SIMPLE_HEAD
from rich.console import Console, JustifyMethod
from rich.measure import Measurement
from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn
from rich.table import Table
from rich.text import Text

from scoring.errors import SteelyardError

PIPE_WIDTH = 160
MOST_WIDTH = 10_000
MOST_PROBLEMS = 200


def console() -> Console:
    """The terminal, or a stream of fixed width without colour codes where standard output is no terminal."""
    tty = sys.stdout.isatty()
    return Console(
        width=None if tty else PIPE_WIDTH, highlight=False, color_system="auto" if tty else None, soft_wrap=not tty
    )


def visible(text: str) -> str:
    """`text` with control and direction-changing characters written out, so that no file can steer the terminal."""
    return "".join(f"\\u{ord(c):04x}" if unicodedata.category(c) in {"Cc", "Cf", "Cs"} else c for c in text)


def say(*lines: str) -> None:
    """Print plain lines; nothing in them is taken for markup."""
    screen = console()
    for line in lines:
        screen.print(Text(visible(line)), soft_wrap=True)


def print_table(
    headers: Sequence[str],
    rows: Iterable[Sequence[str]],
    *,
    right: Iterable[int] = (),
    unbroken: Iterable[int] = (),
    title: str = "",
    piped: int = PIPE_WIDTH,
    tight: bool = False,
) -> None:
    """Print an aligned table; columns in `right` are set to the right.

    Figures, the first column of words and the columns in `unbroken` are never cut: a table that needs more room runs past
    the stream's width. `piped` is that width where there is no terminal; columns of a `tight` table stand closer together.
    """
    numbers = set(right)
    table = Table(
        box=SIMPLE_HEAD,
        title=Text(visible(title), style="bold") if title else None,
        title_justify="left",
        pad_edge=False,
        collapse_padding=tight,
    )
    cells = [[Text(visible(cell)) for cell in row] for row in rows]
    words = min(set(range(len(headers))) - numbers, default=0)  # they name the row
    whole = numbers | {words} | set(unbroken)
    for index, header in enumerate(Text(visible(header)) for header in headers):
        widest = max(text.cell_len for text in (header, *(row[index] for row in cells))) if index in whole else None
        justify: JustifyMethod = "right" if index in numbers else "left"
        table.add_column(header, justify=justify, no_wrap=index in whole, min_width=widest)
    for row in cells:
        table.add_row(*row)
    screen = console()
    if not sys.stdout.isatty():
        screen.width = piped
    needed = Measurement.get(screen, screen.options.update_width(MOST_WIDTH), table).minimum
    screen.width = max(screen.width, needed)
    screen.print(table, soft_wrap=False)


def _untold(done: int, total: int) -> None:
    """Where nobody watches."""


@contextmanager
def progress_bar(label: str) -> Iterator[Callable[[int, int], None]]:
    """A bar on standard error while something long runs, where that is a terminal; told how much is done, of how much."""
    screen = Console(stderr=True)
    if not sys.stderr.isatty():
        yield _untold
        return
    columns = (TextColumn("{task.description}"), BarColumn(), TimeRemainingColumn())
    with Progress(*columns, console=screen, transient=True) as bar:
        task = bar.add_task(label, total=None)

        def told(done: int, total: int) -> None:
            bar.update(task, completed=done, total=total or None)

        yield told


def print_json(document: Any) -> None:
    """Print one JSON document, and nothing else."""
    sys.stdout.write(json.dumps(document, ensure_ascii=False, indent=1, allow_nan=False) + "\n")


def print_problems(fault: SteelyardError) -> None:
    """Print each problem in one line on standard error."""
    for problem in fault.problems[:MOST_PROBLEMS]:
        sys.stderr.write(visible(" ".join(str(problem).split())) + "\n")
    count = len(fault.problems)
    if count > MOST_PROBLEMS:
        sys.stderr.write(f"... and {count - MOST_PROBLEMS} more problems\n")
    sys.stderr.write(f"{count} problem{'s' if count != 1 else ''}; nothing was done.\n")
