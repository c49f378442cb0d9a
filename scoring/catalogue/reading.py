"""From files or a frame to a catalogue: tables are read to cells, cells to readings, and all faults are raised at once.

A catalogue is one file of readings (of any of `table_formats.FORMATS`, wide or long), or a folder that holds `readings.*` and may
hold `items.*`, a row a product: its id in the column `product` or `id`, and attributes in the others. The products of
an items file are the catalogue's, in its order, also those without a reading. Or it is a pandas frame, wide or long. Or a
recipe says which tables there are, and how they are read (`by_recipe`).
"""

from __future__ import annotations

import os
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from scoring.catalogue.by_recipe.reading import read_by_recipe
from scoring.catalogue.catalogue import Catalogue, as_declared
from scoring.catalogue.column_names import id_column
from scoring.catalogue.conditions_of_reading import faults_of_conditions
from scoring.catalogue.files import digest, read_files, recipe_at
from scoring.catalogue.items import Items, find_id_column, merged_attributes, read_items
from scoring.catalogue.long import COLUMNS, is_long, read_long
from scoring.catalogue.product_columns import SESSION, ProductTable, attributes_and_session
from scoring.catalogue.readings import Contents
from scoring.catalogue.sheet_file import read_sheet
from scoring.catalogue.sheet_frame import (
    THE_FRAME,
    digest_of,
    fault_of_index,
    is_frame,
    labelled,
    read_frame,
    with_words,
)
from scoring.catalogue.sheets import Sheet
from scoring.catalogue.summaries import summaries
from scoring.catalogue.told_once import told_once
from scoring.catalogue.wide import read_wide
from scoring.errors import CatalogueError, Problem
from scoring.form import Form

if TYPE_CHECKING:
    import pandas as pd

SPECIMEN = "specimen"


@dataclass(frozen=True, slots=True, eq=False)
class _Tables:
    """What a catalogue is read from: where it is from, the hash of it, and its tables of cells."""

    source: str
    sha256: str
    readings: Sheet | None
    items: Sheet | None = None


def read_catalogue(given: str | os.PathLike[str] | pd.DataFrame, form: Form) -> Catalogue:
    """Read a catalogue for a formula.

    Parameters
    ----------
    given : the path of a file or a folder, or a frame, which is left as it is

    Raises
    ------
    CatalogueError : with every problem that was found, each with its file (or `the frame`), row and column
    TypeError : neither a path nor a frame is given
    """
    problems: list[Problem] = []
    if is_frame(given):
        catalogue = _catalogue(_tables_of_frame(given, form, problems), form, problems)
        problems = labelled(problems, given)
    elif isinstance(given, str | os.PathLike) and (recipe := recipe_at(Path(given), problems)) is not None:
        catalogue = read_by_recipe(Path(given), recipe, form, problems)
    elif problems:
        catalogue = None
    elif isinstance(given, str | os.PathLike):
        catalogue = _catalogue(_tables_of_files(Path(given), problems), form, problems)
    else:
        raise TypeError(f"a catalogue is read from a path or a pandas DataFrame, and not from {type(given).__name__}")
    if problems or catalogue is None:
        raise CatalogueError(told_once(problems))
    return replace(catalogue, remarks=(*catalogue.remarks, *summaries(catalogue.products)))


def _tables_of_files(path: Path, problems: list[Problem]) -> _Tables:
    files = read_files(path, problems)
    sheets = {role: read_sheet(file.content, file.source, problems) for role, file in files.items()}
    sha256 = digest(files, is_folder=path.is_dir()) if files else ""
    return _Tables(str(path), sha256, sheets.get("readings"), sheets.get("items"))


def _tables_of_frame(frame: pd.DataFrame, form: Form, problems: list[Problem]) -> _Tables:
    sheet = read_frame(frame, problems)
    if sheet is None:
        return _Tables(THE_FRAME, "", None)
    fault = None if id_column(sheet.header, form.product_column) else fault_of_index(frame)
    if fault is not None:
        problems.append(fault)
        return _Tables(THE_FRAME, "", None)
    said = COLUMNS if is_long(sheet.header) else ()
    words = {*said, *attributes_and_session(form)} - {"value", *_names_of_measures(form), form.product_column}
    return _Tables(THE_FRAME, digest_of(sheet), with_words(sheet, words, problems))


def _catalogue(tables: _Tables, form: Form, problems: list[Problem]) -> Catalogue | None:
    """What the tables hold of what the form declares; faults go to `problems`."""
    sheet, items_sheet = tables.readings, tables.items
    items = read_items(items_sheet, form, problems) if items_sheet else None
    contents = _read_readings(sheet, form, items, problems) if sheet else None
    for one in (sheet, items_sheet):
        _check_specimens(one, form, problems)
    if sheet is None or contents is None:
        return None
    attributes = merged_attributes(contents, items, form, problems)
    declared = {attribute.name: attribute.heading for attribute in form.attributes}
    sessions = next((words for name, words in attributes.items() if declared.get(name, name) == SESSION), ())
    read = Catalogue(
        source=tables.source,
        products=contents.products,
        attributes={name: words for name, words in attributes.items() if name in declared},
        readings=contents.readings,
        sha256=tables.sha256,
        unused=contents.unused,
        left_out=tuple(dict.fromkeys((*(items.left_out if items else ()), *contents.left_out))),
        extras=contents.extras,
        units={measure.name: measure.unit for measure in form.measures if measure.name in contents.readings},
        product_sessions=sessions,
    )
    if not any(f"`{SESSION}`" in problem.hint for problem in problems):  # a misspelt column is why none is named
        problems += faults_of_conditions(read, form)
    return as_declared(read, form)


def _read_readings(sheet: Sheet, form: Form, items: Items | None, problems: list[Problem]) -> Contents | None:
    column = find_id_column(sheet, form, problems)
    if column is None:
        return None
    read = read_long if is_long(sheet.header) else read_wide
    return read(ProductTable(sheet, column, items.products if items else None), form, problems)


def _check_specimens(sheet: Sheet | None, form: Form, problems: list[Problem]) -> None:
    """Specimens are named beside each reading: a column of them in another file would say nothing."""
    needs = any(measure.declares("between_specimens") for measure in form.measures)
    named = {attribute.heading for attribute in form.attributes} | _names_of_measures(form) | {form.product_column}
    if sheet is None or not needs or SPECIMEN not in sheet.header or SPECIMEN in named or is_long(sheet.header):
        return
    hint = "Move it to a long file of readings; where no specimen is named, each product is one."
    expected = "specimens beside the readings of them"
    problems.append(Problem(sheet.place(None, SPECIMEN), "a column of specimens with a row a product", expected, hint))


def _names_of_measures(form: Form) -> set[str]:
    """The names of the measures, and what the catalogue calls them."""
    return {name for measure in form.measures for name in (measure.name, measure.heading)}
