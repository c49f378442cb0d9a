"""Benches' own workbooks, made by chance: the draft reads each kind of layout to the truth, and what it writes is scored."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from extent import examples
from further_layouts import FURTHER, stars_in_cells
from messy_layouts import LAYOUTS, Layout, differences, doubled_id, turned_round
from openpyxl import Workbook

from analysis.cli.new import draft_both
from analysis.draft.findings import findings_of
from analysis.draft.read_tables import read_tables
from scoring.catalogue import read_catalogue
from scoring.catalogue.readings import State
from scoring.errors import CatalogueError
from scoring.reader import read_form

Make = Callable[[np.random.Generator], Layout]
KINDS: tuple[Make, ...] = (*LAYOUTS, *FURTHER)
#: What no draft settles: a product with two rows, a cell with a star, and a sheet turned round, which is not read at all.
FAULTS = {doubled_id: "a second row of", stars_in_cells: "*`; expected a number"}


def made(make: Make, seed: int) -> Layout:
    """One layout of a kind."""
    return make(np.random.default_rng([KINDS.index(make), seed]))


@pytest.mark.parametrize("make", KINDS, ids=lambda one: one.__name__)
def test_layouts_are_read_to_the_truth(make: Make) -> None:
    """Header, products, measures with units and repeats, sessions, words, slips: all as a person would say."""
    for seed in range(examples(12)):
        layout = made(make, seed)
        assert list(differences(layout, findings_of(layout.tables()))) == [], seed


@pytest.mark.parametrize("make", [one for one in KINDS if one is not turned_round], ids=lambda one: one.__name__)
def test_drafts_read_every_reading(make: Make, tmp_path: Path) -> None:
    """Formula and recipe as they are written read as many readings as there are; else the one thing to decide is told."""
    layout = made(make, 0)
    path = tmp_path / layout.file
    write(layout, path)
    bench = read_tables([path], tmp_path)
    findings = findings_of(bench.tables)
    drafted = draft_both(bench, findings, "own", path.name)
    (tmp_path / "own.yaml").write_text(drafted.formula, encoding="utf-8")
    (tmp_path / "readings.yaml").write_text(drafted.recipe, encoding="utf-8")
    form = read_form(tmp_path / "own.yaml")
    if make in FAULTS:
        with pytest.raises(CatalogueError) as told:
            read_catalogue(tmp_path / "readings.yaml", form)
        assert all(FAULTS[make] in str(problem) for problem in told.value.problems)
        return
    catalogue = read_catalogue(tmp_path / "readings.yaml", form)
    read = {name: int((one.marks == State.VALUE).sum()) for name, one in catalogue.readings.items()}
    there = [sum(len(part.values) for part in measure.parts) for measure in findings.measures]
    assert [read[measure.name] for measure in form.measures] == there


def write(layout: Layout, path: Path) -> None:
    """A layout as a file."""
    if path.suffix == ".csv":
        with path.open("w", newline="", encoding="utf-8") as stream:
            csv.writer(stream).writerows(next(iter(layout.sheets.values())))
        return
    book = Workbook()
    book.remove(book.worksheets[0])
    for name, cells in layout.sheets.items():
        sheet = book.create_sheet(name)
        for row in cells:
            sheet.append(row)
    book.save(path)
