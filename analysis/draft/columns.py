"""What the columns of a catalogue say: which names the products, which hold readings, in what unit, with how many repeats."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from scoring.catalogue.cells import parse_cells, text_of, texts_of
from scoring.catalogue.column_names import ID_COLUMNS, read_column_name
from scoring.catalogue.files import read_files
from scoring.catalogue.long import COLUMNS as LONG_COLUMNS
from scoring.catalogue.long import is_long
from scoring.catalogue.product_columns import SESSION
from scoring.catalogue.readings import State
from scoring.catalogue.sheet_file import read_sheet
from scoring.catalogue.sheets import Sheet
from scoring.errors import CatalogueError, Place, Problem
from scoring.expression import LARGEST_NUMBER
from scoring.units.in_name import words_and_unit

#: Words that head a column of products' names, the likeliest first.
NAMES_OF_PRODUCTS = ("product", "id", "model", "item", "article", "specimen", "sample", "code", "name", "bed")


@dataclass(frozen=True, slots=True, eq=False)
class MeasuredColumn:
    """One measure of a catalogue: `column` as the file has it; `values` are every reading; `faults`, cells that are none.

    `stated`: its unit stands in the catalogue's own way, in square brackets or in a column of units; else it was read out of
    the name's words. `by_recipe`: a recipe says which column it is. `limits`: those that readings lie below. `odd`: readings
    that look like slips, with `why_odd`, and `look`: what is to be looked at in its unit.
    `is_corrected`: a recipe offers to correct what is odd.
    """

    column: str
    words: str
    unit: str
    stated: bool
    values: NDArray[np.float64]
    repeats: int
    below: int
    faults: int
    by_recipe: bool = False
    is_price: bool = False
    limits: tuple[float, ...] = ()
    odd: tuple[float, ...] = ()
    why_odd: str = ""
    look: str = ""
    is_corrected: bool = False


@dataclass(frozen=True, slots=True)
class CatalogueColumns:
    """What there is to write a formula about; `products` names the column of ids, `by_rule` if by the catalogue's own rule.

    `attributes`: those that are published, each with its name, what it is declared as, and what the guess rests on.
    """

    products: str
    by_rule: bool
    measures: tuple[MeasuredColumn, ...]
    words: tuple[str, ...]
    attributes: tuple[tuple[str, str, str], ...] = ()


def read_columns(path: Path) -> CatalogueColumns:
    """Look at a catalogue without a formula.

    Raises
    ------
    CatalogueError : the files cannot be read, nothing names the products, or no column holds numbers
    """
    problems: list[Problem] = []
    files = read_files(path, problems)
    sheet = read_sheet(files["readings"].content, files["readings"].source, problems) if "readings" in files else None
    if sheet is None or problems:
        raise CatalogueError(problems)
    products = products_column(sheet)
    if products is None:
        expected = "one whose cells are all different: the products' ids"
        raise CatalogueError(
            [Problem(Place(sheet.source, sheet.header_line), "no column that names products", expected)]
        )
    unsound = [text for text in sheet.header if not read_column_name(text).is_sound]
    if unsound and not is_long(sheet.header):
        expected = "`name`, `name [unit]` or `name [unit] #2`, and nothing behind"
        hint = "Repeats are numbered `#1`, `#2` behind the unit; other words stand before it."
        raise CatalogueError([Problem(sheet.place(None, text), "a column's name", expected, hint) for text in unsound])
    measures, words = _long(sheet) if is_long(sheet.header) else _wide(sheet, products)
    if not measures:
        raise CatalogueError([Problem(Place(sheet.source), "no column of numbers", "one column of readings or more")])
    refuse_huge(measures, sheet.source)
    return CatalogueColumns(products, products in ID_COLUMNS, measures, words)


def refuse_huge(measures: Sequence[MeasuredColumn], source: str) -> None:
    """Refuse readings that no number of a formula can be as large as.

    Raises
    ------
    CatalogueError
    """
    huge = [column for column in measures if np.abs(column.values).max(initial=0.0) > LARGEST_NUMBER]
    if huge:
        expected, hint = f"at most {LARGEST_NUMBER:g}, as in a formula", "State them in a larger unit."
        raise CatalogueError(
            Problem(
                Place(source, column_name=column.column),
                f"readings up to {np.abs(column.values).max():g}",
                expected,
                hint,
            )
            for column in huge
        )


def products_column(sheet: Sheet) -> str | None:
    """The column of the products: called so by the rule, or by a likely word, or the first whose cells all differ."""
    by_rule = [name for name in sheet.header if name in ID_COLUMNS]
    if by_rule or is_long(sheet.header):
        others = tuple(name for name in sheet.header if name not in LONG_COLUMNS)
        return by_rule[0] if by_rule else _likely(others) or _likely(sheet.header)
    different = [name for name in sheet.header if _all_different(texts_of(sheet.column(name)))]
    texts = [name for name in different if not _is_measured(sheet.column(name))]
    return _likely(different) or next(iter(texts or different), None)


def _likely(names: list[str] | tuple[str, ...]) -> str | None:
    for word in NAMES_OF_PRODUCTS:
        for name in names:
            if word in re.split(r"[\W_]+", name.casefold()):
                return name
    return None


def _all_different(texts: list[str]) -> bool:
    return all(texts) and len(set(texts)) == len(texts)


def _is_measured(cells: NDArray[np.object_]) -> bool:
    """Whether most of a column's cells that are not empty are readings."""
    written = [cell for cell in cells.tolist() if text_of(cell)]
    parsed = parse_cells(cells)
    read = int(np.count_nonzero(parsed.states <= State.BELOW))
    return read > 0 and 2 * read >= len(written)


def _wide(sheet: Sheet, products: str) -> tuple[tuple[MeasuredColumn, ...], tuple[str, ...]]:
    groups: dict[str, list[str]] = {}
    words = []
    for text in sheet.header:
        if text == products:
            continue
        if text != SESSION and _is_measured(sheet.column(text)):
            groups.setdefault(read_column_name(text).name, []).append(text)
        else:
            words.append(text)
    measures = []
    for name, texts in groups.items():
        units = [read_column_name(text).unit for text in texts]
        cells = np.concatenate([sheet.column(text) for text in texts])
        measures.append(_measured(name, units, cells, len(texts)))
    return tuple(measures), tuple(words)


def _long(sheet: Sheet) -> tuple[tuple[MeasuredColumn, ...], tuple[str, ...]]:
    names = np.array(texts_of(sheet.column("measure")), dtype=object)
    units = texts_of(sheet.column("unit")) if "unit" in sheet.header else [""] * len(names)
    repeats = texts_of(sheet.column("repeat")) if "repeat" in sheet.header else ["1"] * len(names)
    measures = []
    for name in dict.fromkeys(names.tolist()):
        rows = np.flatnonzero(names == name)
        stated = [units[row] or None for row in rows.tolist()]
        n_repeats = len({repeats[row] for row in rows.tolist()})
        measures.append(_measured(name, stated, sheet.column("value")[rows], n_repeats))
    return tuple(measures), ()


def _measured(name: str, units: list[str | None], cells: NDArray[np.object_], repeats: int) -> MeasuredColumn:
    parsed = parse_cells(cells)
    stated = Counter(unit for unit in units if unit)
    words, beside = words_and_unit(name)
    unit = stated.most_common(1)[0][0] if stated else beside
    return MeasuredColumn(
        column=name,
        words=name if stated else words,
        unit=unit,
        stated=bool(stated),
        values=parsed.numbers[parsed.states == State.VALUE],
        repeats=repeats,
        below=int(np.count_nonzero(parsed.states == State.BELOW)),
        faults=len(parsed.faults),
        limits=tuple(parsed.numbers[(parsed.states == State.BELOW) & np.isfinite(parsed.numbers)].tolist()),
    )
