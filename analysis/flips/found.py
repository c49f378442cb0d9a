"""What a search for the smallest change found: the changes, least of each kind first, each with its certificate."""

from __future__ import annotations

import math
from dataclasses import dataclass

from analysis.flips.certificates import Certificate
from analysis.flips.unlooked import Unlooked
from analysis.flips.ways import ANCHOR, EXPONENT, LIMIT, RATING, SHARE, SPREAD, THRESHOLD, WEIGHT, WRITTEN
from scoring.table.table import Column, ScoreTable

ONE, SQUARES, ABSOLUTE = "one weight", "least squares", "least absolute change"
READING = "reading"
MISSING = "missing reading"
KINDS = (
    ONE,
    SQUARES,
    ABSOLUTE,
    ANCHOR,
    RATING,
    LIMIT,
    THRESHOLD,
    EXPONENT,
    SPREAD,
    WEIGHT,
    SHARE,
    WRITTEN,
    READING,
    MISSING,
)


@dataclass(frozen=True, slots=True)
class Repeats:
    """How closely a measure repeats: the standard deviation of one reading, in its unit or as a share of the reading."""

    sd: float
    relative: bool


@dataclass(frozen=True, slots=True)
class Change:
    """One change that turns the order, or why there is none.

    kind: of change; name: what changes (an address, a measure, "" for all weights)
    compared: what `share` is a share of; verdict: proved, searched, impossible or not decided
    unit: of what changes; product: of a reading
    settings: each address (or "") with what is stated and the text that is needed; of a missing reading nothing is stated
    change: of the one number, or the distance of all weights; exact: before it was rounded outward
    share: the change set against what it is compared by (a weight itself, a curve's stretch, the scale, all weight, the room
    of a number or a reading)
    why: there is none; of a missing reading, where along its range it turns the order
    certificate: both scores, scored again; None where no change was found
    u: the standard uncertainty of a reading
    room: the ends between which a number was looked for, which any proof keeps to
    in_ratios: whether smaller means nearer by ratio
    """

    kind: str
    name: str
    compared: str
    verdict: str
    unit: str = ""
    product: str = ""
    settings: tuple[tuple[str, float, str], ...] = ()
    change: float = math.nan
    exact: float = math.nan
    share: float = math.nan
    why: str = ""
    certificate: Certificate | None = None
    u: float = math.nan
    room: tuple[float, float] = (-math.inf, math.inf)
    in_ratios: bool = False

    @property
    def found(self) -> bool:
        """Whether there is a change that was confirmed."""
        return self.certificate is not None


@dataclass(frozen=True, slots=True, eq=False)
class Flip:
    """One rating or score: who is to catch whom, how things stand, and the changes, least of each kind first.

    rival: None where the subject is to come first; lead: of the subject over the best of its rivals, in points; state:
    "behind", "tied" or "ahead"; unlooked: what was not looked at, where the product is behind.
    """

    table: ScoreTable
    column: Column
    subject: int
    rival: int | None
    lead: float
    state: str
    changes: tuple[Change, ...]
    unlooked: tuple[Unlooked, ...] = ()

    def least(self, kind: str) -> Change | None:
        """The least confirmed change of a kind."""
        return next((change for change in self.changes if change.kind == kind and change.found), None)
