"""Under which conditions each reading was taken: in which session, of which specimen; and what is missing to tell."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from scoring.catalogue.readings import Readings, State
from scoring.errors import Place, Problem
from scoring.form import Form
from scoring.numbers.array_types import Flags, Texts

if TYPE_CHECKING:
    from scoring.catalogue.catalogue import Catalogue

#: Each condition, and the component of a measure's errors that readings under one of its words share.
SHARED = {"session": "between_sessions", "specimen": "between_specimens"}
WHERE_SESSIONS_STAND = (
    "a column `session` in the readings, or, for all readings of a product, in a wide file or among the items"
)


@dataclass(frozen=True, slots=True, eq=False)
class Conditions:
    """Sessions and specimens of the readings of one measure, texts of shape (n_products, n_repeats), "" where none is named.

    A specimen belongs to its product: the same word at two products names two specimens, and "" one more. A session is one
    for all products.
    """

    sessions: Texts
    specimens: Texts


def conditions_of(catalogue: Catalogue, measure: str) -> Conditions:
    """In which session and of which specimen every reading of a measure is.

    Notes
    -----
    What stands beside a reading in a long file comes first; where nothing does, the session is that of the product.
    """
    shape = catalogue.readings[measure].values.shape
    beside = {name: catalogue.extras.get(name, {}).get(measure, np.full(shape, "", dtype=object)) for name in SHARED}
    of_products = np.array(sessions_of_products(catalogue), dtype=object)[:, np.newaxis]
    sessions = np.where(beside["session"] == "", of_products, beside["session"])
    return Conditions(sessions, beside["specimen"])


def sessions_of_products(catalogue: Catalogue) -> Sequence[str]:
    """The session of every product, as the file or the attributes say; "" where nothing does."""
    none = ("",) * len(catalogue.products)
    return catalogue.product_sessions or catalogue.attributes.get("session", none)


def faults_of_conditions(catalogue: Catalogue, form: Form) -> Iterator[Problem]:
    """What a form's declared errors need to know of the readings and the catalogue does not say, each with its place.

    Where `between_specimens` is declared and no specimen of a product is named, the product is one specimen: that is no fault.
    """
    needs = {
        measure.name: _needed(form, measure.name) for measure in form.measures if measure.name in catalogue.readings
    }
    for measure, conditions in needs.items():
        readings, named = catalogue.readings[measure], conditions_of(catalogue, measure)
        if "session" in conditions:
            yield from _without_session(catalogue, measure, readings, named.sessions)
        if "specimen" in conditions:
            yield from _some_without_specimen(catalogue, measure, readings, named.specimens)
    if any("specimen" in conditions for conditions in needs.values()):
        yield from _specimens_without_reading(catalogue)
    for one in form.error_correlations:
        if one.component.value == SHARED["specimen"]:
            yield from _unlike_specimens(catalogue, [name for name in one.measures if name in needs])


def _needed(form: Form, measure: str) -> set[str]:
    """The conditions that the errors of a measure are shared under."""
    one = form.measure(measure)
    return {condition for condition, component in SHARED.items() if one.declares(component)}


def was_read(readings: Readings) -> Flags:
    """Which cells hold a reading, if only one below the limit; shape (n_products, n_repeats)."""
    return np.asarray((readings.marks == State.VALUE) | (readings.marks == State.BELOW))


def _without_session(catalogue: Catalogue, measure: str, readings: Readings, sessions: Texts) -> Iterator[Problem]:
    """Readings without a session; `sessions` has the shape (n_products, n_repeats)."""
    read = was_read(readings)
    bare = np.argwhere(read & (sessions == ""))
    if not len(bare):
        return
    if len(bare) == read.sum():
        found = f"no session of `{measure}`, which declares `between_sessions`"
        hint = f"Add {WHERE_SESSIONS_STAND}; or write `between_sessions: none`."
        yield Problem(Place(readings.source), found, "the session of every reading", hint)
        return
    product, repeat = bare[0].tolist()
    count = f"{len(bare)} of {read.sum()} readings"
    found = f"no session for {count} of `{measure}`, the first of {catalogue.products[product]}"
    place = Place(readings.source, int(readings.rows[product, repeat]), column_name="session")
    hint = "Name the session there, or write `between_sessions: none`."
    yield Problem(place, found, "the session of every reading, as `between_sessions` is declared", hint)


def _some_without_specimen(
    catalogue: Catalogue, measure: str, readings: Readings, specimens: Texts
) -> Iterator[Problem]:
    """Readings without a specimen beside some with one; `specimens` has the shape (n_products, n_repeats)."""
    read = was_read(readings)
    named = read & (specimens != "")
    mixed = named.any(axis=1) & (read & (specimens == "")).any(axis=1)
    for product in np.flatnonzero(mixed).tolist():
        repeat = int(np.argmax(read[product] & (specimens[product] == "")))
        place = Place(readings.source, int(readings.rows[product, repeat]), column_name="specimen")
        found = f"no specimen for a reading of `{measure}`, beside readings of {catalogue.products[product]} with one"
        yield Problem(
            place, found, "a specimen for all readings of the product, or for none", "Name the specimen there."
        )


def _unlike_specimens(catalogue: Catalogue, measures: Sequence[str]) -> Iterator[Problem]:
    """A product of which one correlated measure names the specimens and another does not: which are the same, nobody says."""
    named: dict[int, str] = {}
    for measure in measures:
        specimens = conditions_of(catalogue, measure).specimens
        for product in np.flatnonzero((specimens != "").any(axis=1)).tolist():
            named.setdefault(product, measure)
    for measure in measures:
        readings, specimens = catalogue.readings[measure], conditions_of(catalogue, measure).specimens
        read = was_read(readings)
        for product in np.flatnonzero(read.any(axis=1) & (specimens == "").all(axis=1)).tolist():
            if product in named:
                place = Place(
                    readings.source, int(readings.rows[product, int(np.argmax(read[product]))]), column_name="specimen"
                )
                found = (
                    f"no specimen of {catalogue.products[product]} for `{measure}`, as there is for `{named[product]}`"
                )
                expected = "specimens of both, or of neither, as their errors between specimens are correlated"
                yield Problem(place, found, expected, "Name the specimen there.")


def _specimens_without_reading(catalogue: Catalogue) -> Iterator[Problem]:
    """A specimen of which no measure has a reading; where it stands first."""
    read: set[tuple[int, str]] = set()
    first: dict[tuple[int, str], Place] = {}
    texts: Mapping[str, Texts] = catalogue.extras.get("specimen", {})
    for measure, specimens in texts.items():
        readings = catalogue.readings[measure]
        there = was_read(readings)
        for product, repeat in np.argwhere(specimens != "").tolist():
            key = product, specimens[product, repeat]
            place = Place(readings.source, int(readings.rows[product, repeat]), column_name="specimen")
            first[key] = min(first.get(key, place), place)
            if there[product, repeat]:
                read.add(key)
    for (product, specimen), place in sorted(first.items(), key=lambda item: item[1]):
        if (product, specimen) not in read:
            found = f"the specimen `{specimen}` of {catalogue.products[product]} without a reading"
            hint = "Give its reading, or leave the specimen out where a reading is missing."
            yield Problem(place, found, "a reading of every specimen", hint)
