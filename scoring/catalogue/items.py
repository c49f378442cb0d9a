"""Items: the products of a folder's catalogue and their attributes, a row a product.

A column that the formula declares is an attribute; `session` says in which session a product was read, declared or not;
any other is left out, and named. One that looks like a declared
attribute which has no column anywhere is a problem, for it is likely misspelt; so is a measure, which belongs to the
readings.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from scoring.catalogue.cells import text_of
from scoring.catalogue.column_names import ID_COLUMNS, VERY_NEAR, few_names, id_column, misspelt, read_column_name
from scoring.catalogue.product_columns import (
    ProductTable,
    attributes_and_session,
    index_products,
    names_to_miss,
    read_attribute,
    without_second_rows,
)
from scoring.catalogue.readings import Contents
from scoring.catalogue.sheets import NAMELESS, Sheet
from scoring.errors import Place, Problem
from scoring.form import Attribute, Form

#: A header is looked for in so many rows, where there is none on top.
_UPPER_ROWS = 20


@dataclass(frozen=True, slots=True)
class Items:
    """The products that a catalogue lists, a text of every declared attribute for each, and the columns left out."""

    source: str
    products: tuple[str, ...]
    attributes: Mapping[str, tuple[str, ...]]
    left_out: tuple[str, ...]


def find_id_column(sheet: Sheet, form: Form, problems: list[Problem]) -> str | None:
    """The column of the products' ids; a sheet without one is a problem."""
    column = id_column(sheet.header, form.product_column)
    if column is None:
        hint = (
            "Rename the one that names the products, or write `product_column: ITS NAME` in the formula: "
            f"{few_names(sheet.header)}."
        )
        below = _row_of_names(sheet, (form.product_column, *ID_COLUMNS))
        if below is not None:
            line = sheet.lines[below]
            problems[:] = [one for one in problems if one.place.source != sheet.source or one.found != NAMELESS]
            hint = f"Is the header in row {line}? Delete the rows above it, or write a recipe with `header: {line}`."
        called = f"`{form.product_column}`, as the formula says" if form.product_column else "`product` or `id`"
        place = Place(sheet.source, sheet.header_line)
        problems.append(Problem(place, "no column of products", f"a column called {called}", hint))
    return column


def _row_of_names(sheet: Sheet, names: Collection[str]) -> int | None:
    """The first of the upper rows in which a cell reads as the name of a column of products."""
    for row in range(min(_UPPER_ROWS, len(sheet.lines))):
        if any(text_of(cells[row]) and text_of(cells[row]) in names for cells in sheet.columns):
            return row
    return None


def read_items(sheet: Sheet, form: Form, problems: list[Problem]) -> Items | None:
    """Read the sheet of an items file; None where nothing names its products."""
    column = find_id_column(sheet, form, problems)
    if column is None:
        return None
    rows = without_second_rows(index_products(ProductTable(sheet, column), problems), problems)
    declared = attributes_and_session(form)
    measures = {name for measure in form.measures for name in (measure.name, measure.heading)}
    attributes, left_out = {}, []
    for name in sheet.header:
        if read_column_name(name).name in measures and name not in declared:
            found = f"the measure `{read_column_name(name).name}` among the items' attributes"
            hint = "Move the column to the readings."
            problems.append(Problem(sheet.place(None, name), found, "attributes", hint))
        elif name in declared:
            attributes[declared[name].name] = read_attribute(rows, name, declared[name], problems)
        elif name != column:
            left_out.append(name)
    return Items(sheet.source, rows.products, attributes, tuple(left_out))


def merged_attributes(
    contents: Contents, items: Items | None, form: Form, problems: list[Problem]
) -> dict[str, tuple[str, ...]]:
    """The attributes of readings and items together, and an empty text for declared ones that have no column.

    Where both state one, they must agree.
    """
    merged = dict(items.attributes) if items else {}
    for name, texts in contents.attributes.items():
        listed = merged.get(name, texts)
        for product, one, other in zip(contents.products, listed, texts, strict=True):
            if one and other and one != other:
                found = f"the {name} `{other}` of `{product}`, which is `{one}` among the items"
                place = Place(contents.source, column_name=name)
                problems.append(Problem(place, found, "one word a product"))
        merged[name] = tuple(one or other for one, other in zip(listed, texts, strict=True))
    for name, near in misspelt(items.left_out if items else (), names_to_miss(form), merged, VERY_NEAR).items():
        found = "a column that the formula does not know"
        place = Place(items.source if items else contents.source, 1, column_name=name)
        problems.append(Problem(place, found, "an attribute", f"Did you mean `{near}`?"))
    absent = [attribute for attribute in form.attributes if attribute.name not in merged]
    columns = [*(items.left_out if items else ()), *contents.left_out, *contents.unused]
    source = items.source if items else contents.source
    problems += filter(None, [_no_column(one, columns, source, problems) for one in absent])
    return merged | {attribute.name: ("",) * len(contents.products) for attribute in absent}


def _no_column(
    attribute: Attribute, columns: Sequence[str], source: str, problems: Sequence[Problem]
) -> Problem | None:
    """Say that a catalogue lacks the column of an attribute that it must have, once, and which column may be meant."""
    called = attribute.heading
    if not attribute.required or any(f"`{called}`" in problem.hint for problem in problems):
        return None
    near = list(misspelt(columns, [called], ()))
    meant = (
        f"Did you mean `{near[0]}`? Write `column: {near[0]}`"
        if near
        else "Write `column: ...`, what it is called there"
    )
    hint = f"{meant}, at `{attribute.address}` of the formula; or `required: no`, where some catalogues have none."
    return Problem(Place(source), f"no column of the attribute `{attribute.name}`", f"a column called `{called}`", hint)
