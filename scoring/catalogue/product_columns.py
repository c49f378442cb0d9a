"""Products and their attributes: the columns that say what was tested, not what was read."""

from __future__ import annotations

from dataclasses import dataclass, replace
from operator import itemgetter

import numpy as np

from scoring.catalogue.cells import Fault, read_id, shown, text_fault, texts_of
from scoring.catalogue.sheets import Sheet, problem
from scoring.errors import Place, Problem, nearest
from scoring.form import Attribute, Form
from scoring.numbers.array_types import Indices

#: The column that says in which session a product was read.
SESSION = "session"
#: How a file may write it.
SESSIONS = (SESSION, "Session")
_MOST_HINTS = 20  # a search for the nearest of many names takes its time


@dataclass(frozen=True, slots=True, eq=False)
class ProductTable:
    """A sheet whose rows are of products.

    column : the one that names them
    listed : the products that it may name, of an items file; None where it may name any
    """

    sheet: Sheet
    column: str
    listed: tuple[str, ...] | None = None


@dataclass(frozen=True, slots=True, eq=False)
class ProductRows:
    """The rows of a sheet, each of a product.

    products : the ids, in the order of their first row, or as they are listed
    codes : shape (n_rows,), the index of each row's product; -1 where its id is faulty, not listed, or not to stand there
    """

    sheet: Sheet
    column: str
    products: tuple[str, ...]
    codes: Indices


def index_products(table: ProductTable, problems: list[Problem]) -> ProductRows:
    """Number the products of a table; ids that are faulty or not listed go to `problems`."""
    sheet, column, listed = table.sheet, table.column, table.listed
    cells = sheet.column(column).tolist()
    read = {cell: read_id(cell) for cell in dict.fromkeys(cell for cell in cells if isinstance(cell, str))}
    ids = [read[cell] if isinstance(cell, str) else read_id(cell) for cell in cells]
    present = dict.fromkeys(product for product in ids if isinstance(product, str))
    numbers = {product: i for i, product in enumerate(present if listed is None else listed)}
    for row, product in enumerate(ids):
        if isinstance(product, Fault):
            problems.append(problem(sheet.place(row, column), product))
    strange = [product for product in present if product not in numbers]
    first = dict(zip(reversed(ids), range(len(ids) - 1, -1, -1), strict=True)) if strange else {}
    for count, product in enumerate(strange):
        hint = nearest(product, numbers) if count < _MOST_HINTS else ""
        found = f"the product {shown(product)}, which the items do not list"
        problems.append(Problem(sheet.place(first[product], column), found, "a product among the items", hint))
    codes = [numbers.get(product, -1) if isinstance(product, str) else -1 for product in ids]
    return ProductRows(sheet, column, tuple(numbers), np.array(codes, dtype=np.intp))


def with_session_named(sheet: Sheet, form: Form) -> Sheet:
    """The sheet with its column of sessions called `session`, where the file writes it in another way."""
    written = next((name for name in SESSIONS if name in sheet.header), SESSION)
    taken = {*attributes_by_column(form), form.product_column}
    taken |= {name for measure in form.measures for name in (measure.name, measure.heading)}
    if written == SESSION or written in taken:
        return sheet
    header = tuple(SESSION if name == written else name for name in sheet.header)
    return replace(sheet, header=header, titles=sheet.titles or sheet.header)


def has_row_a_session(rows: ProductRows) -> bool:
    """Whether a product has several rows, each of a session of its own."""
    codes = rows.codes[rows.codes >= 0]
    return len(np.unique(codes)) < len(codes)


def without_second_rows(rows: ProductRows, problems: list[Problem], *, by_session: bool = False) -> ProductRows:
    """Report products that have a second row where each has one; such rows are of no product from here on.

    by_session : a product may have a row in each session that the column `session` names
    """
    if by_session and SESSION in rows.sheet.header and has_row_a_session(rows):
        return _without_second_of_session(rows, problems)
    sheet, column, codes = rows.sheet, rows.column, rows.codes
    known = np.flatnonzero(codes >= 0)
    _, first, inverse = np.unique(codes[known], return_index=True, return_inverse=True)
    kept = codes.copy()
    for row, first_row in zip(known.tolist(), known[first[inverse]].tolist(), strict=True):
        if row != first_row:
            found = f"a second row of {shown(sheet.column(column)[row])}, after row {sheet.lines[first_row]}"
            hint = "Repeats stand in columns, `name #1`, `name #2`, or in a long file with `measure` and `value`."
            problems.append(Problem(sheet.place(row, column), found, "one row a product", hint))
            kept[row] = -1
    return replace(rows, codes=kept)


def attributes_by_column(form: Form) -> dict[str, Attribute]:
    """The attributes of the formula by what the catalogue calls them."""
    return {attribute.heading: attribute for attribute in form.attributes}


def _without_second_of_session(rows: ProductRows, problems: list[Problem]) -> ProductRows:
    """Report second rows of a product in one session, or without one; they are of no product from here on."""
    sheet, kept = rows.sheet, rows.codes.copy()
    first: dict[tuple[int, str], int] = {}
    several = np.bincount(kept[kept >= 0], minlength=len(rows.products)) > 1
    for row, (code, session) in enumerate(zip(rows.codes.tolist(), texts_of(sheet.column(SESSION)), strict=True)):
        if code < 0 or not several[code]:
            continue
        other = first.setdefault((code, session), row)
        if session and other == row:
            continue
        what = shown(sheet.column(rows.column)[row])
        found = f"one of several rows of {what} without a session"
        if session:
            found = f"a second row of {what} in the session {shown(session)}, after row {sheet.lines[other]}"
        hint = "Repeats of one session stand in columns, `name #1`, `name #2`."
        problems.append(Problem(sheet.place(row, rows.column), found, "one row a product and session", hint))
        kept[row] = -1
    return replace(rows, codes=kept)


def attributes_and_session(form: Form) -> dict[str, Attribute]:
    """What may be said of a product in words, by its column: the attributes of the formula, and its session where nothing else
    is called so."""
    declared = attributes_by_column(form)
    taken = {name for measure in form.measures for name in (measure.name, measure.heading)} | {form.product_column}
    if SESSION in taken:
        return declared
    return {SESSION: Attribute(SESSION, SESSION, place=Place("the catalogue"))} | declared


def names_to_miss(form: Form) -> list[str]:
    """The words about a product that a column may be misspelt for: the formula's attributes, and a session that it needs."""
    needed = [SESSION] if any(measure.declares("between_sessions") for measure in form.measures) else []
    return [*attributes_by_column(form), *needed]


def read_attribute(rows: ProductRows, column: str, declared: Attribute, problems: list[Problem]) -> tuple[str, ...]:
    """The attribute of every product as text, empty where it is not stated.

    An attribute belongs to a product: rows of one product that differ are a problem, and so are words that the
    formula does not list for it.
    """
    sheet, codes = rows.sheet, rows.codes
    words = zip(reversed(codes.tolist()), reversed(texts_of(sheet.column(column))), strict=True)
    first = dict(zip(words, range(len(codes) - 1, -1, -1), strict=True))
    texts: dict[int, tuple[str, int]] = {}
    for (code, text), row in sorted(first.items(), key=itemgetter(1)):
        fault = _attribute_fault(text, declared) if text else None
        if fault:
            problems.append(problem(sheet.place(row, column), fault))
        if not text or code < 0:
            continue
        other, other_row = texts.setdefault(code, (text, row))
        if other != text:
            found = f"{shown(text)}, after {shown(other)} in row {sheet.lines[other_row]} for the same product"
            problems.append(Problem(sheet.place(row, column), found, "one word a product"))
    return tuple(texts[code][0] if code in texts else "" for code in range(len(rows.products)))


def _attribute_fault(text: str, declared: Attribute) -> Fault | None:
    if declared.values and text not in declared.values:
        expected = f"one of {', '.join(declared.values)}"
        hint = nearest(text, declared.values) if len(text) < 300 else ""
        return Fault(f"the {declared.name} {shown(text)}", expected, hint if hint.startswith("Did") else "")
    return text_fault(text)
