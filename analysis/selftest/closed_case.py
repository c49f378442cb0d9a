"""One closed case: a figure that is published, or known exactly, beside the same figure as it comes out here."""

from __future__ import annotations

from dataclasses import dataclass

#: What binary fractions may leave of an equality, as a share of the figure, or of 1 where that is more.
DUST = 1e-12
EXACT = "exact but for the dust of binary fractions"


@dataclass(frozen=True, slots=True)
class ClosedCase:
    """A figure with a known answer, and ours.

    area: what it is about; name: which figure; source: author, year and place, and whether it was read, worked out here or is
    from memory; published: what stands there; within: how far ours may lie from it, 0 for equal; why: what sets `within`.
    """

    area: str
    name: str
    source: str
    published: float
    within: float
    why: str
    ours: float

    @property
    def holds(self) -> bool:
        """Whether ours lies as near as it must; never where it is not a number."""
        return abs(self.ours - self.published) <= self.within + DUST * max(1.0, abs(self.published))
