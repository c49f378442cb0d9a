"""Repeats in a long table: which of the readings of its product and measure each row is."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

import numpy as np

from scoring.catalogue.cells import shown, texts_of
from scoring.catalogue.product_columns import ProductRows
from scoring.catalogue.sheets import Sheet
from scoring.errors import Problem
from scoring.numbers.array_types import Flags, Indices
from scoring.texts.file_limits import REPEATS

#: Columns within whose words repeats may be numbered anew.
CONDITIONS = ("session", "specimen")


def repeat_indices(rows: ProductRows, measures: Indices, problems: list[Problem]) -> Indices:
    """The repeat of each row, from 0; -1 where it is faulty. Two readings of one repeat are a problem.

    Without a `repeat` column, the readings of a product are numbered in order. So are those of a product and measure whose
    repeats are numbered anew in each session or specimen: what tells them apart then is all three.

    Parameters
    ----------
    measures : shape (n_rows,), the number of each row's measure, -1 for none of the form

    Returns
    -------
    ndarray, shape (n_rows,)
    """
    of = np.flatnonzero((rows.codes >= 0) & (measures >= 0))
    keys = rows.codes[of] * (int(measures.max(initial=0)) + 1) + measures[of]
    numbering = _Numbering(rows, np.full(len(rows.codes), -1, dtype=np.intp), problems)
    if "repeat" not in rows.sheet.header:
        numbering.number(of, keys)
        return numbering.repeats
    numbering.read(np.flatnonzero(measures >= 0))
    numbered = numbering.repeats[of] >= 0
    of, keys = of[numbered], keys[numbered]
    numbering.refuse_seconds(of, keys)
    numbering.number_through(of, keys)
    return numbering.repeats


@dataclass(frozen=True, slots=True, eq=False)
class StatedRepeats:
    """The cells of one measure with the repeats that they state, all of shape (n_cells,).

    products : of which product each is, counted from 0; -1 for none
    stated : the repeat that each states, from 0; -1 where it states none
    counted : which take a number where repeats are numbered; the others are then no repeats, save the first of a product that has
        no other
    order : by what they are ordered, the foremost first, and before the repeats that they state
    """

    products: Indices
    stated: Indices
    counted: Flags
    order: tuple[Indices, ...]


def stated_repeats(rows: ProductRows, measures: Indices, problems: list[Problem]) -> Indices:
    """The repeat that each row states, from 0; -1 where it states none, or a faulty one, which is a problem.

    Parameters
    ----------
    measures : shape (n_rows,), as in `repeat_indices`

    Returns
    -------
    ndarray, shape (n_rows,)
    """
    numbering = _Numbering(rows, np.full(len(rows.codes), -1, dtype=np.intp), problems)
    if "repeat" in rows.sheet.header:
        numbering.read(np.flatnonzero(measures >= 0))
    return numbering.repeats


def occurrences(keys: Indices) -> Indices:
    """Which of the rows with its key each row is, in their order, from 0; both of shape (n_rows,)."""
    order, first = _grouped(_dense(keys))
    counts = np.empty(len(keys), dtype=np.intp)
    counts[order] = np.arange(len(keys)) - first
    return counts


def numbered_through(cells: StatedRepeats) -> Indices:
    """Repeats as they are stated where that tells those of a product apart, else numbered in their order; -1 for none.

    Returns
    -------
    ndarray, shape (n_cells,)
    """
    products, stated = cells.products, cells.stated
    repeats = np.where(products >= 0, stated, -1)
    held = np.flatnonzero(products >= 0)
    keys = _dense(products[held] * (REPEATS + 1) + stated[held] + 1)
    again = (np.bincount(keys) > 1)[keys] | (stated[held] < 0)
    if not again.any():
        return repeats
    anew = np.zeros(int(products.max()) + 1, dtype=bool)
    anew[products[held[again]]] = True
    ordered = np.lexsort((stated, *reversed(cells.order)))
    rows = ordered[(products[ordered] >= 0) & anew[products[ordered]]]
    any_counted = np.zeros(len(anew), dtype=bool)
    any_counted[products[rows[cells.counted[rows]]]] = True
    first = occurrences(products[rows]) == 0
    taken = cells.counted[rows] | (first & ~any_counted[products[rows]])
    repeats[rows] = -1
    repeats[rows[taken]] = occurrences(products[rows[taken]])
    return repeats


@dataclass(slots=True, eq=False)
class _Numbering:
    """The repeats of a long table in the making.

    `repeats` has the shape (n_rows,). Methods take some rows by number, and a key for each, the same for rows of one product and
    measure; both of shape (n_taken,).
    """

    rows: ProductRows
    repeats: Indices
    problems: list[Problem] = field(repr=False)

    @property
    def sheet(self) -> Sheet:
        return self.rows.sheet

    def read(self, rows: Indices) -> None:
        """The repeats that some rows, of shape (n_taken,), state; faulty ones stay at -1."""
        texts = texts_of(self.sheet.column("repeat")[rows])
        numbers = {text: int(text) - 1 if re.fullmatch(r"[0-9]{1,4}", text) else -1 for text in set(texts)}
        numbers = {text: number if number < REPEATS else -1 for text, number in numbers.items()}
        self.repeats[rows] = [numbers[text] for text in texts]
        for i in np.flatnonzero(self.repeats[rows] < 0).tolist():
            found, expected = f"the repeat {shown(texts[i])}", f"a whole number from 1 to {REPEATS}"
            self.problems.append(Problem(self.sheet.place(int(rows[i]), "repeat"), found, expected))

    def number(self, rows: Indices, keys: Indices) -> None:
        """Number rows of one key in their order; keys as in the class, of shape (n_taken,)."""
        order, first = _grouped(keys)
        self.repeats[rows[order]] = np.arange(len(rows)) - first
        for row in np.flatnonzero(self.repeats == REPEATS).tolist():
            found = f"more than {REPEATS} readings of one measure and product"
            self.problems.append(Problem(self.sheet.place(row, "measure"), found, "fewer"))
        self.repeats[self.repeats >= REPEATS] = -1

    def refuse_seconds(self, rows: Indices, keys: Indices) -> None:
        """Two readings of one repeat, in one session and specimen, are a problem; the second one's repeat becomes -1.

        Both arrays have the shape (n_taken,).
        """
        told_apart = [name for name in CONDITIONS if name in self.sheet.header and name != self.rows.column]
        for name in told_apart:
            texts = texts_of(self.sheet.column(name)[rows])
            numbers = {text: number for number, text in enumerate(dict.fromkeys(texts))}
            keys = _dense(keys) * len(numbers) + np.array([numbers[text] for text in texts], dtype=np.intp)
        order, first = _grouped(_dense(keys) * REPEATS + self.repeats[rows])
        expected = f"one reading for a product, a measure{''.join(f', a {name}' for name in told_apart)} and a repeat"
        hint = "Repeats that are numbered anew in each session or specimen need a column that names it."
        seconds = np.flatnonzero(first != np.arange(len(rows)))
        for position in seconds.tolist():
            row, other = int(rows[order[position]]), int(rows[order[first[position]]])
            found = f"a second reading of repeat {self.repeats[row] + 1}, after row {self.sheet.lines[other]}"
            place = self.sheet.place(row, "repeat")
            self.problems.append(Problem(place, found, expected, "" if told_apart else hint))
        self.repeats[rows[order[seconds]]] = -1

    def number_through(self, rows: Indices, keys: Indices) -> None:
        """Number the rows of a key in their order where one repeat stands there more than once; both of shape (n_taken,)."""
        sound = self.repeats[rows] >= 0
        rows, keys = rows[sound], keys[sound]
        order, first = _grouped(keys * REPEATS + self.repeats[rows])
        again = np.unique(keys[order[first != np.arange(len(rows))]])
        twice = np.isin(keys, again)
        self.number(rows[twice], keys[twice])


def _dense(keys: Indices) -> Indices:
    """Keys, of shape (n_taken,), numbered from 0 on, so that what is made of them never outgrows a whole number."""
    return np.unique(keys, return_inverse=True)[1].astype(np.intp)


def _grouped(keys: Indices) -> tuple[Indices, Indices]:
    """Rows in the order of their keys, and for each of them the position at which its key begins; all of shape (n_taken,)."""
    order = np.argsort(keys, kind="stable")
    begins = np.ones(len(keys), dtype=bool)
    begins[1:] = keys[order][1:] != keys[order][:-1]
    return order, np.maximum.accumulate(np.where(begins, np.arange(len(keys)), 0))
