"""Units that a recipe states and every header contradicts: neither wins in silence."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from scoring.catalogue.by_recipe.parts import Part
from scoring.catalogue.cell_hints import yaml_word
from scoring.errors import Problem, column_letters
from scoring.recipe import Recipe, Table
from scoring.units.conversion import same_unit


def contradicted_units(recipe: Recipe, parts: Sequence[Part]) -> Iterator[Problem]:
    """The units of measures that hold nowhere, for each column of theirs states another."""
    layouts: tuple[Recipe | Table, ...] = (recipe, *recipe.tables)
    for layout in layouts:
        yield from _of_layout(layout, recipe, [part for part in parts if layout in (recipe, part.raw.table)])


def _of_layout(layout: Recipe | Table, recipe: Recipe, held: Sequence[Part]) -> Iterator[Problem]:
    """Units of measures whose columns all state another in their headers: one of the two is wrong."""
    for name, said in layout.measures.items():
        is_above = layout is not recipe and recipe.measures.get(name) == said
        if is_above or not said.unit:
            continue
        own = [part for part in held if part.raw.table.measures.get(name) == said]
        columns = [(part, column.index) for part in own for column in part.roles.measures.get(name, ())]
        others = [(part, index) for part, index in columns if _states_another(part, index, said.unit)]
        if not others or len(others) < len(columns) or any(part.roles.long and name in part.batches for part in own):
            continue
        part, index = others[0]
        header, place = part.raw.sheet.header[index], part.raw.sheet.place_at(None, index)
        stated = str(part.raw.names[index].unit)
        cell = f"row: {place.line}, column: {yaml_word(header)}"
        if place.sheet:
            cell = f"cell: {column_letters(place.column)}{place.line}"
        right = header.replace(stated, said.unit)
        line = f"corrections: [{{{cell}, is: {yaml_word(right)}, instead_of: {yaml_word(header)}, because: ...}}]"
        found = f"`unit: {said.unit}` of `{name}`, and the header says {stated} ({place})"
        hint = f"Take `unit` away; or, where the header is wrong, write `{line}` at its table."
        yield Problem(said.place, found, "the unit where no header states one", hint)


def _states_another(part: Part, index: int, unit: str) -> bool:
    stated = part.raw.names[index].unit
    return stated is not None and not same_unit(stated, unit)
