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
    """Write the invented laboratory into DIR and run check, score, explain and both studies on it."""
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
    repeatability: Annotated[
        bool, typer.Option("--repeatability", help="Print how closely repeats agree, and readings that stand out.")
    ] = False,
    as_json: AsJson = False,
    seed: Seed = 0,
) -> None:
    """Say what is proved of a formula, what is refuted, and what to look at; exit 1 if something is refuted."""
    from analysis.cli import check as command

    with faults_told():
        refuted = command.run(
            formula,
            catalogue,
            settings or [],
            addresses=addresses,
            reference=reference,
            repeatability=repeatability,
            as_json=as_json,
            seed=seed,
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
        Path | None,
        typer.Option(
            "--out", metavar="PATH", help="A folder for tables and pictures, or one .csv, .parquet, .xlsx or .json."
        ),
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


StudyFile = Annotated[
    Path | None,
    typer.Option("--study", metavar="FILE", help="What varies and how (YAML); derived from the formula by default."),
]
Scores = Annotated[
    list[str] | None, typer.Option("--score", metavar="NAME", help="One score or rating; repeatable. All by default.")
]
Top = Annotated[int | None, typer.Option("--top", min=1, help="How many places the top are.")]
Resolved = Annotated[bool, typer.Option("--resolved", help="Print every argument that varies, how, and who said so.")]
Results = Annotated[
    Path | None,
    typer.Option(
        "--out", metavar="PATH", help="A folder for figures and tables, or one .json, .csv, .parquet or .xlsx."
    ),
]


@app.command()
def sensitivity(
    formula: Formula,
    catalogue: Catalogue,
    study: StudyFile = None,
    settings: Settings = None,
    only: Scores = None,
    pairs: Annotated[
        list[str] | None, typer.Option("--beats", metavar="A,B", help="Ask whether A stands above B; repeatable.")
    ] = None,
    top: Top = None,
    by: Annotated[
        str, typer.Option("--by", metavar="GROUPS", help="Groups: kind, rating, section, or factor for none.")
    ] = "kind",
    draws: Annotated[
        int, typer.Option("--draws", min=1, help="Base points at most, rounded up to 32 times 2^n.")
    ] = 4096,
    second_order: Annotated[bool, typer.Option("--second-order", help="Second order between the groups too.")] = False,
    shapley: Annotated[
        bool, typer.Option("--shapley", help="Shapley effects of the groups, for correlated inputs.")
    ] = False,
    resolved: Resolved = False,
    as_json: AsJson = False,
    out: Results = None,
    seed: Seed = 0,
) -> None:
    """Say which argument moves a score, a rank or a winner: Sobol' indices over what a study varies."""
    from analysis.cli import sensitivity as command

    with faults_told():
        command.run(
            formula,
            catalogue,
            settings or [],
            study,
            only=only or [],
            pairs=pairs or [],
            top=top,
            by=by,
            draws=draws,
            second_order=second_order,
            shapley=shapley,
            resolved=resolved,
            as_json=as_json,
            out=out,
            seed=seed,
        )


@app.command()
def stability(
    formula: Formula,
    catalogue: Catalogue,
    study: StudyFile = None,
    settings: Settings = None,
    only: Scores = None,
    top: Top = None,
    draws: Annotated[int, typer.Option("--draws", min=100, help="Draws of each source.")] = 16_384,
    coverage: Annotated[
        float, typer.Option("--coverage", min=0.51, max=0.999, help="Joint confidence of the sets of places.")
    ] = 0.95,
    resolved: Resolved = False,
    as_json: AsJson = False,
    out: Results = None,
    seed: Seed = 0,
) -> None:
    """Say how firm the ranking is: under judgement, bench noise and both, and what the bench cannot tell apart."""
    from analysis.cli import stability as command

    with faults_told():
        command.run(
            formula,
            catalogue,
            settings or [],
            study,
            only=only or [],
            top=top,
            draws=draws,
            coverage=coverage,
            resolved=resolved,
            as_json=as_json,
            out=out,
            seed=seed,
        )


@app.command()
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
    out: Annotated[
        Path | None,
        typer.Option(
            "--out",
            metavar="PATH",
            help="A folder for page, figures and tables, or one .html, .json, .csv, .parquet or .xlsx.",
        ),
    ] = None,
    seed: Seed = 0,
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
            only=only or [],
            top=top,
            bridge=bridge or [],
            as_json=as_json,
            out=out,
            seed=seed,
        )


@app.command()
def weights(
    formula: Formula,
    catalogue: Catalogue,
    settings: Settings = None,
    only: Scores = None,
    wanted: Annotated[
        list[str] | None,
        typer.Option(
            "--want", metavar="PART=SHARE", help="The importance wanted of a part; repeatable, for one score."
        ),
    ] = None,
    as_json: AsJson = False,
    out: Results = None,
    seed: Seed = 0,
) -> None:
    """Say what each weight is worth on the actual catalogue, beside what it says."""
    from analysis.cli import weights as command

    with faults_told():
        command.run(
            formula,
            catalogue,
            settings or [],
            only=only or [],
            wanted=wanted or [],
            as_json=as_json,
            out=out,
            seed=seed,
        )


@app.command()
def flip(
    formula: Formula,
    catalogue: Catalogue,
    products: Annotated[
        list[str] | None, typer.Argument(metavar="[A B]", help="Two products: what makes B at least equal A?")
    ] = None,
    first: Annotated[str | None, typer.Option("--first", metavar="A", help="What puts A first?")] = None,
    settings: Settings = None,
    only: Scores = None,
    as_json: AsJson = False,
    seed: Seed = 0,
) -> None:
    """Say the smallest change that turns an order round, each confirmed by scoring again."""
    from analysis.cli import flip as command

    with faults_told():
        command.run(
            formula, catalogue, products or [], settings or [], first=first, only=only or [], as_json=as_json, seed=seed
        )


@app.command()
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
) -> None:
    """Freeze a publication in one sealed file: figures, formula, readings, rules; or add a correction to it."""
    from analysis.cli import record as command

    with faults_told():
        command.run(formula, catalogue, settings or [], out=out, date=date, corrects=corrects, cause=cause)


@app.command()
def verify(
    record: Annotated[Path, typer.Argument(metavar="RECORD", help="A file that `steelyard record` wrote.")],
    formula: Annotated[Path | None, typer.Argument(metavar="FORMULA", help="Today's formula.")] = None,
    catalogue: Annotated[Path | None, typer.Argument(metavar="CATALOGUE", help="Today's readings.")] = None,
    as_json: AsJson = False,
) -> None:
    """Say whether a record is whole, and name each figure that formula and catalogue no longer give; exit 1 if any."""
    from analysis.cli import verify as command

    with faults_told():
        holds = command.run(record, formula, catalogue, as_json=as_json)
    if not holds:
        raise typer.Exit(1)


@app.command()
def explore(
    formula: Formula,
    catalogue: Catalogue,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="FILE", help="The page: a file ending in .html. Always needed.")
    ] = None,
    settings: Settings = None,
) -> None:
    """Write one page, needing no network, on which any number of the formula can be moved and the table re-ranks."""
    from analysis.cli import explore as command

    with faults_told():
        command.run(formula, catalogue, settings or [], out=out)


@app.command()
def appendix(
    formula: Formula,
    catalogue: Catalogue,
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="DIR", help="The folder that the appendix is written into. Always needed."),
    ] = None,
    previous: Annotated[
        Path | None, typer.Option("--previous", metavar="FORMULA", help="The version before, to say what changed.")
    ] = None,
    study: StudyFile = None,
    settings: Settings = None,
    draws: Annotated[
        int,
        typer.Option(
            "--draws", min=256, help="Base points of sensitivity at most; stability takes eight times as many draws."
        ),
    ] = 256,
    date: Annotated[
        str, typer.Option("--date", metavar="YYYY-MM-DD", help="The date that the appendix carries; none by default.")
    ] = "",
    seed: Seed = 0,
) -> None:
    """Write the methods appendix: everything a reader needs to work every published figure out again."""
    from analysis.cli import appendix as command

    with faults_told():
        command.run(
            formula,
            catalogue,
            settings or [],
            out=out,
            previous=previous,
            study=study,
            draws=draws,
            date=date,
            seed=seed,
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
