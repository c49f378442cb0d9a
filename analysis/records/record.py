"""The record of a publication: its states, from the first publication to the last correction, and what is hashed how."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from analysis.records.schema import SECTION_SHAPES

#: What a state holds, each hashed by itself.
SECTIONS = tuple(SECTION_SHAPES)
#: Unrounded values and readings agree within this, times their size where that is above 1: the dust of binary arithmetic.
TOLERANCE = 1e-9

Sections = Mapping[str, Any]


@dataclass(frozen=True, slots=True, eq=False)
class State:
    """What was published from one date on: the first publication (number 0), or what a correction left.

    `entry` is the state as it stands in the file; `sections` are whole, those that a correction kept included.
    """

    number: int
    entry: Mapping[str, Any]
    sections: Sections

    @property
    def date(self) -> str:
        """The day it was published, as year-month-day."""
        return str(self.entry["date"])

    @property
    def cause(self) -> str:
        """Why it was corrected; "" for the first publication."""
        return str(self.entry.get("cause", ""))

    @property
    def fingerprint(self) -> str:
        """The hash that holds the state together."""
        return str(self.entry["fingerprint"])

    @property
    def name(self) -> str:
        """What the state is called in words."""
        return f"correction {self.number}" if self.number else "publication"


@dataclass(frozen=True, slots=True, eq=False)
class Record:
    """A record as read: the whole document, under the keys of the newest format, and its states in order."""

    document: Mapping[str, Any]
    states: tuple[State, ...]

    @property
    def format(self) -> int:
        """The format of the file that it was read from."""
        return int(self.document["format"])

    @property
    def latest(self) -> State:
        """What stands published now."""
        return self.states[-1]

    @property
    def fingerprint(self) -> str:
        """The hash over the whole record."""
        return str(self.document["fingerprint"])


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that does not hold.

    kind: "layout", "fingerprint" or "chain" (the file), "rule" (against the record's own rules), "recomputed" (against its
    own formula and readings), or what drifted from the record: "formula", "data", "name", "product", "output", "reference",
    "figure", "caution"; state: "publication", "correction 1", ...; product, output and measure where it is about one;
    before and after: as recorded, and as found.
    """

    kind: str
    says: str
    state: str = ""
    product: str = ""
    output: str = ""
    measure: str = ""
    before: Any = None
    after: Any = None


def near(old: float | None, new: float | None) -> bool:
    """Whether two unrounded values or readings are the same, within `TOLERANCE`; None is no value."""
    if old is None or new is None:
        return old is new
    return abs(old - new) <= TOLERANCE * max(1.0, abs(old))
