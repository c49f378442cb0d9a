"""What commands take, declared once, and how their faults are told. Nothing here loads more than typer."""

from __future__ import annotations

import signal
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import typer

from analysis.cli.interrupts import leave_at_once
from scoring.table_formats import ONE_OF_FORMATS

Formula = Annotated[Path, typer.Argument(metavar="FORMULA", help="A formula file (YAML).")]
Catalogue = Annotated[
    Path,
    typer.Argument(
        metavar="CATALOGUE",
        help=f"Readings: a file of {ONE_OF_FORMATS}, or a folder with `readings` and `items`.",
    ),
]
MaybeCatalogue = Annotated[
    Path | None, typer.Argument(metavar="CATALOGUE", help="Readings, for the checks that need them.")
]
Settings = Annotated[
    list[str] | None,
    typer.Option(
        "--set", metavar="ADDRESS=VALUE", help="Try a value at an address; repeatable. The file stays as it is."
    ),
]
Where = Annotated[
    list[str] | None,
    typer.Option(
        "--where",
        metavar="ATTRIBUTE=WORD",
        help="Only products with that word (or one of several: a,b), or with != without it; repeatable. Scores stay those of"
        " the whole catalogue; places are counted among the selected.",
    ),
]
AsJson = Annotated[bool, typer.Option("--json", help="One JSON document on standard output, and nothing else there.")]
Seed = Annotated[int, typer.Option("--seed", metavar="N", min=0, help="Seed of every random draw.")]
StudyFile = Annotated[
    Path | None,
    typer.Option("--study", metavar="FILE", help="What varies and how (YAML); derived from the formula by default."),
]
Scores = Annotated[
    list[str] | None, typer.Option("--score", metavar="NAME", help="One score or rating; repeatable. All by default.")
]
Top = Annotated[int | None, typer.Option("--top", metavar="N", min=1, help="How many places the top are.")]
Resolved = Annotated[bool, typer.Option("--resolved", help="Print every argument that varies, how, and who said so.")]
Results = Annotated[
    Path | None,
    typer.Option(
        "--out",
        metavar="PATH",
        help="A folder for page, pictures and tables, or one .html, .md, .tex, .typ, .pdf, .json, .csv, .parquet or .xlsx.",
    ),
]

Force = Annotated[
    bool, typer.Option("--force", help="Write over files that steelyard did not write; never over what is read.")
]


@contextmanager
def faults_told() -> Iterator[None]:
    """Faults of the input end with their lines on standard error and exit code 2; an interrupt puts things in order first."""
    from scoring.errors import SteelyardError

    try:
        with interrupts_raised():
            yield
    except SteelyardError as fault:
        from analysis.cli.terminal import print_problems

        print_problems(fault)
        raise typer.Exit(2) from None


@contextmanager
def interrupts_raised() -> Iterator[None]:
    """An interrupt is raised, so that half-written files are taken away, where it was a plain end before."""
    if signal.getsignal(signal.SIGINT) is not leave_at_once:
        yield
        return
    signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, leave_at_once)
