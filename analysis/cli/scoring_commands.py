"""The commands about one formula: tour, new, check, score, explain, selftest, schema. Each imports what it needs when it runs."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from analysis.cli.arguments import (
    AsJson,
    Catalogue,
    Force,
    Formula,
    MaybeCatalogue,
    Results,
    Seed,
    Settings,
    Where,
    faults_told,
)


def tour(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Where to write the laboratory.")] = Path(
        "steelyard-tour"
    ),
) -> None:
    """Write the invented laboratory into DIR, and score, stress-test and publish it with the commands as one types them."""
    from analysis.cli import tour as command

    with faults_told():
        command.run(folder)


def new(
    files: Annotated[
        list[Path] | None,
        typer.Option("--from", metavar="FILE", help="The bench's own readings; repeatable. Always needed."),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out", metavar="FILE", help="A new .yaml file, and `readings.yaml` beside it; printed by default."
        ),
    ] = None,
    recipe: Annotated[
        Path | None,
        typer.Option("--recipe", metavar="FILE", help="How the recipe is called, where not `readings.yaml`."),
    ] = None,
    name: Annotated[
        str | None, typer.Option("--name", metavar="NAME", help="The formula's name; the catalogue's by default.")
    ] = None,
) -> None:
    """Write a first formula from a bench's own files, and how they are read, every guess marked as one."""
    from analysis.cli import new as command

    with faults_told():
        command.run(files or (), command.Wanted(out, recipe), name)


def check(
    formula: Formula,
    catalogue: MaybeCatalogue = None,
    settings: Settings = None,
    where: Where = None,
    addresses: Annotated[bool, typer.Option("--addresses", help="List every address and what stands there.")] = False,
    reference: Annotated[
        bool, typer.Option("--reference", help="Print the catalogue's statistics, ready to freeze.")
    ] = False,
    repeatability: Annotated[
        bool, typer.Option("--repeatability", help="Print how closely repeats agree, and readings that stand out.")
    ] = False,
    as_json: AsJson = False,
    out: Results = None,
    seed: Seed = 0,
    force: Force = False,
) -> None:
    """Say what is proved of a formula, what is refuted, and what to look at; exit 1 if something is refuted."""
    from analysis.cli import check as command

    asked = {command.ADDRESSES: addresses, command.REFERENCE: reference, command.REPEATABILITY: repeatability}
    with faults_told():
        refuted = command.run(
            formula,
            catalogue,
            settings or [],
            where=where or [],
            instead=next((option for option, wanted in asked.items() if wanted), ""),
            as_json=as_json,
            out=out,
            seed=seed,
            force=force,
        )
    if refuted:
        raise typer.Exit(1)


def score(
    formula: Formula,
    catalogue: Catalogue,
    settings: Settings = None,
    where: Where = None,
    only: Annotated[str | None, typer.Option("--score", metavar="NAME", help="One score or rating, in full.")] = None,
    ratings: Annotated[bool, typer.Option("--ratings", help="The ratings instead of the scores.")] = False,
    as_json: AsJson = False,
    out: Results = None,
    force: Force = False,
) -> None:
    """Score a catalogue: ratings, scores, ranks, bands and remarks."""
    from analysis.cli import score as command

    with faults_told():
        command.run(
            formula,
            catalogue,
            settings or [],
            where=where or [],
            only=only,
            ratings=ratings,
            as_json=as_json,
            out=out,
            force=force,
        )


def explain(
    formula: Formula,
    catalogue: Catalogue,
    product: Annotated[str, typer.Argument(metavar="PRODUCT", help="A product's id.")],
    settings: Settings = None,
    where: Where = None,
    only: Annotated[
        str | None, typer.Option("--score", metavar="NAME", help="One score or rating; all by default.")
    ] = None,
    without: Annotated[
        list[str] | None,
        typer.Option(
            "--without",
            metavar="MEASURE/REPEAT",
            help="Set a reading aside: PRODUCT/MEASURE/REPEAT, or of this product. Repeats that begin anew in each session or "
            "specimen count on, in the order of the file.",
        ),
    ] = None,
    as_json: AsJson = False,
    out: Results = None,
    seed: Seed = 0,
    force: Force = False,
) -> None:
    """Trace a product's scores number by number, with uncertainty and what would reach the next band."""
    from analysis.cli import explain as command

    with faults_told():
        command.run(
            formula,
            catalogue,
            product,
            settings or [],
            where=where or [],
            only=only,
            without=without or [],
            as_json=as_json,
            out=out,
            seed=seed,
            force=force,
        )


def selftest(
    every: Annotated[bool, typer.Option("--every", help="Print every published figure, not one a line.")] = False,
    as_json: AsJson = False,
    seed: Seed = 0,
) -> None:
    """Work published cases again on this machine: formulas and statistics; exit 1 if one does not come out."""
    from analysis.cli import selftest as command

    with faults_told():
        holds = command.run(every=every, as_json=as_json, seed=seed)
    if not holds:
        raise typer.Exit(1)


def schema(
    page: Annotated[bool, typer.Option("--page", help="The same as a page to read, in Markdown.")] = False,
    recipe: Annotated[bool, typer.Option("--recipe", help="The schema of a recipe of readings.")] = False,
    study: Annotated[bool, typer.Option("--study", help="The schema of a study file.")] = False,
    project: Annotated[bool, typer.Option("--project", help="The schema of a project file.")] = False,
    record: Annotated[bool, typer.Option("--record", help="The schema of a record, as `record` writes it.")] = False,
) -> None:
    """Print the JSON Schema of a formula file, for editors, or of a recipe, study, project or record; or every key, to read."""
    from analysis.cli import schema as command

    with faults_told():
        command.run({"--page": page, "--recipe": recipe, "--study": study, "--project": project, "--record": record})
