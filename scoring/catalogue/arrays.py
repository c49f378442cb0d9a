"""A catalogue of arrays: what a program holds already, and no file says."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from scoring.catalogue.catalogue import Catalogue
from scoring.catalogue.readings import Readings, State
from scoring.errors import CatalogueError, Place, Problem
from scoring.numbers.array_types import Array, Texts


def from_arrays(
    products: Sequence[str],
    readings: Mapping[str, ArrayLike],
    attributes: Mapping[str, Sequence[str]] | None = None,
    sessions: Mapping[str, ArrayLike] | None = None,
    specimens: Mapping[str, ArrayLike] | None = None,
) -> Catalogue:
    """A catalogue held in memory; no limit and no plausible range is applied.

    Parameters
    ----------
    products : n_products ids
    readings : measure -> array, shape (n_products,) or (n_products, n_repeats), in the form's unit; NaN is missing
    attributes : name -> n_products texts
    sessions, specimens : measure -> texts, one a product or in the shape of its readings; "" names none

    Raises
    ------
    CatalogueError : an array does not fit the products, a reading is infinite, or a product stands there twice
    """
    place, problems, held = Place("arrays"), list[Problem](), dict[str, Readings]()
    words = {name: tuple(texts) for name, texts in (attributes or {}).items()}
    if len(set(products)) != len(products):
        problems.append(Problem(place, "a product that stands there twice", "every product once"))
    for name, texts in words.items():
        if len(texts) != len(products):
            problems.append(Problem(place, f"{len(texts)} texts of `{name}`", f"{len(products)}"))
    for name, numbers in readings.items():
        values = _one_column_a_repeat(np.array(numbers, dtype=np.float64))
        fault = _fault_of(name, values, len(products))
        if fault is not None:
            problems.append(fault)
        else:
            held[name] = _readings_of(name, values)
    named = {"session": sessions or {}, "specimen": specimens or {}}
    extras = {key: _texts_of(key, of, held, problems) for key, of in named.items() if of}
    if problems:
        raise CatalogueError(problems)
    sha256 = _digest_of(products, words, held, extras)
    return Catalogue("arrays", tuple(products), words, held, sha256, extras=extras)


def _one_column_a_repeat(array: NDArray[Any]) -> NDArray[Any]:
    """An array of shape (n_products,) as (n_products, 1); any other as it is."""
    return array[:, np.newaxis] if array.ndim == 1 else array


def _fault_of(name: str, values: Array, n_products: int) -> Problem | None:
    """Say what keeps an array from being readings, for which it has the shape (n_products, n_repeats)."""
    infinite = int(np.isinf(values).sum())
    if values.ndim == 2 and len(values) == n_products and not infinite:
        return None
    found = f"readings of `{name}` of shape {values.shape}, {infinite} infinite"
    return Problem(Place("arrays"), found, f"({n_products},) or ({n_products}, repeats), finite or NaN")


def _texts_of(
    key: str, named: Mapping[str, ArrayLike], readings: Mapping[str, Readings], problems: list[Problem]
) -> dict[str, Texts]:
    """Texts in the shape of each measure's readings, (n_products, n_repeats)."""
    found: dict[str, Texts] = {}
    for name, texts in named.items():
        given = _one_column_a_repeat(np.array(texts, dtype=object))
        shape = readings[name].values.shape if name in readings else ()
        if given.shape not in (shape, (*shape[:1], 1)):
            place, expected = Place("arrays"), f"{shape[:1]} or {shape}" if shape else "a measure that has readings"
            problems.append(Problem(place, f"the {key}s of `{name}`, of shape {given.shape}", expected))
            continue
        found[name] = np.array(np.broadcast_to(given, shape), dtype=object)
        found[name].setflags(write=False)
    return found


def _readings_of(name: str, values: Array) -> Readings:
    """Readings of which nothing else is said; `values` has the shape (n_products, n_repeats)."""
    states = np.where(np.isnan(values), State.MISSING, State.VALUE).astype(np.uint8)
    rows = np.zeros(values.shape, dtype=np.int64)
    columns = tuple(f"{name} #{repeat + 1}" for repeat in range(values.shape[1]))
    return Readings(values, states, {}, values.copy(), states.copy(), rows, columns, "arrays")


def _digest_of(
    products: Sequence[str],
    attributes: Mapping[str, Sequence[str]],
    readings: Mapping[str, Readings],
    extras: Mapping[str, Mapping[str, Texts]],
) -> str:
    """The SHA-256 of what the arrays hold; those of `extras` have the shape of the readings."""
    held = [repr(tuple(products)), repr(sorted(attributes.items()))]
    held += (f"{name} {one.values.shape} {one.values.tobytes().hex()}" for name, one in sorted(readings.items()))
    held += (f"{key} {name} {of[name].tolist()!r}" for key, of in sorted(extras.items()) for name in sorted(of))
    return hashlib.sha256("\n".join(held).encode()).hexdigest()
