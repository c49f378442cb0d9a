"""The shelf of published formulas: which there are, with which readings, and what was published beside what comes out here."""

from __future__ import annotations

import csv
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from importlib.resources import as_file, files
from pathlib import Path
from typing import Any

from analysis.scores.document import products_of
from scoring.catalogue import read_catalogue
from scoring.reader import read_form
from scoring.table.table import score_catalogue
from scoring.texts import document

SHELF = "cases/shelf.yaml"


@dataclass(frozen=True, slots=True)
class Exemption:
    """Printed figures that the formula does not give, and why."""

    figure: str
    products: tuple[str, ...]
    because: str


@dataclass(frozen=True, slots=True)
class ShelfLine:
    """One formula on one set of readings; `within` says how near a figure must be where it need not be equal."""

    what: str
    formula: Path
    readings: Path
    cases: Path
    source: str
    within: Mapping[str, float] = field(default_factory=dict)
    why: str = "equal as printed"
    exceptions: tuple[Exemption, ...] = ()

    def exempt(self, product: str, figure: str) -> str:
        """Why a printed figure is not expected; empty where it is."""
        found = (e.because for e in self.exceptions if e.figure == figure and product in e.products)
        return next(found, "")


@dataclass(frozen=True, slots=True)
class PublishedFigure:
    """One printed figure of one product: `figure` is its path in the document of `score --json`."""

    product: str
    figure: str
    published: float
    source: str


def published_folder() -> Path:
    """The folder of published formulas: inside the installed package, or in a checkout.

    Raises
    ------
    FileNotFoundError
        It is in neither place.
    """
    with as_file(files("analysis")) as here:
        for folder in (Path(here) / "published", Path(here).parent / "formulas" / "published"):
            if (folder / SHELF).is_file():
                return folder
    raise FileNotFoundError(SHELF)


def read_shelf(folder: Path) -> tuple[ShelfLine, ...]:
    """Every line of the shelf, in the order written."""
    text = (folder / SHELF).read_text(encoding="utf-8")
    return tuple(_line(entry, folder) for entry in _plain(document.read_document(text, SHELF))["shelf"])


def read_cases(line: ShelfLine) -> Iterator[PublishedFigure]:
    """The published figures of a line, product by product."""
    with line.cases.open(encoding="utf-8", newline="") as stream:
        for row in csv.DictReader(stream):
            for column, cell in row.items():
                if cell and column.startswith(("scores.", "ratings.")):
                    yield PublishedFigure(row["id"], column, float(cell), row.get("source") or line.source)


def _line(entry: dict[str, Any], folder: Path) -> ShelfLine:
    paths = {name: folder / entry.pop(name) for name in ("formula", "readings", "cases")}
    within = {figure: float(text) for figure, text in entry.pop("within", {}).items()}
    exceptions = (
        Exemption(one["figure"], tuple(one["products"]), one["because"]) for one in entry.pop("exceptions", ())
    )
    return ShelfLine(**paths, **entry, within=within, exceptions=tuple(exceptions))


def _plain(node: document.Node) -> Any:
    match node:
        case document.Mapping(entries=entries):
            return {key.text: _plain(value) for key, value in entries}
        case document.Sequence(items=items):
            return [_plain(item) for item in items]
        case document.Scalar(text=text):
            return text


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
