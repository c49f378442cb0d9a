"""The commands. Each imports what it needs when it runs, so that `--help` loads none of it."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import typer

app = typer.Typer(
    name="steelyard",
    help="Design and stress-test scoring formulas: from bench readings to published scores.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)

Formula = Annotated[Path, typer.Argument(metavar="FORMULA", help="A formula file (YAML).")]
Catalogue = Annotated[
    Path,
    typer.Argument(
        metavar="CATALOGUE", help="Readings: a CSV, Parquet or XLSX file, or a folder with `readings` and `items`."
    ),
]
MaybeCatalogue = Annotated[
    Path | None, typer.Argument(metavar="[CATALOGUE]", help="Readings, for the checks that need them.")
]
Settings = Annotated[
    list[str] | None,
    typer.Option(
        "--set", metavar="ADDRESS=VALUE", help="Try a value at an address; repeatable. The file stays as it is."
    ),
]
AsJson = Annotated[bool, typer.Option("--json", help="One JSON document on standard output, and nothing else there.")]
Seed = Annotated[int, typer.Option("--seed", min=0, help="Seed of every random draw.")]


@contextmanager
def faults_told() -> Iterator[None]:
    """Faults of the input end with their lines on standard error and exit code 2; a closed pipe ends quietly."""
    from scoring.errors import SteelyardError

    try:
        yield
    except SteelyardError as fault:
        from analysis.cli.terminal import print_problems

        print_problems(fault)
        raise typer.Exit(2) from None
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        raise typer.Exit(0) from None


def show_version(wanted: bool) -> None:
    """Print the version and stop."""
    if wanted:
        from importlib.metadata import version

        sys.stdout.write(f"steelyard {version('steelyard')}\n")
        raise typer.Exit


@app.callback()
def common(
    version: Annotated[
        bool, typer.Option("--version", callback=show_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    """Exit codes: 0 done; 1 done, and a finding stands; 2 the input or the command is wrong."""
    del version


@app.command()
def tour(
    folder: Annotated[Path, typer.Argument(metavar="[DIR]", help="Where to write the laboratory.")] = Path(
        "steelyard-tour"
    ),
) -> None:
    """Write the invented laboratory into DIR and run check, score and explain on it."""
    from analysis.cli import tour as command

    with faults_told():
        command.run(folder)


@app.command()
def check(
    formula: Formula,
    catalogue: MaybeCatalogue = None,
    settings: Settings = None,
    addresses: Annotated[bool, typer.Option("--addresses", help="List every address and what stands there.")] = False,
    reference: Annotated[
        bool, typer.Option("--reference", help="Print the catalogue's statistics, ready to freeze.")
    ] = False,
    as_json: AsJson = False,
    seed: Seed = 0,
) -> None:
    """Say what is proved of a formula, what is refuted, and what to look at; exit 1 if something is refuted."""
    from analysis.cli import check as command

    with faults_told():
        refuted = command.run(
            formula, catalogue, settings or [], addresses=addresses, reference=reference, as_json=as_json, seed=seed
        )
    if refuted:
        raise typer.Exit(1)


@app.command()
def score(
    formula: Formula,
    catalogue: Catalogue,
    settings: Settings = None,
    only: Annotated[str | None, typer.Option("--score", metavar="NAME", help="One score or rating, in full.")] = None,
    ratings: Annotated[bool, typer.Option("--ratings", help="The ratings instead of the scores.")] = False,
    as_json: AsJson = False,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="FILE", help="Write .csv, .parquet, .xlsx or .json.")
    ] = None,
) -> None:
    """Score a catalogue: ratings, scores, ranks, bands and remarks."""
    from analysis.cli import score as command

    with faults_told():
        command.run(formula, catalogue, settings or [], only=only, ratings=ratings, as_json=as_json, out=out)


@app.command()
def explain(
    formula: Formula,
    catalogue: Catalogue,
    product: Annotated[str, typer.Argument(metavar="PRODUCT", help="A product's id.")],
    settings: Settings = None,
    only: Annotated[
        str | None, typer.Option("--score", metavar="NAME", help="One score or rating; all by default.")
    ] = None,
    without: Annotated[
        list[str] | None,
        typer.Option(
            "--without",
            metavar="MEASURE/REPEAT",
            help="Set a reading aside: PRODUCT/MEASURE/REPEAT, or of this product.",
        ),
    ] = None,
    as_json: AsJson = False,
    seed: Seed = 0,
) -> None:
    """Trace a product's scores number by number, with uncertainty and what would reach the next band."""
    from analysis.cli import explain as command

    with faults_told():
        command.run(
            formula, catalogue, product, settings or [], only=only, without=without or [], as_json=as_json, seed=seed
        )


@app.command()
def schema() -> None:
    """Print the JSON Schema of a formula file, for editors."""
    from analysis.cli.terminal import print_json
    from scoring.schema import formula_schema

    print_json(formula_schema())


def main() -> None:
    """Run the command line."""
    app()
