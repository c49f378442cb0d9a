"""Published figures beside the same figures worked out here."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from analysis.scores.document import products_of
from analysis.selftest.shelf import PublishedFigure, ShelfLine, read_cases
from scoring.catalogue import read_catalogue
from scoring.reader import read_form
from scoring.table.table import score_catalogue

AS_PUBLISHED = "as published"
AS_LISTED = "differs, as listed"
DIFFERS = "differs"
NO_LONGER = "as published, though listed as an exception"


@dataclass(frozen=True, slots=True)
class Reworked:
    """One printed figure and ours; `because` is the reason why it is not expected to agree, if it is not."""

    published: PublishedFigure
    ours: float | None
    within: float
    because: str

    @property
    def difference(self) -> float:
        """Ours less the published one; infinite where we have none."""
        return float("inf") if self.ours is None else self.ours - self.published.published

    @property
    def near(self) -> bool:
        """Whether ours is as near as it must be: equal, but for the dust of binary fractions, where `within` is 0."""
        return abs(self.difference) <= self.within + 1e-12 * max(1.0, abs(self.published.published))

    @property
    def verdict(self) -> str:
        """In words; the last two are faults."""
        if self.near:
            return NO_LONGER if self.because else AS_PUBLISHED
        return AS_LISTED if self.because else DIFFERS

    @property
    def holds(self) -> bool:
        """Whether it came out as it should: as published, or as the list of exceptions says."""
        return self.verdict in (AS_PUBLISHED, AS_LISTED)


def rework(line: ShelfLine) -> Iterator[Reworked]:
    """Every published figure of a line of the shelf, worked out from its readings.

    Raises
    ------
    SteelyardError
        The formula or the readings are refused.
    """
    form = read_form(line.formula)
    table = score_catalogue(form, read_catalogue(line.readings, form))
    products = {product["id"]: product for product in products_of(table)}
    for case in read_cases(line):
        ours = _figure(products.get(case.product, {}), case.figure)
        yield Reworked(case, ours, line.within.get(case.figure, 0.0), line.exempt(case.product, case.figure))


def _figure(product: dict[str, Any], path: str) -> float | None:
    section, name, kind = path.split(".")
    found = product.get(section, {}).get(name, {}).get(kind)
    return None if found is None else float(found)
