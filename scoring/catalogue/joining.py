"""One catalogue's readings for the products of another: what two editions of a catalogue are compared by."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from scoring.catalogue.as_read import AsReadCells
from scoring.catalogue.catalogue import Catalogue
from scoring.catalogue.conditions_of_reading import sessions_of_products
from scoring.catalogue.readings import Readings, State
from scoring.numbers.array_types import Indices, Texts


@dataclass(frozen=True, slots=True, eq=False)
class _Part:
    """What one catalogue gives to the joined one: `index`, shape (n_joined,), is the row there of each product, -1 for none."""

    catalogue: Catalogue
    index: Indices


def for_products(first: Catalogue, second: Catalogue, products: Sequence[str]) -> Catalogue:
    """The readings of some products: from `first` where it has the product, else from `second`.

    Raises
    ------
    KeyError : a product that neither has

    Notes
    -----
    Sessions, specimens and the other extras come along. A session's name means one session in both catalogues, for they are
    two editions of one. The hash is that of `first`.
    """
    here = {name: index for index, name in enumerate(first.products)}
    there = {name: index for index, name in enumerate(second.products)}
    own = [here.get(name, -1) for name in products]
    other = [-1 if name in here else there[name] for name in products]
    parts = _Part(first, np.array(own, np.intp)), _Part(second, np.array(other, np.intp))
    measures = dict.fromkeys((*first.readings, *second.readings))
    readings = {measure: _joined(measure, parts) for measure in measures}
    attributes = {
        name: _words([one.catalogue.attributes.get(name, ()) for one in parts], parts)
        for name in dict.fromkeys((*first.attributes, *second.attributes))
    }
    extras = {
        key: {measure: _texts(key, measure, parts, held.values.shape) for measure, held in readings.items()}
        for key in dict.fromkeys((*first.extras, *second.extras))
    }
    sessions = _words([sessions_of_products(one.catalogue) for one in parts], parts)
    return Catalogue(
        first.source,
        tuple(products),
        attributes,
        readings,
        first.sha256,
        extras=extras,
        product_sessions=sessions if any(sessions) else (),
        roles=first.roles,
    )


def _words(said: Sequence[Sequence[str]], parts: Sequence[_Part]) -> tuple[str, ...]:
    """A word for every product, from the catalogue that it is of; "" where that says none."""
    words = [""] * len(parts[0].index)
    for texts, part in zip(said, parts, strict=True):
        for new, old in enumerate(part.index.tolist()):
            if old >= 0 and texts:
                words[new] = texts[old]
    return tuple(words)


def _texts(key: str, measure: str, parts: Sequence[_Part], shape: tuple[int, ...]) -> Texts:
    """One kind of text beside every reading of a measure, "" where the catalogue that a product is of says nothing.

    Returns
    -------
    ndarray of `shape`, (n_joined, n_repeats)
    """
    texts = np.full(shape, "", dtype=object)
    for part in parts:
        given = part.catalogue.extras.get(key, {}).get(measure)
        if given is not None:
            at = part.index >= 0
            texts[at, : given.shape[1]] = given[part.index[at]]
    texts.setflags(write=False)
    return texts


def _joined(measure: str, parts: Sequence[_Part]) -> Readings:
    """The readings of one measure, which at least one of the catalogues has; as wide as the widest."""
    given = [(part.catalogue.readings[measure], part.index) for part in parts if measure in part.catalogue.readings]
    widest = max((source for source, _ in given), key=lambda one: one.values.shape[1])
    shape = (len(parts[0].index), widest.values.shape[1])
    values, written = np.full(shape, np.nan), np.full(shape, np.nan)
    states, marks = np.full(shape, State.NONE, np.uint8), np.full(shape, State.NONE, np.uint8)
    rows = np.zeros(shape, np.int64)
    reasons: dict[tuple[int, int], str] = {}
    as_read = AsReadCells(shape)
    for source, index in given:
        at, width = index >= 0, source.values.shape[1]
        values[at, :width], written[at, :width] = source.values[index[at]], source.written[index[at]]
        states[at, :width], marks[at, :width] = source.states[index[at]], source.marks[index[at]]
        rows[at, :width] = source.rows[index[at]]
        as_read.take(source.as_read, index[at], at)
        back = {old: new for new, old in enumerate(index.tolist()) if old >= 0}
        reasons |= {
            (back[product], repeat): why for (product, repeat), why in source.reasons.items() if product in back
        }
    columns, file = widest.columns, given[0][0].source
    return Readings(values, states, reasons, written, marks, rows, columns, file, as_read.gathered())
