"""One catalogue's readings for the products of another: what two editions of a catalogue are compared by."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from scoring.catalogue.catalogue import Catalogue
from scoring.catalogue.conditions_of_reading import sessions_of_products
from scoring.catalogue.readings import Readings, State


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
    own = np.array([here.get(name, -1) for name in products], np.intp)
    other = np.array([there[name] if name not in here else -1 for name in products], np.intp)
    measures = dict.fromkeys((*first.readings, *second.readings))
    readings = {name: _joined(first.readings.get(name), second.readings.get(name), own, other) for name in measures}
    words = {
        name: tuple(
            first.attributes.get(name, empty)[here[product]]
            if product in here
            else second.attributes.get(name, also_empty)[there[product]]
            for product in products
        )
        for name in dict.fromkeys((*first.attributes, *second.attributes))
        for empty, also_empty in [(("",) * len(first.products), ("",) * len(second.products))]
    }
    both = (first, own), (second, other)
    kept = dict.fromkeys((*first.extras, *second.extras))
    extras = {
        key: {name: _texts(key, name, both, held.values.shape) for name, held in readings.items()} for key in kept
    }
    found = Catalogue(first.source, tuple(products), words, readings, first.sha256, extras=extras)
    sessions = [""] * len(products)
    for catalogue, index in both:
        named = sessions_of_products(catalogue)
        for new, old in enumerate(index.tolist()):
            sessions[new] = named[old] if old >= 0 else sessions[new]
    return replace(found, product_sessions=tuple(sessions)) if any(sessions) else found


def _texts(
    key: str, measure: str, both: Sequence[tuple[Catalogue, NDArray[np.intp]]], shape: tuple[int, ...]
) -> NDArray[np.object_]:
    """One kind of text beside every reading of a measure, "" where the catalogue that a product is of says nothing."""
    texts = np.full(shape, "", dtype=object)
    for catalogue, index in both:
        given = catalogue.extras.get(key, {}).get(measure)
        if given is not None:
            at = index >= 0
            texts[at, : given.shape[1]] = given[index[at]]
    texts.setflags(write=False)
    return texts


def _joined(
    first: Readings | None, second: Readings | None, own: NDArray[np.intp], other: NDArray[np.intp]
) -> Readings:
    given = [one for one in (first, second) if one is not None]
    n_repeats = max(one.values.shape[1] for one in given)
    shape = (len(own), n_repeats)
    values, written = np.full(shape, np.nan), np.full(shape, np.nan)
    states, marks = np.full(shape, State.NONE, np.uint8), np.full(shape, State.NONE, np.uint8)
    rows = np.zeros(shape, np.int64)
    reasons: dict[tuple[int, int], str] = {}
    for source, index in ((first, own), (second, other)):
        if source is None:
            continue
        at, width = index >= 0, source.values.shape[1]
        values[at, :width], written[at, :width] = source.values[index[at]], source.written[index[at]]
        states[at, :width], marks[at, :width] = source.states[index[at]], source.marks[index[at]]
        rows[at, :width] = source.rows[index[at]]
        back = {int(old): new for new, old in enumerate(index.tolist()) if old >= 0}
        reasons |= {(back[p], r): why for (p, r), why in source.reasons.items() if p in back}
    widest = max(given, key=lambda one: one.values.shape[1])
    return Readings(values, states, reasons, written, marks, rows, widest.columns, given[0].source)
