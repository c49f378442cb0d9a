"""A report in the terminal, as JSON on standard output, and in files: what every study's command does with what it found."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from analysis.cli.terminal import PIPE_WIDTH, print_json, print_table, say
from analysis.outputs.guard import Guard
from analysis.report.files import write_report
from analysis.report.report import Report, Said, Section
from analysis.report.tables import Table


def deliver(report: Report, *, out: Path | None, as_json: bool, guard: Guard, closing: Sequence[str] = ()) -> None:
    """Write what was asked for, and show the report; where JSON is asked for, nothing but that.

    Parameters
    ----------
    closing : what a terminal says after the report, before the cautions

    Raises
    ------
    FileError : something that must stay, or a place that cannot be written to
    """
    if out is not None:
        write_report(report, out, guard=guard)
    if as_json:
        print_json(report.document)
        return
    show(report, (*closing, *([f"Written to {out}."] if out is not None else [])))


def show(report: Report, closing: Sequence[str] = ()) -> None:
    """Print a report: what it is of, each section's verdict and what a terminal shows of its tables, the cautions last."""
    say(report.heading, "")
    for section in report.sections:
        show_section(section)
    say(*report.closing, *report.on_screen, *closing, *(f"! {caution}" for caution in report.source.cautions))


def show_section(section: Section) -> None:
    """Print what was found of one score."""
    if section.verdict:
        say(*section.verdict, "")
    for block in section.blocks:
        if isinstance(block, Table):
            is_shown = len(block) and block.on_screen.most != 0
            if is_shown and (section.in_full or not block.on_screen.in_full):
                show_table(block)
        elif section.in_full or not block.in_full:
            show_lines(block)


def show_table(table: Table) -> None:
    """Print what a terminal shows of a table, and what is said under it."""
    shown = table.on_screen
    numeric = [number for number, column in enumerate(table.columns) if column.numeric]
    unbroken = [number for number, column in enumerate(table.columns) if column.unbroken]
    print_table(
        table.headings,
        table.cells(shown.most),
        right=numeric,
        unbroken=unbroken,
        title=shown.title or table.title,
        piped=shown.width or PIPE_WIDTH,
        tight=shown.tight,
    )
    if table.notes:
        say(*table.notes, "")


def show_lines(block: Said) -> None:
    """Print lines; those that are there to be copied stay whole."""
    if block.lines:
        say(*block.lines, whole=block.copied)
        say("")
