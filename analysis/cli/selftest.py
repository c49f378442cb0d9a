"""`steelyard selftest`: published cases, worked again on this machine."""

from __future__ import annotations

from itertools import groupby

from analysis.cli.terminal import print_json, print_table, progress_bar, say
from analysis.selftest.document import (
    CASE_HEADERS,
    FIGURE_HEADERS,
    SHELF_HEADERS,
    Sources,
    case_row,
    figure_row,
    not_as_they_should,
    selftest_document,
    shelf_row,
    versions,
)
from analysis.selftest.selftest import Selftest, run_selftest
from analysis.selftest.shelf import AS_LISTED


def run(*, every: bool, as_json: bool, seed: int) -> bool:
    """Work every published case again and show it; whether all came out as they should."""
    with progress_bar("published cases") as told:
        found = run_selftest(seed, told)
    if as_json:
        print_json(selftest_document(found))
        return found.holds
    sources = Sources()
    show_shelf(found, sources, every)
    for area, cases in groupby(found.closed, key=lambda case: case.area):
        rows = [case_row(case, sources) for case in cases]
        print_table(CASE_HEADERS, rows, right=(1, 2, 3, 4), title=area.capitalize())
    say("Sources", *sources.lines(), "")
    show_summary(found)
    return found.holds


def show_shelf(found: Selftest, sources: Sources, every: bool) -> None:
    """The shelf line by line; then every figure of it, or only what differs."""
    rows = [shelf_row(line, figures, sources) for line, figures in found.shelf]
    print_table(SHELF_HEADERS, rows, right=(1, 2, 4, 5, 6), title="Published formulas")
    for line, figures in found.shelf:
        shown = [f for f in figures if every or not f.holds or f.verdict == AS_LISTED]
        if shown:
            title = line.what if every else f"{line.what}: what differs"
            print_table(FIGURE_HEADERS, map(figure_row, shown), right=(2, 3, 4), title=title)
            if every:
                say(f"Near enough: {line.why}.", "")


def show_summary(found: Selftest) -> None:
    """How many figures came out, what did not, and with which releases."""
    figures = found.figures
    near = sum(figure.near for figure in figures)
    listed = sum(figure.verdict == AS_LISTED for figure in figures)
    say(
        f"{len(figures)} published figures of {len(found.shelf)} sets of readings: {near} as published, {listed} differ for the"
        f" reasons given. {len(found.closed)} closed cases of the statistics (seed {found.seed}).",
        "With " + ", ".join(f"{name} {number}" for name, number in versions().items()) + ".",
    )
    wrong = list(not_as_they_should(found))
    if wrong:
        say("", f"{len(wrong)} did not come out as they should. Please report these lines:", *wrong)
    else:
        say("All came out as they should.")
