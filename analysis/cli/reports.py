"""A report in the terminal, as JSON on standard output, and in files: what every study's command does with what it found."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from analysis.cli.terminal import PIPE_WIDTH, print_json, print_table, say
from analysis.outputs.guard import Guard
from analysis.outputs.manifest import NAME as MANIFEST
from analysis.report.report import Report, Section
from analysis.report.tables import Table
from analysis.wording import counted


def deliver(
    report: Report,
    *,
    out: Path | None,
    as_json: bool,
    guard: Guard,
    closing: Sequence[str] = (),
    warned: bool = True,
) -> None:
    """Write what was asked for, and show the report; where JSON is asked for, nothing but that.

    Parameters
    ----------
    closing : what a terminal says after the report, before the cautions
    warned : whether a terminal says the cautions; everything that is written has them

    Raises
    ------
    FileError : something that must stay, or a place that cannot be written to
    """
    if out is not None:
        from analysis.report.files import write_report  # what sets pages is slow to import

        write_report(report, out, guard=guard)
    if as_json:
        print_json(report.stream)
        return
    show(report, (*closing, *([written_in_words(out)] if out is not None else [])), warned=warned)


def written_in_words(out: Path) -> str:
    """Where results are; of a folder, the names of its pages and tables, and how many files of pictures there are."""
    if not out.is_dir():
        return f"Written to {out}."
    names = sorted(path.name for path in out.iterdir() if path.name != MANIFEST)
    pictures = [name for name in names if name.endswith((".svg", ".png"))]
    others = ", ".join(name for name in names if name not in pictures)
    more = f", and {counted(len(pictures), 'picture file')}" if pictures else ""
    return f"Written to {out}: {others}{more}."


def show(report: Report, closing: Sequence[str] = (), *, warned: bool = True) -> None:
    """Print a report: what it is of, each section's verdict and what a terminal shows of its tables, the cautions last."""
    if report.heading:
        say(report.heading, "")
    for section in report.sections:
        show_section(section)
    cautions = report.source.cautions if warned else ()
    say(*report.closing, *report.source.remarks, *report.on_screen, *closing, *(f"! {caution}" for caution in cautions))


def show_section(section: Section) -> None:
    """Print what was found of one score."""
    if not section.on_screen:
        return
    apart = [] if section.close else [""]
    if section.verdict:
        say(*section.verdict, *apart)
    for block in section.blocks:
        if isinstance(block, Table):
            is_shown = len(block) and block.on_screen.most != 0
            if is_shown and (section.in_full or not block.on_screen.in_full):
                show_table(block)
        elif block.lines and (section.in_full or not block.in_full):
            say(*block.lines, whole=block.copied)
            say(*apart)
    if section.close:
        say("")


def show_table(table: Table) -> None:
    """Print what a terminal shows of a table, and what is said under it."""
    shown = table.on_screen
    if shown.lines is not None:
        say(*shown.lines, whole=shown.whole)
        return
    table = table.in_brief()
    numeric = [number for number, column in enumerate(table.columns) if column.numeric]
    unbroken = [number for number, column in enumerate(table.columns) if column.unbroken]
    print_table(
        table.headings,
        table.cells(shown.most),
        of=len(table) if shown.most is None else None,
        more=shown.more,
        right=numeric,
        unbroken=unbroken,
        title=table.title if shown.title is None else shown.title,
        piped=shown.width or PIPE_WIDTH,
        tight=shown.tight,
    )
    notes = table.notes if shown.notes is None else shown.notes
    if notes:
        say(*notes, "")
