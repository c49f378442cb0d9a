"""Printing: aligned tables, plain lines, faults. Nothing else in the project prints."""

from __future__ import annotations

import os
import sys
import textwrap
import unicodedata
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from itertools import islice
from typing import Any

from rich.box import SIMPLE_HEAD
from rich.cells import cell_len
from rich.console import Console, JustifyMethod
from rich.measure import Measurement
from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn
from rich.table import Table
from rich.text import Text

from analysis.cli.standard_output import knows_every_letter
from analysis.json_text import json_pieces
from scoring.errors import FileError, Place, Problem, SteelyardError

PIPE_WIDTH = 160
MOST_WIDTH = 10_000
#: Cells between two columns of a table, and of one whose columns stand close.
WIDE_GAP, NARROW_GAP = 3, 2
MOST_PROBLEMS = 200
#: Rows of a table that are printed: nobody reads more, and each takes its room until the last is known.
MOST_ROWS = 5_000
TIED = "\u00a0"


def console() -> Console:
    """The terminal, or a stream of fixed width without colour codes where standard output is no terminal."""
    tty = sys.stdout.isatty()
    codes = tty and not os.environ.get("NO_COLOR")  # without colour, no bold letters either
    return Console(
        width=None if tty else PIPE_WIDTH, highlight=False, color_system="auto" if codes else None, soft_wrap=not tty
    )


def visible(text: str) -> str:
    """`text` with control and direction-changing characters written out, so that no file can steer the terminal."""
    return "".join(f"\\u{ord(c):04x}" if unicodedata.category(c) in {"Cc", "Cf", "Cs"} else c for c in text)


def say(*lines: str, whole: bool = False) -> None:
    """Print plain lines; nothing in them is taken for markup.

    A terminal gets them broken between words, what follows set in. In a pipe, and where a line is there to be copied
    (`whole`: a command, a sum), a line stays one line.
    """
    screen = console()
    width = screen.width if sys.stdout.isatty() and not whole else None
    for line in lines:
        for piece in _between_words(visible(line), width):
            screen.print(Text(piece), soft_wrap=True)


def _between_words(line: str, width: int | None) -> list[str]:
    """`line` in pieces of at most `width` cells; a word that is longer stays whole."""
    if width is None or len(line) <= width:
        return [line]
    indent = " " * (len(line) - len(line.lstrip()) + 2)
    kept = line.replace(" %", f"{TIED}%")  # a figure and its percent sign stay together
    pieces = textwrap.wrap(kept, width, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False)
    return [piece.replace(TIED, " ") for piece in pieces]


def print_table(
    headers: Sequence[str],
    rows: Iterable[Sequence[str]],
    *,
    more: str = "`--json` gives all.",
    of: int | None = None,
    right: Iterable[int] = (),
    unbroken: Iterable[int] = (),
    title: str = "",
    piped: int = PIPE_WIDTH,
    tight: bool = False,
) -> None:
    """Print an aligned table; columns in `right` are set to the right.

    Figures, the first column of words and the columns in `unbroken` keep to one line; the others break between words, and
    no word is ever cut: a table that needs more room runs past the stream's width. Beyond `MOST_ROWS` rows the rest is
    counted, and `more` says where they are; where it is said how many there are (`of`), none of them is made. `piped` is
    that width where there is no terminal; columns of a `tight` table stand closer together, as do those of one that a
    terminal is too narrow for.
    """
    numbers = set(right)
    heads = [Text(visible(header)) for header in headers]
    coming = iter(rows)
    cells = [[Text(visible(cell)) for cell in row] for row in islice(coming, MOST_ROWS)]
    words = min(set(range(len(headers))) - numbers, default=0)  # they name the row
    whole = numbers | {words} | set(unbroken)
    columns = [[head, *(row[index] for row in cells)] for index, head in enumerate(heads)]
    natural = [max(text.cell_len for text in column) for column in columns]
    least = [natural[index] if index in whole else _longest_word(column) for index, column in enumerate(columns)]
    screen, tty = console(), sys.stdout.isatty()
    if not tty:
        screen.width = piped
    tight = tight or (tty and sum(natural) + WIDE_GAP * (len(natural) - 1) > screen.width - 2)
    room = screen.width - (NARROW_GAP if tight else WIDE_GAP) * (len(natural) - 1) - 2
    table = Table(
        box=SIMPLE_HEAD,
        title=Text(visible(title), style="bold") if title else None,
        title_justify="left",
        pad_edge=False,
        collapse_padding=tight,
    )
    for index, (head, width) in enumerate(zip(heads, _widths(natural, least, room), strict=True)):
        justify: JustifyMethod = "right" if index in numbers else "left"
        table.add_column(head, justify=justify, no_wrap=index in whole, width=width)
    for row in cells:
        table.add_row(*row)
    taken = Measurement.get(screen, screen.options.update_width(MOST_WIDTH), table).maximum
    screen.width = max(screen.width, taken)
    screen.print(table, soft_wrap=False)
    left_out = sum(1 for _ in coming) if of is None else of - len(cells)
    if left_out:
        say(f"... and {left_out:,} more rows: {more}")


def _longest_word(column: Sequence[Text]) -> int:
    return max((cell_len(word) for text in column for word in text.plain.split()), default=0)


def _widths(natural: Sequence[int], least: Sequence[int], room: int) -> list[int]:
    """A width for each column between `least` and `natural`: each cell of `room` goes where most is wanting for its width."""
    widths = list(least)
    for _ in range(min(room, sum(natural)) - sum(least)):
        index = max(range(len(widths)), key=lambda column: natural[column] / max(widths[column], 1))
        widths[index] += 1
    return widths


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
    """Print one JSON document, and nothing else; letters that standard output does not know are written as JSON does."""
    for piece in json_pieces(document, ascii_only=not knows_every_letter()):
        sys.stdout.write(piece)


def print_text(text: str) -> None:
    """Print a text that is there to be saved, to the letter.

    Raises
    ------
    FileError : standard output has no code for one of its letters
    """
    encoding = sys.stdout.encoding or "utf-8"
    try:
        text.encode(encoding)
    except UnicodeEncodeError as fault:
        found = f"`{text[fault.start]}`, which {encoding} does not know"
        hint = "Write it to a file with --out, or set PYTHONIOENCODING=utf-8."
        raise FileError([Problem(Place("standard output"), found, "an output that takes UTF-8", hint)]) from None
    sys.stdout.write(text)


def print_problems(fault: SteelyardError) -> None:
    """Print each problem in one line on standard error, as long as that takes them."""
    lines = [visible(" ".join(str(problem).split())) for problem in fault.problems[:MOST_PROBLEMS]]
    count = len(fault.problems)
    if count > MOST_PROBLEMS:
        lines.append(f"... and {count - MOST_PROBLEMS} more problems")
    lines.append(f"{count} problem{'s' if count != 1 else ''}; nothing was done.")
    with suppress(OSError):  # the exit code says it too
        sys.stderr.write("\n".join(lines) + "\n")
        sys.stderr.flush()
