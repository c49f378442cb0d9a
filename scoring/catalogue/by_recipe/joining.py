"""Tables joined by product: the products of all, the rows of each, and the readings of every measure with what stands beside."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from scoring.catalogue.assembly import Batch, assemble
from scoring.catalogue.by_recipe.parts import PRODUCT, Part, row_of
from scoring.catalogue.cells import shown
from scoring.catalogue.numbered_repeats import CONDITIONS, StatedRepeats, numbered_through, occurrences
from scoring.catalogue.product_columns import SESSION, ProductRows, read_attribute
from scoring.catalogue.readings import Readings
from scoring.errors import Place, Problem, nearest
from scoring.form import Attribute, Form, Measure
from scoring.numbers.array_types import Indices, Texts

_MOST_HINTS = 20


def join_products(parts: Sequence[Part], problems: list[Problem]) -> tuple[str, ...]:
    """The products of the catalogue; the rows of every table are numbered by them, -1 for one that is passed over."""
    if len(parts) == 1:
        return parts[0].rows.products
    complete = [part for part in parts if part.raw.table.join.value == "complete"]
    lists = complete or [part for part in parts if part.raw.table.join.value == "all"]
    products = tuple(dict.fromkeys(product for part in lists for product in part.rows.products))
    numbers = {product: number for number, product in enumerate(products)}
    for part in parts:
        known = [numbers.get(product, -1) for product in part.rows.products]
        if complete and part.raw.table.join.value == "all":
            _refuse_strange(part, numbers, problems)
        codes = np.array([*known, -1], dtype=np.intp)[part.rows.codes]
        part.rows = replace(part.rows, products=products, codes=codes)
    return products


def _refuse_strange(part: Part, numbers: Mapping[str, int], problems: list[Problem]) -> None:
    """Report products that a complete table does not list."""
    strange = [number for number, product in enumerate(part.rows.products) if product not in numbers]
    for count, number in enumerate(strange):
        product, row = part.rows.products[number], int(np.argmax(part.rows.codes == number))
        hint = nearest(product, numbers) if count < _MOST_HINTS else ""
        found = f"the product {shown(product)}, which the complete table does not list"
        problems.append(Problem(part.rows.sheet.place(row, PRODUCT), found, "a product that it lists", hint))


def settle_duplicates(part: Part, problems: list[Problem]) -> None:
    """What a second row of a product in a wide table means, in one session and of one specimen."""
    if part.roles.long:
        return
    codes = part.rows.codes
    known = np.flatnonzero(codes >= 0)
    nth = occurrences(_told_apart(part, codes[known], known))
    rule = part.raw.table.duplicates.value
    if rule == "specimens":
        texts = np.full(len(codes), "", dtype=object)
        texts[known] = [str(number + 1) for number in nth.tolist()]
        part.beside["specimen"] = texts
    elif rule == "fault" and nth.any():
        _refuse_seconds(part, known[nth > 0], problems)


def _told_apart(part: Part, keys: Indices, rows: Indices) -> Indices:
    """Keys that differ, too, where the session or specimen of their rows does; all of shape (n_taken,)."""
    for name in CONDITIONS:
        if name in part.beside:
            texts = part.beside[name][rows].tolist()
            numbers = {text: number for number, text in enumerate(dict.fromkeys(texts))}
            own = np.array([numbers[text] for text in texts], dtype=np.intp)
            keys = np.unique(keys, return_inverse=True)[1] * max(len(numbers), 1) + own
    return keys


def _refuse_seconds(part: Part, rows: Indices, problems: list[Problem]) -> None:
    """Report second rows of products, of shape (n_taken,); they are of no product from here on."""
    sheet, codes = part.rows.sheet, part.rows.codes.copy()
    told = "".join(f" and {name}" for name in CONDITIONS if name in part.beside)
    first = {int(code): row for row, code in reversed(list(enumerate(codes.tolist())))}
    hint = (
        "In the recipe, `duplicates: repeats` takes its readings as further repeats, `duplicates: specimens` as those of "
        "another specimen, and `skip` passes over the row by its number."
    )
    for row in rows.tolist():
        after = int(sheet.lines[first[int(codes[row])]])
        found = f"a second row of {shown(part.rows.products[codes[row]])}, after row {after}"
        problems.append(Problem(sheet.place(row, PRODUCT), found, f"one row a product{told}", hint))
    codes[rows] = -1
    part.rows = replace(part.rows, codes=codes)


@dataclass(frozen=True, slots=True, eq=False)
class _Cells:
    """The cells of one measure in one batch of one part, with the rows they stand in, of shape (n_cells,)."""

    part: Part
    batch: Batch
    rows: Indices


def join_readings(
    measure: Measure, parts: Sequence[Part], problems: list[Problem]
) -> tuple[Readings, dict[str, Texts]] | None:
    """The readings of one measure in all tables, and the texts beside them by kind, each in the readings' shape."""
    cells = [_Cells(part, batch, row_of(part, batch)) for part in parts for batch in part.batches.get(measure.name, ())]
    if not cells:
        return None
    cells = _numbered(measure, cells, problems)
    rows = parts[0].rows
    readings = assemble(measure, [one.batch for one in cells], rows, problems)
    kinds = dict.fromkeys(name for one in cells for name in one.part.beside)
    return readings, {name: _texts_beside(name, cells, readings) for name in kinds}


def _numbered(measure: Measure, cells: Sequence[_Cells], problems: list[Problem]) -> list[_Cells]:
    """The cells with the repeats that they are: those of a product are numbered in the order of tables, rows and columns."""
    _settle_long_duplicates(measure, cells, problems)
    products = np.concatenate([one.batch.products for one in cells])
    stated = np.concatenate([one.batch.repeats for one in cells])
    counted = np.concatenate([one.batch.parsed.said() for one in cells])
    ids = {id(part): number for number, part in enumerate(dict.fromkeys(one.part for one in cells))}
    table = np.concatenate([np.full(len(one.rows), ids[id(one.part)]) for one in cells])
    row = np.concatenate([one.rows for one in cells])
    repeats = numbered_through(StatedRepeats(products, stated, counted, (table, row)))
    ends = np.cumsum([len(one.rows) for one in cells])[:-1]
    split = np.split(repeats, ends)
    return [replace(one, batch=replace(one.batch, repeats=own)) for one, own in zip(cells, split, strict=True)]


def _settle_long_duplicates(measure: Measure, cells: Iterable[_Cells], problems: list[Problem]) -> None:
    """What a second reading of one repeat means in a long table, in one session and of one specimen."""
    by_part: dict[Part, list[_Cells]] = {}
    for one in cells:
        if one.part.roles.long and "repeat" in one.part.roles.long:
            by_part.setdefault(one.part, []).append(one)
    for part, own in by_part.items():
        rows = np.concatenate([one.rows for one in own])
        stated = np.concatenate([one.batch.repeats for one in own])
        order = np.argsort(rows, kind="stable")
        rows, stated = rows[order], stated[order]
        held = (part.rows.codes[rows] >= 0) & (stated >= 0)
        rows, stated = rows[held], stated[held]
        keys = _told_apart(part, part.rows.codes[rows] * (int(stated.max(initial=0)) + 1) + stated, rows)
        nth = occurrences(keys)
        rule = part.raw.table.duplicates.value
        if rule == "specimens":
            texts = part.beside.setdefault("specimen", np.full(len(part.rows.codes), "", dtype=object))
            texts[rows] = [str(number + 1) for number in nth.tolist()]
        elif rule == "fault":
            told = "".join(f", a {name}" for name in CONDITIONS if name in part.beside)
            expected = f"one reading for a product, a measure{told} and a repeat"
            for row, repeat in zip(rows[nth > 0].tolist(), stated[nth > 0].tolist(), strict=True):
                place = part.raw.sheet.place_at(row, part.roles.long["repeat"])
                product = part.rows.products[part.rows.codes[row]]
                found = f"a second reading of repeat {repeat + 1} of {shown(product)}, `{measure.name}`"
                hint = "In the recipe, `duplicates: repeats` takes it as a further repeat; or name the column of `sessions`."
                problems.append(Problem(place, found, expected, hint))


def _texts_beside(name: str, cells: Sequence[_Cells], readings: Readings) -> Texts:
    """One kind of text beside the readings of a measure, in their shape."""
    texts = np.full(readings.values.shape, "", dtype=object)
    for one in cells:
        beside = one.part.beside.get(name)
        placed = (one.batch.products >= 0) & (one.batch.repeats >= 0)
        placed &= one.batch.repeats < readings.values.shape[1]
        if beside is not None:
            texts[one.batch.products[placed], one.batch.repeats[placed]] = beside[one.rows[placed]]
    texts.setflags(write=False)
    return texts


def join_attributes(parts: Sequence[Part], form: Form, problems: list[Problem]) -> dict[str, tuple[str, ...]]:
    """The attributes of every product; tables that state one must agree. The session too, of tables without readings."""
    merged: dict[str, tuple[str, ...]] = {}
    declared = dict(form.attributes_by_name)
    for part in parts:
        for name in _of_products(part, declared):
            texts = read_attribute(part.rows, name, declared.get(name) or _plain(name), problems)
            merged[name] = _agreeing(merged.get(name), texts, part, name, problems)
    n_products = len(parts[0].rows.products) if parts else 0
    return dict.fromkeys(declared, ("",) * n_products) | merged


def _plain(name: str) -> Attribute:
    """A word about a product that the formula does not declare: its session."""
    from_recipe = Place("the recipe")
    return Attribute(name, name, place=from_recipe)


def _of_products(part: Part, declared: Mapping[str, Attribute]) -> list[str]:
    """The columns of a table that say something of products, and not of single readings."""
    named = list(part.roles.attributes)
    if SESSION in part.roles.beside and not part.holds_readings:
        named.append(SESSION)
    elif SESSION in part.roles.beside and SESSION in declared:
        named += [] if _differs(part.rows, part.beside[SESSION]) else [SESSION]
    return [name for name in dict.fromkeys(named) if name in part.rows.sheet.header]


def _differs(rows: ProductRows, texts: Texts) -> bool:
    """Whether the rows of one product stand under two words, of shape (n_rows,)."""
    pairs = {pair for pair in zip(rows.codes.tolist(), texts.tolist(), strict=True) if pair[1]}
    return len(pairs) > len({code for code, _ in pairs})


def _agreeing(
    before: tuple[str, ...] | None, texts: tuple[str, ...], part: Part, name: str, problems: list[Problem]
) -> tuple[str, ...]:
    """What two tables say of products together; where they differ, a problem."""
    if before is None:
        return texts
    sheet = part.rows.sheet
    for number, (one, other) in enumerate(zip(before, texts, strict=True)):
        if one and other and one != other:
            row = int(np.argmax(part.rows.codes == number))
            found = f"the {name} `{other}` of `{part.rows.products[number]}`, which is `{one}` in a table before"
            problems.append(Problem(sheet.place(row, name), found, "one word a product"))
    return tuple(one or other for one, other in zip(before, texts, strict=True))
