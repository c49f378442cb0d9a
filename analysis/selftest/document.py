"""The self-test as tables and as JSON."""

from __future__ import annotations

import platform
from collections.abc import Iterable
from importlib.metadata import version
from typing import Any

from analysis.selftest.closed_case import ClosedCase
from analysis.selftest.selftest import Selftest, furthest
from analysis.selftest.shelf import AS_LISTED, Reworked, ShelfLine

#: What figures are worked with; their releases belong into a report of a fault.
LIBRARIES = ("steelyard", "numpy", "scipy", "sympy", "pandas")
SHELF_HEADERS = (
    "formula and readings",
    "figures",
    "as published",
    "furthest of these",
    "published",
    "ours",
    "difference",
    "source",
)
CASE_HEADERS = ("case", "published", "ours", "difference", "within", "source")
FIGURE_HEADERS = ("product", "figure", "published", "ours", "difference", "")

Row = tuple[str, ...]


class Sources:
    """Sources in the order in which they are first named, each under a number."""

    def __init__(self) -> None:
        self.numbers: dict[str, int] = {}

    def mark(self, source: str) -> str:
        """The number of a source, as a table shows it."""
        return f"[{self.numbers.setdefault(source, len(self.numbers) + 1)}]"

    def lines(self) -> Iterable[str]:
        """Every source with its number."""
        return (f"[{number}] {source}" for source, number in self.numbers.items())


def shelf_row(line: ShelfLine, figures: tuple[Reworked, ...], sources: Sources) -> Row:
    """One line of the shelf, with its figure that is furthest off."""
    worst = furthest(figures)
    name = f"{worst.published.product}: {worst.published.figure}"
    counts = str(len(figures)), str(sum(figure.near for figure in figures))
    compared = _compared(worst.published.published, worst.ours)
    return (line.what, *counts, name, *compared, sources.mark(line.source))


def figure_row(figure: Reworked) -> Row:
    """One published figure, and why it differs, where it does."""
    case = figure.published
    said = figure.because if figure.verdict == AS_LISTED else "" if figure.holds else figure.verdict.upper()
    return (case.product, case.figure, *_compared(case.published, figure.ours), said)


def case_row(case: ClosedCase, sources: Sources) -> Row:
    """One closed case; what does not hold says so beside its source."""
    said = "" if case.holds else "DIFFERS "
    near = "equal" if case.within == 0 else f"{case.within:.2g}"
    return (case.name, *_compared(case.published, case.ours), near, said + sources.mark(case.source))


def selftest_document(found: Selftest) -> dict[str, Any]:
    """Everything as plain nouns, ready for JSON; null where we have no figure."""
    return {
        "holds": found.holds,
        "seed": found.seed,
        "versions": versions(),
        "shelf": [
            {
                "what": line.what,
                "formula": line.formula.name,
                "readings": line.readings.name,
                "source": line.source,
                "why_within": line.why,
                "figures": [_figure(figure) for figure in figures],
            }
            for line, figures in found.shelf
        ],
        "cases": [_case(case) for case in found.closed],
    }


def versions() -> dict[str, str]:
    """Python and the libraries that figures are worked with."""
    return {"python": platform.python_version()} | {name: version(name) for name in LIBRARIES}


def not_as_they_should(found: Selftest) -> Iterable[str]:
    """What does not hold, in words."""
    for line, figures in found.shelf:
        for figure in figures:
            if not figure.holds:
                case = figure.published
                yield f"{line.what}: {case.product}, {case.figure}: {figure.verdict}"
    for closed in found.closed:
        if not closed.holds:
            near = f"is not within {closed.within:.2g} of {closed.published:.6g}"
            yield f"{closed.area}: {closed.name}: {closed.ours:.6g} {near}"


def _compared(published: float, ours: float | None) -> Row:
    if ours is None:
        return f"{published:.6g}", "none", "–"
    difference = ours - published
    return f"{published:.6g}", f"{ours:.6g}", "0" if abs(difference) < 1e-11 else f"{difference:+.2g}"


def _figure(figure: Reworked) -> dict[str, Any]:
    return {
        "product": figure.published.product,
        "figure": figure.published.figure,
        "source": figure.published.source,
        "published": figure.published.published,
        "ours": figure.ours,
        "within": figure.within,
        "verdict": figure.verdict,
        "because": figure.because or None,
    }


def _case(case: ClosedCase) -> dict[str, Any]:
    return {
        "area": case.area,
        "name": case.name,
        "source": case.source,
        "published": case.published,
        "ours": case.ours if case.ours == case.ours else None,
        "within": case.within,
        "why_within": case.why,
        "holds": case.holds,
    }
