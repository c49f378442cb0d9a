"""The catalogue: products, their attributes, and what was read of them.

In which session each reading was taken, and of which specimen, stands beside it in a long table; the session of a whole
product, in a column `session` of a wide one or of the items. `conditions_of_reading` brings the two together.

Words that the formula does not declare as an attribute (notes, who tested) are not read at all: what is not in a
catalogue can be in no publication.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from scoring.catalogue.conditions_of_reading import SHARED
from scoring.catalogue.corrected import CorrectedCell
from scoring.catalogue.frame import catalogue_frame
from scoring.catalogue.in_html import catalogue_html
from scoring.catalogue.product_names import ProductNames, Roles
from scoring.catalogue.readings import SET_ASIDE, Readings, State, as_published
from scoring.errors import CatalogueError, Place, Problem, nearest
from scoring.form import MAKER, NAME, Form
from scoring.numbers.array_types import Texts

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, slots=True, eq=False)
class Catalogue:
    """Products and what was read of them.

    Attributes
    ----------
    source : the path as it was given; "the frame" of a pandas frame, "arrays" of arrays
    products : the ids, in the order of the file
    attributes : name -> a text a product, empty where none is stated; those that the formula declares, each of them
    readings : measure -> its readings; a measure without a column is absent
    sha256 : of the file's bytes; of a folder, of the lines that `sha256sum` prints for its files by name; of a frame, of its
        content as `sheet_frame.digest_of` writes it down, which is the hash of no file
    unused : measures in the file that the formula does not know
    left_out : the names of columns of words in the files that the formula does not declare; their cells are not kept
    extras : "operator", "session", "specimen", "date" -> measure -> texts in the shape of its readings, from a long file
    roles : what the formula that it was read for says of the attributes
    product_sessions : the session of each product as a wide file or the items say, "" where they do not; empty where there is
        no such column
    set_aside : (product, measure, repeat) of every reading that was set aside after reading
    units : measure -> the unit its readings are in; empty for arrays
    corrections : cells that a recipe reads otherwise than they stand
    remarks : sentences on what the reading of it met, such as lines of a recipe that met nothing
    """

    source: str
    products: tuple[str, ...]
    attributes: Mapping[str, tuple[str, ...]]
    readings: Mapping[str, Readings]
    sha256: str
    unused: tuple[str, ...] = ()
    left_out: tuple[str, ...] = ()
    extras: Mapping[str, Mapping[str, Texts]] = field(default_factory=dict)
    set_aside: tuple[tuple[str, str, int], ...] = ()
    units: Mapping[str, str] = field(default_factory=dict)
    product_sessions: tuple[str, ...] = ()
    roles: Roles = field(default_factory=Roles)
    remarks: tuple[str, ...] = ()
    corrections: tuple[CorrectedCell, ...] = ()

    @property
    def published(self) -> Mapping[str, tuple[str, ...]]:
        """The attributes that may be printed."""
        return {name: words for name, words in self.attributes.items() if name not in self.roles.private}

    @property
    def published_corrections(self) -> tuple[CorrectedCell, ...]:
        """The corrections that may be printed: those of attributes that are kept back are not."""
        return tuple(one for one in self.corrections if one.of not in self.roles.private)

    @property
    def product_names(self) -> ProductNames:
        """What the products are called and who made them."""
        return ProductNames(*(self._by_id(name) for name in (self.roles.name, self.roles.maker)))

    def hint_at(self, given: str) -> str:
        """What an id that is not there was likely meant for."""
        return self.product_names.hint(given, self.products)

    def _by_id(self, attribute: str) -> dict[str, str] | None:
        words = self.attributes.get(attribute)
        return None if words is None else dict(zip(self.products, words, strict=True))

    def frame(self) -> pd.DataFrame:
        """A row a reading, index the product ids.

        The columns are measure, repeat, value, unit, flag, reason, session, specimen, which are those of a long file, then
        counts_as, as_read and unit_as_read. `value` is as written, in the formula's unit; `counts_as` is what the
        reporting limit makes of it, NaN for no reading; `as_read` is the number in the cell, in the unit that the table states
        for it. `attrs` holds the unit of each measure.
        """
        return catalogue_frame(self)

    def __repr__(self) -> str:
        return f"<Catalogue {self.source}: {len(self.products)} products, {len(self.readings)} measures>"

    def _repr_html_(self) -> str:
        return catalogue_html(self)


def as_declared(catalogue: Catalogue, form: Form) -> Catalogue:
    """The catalogue with no words but those of attributes that the form declares, in the roles that it gives them: it may have
    been read for another form."""
    roles, declared = roles_of(form), form.attributes_by_name
    if roles == catalogue.roles and declared.keys() >= catalogue.attributes.keys():
        return catalogue
    kept = {name: words for name, words in catalogue.attributes.items() if name in declared}
    return replace(catalogue, attributes=kept, roles=roles)


def with_published_reasons(catalogue: Catalogue, form: Form) -> Catalogue:
    """The catalogue with the reasons for missing readings that a publication may hold."""
    return replace(catalogue, readings={name: as_published(one, form) for name, one in catalogue.readings.items()})


def roles_of(form: Form) -> Roles:
    """What a form says of words about products."""
    shown = {attribute.shown_as: attribute.name for attribute in form.attributes}
    private = frozenset(attribute.name for attribute in form.attributes if not attribute.public)
    return Roles(shown.get(NAME, ""), shown.get(MAKER, ""), private, form.publish_reasons)


def without(catalogue: Catalogue, product: str, measure: str, repeat: int) -> Catalogue:
    """A copy of the catalogue with one reading set aside.

    Parameters
    ----------
    repeat : counts from 1; where repeats are numbered anew in each session or specimen, it is the reading's number in the
        order of the file for the product and measure

    Raises
    ------
    CatalogueError : there is no such reading; names the nearest product or measure, or the repeats that there are
    """
    place = Place(catalogue.source)
    nothing = f"nothing to set aside at {product}, {measure}, repeat {repeat}"
    for name, known, what in ((product, catalogue.products, "product"), (measure, catalogue.readings, "measure")):
        if name not in known:
            expected = f"a {what} of the catalogue"
            hint = catalogue.hint_at(name) if what == "product" else nearest(name, known)
            raise CatalogueError([Problem(place, f"{nothing}: no such {what}", expected, hint)])
    readings, row = catalogue.readings[measure], catalogue.products.index(product)
    read = (np.flatnonzero(np.isfinite(readings.written[row]) | (readings.marks[row] == State.BELOW)) + 1).tolist()
    if repeat not in read:
        there = ", ".join(_told_apart(catalogue, measure, row, number) for number in read)
        hint = f"Repeats read there: {there}." if read else "It has no reading there."
        raise CatalogueError([Problem(place, nothing, "a reading", hint)])
    kept = dict(catalogue.readings) | {measure: _set_aside(readings, row, repeat - 1)}
    return replace(catalogue, readings=kept, set_aside=(*catalogue.set_aside, (product, measure, repeat)))


def _told_apart(catalogue: Catalogue, measure: str, product: int, repeat: int) -> str:
    """A repeat by its number, with its session and specimen where they are named beside it."""
    texts = {key: catalogue.extras.get(key, {}).get(measure) for key in SHARED}
    said = [
        f"{key} {of[product, repeat - 1]}" for key, of in texts.items() if of is not None and of[product, repeat - 1]
    ]
    return f"{repeat} ({', '.join(said)})" if said else str(repeat)


def _set_aside(readings: Readings, product: int, repeat: int) -> Readings:
    values, written = readings.values.copy(), readings.written.copy()
    states, marks = readings.states.copy(), readings.marks.copy()
    values[product, repeat] = written[product, repeat] = np.nan
    states[product, repeat] = marks[product, repeat] = State.MISSING
    reasons = dict(readings.reasons) | {(product, repeat): SET_ASIDE}
    as_read = readings.as_read and readings.as_read.without(product, repeat)
    return replace(
        readings, values=values, written=written, states=states, marks=marks, reasons=reasons, as_read=as_read
    )
