"""Places within classes: a form may name an attribute whose words are classes, each a table of its own beside the whole."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from scoring.catalogue import Catalogue
from scoring.form import Form, Output
from scoring.numbers.array_types import Array, Flags, Indices
from scoring.table.selection import words_of

#: What is said of a product that nobody of its class can be compared with, and of one without a class.
ALONE, CLASSLESS = "alone in its class", "no class stated"


@dataclass(frozen=True, slots=True, eq=False)
class Classes:
    """The classes of a catalogue's products.

    attribute: whose words they are; label: its name in print; words: of each product, "" for one that states none
    """

    attribute: str
    label: str
    words: tuple[str, ...]

    def members(self) -> Iterator[tuple[str, Indices]]:
        """Each class that some product states, by the alphabet, with its products, shape (members,)."""
        if not self.words:
            return
        names, codes = np.unique(np.array(self.words), return_inverse=True)
        order = np.argsort(codes, kind="stable")
        ends = np.cumsum(np.bincount(codes, minlength=len(names)))[:-1]
        for name, rows in zip(names.tolist(), np.split(order, ends), strict=True):
            if name:
                yield name, rows


@dataclass(frozen=True, slots=True, eq=False)
class InClass:
    """Places of one rating or score within classes, arrays of shape (products,); NaN where a product has none, or no class.

    classes: which there are; place: 1 for the best of the class; of: how many of its class have a place
    """

    classes: Classes
    place: Array
    of: Array

    @property
    def first(self) -> Flags:
        """Who holds the best place among two or more, shape (products,); who is alone is first of nobody."""
        return np.asarray((self.place < 2) & (self.of > 1))

    def in_words(self, product: int) -> str:
        """The same for a sentence: `first of 11 in class hybrid`; "" without a place."""
        text, word = self.text(product), self.classes.words[product]
        return f"{text} in {self.classes.label} {word}" if word and self.of[product] > 1 else text

    def text(self, product: int) -> str:
        """A product's place in words."""
        return in_class_text(self.place[product], self.of[product], self.classes.words[product])


def classes_of(form: Form, output: Output, catalogue: Catalogue) -> Classes | None:
    """The classes that places of a rating or score are counted within; None where none are."""
    name = output.ranks.classes
    if not name:
        return None
    attribute = form.attributes_by_name.get(name)
    label = attribute.label if attribute is not None else name
    return Classes(name, label, words_of(catalogue, name))


def places_within(classes: Classes, values: Array, places: Callable[[Array], Array]) -> InClass:
    """The places of values within each class.

    Parameters
    ----------
    values : what is ranked, shape (products,), NaN for none
    places : the places of some of them, shape (n,) to shape (n,)
    """
    place, of = np.full(values.shape, np.nan), np.full(values.shape, np.nan)
    for _, rows in classes.members():
        place[rows] = places(values[rows])
        of[rows] = np.where(np.isnan(place[rows]), np.nan, (~np.isnan(place[rows])).sum())
    return InClass(classes, place, of)


def in_class_text(place: float, of: float, word: str) -> str:
    """A place within a class in words: `first of 11`, `2 of 11`, or why there is none; "" where the status says it.

    Examples
    --------
    >>> [in_class_text(1.0, 11.0, "hybrid"), in_class_text(2.5, 11.0, "hybrid"), in_class_text(1.0, 1.0, "hybrid")]
    ['first of 11', '2.5 of 11', 'alone in its class']
    >>> [in_class_text(float("nan"), float("nan"), ""), in_class_text(float("nan"), float("nan"), "hybrid")]
    ['no class stated', '']
    """
    if not word:
        return CLASSLESS
    if np.isnan(place):
        return ""
    if of == 1:
        return ALONE
    return f"first of {of:g}" if place == 1 else f"{place:g} of {of:g}"


def in_class_figures(place: float, of: float, word: str) -> str:
    """The same where there is little room: `1/11`, `alone`, `–` without a class.

    Examples
    --------
    >>> [in_class_figures(1.0, 11.0, "hybrid"), in_class_figures(1.0, 1.0, "hybrid"), in_class_figures(float("nan"), 0.0, "")]
    ['1/11', 'alone', '–']
    """
    if not word:
        return "–"
    if np.isnan(place):
        return ""
    return "alone" if of == 1 else f"{place:g}/{of:g}"
