"""Readings of one measure in a row, with numbers for the product, session and specimen that each belongs to."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scoring.numbers.array_types import Array, Flags, Integers, Texts


@dataclass(frozen=True, slots=True, eq=False)
class CodedReadings:
    """Counted readings in a row, less their product's mean, and numbers of what each belongs to.

    values : shape (n_readings,); products, sessions, specimens : the same shape, numbers, -1 where it is not named;
    is_specimen_named : whether any is
    """

    values: Array
    products: Integers
    sessions: Integers
    specimens: Integers
    is_specimen_named: bool

    def where(self, kept: Flags) -> CodedReadings:
        """Those of them that are kept; `kept` has the shape (n_readings,)."""
        codes = self.products[kept], self.sessions[kept], self.specimens[kept]
        return CodedReadings(self.values[kept], *codes, self.is_specimen_named)


def coded_readings(values: Array, sessions: Texts | None, specimens: Texts | None, relative: bool) -> CodedReadings:
    """The readings that are there, each with its numbers.

    values, sessions, specimens : shape (n_products, n_repeats), as in `variance_components`
    """
    held = np.isfinite(values)
    means = np.where(held, values, 0.0).sum(axis=1) / np.maximum(held.sum(axis=1), 1)
    if relative:
        held = held & (means != 0)[:, np.newaxis]
    products = np.nonzero(held)[0]
    sizes = means[products] if relative else np.ones(len(products))
    scaled = (values[held] - means[products]) / sizes
    named = _named(specimens, held)
    names_some = np.zeros(len(values), dtype=np.bool_)
    names_some[products[named >= 0]] = True
    own = codes_of(products, named, (named >= 0) | ~names_some[products])
    return CodedReadings(scaled, products, _named(sessions, held), own, bool((named >= 0).any()))


def _named(texts: Texts | None, held: Flags) -> Integers:
    """A number for each text where a reading is held, shape (n_readings,); -1 for an empty one.

    texts, held : shape (n_products, n_repeats)
    """
    if texts is None:
        return np.full(int(held.sum()), -1, dtype=np.int64)
    words = texts[held].astype(str)
    return codes_of(np.unique(words, return_inverse=True)[1], np.zeros(len(words), dtype=np.int64), words != "")


def codes_of(first: Integers, second: Integers, is_there: Flags | None = None) -> Integers:
    """A number for every pair that occurs, shape (n_readings,) as the pairs, from 0 without gaps; -1 where it is not there."""
    kept = np.ones(len(first), dtype=np.bool_) if is_there is None else is_there
    found = np.full(len(first), -1, dtype=np.int64)
    pairs = np.stack([first[kept], second[kept]])
    found[kept] = np.unique(pairs, axis=1, return_inverse=True)[1].reshape(-1)
    return found


def without_gaps(codes: Integers) -> Integers:
    """The same numbers closed up, from 0, shape (n_readings,)."""
    return np.asarray(np.unique(codes, return_inverse=True)[1].reshape(-1))


def in_two_levels(rows: Integers, levels: Integers, products: Integers) -> tuple[int, Flags]:
    """How many products have a row with two levels, and which readings stand in such a row, shape (n_readings,).

    rows, levels, products : shape (n_readings,), numbered from 0
    """
    pairs = np.unique(np.stack([rows, levels]), axis=1)
    several = np.bincount(pairs[0]) > 1
    return len(np.unique(products[several[rows]])), several[rows]
