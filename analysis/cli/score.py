"""`steelyard score`: the table on the terminal, as JSON, in a file or on a page, or with its pictures in a folder."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from analysis.cli.inputs import guard_of, load, set_aside
from analysis.cli.reports import show
from analysis.cli.terminal import print_json, progress_bar, say
from analysis.outputs.guard import Guard
from analysis.report.endings import FIGURES, check_output, is_one_file
from analysis.report.files import write_report
from analysis.report.report import Report
from analysis.scores.report import Asked, figures_report, table_report
from analysis.wording import counted, plural
from scoring.errors import FormulaError, Place, Problem
from scoring.table.part import select
from scoring.table.table import ScoreTable, score_catalogue

NO_RATINGS = Problem(
    Place("--ratings"), "a formula without ratings", "one that has some", "Leave it out: the scores are shown then."
)


def run(
    formula: Path,
    catalogue: Path,
    settings: Sequence[str],
    *,
    where: Sequence[str] = (),
    only: str | None,
    ratings: bool,
    as_json: bool,
    out: Path | None,
    force: bool = False,
) -> None:
    """Score and show."""
    if out is not None:
        is_one_file(out)
    form, readings = load(formula, catalogue, settings)
    if ratings and not form.ratings:
        raise FormulaError([NO_RATINGS])
    guard = guard_of([form], [catalogue], force=force)
    if out is not None:
        check_output(out, guard, by="score")
    table = select(replace(score_catalogue(form, readings), settings=tuple(settings)), where)
    asked = Asked(only, ratings)
    written = "" if out is None else write(table, asked, out, guard)
    if as_json:
        print_json(figures_report(table).stream)
    elif out is not None:
        say(f"{written} written to {out}", *set_aside(table.catalogue))
    else:
        show(table_report(table, asked), tuple(set_aside(table.catalogue)))


def write(table: ScoreTable, asked: Asked, out: Path, guard: Guard) -> str:
    """Write a file or a folder, and say of what.

    A page is of what was asked for, a folder of everything; files of figures hold every rating and score, whatever is shown, and
    need no more of a report than those.
    """
    products = f"{table.counted} {plural(len(table.catalogue.products), 'product')}"
    if not is_one_file(out):
        report = table_report(table, Asked())
        draw(report)
        write_report(report, out, guard=guard)
        return f"{products} and {counted(len(report.pictures), 'picture')}"
    report = figures_report(table) if out.suffix.lower() in FIGURES else table_report(table, asked)
    write_report(report, out, guard=guard)
    return products


def draw(report: Report) -> None:
    """Draw the pictures now, and tell how many are done."""
    with progress_bar("pictures") as told:
        for number, picture in enumerate(report.pictures.values(), start=1):
            _ = picture.png
            told(number, len(report.pictures))
