"""The commands that publish, and keep what was published. Each imports what it needs when it runs."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from analysis.cli.arguments import (
    AsJson,
    Catalogue,
    Force,
    Formula,
    Results,
    Seed,
    Settings,
    StudyFile,
    Where,
    faults_told,
)


def record(
    formula: Formula,
    catalogue: Catalogue,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="FILE", help="The record, a new .json file. Always needed.")
    ] = None,
    date: Annotated[
        str | None, typer.Option("--date", metavar="YYYY-MM-DD", help="The day of publication. Always needed.")
    ] = None,
    corrects: Annotated[
        Path | None,
        typer.Option(
            "--corrects", metavar="RECORD", help="Add a correction to this record; FILE may be the same. Needs --cause."
        ),
    ] = None,
    cause: Annotated[
        str | None, typer.Option("--cause", metavar="TEXT", help="What was wrong, in a correction's own words.")
    ] = None,
    settings: Settings = None,
    where: Where = None,
) -> None:
    """Freeze a publication in one file with its fingerprint: figures, formula, readings, rules; or add a correction to it."""
    from analysis.cli import record as command

    with faults_told():
        command.run(
            formula, catalogue, settings or [], where=where or [], out=out, date=date, corrects=corrects, cause=cause
        )


def verify(
    record: Annotated[
        Path,
        typer.Argument(metavar="RECORD", help="A file that `steelyard record` wrote, or a folder that `--out` wrote."),
    ],
    formula: Annotated[Path | None, typer.Argument(metavar="FORMULA", help="Today's formula.")] = None,
    catalogue: Annotated[Path | None, typer.Argument(metavar="CATALOGUE", help="Today's readings.")] = None,
    where: Where = None,
    as_json: AsJson = False,
    out: Results = None,
    force: Force = False,
) -> None:
    """Say whether a record is whole, and name each figure that formula and catalogue no longer give; exit 1 if any.

    Of a folder of output: whether every file is as it was written, by its manifest.
    """
    from analysis.cli import verify as command

    with faults_told():
        holds = command.run(record, formula, catalogue, where=where or [], as_json=as_json, out=out, force=force)
    if not holds:
        raise typer.Exit(1)


def explore(
    formula: Formula,
    catalogue: Catalogue,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="FILE", help="The page: a file ending in .html. Always needed.")
    ] = None,
    settings: Settings = None,
    where: Where = None,
    force: Force = False,
) -> None:
    """Write one page, needing no network, on which any number of the formula can be moved and the table re-ranks."""
    from analysis.cli import explore as command

    with faults_told():
        command.run(formula, catalogue, settings or [], where=where or [], out=out, force=force)


def appendix(
    formula: Formula,
    catalogue: Catalogue,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out",
            metavar="PATH",
            help="The folder that the appendix is written into, or one .html, .md, .tex, .typ or .pdf. Always needed.",
        ),
    ] = None,
    previous: Annotated[
        Path | None, typer.Option("--previous", metavar="FORMULA", help="The version before, to say what changed.")
    ] = None,
    study: StudyFile = None,
    settings: Settings = None,
    where: Where = None,
    draws: Annotated[
        int,
        typer.Option(
            "--draws",
            metavar="N",
            min=256,
            help="Base points of sensitivity at most; stability takes eight times as many draws.",
        ),
    ] = 256,
    date: Annotated[
        str, typer.Option("--date", metavar="YYYY-MM-DD", help="The date that the appendix carries; none by default.")
    ] = "",
    seed: Seed = 0,
    force: Force = False,
) -> None:
    """Write the methods appendix: everything a reader needs to work every published figure out again."""
    from analysis.cli import appendix as command

    with faults_told():
        command.run(
            formula,
            catalogue,
            settings or [],
            where=where or [],
            out=out,
            previous=previous,
            study=study,
            draws=draws,
            date=date,
            seed=seed,
            force=force,
        )
