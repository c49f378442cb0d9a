"""`steelyard new`: a first formula from the columns of a catalogue, every guess in it marked as one."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

from analysis.cli.inputs import is_yaml, not_given
from analysis.cli.terminal import print_text, say
from analysis.draft.columns import read_columns
from analysis.draft.draft import draft_formula
from analysis.draft.guesses import name_of
from analysis.draft.marked import guesses_in
from analysis.outputs.whole_files import create_whole
from scoring.catalogue import read_catalogue
from scoring.errors import CatalogueError, FileError, FormulaError, Place, Problem
from scoring.reader import read_form, read_sources
from scoring.texts.source import Source


def run(catalogue: Path | None, out: Path | None, name: str | None) -> None:
    """Write the draft to a new file, or print it."""
    if catalogue is None:
        raise CatalogueError([not_given("--from", "a catalogue", "readings.csv")])
    called = name or name_of(catalogue.resolve().stem, ())
    if not re.fullmatch(r"[A-Za-z_][A-Za-z0-9_-]{0,59}", called):
        raise FormulaError([Problem(Place("--name"), f"`{called}`", "letters, digits, _ and -, not a digit first")])
    columns = read_columns(catalogue)
    text = draft_formula(columns, called, catalogue.name)
    read_sources([Source("draft", text)])  # what is written can be read: else that is said, and nothing is written
    if out is None:
        print_text(text)
        return
    write_new(out, text)
    first = f"{out}: {len(columns.measures)} measures, each with a straight rating, and one score of all."
    say(first, f"{guesses_in(text)} guesses, each marked `# guess:` with what it rests on. Go through them first.", "")
    tell_faults(out, catalogue)
    say(
        "Then:",
        *(f"  steelyard {words} {shlex.quote(str(out))} {shlex.quote(str(catalogue))}" for words in ("check", "score")),
        whole=True,
    )


def write_new(out: Path, text: str) -> None:
    """Write a formula where no file is yet."""
    if not is_yaml(out):
        raise FileError([Problem(Place("--out"), f"`{out}`", "a file that ends in .yaml")])
    create_whole(out, text.encode(), "Name another, or move it away: nothing is written over.")


def tell_faults(formula: Path, catalogue: Path) -> None:
    """Say what of the catalogue the draft cannot take; the draft stands all the same."""
    try:
        read_catalogue(catalogue, read_form(formula))
    except CatalogueError as fault:
        count = len(fault.problems)
        first = " ".join(str(fault.problems[0]).split())
        places = "1 place in the readings needs" if count == 1 else f"{count} places in the readings need"
        say(f"{places} a look before they can be scored; the first:")
        say(f"  {first}", "")
