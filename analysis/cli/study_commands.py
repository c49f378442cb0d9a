"""The commands that stress and change a formula. Each imports what it needs when it runs."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from analysis.cli.arguments import (
    AsJson,
    Catalogue,
    Force,
    Formula,
    Resolved,
    Results,
    Scores,
    Seed,
    Settings,
    StudyFile,
    Top,
    Where,
    faults_told,
)


def sensitivity(
    formula: Formula,
    catalogue: Catalogue,
    study: StudyFile = None,
    settings: Settings = None,
    where: Where = None,
    only: Scores = None,
    pairs: Annotated[
        list[str] | None, typer.Option("--beats", metavar="A,B", help="Ask whether A stands above B; repeatable.")
    ] = None,
    top: Top = None,
    by: Annotated[
        str, typer.Option("--by", metavar="GROUPS", help="Groups: kind, rating, section, or factor for none.")
    ] = "kind",
    draws: Annotated[
        int, typer.Option("--draws", metavar="N", min=1, help="Base points at most, rounded up to 16 times 2^n.")
    ] = 4096,
    within: Annotated[
        float | None,
        typer.Option(
            "--within", metavar="HALF-WIDTH", help="Draw until shares are known so closely, as 0.02; exit 1 if not."
        ),
    ] = None,
    of: Annotated[
        list[str] | None,
        typer.Option(
            "--of",
            metavar="QUANTITY",
            help="Shares of what: score, rank, top, first, shift, beats or gap; of one product by rank:A-01, of a pair"
            " by beats:A,B; repeatable. The mean shift in rank by default.",
        ),
    ] = None,
    second_order: Annotated[bool, typer.Option("--second-order", help="Second order between the groups too.")] = False,
    shapley: Annotated[
        bool, typer.Option("--shapley", help="Shapley effects of the groups, for correlated inputs.")
    ] = False,
    resolved: Resolved = False,
    as_json: AsJson = False,
    out: Results = None,
    seed: Seed = 0,
    force: Force = False,
) -> None:
    """Say which argument moves a score, a rank or a winner: Sobol' indices over what a study varies.

    Exit 1 if shares are not known as closely as `--within` asks for.
    """
    from analysis.cli import sensitivity as command
    from analysis.indices.report import AskedOfIndices

    with faults_told():
        asked = AskedOfIndices(by, draws, second_order, shapley, within, of or [], seed, resolved)
        reached = command.run(
            formula,
            catalogue,
            settings or [],
            study,
            asked,
            where=where or [],
            only=only or [],
            pairs=pairs or [],
            top=top,
            as_json=as_json,
            out=out,
            force=force,
        )
    if not reached:
        raise typer.Exit(1)


def stability(
    formula: Formula,
    catalogue: Catalogue,
    study: StudyFile = None,
    settings: Settings = None,
    where: Where = None,
    only: Scores = None,
    top: Top = None,
    draws: Annotated[int, typer.Option("--draws", metavar="N", min=100, help="Draws of each source.")] = 16_384,
    coverage: Annotated[
        float,
        typer.Option(
            "--coverage", metavar="SHARE", min=0.51, max=0.999, help="Joint confidence of the sets of places."
        ),
    ] = 0.95,
    at_once: Annotated[
        bool, typer.Option("--at-once", help="Let that confidence hold for the tables of all scores together.")
    ] = False,
    resolved: Resolved = False,
    as_json: AsJson = False,
    out: Results = None,
    seed: Seed = 0,
    force: Force = False,
) -> None:
    """Say how firm the ranking is: under judgement, bench noise and both, and what the bench cannot tell apart."""
    from analysis.cli import stability as command

    with faults_told():
        command.run(
            formula,
            catalogue,
            settings or [],
            study,
            where=where or [],
            only=only or [],
            top=top,
            draws=draws,
            coverage=coverage,
            at_once=at_once,
            resolved=resolved,
            as_json=as_json,
            out=out,
            seed=seed,
            force=force,
        )


def compare(
    old: Annotated[Path, typer.Argument(metavar="OLD", help="A formula file (YAML).")],
    new: Annotated[
        Path, typer.Argument(metavar="NEW", help="The formula it is compared with; it may be the same file.")
    ],
    catalogue: Catalogue,
    catalogue_new: Annotated[
        Path | None, typer.Option("--catalogue-new", metavar="FILE", help="The readings under NEW, where they differ.")
    ] = None,
    settings: Annotated[
        list[str] | None,
        typer.Option("--set", metavar="ADDRESS=VALUE", help="Try a value at an address of NEW; repeatable."),
    ] = None,
    only: Annotated[
        list[str] | None,
        typer.Option(
            "--score", metavar="NAME", help="One score or rating, by its old or new name; repeatable. All by default."
        ),
    ] = None,
    where: Where = None,
    top: Top = None,
    bridge: Annotated[
        list[str] | None,
        typer.Option(
            "--bridge",
            metavar="MEASURE=FILE",
            help="Map a measure to a new method: a CSV of product, old, new; repeatable.",
        ),
    ] = None,
    as_json: AsJson = False,
    out: Results = None,
    seed: Seed = 0,
    force: Force = False,
) -> None:
    """Say who moves from one formula or catalogue to another, why, and whether the bench can tell."""
    from analysis.cli import compare as command

    with faults_told():
        command.run(
            old,
            new,
            catalogue,
            catalogue_new,
            settings or [],
            where=where or [],
            only=only or [],
            top=top,
            bridge=bridge or [],
            as_json=as_json,
            out=out,
            seed=seed,
            force=force,
        )


def weights(
    formula: Formula,
    catalogue: Catalogue,
    settings: Settings = None,
    where: Where = None,
    only: Scores = None,
    wanted: Annotated[
        list[str] | None,
        typer.Option(
            "--want", metavar="PART=SHARE", help="The share wanted of a part, as edge=30%; repeatable, for one score."
        ),
    ] = None,
    share_of: Annotated[
        str,
        typer.Option(
            "--share-of",
            metavar="WHAT",
            help="What a wanted share is of: variance (of the score, explained by the part by itself), or effects (all parts'"
            " such shares added up).",
        ),
    ] = "variance",
    as_json: AsJson = False,
    out: Results = None,
    seed: Seed = 0,
    force: Force = False,
) -> None:
    """Say what each weight is worth on the actual catalogue, beside what it says."""
    from analysis.cli import weights as command

    with faults_told():
        command.run(
            formula,
            catalogue,
            settings or [],
            where=where or [],
            only=only or [],
            wanted=wanted or [],
            wanted_of=share_of,
            as_json=as_json,
            out=out,
            seed=seed,
            force=force,
        )


def flip(
    formula: Formula,
    catalogue: Catalogue,
    products: Annotated[
        list[str] | None, typer.Argument(metavar="A B", help="Two products: what makes B at least equal A?")
    ] = None,
    first: Annotated[str | None, typer.Option("--first", metavar="A", help="What puts A first?")] = None,
    settings: Settings = None,
    where: Where = None,
    only: Scores = None,
    as_json: AsJson = False,
    out: Results = None,
    seed: Seed = 0,
    force: Force = False,
) -> None:
    """Say the smallest change that turns an order round, each confirmed by scoring again."""
    from analysis.cli import flip as command
    from analysis.flips.study import Asked

    with faults_told():
        command.run(
            formula,
            catalogue,
            Asked(tuple(products or ()), first, tuple(only or ())),
            settings or [],
            where=where or [],
            as_json=as_json,
            out=out,
            seed=seed,
            force=force,
        )


def reread(
    formula: Formula,
    catalogue: Catalogue,
    settle: Annotated[
        str, typer.Option("--settle", metavar="QUESTION", help="What to settle: first, top, or two products as A:B.")
    ] = "first",
    readings: Annotated[
        int,
        typer.Option("--readings", metavar="N", min=1, max=1024, help="How many further readings there are to plan."),
    ] = 24,
    top: Annotated[int, typer.Option("--top", metavar="N", min=1, help="How many places the top are.")] = 5,
    settings: Settings = None,
    where: Where = None,
    only: Scores = None,
    as_json: AsJson = False,
    out: Results = None,
    seed: Seed = 0,
    force: Force = False,
) -> None:
    """Say which product and measure to read again to settle the first place, the top, or a disputed pair."""
    from analysis.cli import reread as command

    with faults_told():
        command.run(
            formula,
            catalogue,
            settings or [],
            where=where or [],
            settle=settle,
            readings=readings,
            only=only or [],
            top=top,
            as_json=as_json,
            out=out,
            seed=seed,
            force=force,
        )
