"""The self-test as a whole: every published figure of the shelf, and every closed case of the statistics.

Every figure of ours comes from the functions that the commands call. What is random in a case follows from the seed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from analysis.selftest import (
    precision_cases,
    ranking_cases,
    rounding_cases,
    sensitivity_cases,
    uncertainty_cases,
    weights_cases,
)
from analysis.selftest.closed_case import ClosedCase
from analysis.selftest.shelf import Reworked, ShelfLine, published_folder, read_shelf, rework

#: What a seed makes of each group; the cases of a group share their runs.
GROUPS: tuple[Callable[[int], Iterator[ClosedCase]], ...] = (
    *rounding_cases.GROUPS,
    *uncertainty_cases.GROUPS,
    *precision_cases.GROUPS,
    *weights_cases.GROUPS,
    *ranking_cases.GROUPS,
    *sensitivity_cases.GROUPS,
)


def closed_cases(seed: int = 0) -> Iterator[ClosedCase]:
    """Every closed case, group after group, each as soon as it is there.

    Parameters
    ----------
    seed : of everything random in them; published answers do not depend on it, and ours only within `within`
    """
    for group in GROUPS:
        yield from group(seed)


Told = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Selftest:
    """What came out: the figures of each line of the shelf, and the closed cases."""

    shelf: tuple[tuple[ShelfLine, tuple[Reworked, ...]], ...]
    closed: tuple[ClosedCase, ...]
    seed: int

    @property
    def figures(self) -> tuple[Reworked, ...]:
        """Every published figure of the shelf."""
        return tuple(figure for _, figures in self.shelf for figure in figures)

    @property
    def holds(self) -> bool:
        """Whether everything came out as it should."""
        return all(figure.holds for figure in self.figures) and all(case.holds for case in self.closed)


def run_selftest(seed: int, told: Told) -> Selftest:
    """Work everything again; `told` hears how many of how many parts are done.

    Raises
    ------
    SteelyardError
        A formula or its readings are refused.
    """
    lines = read_shelf(published_folder())
    parts = len(lines) + len(GROUPS)
    shelf: list[tuple[ShelfLine, tuple[Reworked, ...]]] = []
    closed: list[ClosedCase] = []
    for line in lines:
        told(len(shelf), parts)
        shelf.append((line, tuple(rework(line))))
    for done, group in enumerate(GROUPS):
        told(len(lines) + done, parts)
        closed += group(seed)
    return Selftest(tuple(shelf), tuple(closed), seed)


def furthest(figures: Sequence[Reworked]) -> Reworked:
    """The figure that is furthest from its published one, among those that should agree; the first where all agree."""
    expected = [figure for figure in figures if not figure.because]
    return max(expected or figures, key=lambda figure: abs(figure.difference))
