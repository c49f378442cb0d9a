"""What every command takes first: a formula with its settings, and a catalogue."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path

from analysis.draft.standing import draft_in_words, draft_of
from analysis.outputs.guard import Guard
from analysis.wording import counted
from scoring.addresses.addresses import set_addresses
from scoring.catalogue import Catalogue, read_catalogue
from scoring.catalogue.by_recipe.sources import files_of
from scoring.errors import CatalogueError, FormulaError, Place, Problem
from scoring.form import Form
from scoring.reader import read_form
from scoring.recipe import NAMES as RECIPES
from scoring.recipe import is_recipe
from scoring.table.part import select
from scoring.table.selection import OPTION
from scoring.table.table import ScoreTable, score_catalogue
from scoring.table_formats import ENDINGS as TABLE_ENDINGS
from scoring.table_formats import ONE_OF_ENDINGS
from scoring.texts.comments import comments

YAML_ENDINGS = (".yaml", ".yml")
SWAPPED = "Did you swap FORMULA and CATALOGUE? The formula comes first."


def load_form(formula: Path, settings: Sequence[str]) -> Form:
    """The formula with every `--set ADDRESS=VALUE` made."""
    check_order(formula)
    return set_addresses(read_form(formula), settings)


def load(formula: Path, catalogue: Path, settings: Sequence[str]) -> tuple[Form, Catalogue]:
    """The formula and the catalogue."""
    check_order(formula, catalogue)
    form = load_form(formula, settings)
    return form, read_catalogue(catalogue, form)


def scored(formula: Path, catalogue: Path, settings: Sequence[str], where: Sequence[str] = ()) -> ScoreTable:
    """The scores of the catalogue, or of a part of it, with what was tried on the formula."""
    form, readings = load(formula, catalogue, settings)
    return select(replace(score_catalogue(form, readings), settings=tuple(settings)), where)


def refuse_where(where: Sequence[str], beside: str, expected: str) -> None:
    """Refuse a part of a catalogue where what is made is of all of it.

    Raises
    ------
    CatalogueError : a part is asked for
    """
    if where:
        found = f"{', '.join(where)} for {beside}"
        raise CatalogueError([Problem(Place(OPTION), found, expected)])


def set_aside(catalogue: Catalogue) -> Iterator[str]:
    """What the files hold and the formula does not know, by name: measures, and columns of words or items; and remarks."""
    if catalogue.unused:
        yield f"In the catalogue and not in the formula: {', '.join(catalogue.unused)}."
    if catalogue.left_out:
        yield (f"Left out, for the formula does not declare them under `attributes`: {', '.join(catalogue.left_out)}.")
    yield from catalogue.remarks
    for one in catalogue.published_corrections:
        yield f"Corrected by the recipe: {one.says}"


def with_comments(form: Form, what: str) -> Iterator[str]:
    """That what holds the texts of a formula publishes its comments too, where it has any.

    what : as a sentence begins that says so
    """
    texts = zip(form.sources, form.documents, strict=True)
    count = sum(comments(source.text, document) for source, document in texts)
    if count:
        said = f"{what} holds the formula as it is written, with its {counted(count, 'comment')}"
        yield f"{said}: read them before it is published."


def draft_lines(table: ScoreTable, what: str) -> Iterator[str]:
    """That what is published is a draft, where guesses stand in it.

    what : as a sentence begins that says so
    """
    draft = draft_in_words(draft_of(table.form, table.catalogue))
    if draft:
        yield f"{what} is of {draft}, and says so."


def guard_of(
    forms: Iterable[Form], catalogues: Iterable[Path], others: Iterable[Path | None] = (), *, force: bool = False
) -> Guard:
    """What a command that read these must leave alone: formulas with what they take, catalogues, and `others`."""
    read = [Path(source.name) for form in forms for source in form.sources]
    for catalogue in catalogues:
        read += catalogue_files(catalogue)
    return Guard((*read, *(one for one in others if one is not None)), force)


def catalogue_files(catalogue: Path) -> list[Path]:
    """The file of a catalogue, or those that its folder may hold; of a recipe, all that it reads, too."""
    recipes = [catalogue] if is_recipe(catalogue) else [catalogue / name for name in RECIPES]
    read = [file for recipe in recipes if os.path.isfile(recipe) for file in files_of(recipe)]
    if not catalogue.is_dir():
        return [catalogue, *read]
    tables = [catalogue / f"{role}{ending}" for role in ("readings", "items") for ending in TABLE_ENDINGS]
    return [*tables, *recipes, *read]


def check_order(formula: Path, catalogue: Path | None = None) -> None:
    """Refuse readings where the formula belongs, and a formula where the readings belong, by what their paths are.

    Raises
    ------
    FormulaError : either of them, or both
    """
    problems = []
    readings = readings_in_words(formula)
    if readings is not None:
        found, expected = f"{readings}, where the formula belongs", "a formula file (YAML)"
        problems.append(Problem(Place(str(formula)), found, expected, SWAPPED))
    if catalogue is not None and is_yaml(catalogue) and not is_recipe(catalogue):
        found = "a YAML file, where the readings belong"
        expected = f"a folder, a recipe (`readings: ...`), or a file with the ending {ONE_OF_ENDINGS}"
        problems.append(Problem(Place(str(catalogue)), found, expected, "" if problems else SWAPPED))
    if problems:
        raise FormulaError(problems)


def readings_in_words(path: Path) -> str | None:
    """What a path is that can be a catalogue and no formula; None for any other."""
    if os.path.isdir(path):
        return "a folder"
    if is_recipe(path):
        return "a recipe"
    ending = path.suffix.lower()
    return f"a {ending} file" if ending in TABLE_ENDINGS else None


def is_yaml(path: Path) -> bool:
    """Whether a path is that of a YAML file, by its ending."""
    return path.suffix.lower() in YAML_ENDINGS and not os.path.isdir(path)


def not_given(option: str, expected: str, example: str) -> Problem:
    """The fault of an option that a command cannot do without."""
    return Problem(Place(option), "not given", expected, f"Write {option} {example}.")


def headed(form: Form, settings: Sequence[str]) -> str:
    """The formula's name and version, and what was tried on it."""
    edited = f", with {', '.join(settings)}" if settings else ""
    return f"{form.name} {form.version}".strip() + edited
