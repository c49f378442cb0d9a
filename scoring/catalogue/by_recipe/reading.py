"""From a recipe to a catalogue: its tables are cut out of their sheets, joined by product, and read."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

from scoring.catalogue.by_recipe.idle_lines import idle_lines
from scoring.catalogue.by_recipe.joining import join_attributes, join_products, join_readings, settle_duplicates
from scoring.catalogue.by_recipe.misspelt import absent_attributes, near_columns, unfound_names
from scoring.catalogue.by_recipe.parts import Part, corrected_cells, part_of, read_batches
from scoring.catalogue.by_recipe.roles import roles_of, unused_and_left_out
from scoring.catalogue.by_recipe.settled_by_cell import with_corrections
from scoring.catalogue.by_recipe.sources import Sources
from scoring.catalogue.by_recipe.table_rows import raw_table
from scoring.catalogue.by_recipe.units_against_headers import contradicted_units
from scoring.catalogue.catalogue import Catalogue, as_declared
from scoring.catalogue.conditions_of_reading import faults_of_conditions
from scoring.catalogue.product_columns import SESSION
from scoring.errors import CatalogueError, Place, Problem, nearest
from scoring.form import Form
from scoring.numbers.array_types import Texts
from scoring.recipe import load_recipe


def read_by_recipe(given: Path, path: Path, form: Form, problems: list[Problem]) -> Catalogue | None:
    """Read the catalogue that a recipe says; faults go to `problems`.

    Parameters
    ----------
    given : the path that was given, of the recipe or of a folder that holds it
    path : that of the recipe
    """
    try:
        recipe = load_recipe(path)
    except CatalogueError as fault:
        problems += fault.problems
        return None
    sources = Sources(recipe, path.parent)
    parts = list(_parts(sources, form, problems))
    if not parts:
        return None
    products = join_products(parts, problems)
    for part in parts:
        settle_duplicates(part, problems)
        read_batches(part, form, problems)
    unfound = [] if problems else list(unfound_names(recipe, parts, form))
    problems += unfound or near_columns(
        parts, form
    )  # what the recipe misspells leaves a column that nothing is known of
    problems += contradicted_units(recipe, parts)
    readings, extras = {}, dict[str, dict[str, Texts]]()
    for measure in form.measures:
        joined = join_readings(measure, parts, problems)
        if joined is None:
            continue
        readings[measure.name], beside = joined
        for name, texts in beside.items():
            extras.setdefault(name, {})[measure.name] = texts
    problems[:] = with_corrections(problems, parts)
    attributes = join_attributes(parts, form, problems)
    problems += absent_attributes(recipe, parts, form)
    unused, left_out = _set_aside(parts)
    if form.measures and not readings and not problems:
        hint = nearest("", [measure.heading for measure in form.measures])
        problems.append(Problem(Place(str(path)), "no table that holds a measure of the formula", "one or more", hint))
    declared = {attribute.name for attribute in form.attributes}
    read = Catalogue(
        source=str(given),
        products=products,
        attributes={name: words for name, words in attributes.items() if name in declared},
        readings=readings,
        sha256=sources.sha256(),
        unused=unused,
        left_out=left_out,
        extras=extras,
        units={measure.name: measure.unit for measure in form.measures if measure.name in readings},
        product_sessions=attributes.get(SESSION, ()),
    )
    if not problems:
        idle = idle_lines(recipe, parts, form)
        trimmed = [remark for part in parts for remark in part.remarks]
        read = replace(read, remarks=(*idle.remarks, *trimmed), corrections=tuple(corrected_cells(parts)))
        problems += idle.problems
    if not problems:
        problems += faults_of_conditions(read, form)
    return as_declared(read, form)


def _parts(sources: Sources, form: Form, problems: list[Problem]) -> Iterator[Part]:
    """Every table of the recipe on every sheet of it."""
    for table in sources.recipe.tables:
        for grid in sources.grids(table, problems):
            raw = raw_table(grid, table, problems)
            roles = roles_of(raw, form, problems) if raw is not None else None
            if raw is not None and roles is not None:
                yield part_of(raw, roles, problems)


def _set_aside(parts: Sequence[Part]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What the tables hold and the formula does not know: measures, and columns of words."""
    unused, left_out = [], []
    for part in parts:
        numbers, words = unused_and_left_out(part.raw, part.roles)
        unused += [*numbers, *part.unused]
        left_out += words
    return tuple(dict.fromkeys(unused)), tuple(dict.fromkeys(left_out))
