"""The command line: which commands there are. Each imports what it needs when it runs, so that `--help` loads none of it."""

from __future__ import annotations

import sys
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Annotated

import typer

from analysis.cli import publishing_commands, scoring_commands, study_commands
from analysis.cli.arguments import faults_told
from analysis.cli.interrupts import INTERRUPTED
from analysis.cli.project_words import HERE, KEPT, RULE, ProjectCommand
from analysis.cli.standard_output import OutputFault, take_standard_output

#: Each command with what the list of them says, in so few words that 80 columns hold them.
COMMANDS: dict[Callable[..., None], str] = {
    scoring_commands.tour: "Write the invented laboratory, and run the main commands on it.",
    scoring_commands.new: "Write a first formula from a catalogue's columns.",
    scoring_commands.check: "Say what is proved, what is refuted, and what to look at.",
    scoring_commands.score: "Score a catalogue: ratings, scores, ranks, bands and remarks.",
    scoring_commands.explain: "Trace a product's scores number by number.",
    study_commands.sensitivity: "Say which argument moves a score, a rank or a winner.",
    study_commands.stability: "Say how firm the ranking is, and what cannot be told apart.",
    study_commands.compare: "Say who moves from one edition to another, and why.",
    study_commands.weights: "Say what each weight is worth on the actual catalogue.",
    study_commands.flip: "Say the smallest change that turns an order round.",
    study_commands.reread: "Say what to read again to settle a place.",
    publishing_commands.appendix: "Write the methods appendix, to work every figure out again.",
    publishing_commands.explore: "Write one page on which any number can be moved.",
    publishing_commands.record: "Freeze a publication in one file with its fingerprint.",
    publishing_commands.verify: "Say whether a record is whole, and name every drift.",
    scoring_commands.selftest: "Work published cases again on this machine.",
    scoring_commands.schema: "Print the JSON Schema of a formula file.",
}

app = typer.Typer(
    name="steelyard",
    help="Design and stress-test scoring formulas: from bench readings to published scores.",
    epilog=f"`steelyard COMMAND --help` says more. {RULE} Exit codes: 0 done; 1 done, and a finding stands; 2 the input or the "
    "command is wrong.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)


def show_version(wanted: bool) -> None:
    """Print the version and stop."""
    if wanted:
        from importlib.metadata import version

        sys.stdout.write(f"steelyard {version('steelyard')}\n")
        raise typer.Exit


@app.callback()
def common(
    context: typer.Context,
    version: Annotated[
        bool, typer.Option("--version", callback=show_version, is_eager=True, help="Print the version.")
    ] = False,
    limit: Annotated[
        list[str] | None,
        typer.Option(
            "--limit",
            metavar="NAME=N",
            help="Read more of a file than by default; the guide on readings lists the limits.",
        ),
    ] = None,
    project: Annotated[
        Path | None,
        typer.Option("--project", metavar="FILE", help=f"A project file, where it is not `{HERE}` of this folder."),
    ] = None,
) -> None:
    """Exit codes: 0 done; 1 done, and a finding stands; 2 the input or the command is wrong."""
    del version
    context.meta[KEPT] = project
    if limit:
        from scoring.texts.file_limits import lifted, read_limits

        with faults_told():
            context.with_resource(lifted(**read_limits(limit)))


for command, says in COMMANDS.items():
    app.command(short_help=says, cls=ProjectCommand)(command)


def main() -> None:
    """Run the command line, up to the last letter of what it prints."""
    take_standard_output()
    try:
        try:
            app()
        finally:
            sys.stdout.flush()
    except OutputFault as fault:
        with suppress(OSError):  # whoever cannot be told still gets the code
            sys.stderr.write(f"standard output: it cannot be written ({fault}); expected room for what is printed\n")
        sys.exit(2)
    except KeyboardInterrupt:
        sys.exit(INTERRUPTED)
