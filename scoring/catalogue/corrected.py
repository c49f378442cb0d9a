"""Cells that are read otherwise than they stand, as a recipe says: what is told of them beside the readings."""

from __future__ import annotations

from dataclasses import dataclass

from scoring.errors import Place


@dataclass(frozen=True, slots=True)
class CorrectedCell:
    """A cell that a recipe corrects.

    index : of its column in the table, from 0
    product : whose row it is, "" for a cell of the header; of : "product", a measure, an attribute, "session" ...
    """

    place: Place
    reads: str
    instead_of: str
    because: str
    on: str = ""
    index: int = -1
    product: str = ""
    of: str = ""

    @property
    def says(self) -> str:
        """All of it in a line."""
        day = f" ({self.on})" if self.on else ""
        said = self.instead_of or "nothing"
        return f"{self.place}: `{self.reads}` instead of `{said}`{day}: {self.because}"

    @property
    def document(self) -> dict[str, str]:
        """The same as JSON."""
        said = {"cell": str(self.place), "is": self.reads, "instead_of": self.instead_of, "because": self.because}
        return said | {"on": self.on, "product": self.product, "of": self.of}
