"""A section of a report: what was found of one score, or of the whole, in sentences, tables and pictures."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

from analysis.report.pictures import Picture
from analysis.report.tables import Table


@dataclass(frozen=True, slots=True)
class Said:
    """Lines between tables; how far one is set in counts on a terminal alone.

    copied: they are there to be copied, such as a command; in_full: as of `OnScreen`; screen_only: a terminal alone says them
    """

    lines: tuple[str, ...]
    copied: bool = False
    in_full: bool = False
    screen_only: bool = False


Block = Table | Said


def _no_pictures() -> tuple[Picture, ...]:
    return ()


@dataclass(frozen=True, slots=True, eq=False)
class Section:
    """What was found of one score, or of the whole.

    name: its key, fit for a file, "" for the whole; title: its heading in a page
    verdict: sentences, the first one to quote; blocks: what stands under them, in order
    pictures: makes them, when they are first asked for
    in_full: whether a terminal shows what it leaves out where there are several scores
    on_screen: whether a terminal shows it at all; close: whether it sets sentences and lines under each other without blanks
    """

    name: str
    title: str
    verdict: tuple[str, ...]
    blocks: tuple[Block, ...] = ()
    pictures: Callable[[], tuple[Picture, ...]] = _no_pictures
    in_full: bool = False
    on_screen: bool = True
    close: bool = False

    def __post_init__(self) -> None:
        # every language asks for the pictures, and each is slow to draw
        object.__setattr__(self, "pictures", cache(self.pictures))

    @property
    def tables(self) -> tuple[Table, ...]:
        """The tables, in order."""
        return tuple(block for block in self.blocks if isinstance(block, Table))
