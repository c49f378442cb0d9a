"""Places within classes in two editions: who changes place among their own kind, and whose first place passes on."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from analysis.wording import counted, some
from scoring.numbers.array_types import Array, Flags
from scoring.table.classes import InClass, in_class_figures

#: So many classes and products are named in a sentence.
NAMED = 6


def of_products(within: InClass | None, index: Sequence[int]) -> InClass | None:
    """The places within classes of some products, by their rows in a catalogue; -1 for one that is not in it."""
    if within is None:
        return None

    def taken(figures: Array) -> Array:
        return np.array([figures[row] if row >= 0 else np.nan for row in index])

    words = tuple(within.classes.words[row] if row >= 0 else "" for row in index)
    return InClass(replace(within.classes, words=words), taken(within.place), taken(within.of))


def figures_in_words(within: InClass | None, products: int) -> list[str]:
    """Each product's place within its class, `1/11`; "" where none are counted."""
    if within is None:
        return [""] * products
    rows = zip(within.place.tolist(), within.of.tolist(), within.classes.words, strict=True)
    return [in_class_figures(*row) for row in rows]


def changed_within(old: InClass | None, new: InClass | None) -> Flags | None:
    """Which products have another place within a class, or are of another one, shape (products,).

    None where either edition counts none, or they count by different attributes.
    """
    if old is None or new is None or old.classes.attribute != new.classes.attribute:
        return None
    places = np.nan_to_num(old.place) != np.nan_to_num(new.place)
    words = np.array([a != b for a, b in zip(old.classes.words, new.classes.words, strict=True)], bool)
    return np.asarray(places | (words & ~np.isnan(new.place)))


def class_sentence(products: Sequence[str], old: InClass | None, new: InClass | None) -> Iterator[str]:
    """How many change place within their class, and whose first place passes on; nothing where classes are not compared."""
    changed = changed_within(old, new)
    if changed is None or old is None or new is None:
        return
    label = new.classes.label
    passed = [
        f"{word} from {some(before, NAMED) or 'nobody'} to {some(now, NAMED) or 'nobody'}"
        for word, before, now in _firsts(products, old, new)
        if before != now
    ]
    said = f"Within each {label}, {counted(int(changed.sum()), 'product')} of {len(products)} stand at another place"
    yield (
        f"{said}; the first place passes on in {some(passed, NAMED)}."
        if passed
        else f"{said}; every first place stays."
    )


def first_no_longer(products: Sequence[str], old: InClass | None, new: InClass | None) -> Iterator[str]:
    """What was printed of the first of a class and holds no longer."""
    if changed_within(old, new) is None or old is None or new is None:
        return
    for row in np.flatnonzero(old.first).tolist():
        word = old.classes.words[row]
        if not new.first[row] or new.classes.words[row] != word:
            yield f"{products[row]} as first in {old.classes.label} {word}"


def _firsts(products: Sequence[str], old: InClass, new: InClass) -> Iterator[tuple[str, list[str], list[str]]]:
    """Each class with who was first in it and who is; alone in it counts as first here, for somebody may have left."""
    words = sorted({*old.classes.words, *new.classes.words} - {""})
    for word in words:
        ends = []
        for one in (old, new):
            own = np.array([each == word for each in one.classes.words], bool)
            place = np.where(own, one.place, np.nan)
            best = np.nanmin(place) if (~np.isnan(place)).any() else np.nan
            ends.append([products[row] for row in np.flatnonzero(place == best).tolist()])
        yield word, ends[0], ends[1]
