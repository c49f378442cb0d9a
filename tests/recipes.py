"""Recipes written for a test: a recipe's text beside the files that it reads."""

from __future__ import annotations

from pathlib import Path
from textwrap import dedent
from typing import Any

import openpyxl
from forms import attribute, form, measure

from scoring.catalogue import Catalogue, read_catalogue
from scoring.catalogue.conditions_of_reading import conditions_of
from scoring.errors import CatalogueError
from scoring.form import Form

BEDS = form(
    [
        measure("noise_dba", unit="dB", plausible=(18, 75), reporting_limit=22.0),
        measure("sit_drop", unit="mm", plausible=(15, 170)),
        measure("rise", unit="delta_degC", plausible=(-5, 15)),
    ],
    [attribute("class", "hybrid", "foam", "coil")],
)


def by_recipe(
    folder: Path, recipe: str, using: Form = BEDS, **files: str | bytes | dict[str, list[list[Any]]]
) -> Catalogue:
    """Write files and a recipe, and read it: a text or bytes as NAME.csv, sheets of rows by their names as NAME.xlsx."""
    for name, content in files.items():
        if isinstance(content, dict):
            workbook(folder / f"{name}.xlsx", content)
        else:
            data = content if isinstance(content, bytes) else dedent(content).encode()
            (folder / f"{name}.csv").write_bytes(data)
    path = folder / "readings.yaml"
    path.write_text(dedent(recipe), encoding="utf-8")
    return read_catalogue(path, using)


def faults_of(folder: Path, recipe: str, using: Form = BEDS, **files: Any) -> list[str]:
    """What is wrong, a line each, without the path of the folder."""
    try:
        by_recipe(folder, recipe, using, **files)
    except CatalogueError as fault:
        return [str(problem).replace(f"{folder}/", "") for problem in fault.problems]
    return []


def workbook(path: Path, sheets: dict[str, list[list[Any]]]) -> None:
    """A workbook of sheets by their names; one whose name begins with `-` is hidden."""
    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    for name, rows in sheets.items():
        sheet = book.create_sheet(name.removeprefix("-"))
        sheet.sheet_state = "hidden" if name.startswith("-") else "visible"
        for row in rows:
            sheet.append(row)
    book.save(path)


def held(catalogue: Catalogue, name: str = "noise_dba") -> dict[str, list[float]]:
    """The numbers of a measure by product, in the order of their repeats, as written; gaps left out."""
    written = catalogue.readings[name].written
    return {
        product: [value for value in row if value == value]
        for product, row in zip(catalogue.products, written.tolist(), strict=True)
    }


def sessions(catalogue: Catalogue, name: str = "noise_dba") -> list[list[str]]:
    """The session of every repeat of a measure."""
    found: list[list[str]] = conditions_of(catalogue, name).sessions.tolist()
    return found
