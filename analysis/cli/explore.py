"""`steelyard explore`: the live page of a formula and a catalogue, in one file."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from analysis.cli.inputs import draft_lines, guard_of, load, not_given, set_aside, with_comments
from analysis.cli.terminal import say
from analysis.outputs.whole_files import write_whole
from analysis.page.document import page_text
from analysis.published_reasons import WHERE, reasons_in_words
from analysis.wording import counted
from scoring.catalogue import Catalogue
from scoring.errors import CatalogueError, FileError, Place, Problem
from scoring.table.selection import OPTION, conditions_of, words_of
from scoring.table.table import score_catalogue

ENDINGS = (".html", ".htm")


#: A menu of the page lists so many words of an attribute at most.
MOST_WORDS = 40


def run(
    formula: Path,
    catalogue: Path,
    settings: Sequence[str],
    *,
    where: Sequence[str] = (),
    out: Path | None,
    force: bool = False,
) -> None:
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
    chosen = in_menus(where, table.catalogue)
    write_whole(out, page_text(table, chosen).encode(), guard)
    say(
        f"{out}: {counted(len(table.catalogue.products), 'product')}. Open it in a browser; it needs no network.",
        *draft_lines(table, "The page"),
        *reasons_in_words(form, table.catalogue, f"{WHERE}, and this page does not"),
        *set_aside(table.catalogue),
        *with_comments(form, "The page"),
        *(["The values set here are the page's starting point, taken as published."] if settings else []),
    )


def in_menus(where: Sequence[str], catalogue: Catalogue) -> list[str]:
    """What the menus of the page choose at first.

    Raises
    ------
    CatalogueError : products that are not there, or a choice that no menu has
    """
    conditions = conditions_of(where, [catalogue])
    expected = f"one word of an attribute that has 2 to {MOST_WORDS} words, as the menus of the page have them"
    problems = [
        Problem(Place(OPTION), str(one), expected)
        for one in conditions
        if one.negated or len(one.words) > 1 or not 1 < len(set(words_of(catalogue, one.attribute))) <= MOST_WORDS
    ]
    if problems:
        raise CatalogueError(problems)
    return [f"{one.attribute}={one.words[0]}" for one in conditions]
