"""Benches' own workbooks, made by chance: the draft reads each kind of layout to the truth, and what it writes is scored."""

from __future__ import annotations

import csv
import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from extent import examples
from further_layouts import FURTHER, stars_in_cells
from messy_layouts import LAYOUTS, Layout, differences, doubled_id, slipped_point, slipped_repeat, turned_round
from openpyxl import Workbook
from ruamel.yaml import YAML
from session_layouts import (
    KINDS_OF_BED,
    SESSIONS,
    class_that_differs,
    reasons_in_cells,
    slip_among_commas,
    slip_on_one_sheet,
)

from analysis.cli.new import Drafted, draft_both
from analysis.draft.findings import Findings, findings_of
from analysis.draft.marked import decisions_in
from analysis.draft.read_tables import read_tables
from scoring.catalogue import read_catalogue
from scoring.catalogue.readings import State
from scoring.errors import CatalogueError, Problem
from scoring.form import Form
from scoring.reader import read_form

Make = Callable[[np.random.Generator], Layout]
KINDS: tuple[Make, ...] = (*LAYOUTS, *FURTHER, *SESSIONS)
#: What no draft settles, so that a line of it says DECIDE: each is a fault until it is decided. A sheet turned round is not read.
FAULTS = {
    doubled_id: "a second row of",
    stars_in_cells: "*`; expected a number",
    slipped_point: "the plausible range",
    slipped_repeat: "the plausible range",
    slip_on_one_sheet: "the plausible range",
    slip_among_commas: "the plausible range",
    class_that_differs: "one word a product",
}


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
    findings, _ = drafted_in(tmp_path, layout)
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


@pytest.mark.parametrize("make", [one for one in KINDS if one is not turned_round], ids=lambda one: one.__name__)
def test_formula_and_recipe_never_contradict(make: Make, tmp_path: Path) -> None:
    """What the formula declares is read, nothing that is read is ignored, and every fault is named by a line that says DECIDE."""
    for seed in range(examples(3)):
        place = tmp_path / str(seed)
        place.mkdir()
        _, drafted = drafted_in(place, made(make, seed))
        form = read_form(place / "own.yaml")
        tables = YAML(typ="safe").load(drafted.recipe)["tables"]
        read = {name for table in tables for name in table.get("attributes", {})}
        assert read == {one.name for one in form.attributes}, seed
        for table in tables:
            columns = {one["column"] for one in table.get("attributes", {}).values()}
            assert not columns & set(table.get("ignore", ())), seed
        decide = " ".join(why for text in (drafted.formula, drafted.recipe) for _, why in decisions_in(text))
        for problem in faults_of(place / "readings.yaml", form):
            named = {*re.findall(r"`([^`]+)`", problem.found), cell_of(problem)}
            assert any(name in decide for name in named - {""}), (seed, str(problem))


@pytest.mark.parametrize("make", SESSIONS[:2], ids=lambda one: one.__name__)
def test_words_of_products_are_read_of_every_sheet(make: Make, tmp_path: Path) -> None:
    """No bed is without its kind because it stands on the other sheet."""
    drafted_in(tmp_path, made(make, 0))
    catalogue = read_catalogue(tmp_path / "readings.yaml", read_form(tmp_path / "own.yaml"))
    assert set(catalogue.attributes["class"]) == set(KINDS_OF_BED)


@pytest.mark.parametrize(
    "make", [slipped_point, slipped_repeat, slip_on_one_sheet, slip_among_commas], ids=lambda one: one.__name__
)
def test_the_corrections_that_are_offered_fit(make: Make, tmp_path: Path) -> None:
    """With their comment signs taken away no fault is left, and each reading has its point where its neighbours have it."""
    findings, drafted = drafted_in(tmp_path, made(make, 0))
    recipe = tmp_path / "readings.yaml"
    recipe.write_text(drafted.recipe.replace("    # corrections:", "    corrections:"), encoding="utf-8")
    form = read_form(tmp_path / "own.yaml")
    assert faults_of(recipe, form) == []
    catalogue = read_catalogue(recipe, form)
    slips = [slip for measure in findings.measures for slip in measure.slips]
    assert len(catalogue.corrections) == len(slips) > 0
    read = np.concatenate([one.values.ravel() for one in catalogue.readings.values()])
    assert all(np.isclose(read, slip.reading.value / slip.times).any() for slip in slips)


def test_reasons_are_no_words_to_be_told(tmp_path: Path) -> None:
    """`missing: why` is read without a recipe's help, and its reason stands once."""
    _, drafted = drafted_in(tmp_path, made(reasons_in_cells, 0))
    assert "words:" not in drafted.recipe
    catalogue = read_catalogue(tmp_path / "readings.yaml", read_form(tmp_path / "own.yaml"))
    reasons = {text for one in catalogue.readings.values() for text in one.reasons.values()}
    assert reasons == {"K. dropped probe 2", "no edge"}


def drafted_in(folder: Path, layout: Layout) -> tuple[Findings, Drafted]:
    """The draft of a layout, written to a folder as `own.yaml` and `readings.yaml`."""
    path = folder / layout.file
    write(layout, path)
    bench = read_tables([path], folder)
    findings = findings_of(bench.tables)
    drafted = draft_both(bench, findings, "own", path.name)
    (folder / "own.yaml").write_text(drafted.formula, encoding="utf-8")
    (folder / "readings.yaml").write_text(drafted.recipe, encoding="utf-8")
    return findings, drafted


def faults_of(recipe: Path, form: Form) -> list[Problem]:
    """What keeps the readings from being taken."""
    try:
        read_catalogue(recipe, form)
    except CatalogueError as told:
        return list(told.problems)
    return []


def cell_of(problem: Problem) -> str:
    """The address of the cell that a problem is about, such as `K38` or `row 38, column Sag`; "" where it is about none."""
    found = re.search(r"cell ([A-Z]+[0-9]+)|(row [0-9]+, column .*)", str(problem.place))
    return (found[1] or found[2]) if found else ""


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
