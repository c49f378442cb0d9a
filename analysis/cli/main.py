"""The command line: which commands there are. Each imports what it needs when it runs, so that `--help` loads none of it."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from analysis.cli import publishing_commands, scoring_commands, study_commands

COMMANDS = (
    scoring_commands.tour,
    scoring_commands.new,
    scoring_commands.check,
    scoring_commands.score,
    scoring_commands.explain,
    study_commands.sensitivity,
    study_commands.stability,
    study_commands.compare,
    study_commands.weights,
    study_commands.flip,
    publishing_commands.appendix,
    publishing_commands.explore,
    publishing_commands.record,
    publishing_commands.verify,
    scoring_commands.selftest,
    scoring_commands.schema,
)

app = typer.Typer(
    name="steelyard",
    help="Design and stress-test scoring formulas: from bench readings to published scores.",
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
    version: Annotated[
        bool, typer.Option("--version", callback=show_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    """Exit codes: 0 done; 1 done, and a finding stands; 2 the input or the command is wrong."""
    del version


for command in COMMANDS:
    app.command()(command)


def main() -> None:
    """Run the command line."""
    app()
