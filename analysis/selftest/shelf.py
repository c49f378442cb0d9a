"""The shelf of published formulas: which there are, with which readings, and what was published for them."""

from __future__ import annotations

import csv
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from importlib.resources import as_file, files
from pathlib import Path
from typing import Any

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
