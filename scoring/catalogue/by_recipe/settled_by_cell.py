"""Few cells that write numbers as the rest of their table does not: what settles them is a correction, not a line for all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from scoring.catalogue.by_recipe.parts import Part
from scoring.catalogue.cell_hints import yaml_word
from scoring.catalogue.cells import CellRules
from scoring.catalogue.told_once import MOST_APART
from scoring.errors import Place, Problem, column_letters

_POINT, _COMMA = CellRules(), CellRules(comma=True)


def with_corrections(problems: Sequence[Problem], parts: Sequence[Part]) -> list[Problem]:
    """The problems; those of few cells with the other decimal sign show a correction of just that cell."""
    found: dict[int, Problem] = {}
    for part in parts:
        sheet = part.raw.sheet
        rules, other = (_COMMA, _POINT) if sheet.rules.comma else (_POINT, _COMMA)
        columns = {column.index for columns in part.roles.measures.values() for column in columns}
        columns |= {part.roles.long["value"]} if part.roles.long else set()
        texts = [cell for index in columns for cell in sheet.columns[index].tolist() if isinstance(cell, str)]
        sign = "," if sheet.rules.comma else "."
        n_usual = sum(sign in text and rules.plain(text.strip()) for text in texts)
        cells = _cells(part, columns, other)
        own = {number: cells[one.place] for number, one in enumerate(problems) if one.place in cells}
        if not own or len(own) > MOST_APART or n_usual <= len(own):
            continue
        for number, text in own.items():
            found[number] = replace(problems[number], hint=_correction(problems[number].place, text, sign))
    return [found.get(number, one) for number, one in enumerate(problems)]


def _cells(part: Part, columns: set[int], other: CellRules) -> dict[Place, str]:
    """The cells of measures that hold a number with the other decimal sign, by their places."""
    sheet, sign = part.raw.sheet, "," if other.comma else "."
    return {
        sheet.place_at(row, index): cell.strip()
        for index in columns
        for row, cell in enumerate(sheet.columns[index].tolist())
        if isinstance(cell, str) and sign in cell and other.plain(cell.strip())
    }


def _correction(place: Place, text: str, sign: str) -> str:
    """The line of a recipe that settles one cell."""
    cell = f"row: {place.line}, column: {yaml_word(place.column_name)}"
    if place.sheet:
        cell = f"cell: {column_letters(place.column)}{place.line}, sheet: {yaml_word(place.sheet)}"
    number = text.replace(".", sign).replace(",", sign)
    line = f'`corrections: [{{{cell}, is: "{number}", instead_of: "{text}", because: ...}}]`'
    return f"The other cells of the table have the other sign. In the recipe, at this table: {line}."
