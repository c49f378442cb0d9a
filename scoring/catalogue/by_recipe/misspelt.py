"""Names that nothing came of: columns near a measure's name, and what the recipe names and no table has."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from scoring.catalogue.by_recipe.parts import Part
from scoring.catalogue.by_recipe.roles import bare_names
from scoring.catalogue.cell_hints import yaml_word
from scoring.catalogue.column_names import misspelt, near_name
from scoring.catalogue.product_columns import names_to_miss
from scoring.errors import Place, Problem
from scoring.form import Form
from scoring.recipe import Recipe, Table

#: Columns that a recipe names for all tables, by its keys.
_NAMED = {"sessions": "session", "specimens": "specimen", "dates": "date"}


def near_columns(parts: Sequence[Part], form: Form) -> Iterator[Problem]:
    """Columns that are likely a misspelt measure or attribute; they are taken out of those that nothing is known of."""
    present = {name.name for part in parts for name in part.raw.names}
    for part in parts:
        own = {name: measure.name for measure in form.measures for name in bare_names(part.raw.table, measure)}
        known = [*own, *names_to_miss(form)]
        names = {index: part.raw.names[index].name for index in part.roles.spare if part.raw.sheet.header[index]}
        unknown = dict.fromkeys(name for name in names.values() if name not in known)
        near = misspelt(list(unknown), known, present)
        for index in [index for index, name in names.items() if name in near]:
            part.roles.spare.remove(index)
            text, meant = part.raw.sheet.header[index], near[names[index]]
            line = f"attributes: {{{meant}: {{column: {yaml_word(text)}}}}}"
            if meant in own:
                line = f"measures: {{{own[meant]}: {{column: {yaml_word(names[index])}}}}}"
            hint = f"Did you mean `{meant}`? Write `{line}` in the recipe; or `ignore: [{yaml_word(text)}]`, where it is neither."
            found = "a column that the formula does not know"
            yield Problem(part.raw.sheet.place_at(None, index), found, "a measure or an attribute", hint)


def unfound_names(recipe: Recipe, parts: Sequence[Part], form: Form) -> Iterator[Problem]:
    """What the recipe names and no table has, and names that are near one of the formula's."""
    for key, role in _NAMED.items():
        where = getattr(recipe, key)
        held = [part for part in parts if part.holds_readings]
        if where is not None and where.column and not any(role in part.roles.beside for part in held):
            columns = [text for part in parts for text in part.raw.sheet.header if text]
            found = f"the column `{where.column}`, which no table has"
            yield Problem(where.place, found, f"the column of {key}", near_name(where.column, columns))
    said = dict.fromkeys(name for table in (recipe, *recipe.tables) for name in table.measures)
    yield from _unfound_measures(recipe, list(said), parts, form)
    yield from _unfound_attributes(recipe, parts, form)


def _unfound_measures(recipe: Recipe, said: Sequence[str], parts: Sequence[Part], form: Form) -> Iterator[Problem]:
    declared = [measure.name for measure in form.measures]
    read = {name for part in parts for name in part.batches}
    for name, meant in misspelt([name for name in said if name not in declared], declared, said).items():
        place = _first(recipe, name)
        yield Problem(
            place, f"the measure `{name}`, which the formula does not know", "one of it", f"Did you mean `{meant}`?"
        )
    for name in said:
        columns = _columns_of(recipe, name)
        if name in declared and name not in read and columns:
            there = [text for part in parts for text in part.raw.sheet.header if text]
            found = f"{' and '.join(f'`{column}`' for column in columns)} for `{name}`, which no table has"
            yield Problem(_first(recipe, name), found, "a column of a table", near_name(columns[0], there))


def _unfound_attributes(recipe: Recipe, parts: Sequence[Part], form: Form) -> Iterator[Problem]:
    for table in (recipe, *recipe.tables):
        held = [part for part in parts if table in (recipe, part.raw.table)]
        for name, said in table.attributes.items():
            is_above = table is not recipe and recipe.attributes.get(name) == said
            if is_above or name not in form.attributes_by_name or any(name in part.roles.attributes for part in held):
                continue
            there = [text for part in held for text in part.raw.sheet.header if text]
            found = f"the column `{said.column}` of `{name}`, which no table has"
            yield Problem(said.place, found, "a column of a table", near_name(said.column, there))


def absent_attributes(recipe: Recipe, parts: Sequence[Part], form: Form) -> Iterator[Problem]:
    """Attributes that a catalogue must have, and for which no table has a column that the recipe does not name either."""
    named = {name for table in (recipe, *recipe.tables) for name in table.attributes}
    spare = [part.raw.sheet.header[index] for part in parts for index in part.roles.spare]
    for one in form.attributes:
        held = any(one.name in part.roles.attributes or one.heading in part.roles.beside for part in parts)
        if not one.required or held or one.name in named:
            continue
        near = list(misspelt(list(filter(None, spare)), [one.heading], ()))
        column = yaml_word(near[0]) if near else "..."
        hint = (
            f"Write `attributes: {{{one.name}: {{column: {column}}}}}` in the recipe; or `required: no` at `{one.address}` of "
            "the formula, where some catalogues have none."
        )
        found, expected = f"no column of the attribute `{one.name}`", f"a column called `{one.heading}`"
        yield Problem(Place(recipe.source), found, expected, hint)


def _columns_of(recipe: Recipe, name: str) -> tuple[str, ...]:
    """The columns that are named for a measure."""
    specs = [table.measures[name] for table in (recipe, *recipe.tables) if name in table.measures]
    return tuple(dict.fromkeys(column for spec in specs for column in (spec.column, *spec.columns) if column))


def _first(recipe: Recipe, name: str) -> Place:
    """Where the recipe names a measure first."""
    tables: tuple[Recipe | Table, ...] = (recipe, *recipe.tables)
    return next(table.measures[name].place for table in tables if name in table.measures)
