"""`steelyard explore`: the live page of a formula and a catalogue, in one file."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from analysis.cli.inputs import guard_of, load, not_given, set_aside, with_comments
from analysis.cli.terminal import say
from analysis.outputs.whole_files import write_whole
from analysis.page.document import page_text
from scoring.errors import FileError, Place, Problem
from scoring.table.table import score_catalogue

ENDINGS = (".html", ".htm")


def run(formula: Path, catalogue: Path, settings: Sequence[str], *, out: Path | None, force: bool = False) -> None:
    """Write the page.

    Raises
    ------
    SteelyardError : the input is wrong, or the file cannot be written
    """
    if out is None:
        raise FileError([not_given("--out", "the file to write the page to", "page.html")])
    if out.suffix.lower() not in ENDINGS:
        found = f"the ending `{out.suffix}`" if out.suffix else "no ending"
        raise FileError([Problem(Place(str(out)), found, "a page: a file ending in .html")])
    form, readings = load(formula, catalogue, settings)
    guard = guard_of([form], [catalogue], force=force)
    guard.check(out)
    table = score_catalogue(form, readings)
    write_whole(out, page_text(table).encode(), guard)
    say(
        f"{out}: {len(table.catalogue.products)} products. Open it in a browser; it needs no network.",
        *set_aside(table.catalogue),
        *with_comments(form, "The page"),
        *(["The values set here are the page's starting point, taken as published."] if settings else []),
    )
