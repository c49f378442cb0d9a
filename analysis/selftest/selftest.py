"""The self-test as a whole: every published figure of the shelf, and every closed case of the statistics."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from analysis.selftest.closed_case import ClosedCase
from analysis.selftest.closed_cases import GROUPS
from analysis.selftest.reworked import Reworked, rework
from analysis.selftest.shelf import ShelfLine, published_folder, read_shelf

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
