"""Two editions of a publication: a formula each, and the catalogues as each formula reads them, new methods bridged."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from analysis.comparison.bridging import Bridge, bridged, read_bridge, unlike_the_catalogue
from analysis.report.given import Readings, catalogue_of
from scoring.catalogue import Catalogue, State
from scoring.catalogue import Readings as OfMeasure
from scoring.door.formula import Formula, counted_for, score
from scoring.errors import CatalogueError, Place, Problem, nearest
from scoring.form import Form
from scoring.table.part import narrowed
from scoring.table.selection import Condition, Selected, Where, chosen_of, conditions_of
from scoring.table.table import ScoreTable

#: (new readings?, new formula?) to the catalogue read by that formula.
ReadBy = Mapping[tuple[bool, bool], Catalogue]


@dataclass(frozen=True, slots=True, eq=False)
class Editions:
    """Two editions, read.

    readings: the new ones mapped by the bridges; notes: what bridges have for other readings than the catalogue
    where: the conditions by which products are selected, those that the new catalogue has by its words; none for all
    """

    old: Formula
    new: Formula
    readings: ReadBy
    bridges: tuple[Bridge, ...] = ()
    notes: tuple[str, ...] = ()
    where: tuple[Condition, ...] = ()

    def scored(self) -> tuple[ScoreTable, ScoreTable]:
        """The score tables of both, of the same products where some are selected.

        Raises
        ------
        SteelyardError : as `score` does
        """
        old, new = score(self.old, self.readings[False, False]), score(self.new, self.readings[True, True])
        if not self.where:
            return old, new
        now = dict(zip(new.catalogue.products, chosen_of(self.where, new.catalogue).tolist(), strict=True))
        before = dict(zip(old.catalogue.products, chosen_of(self.where, old.catalogue).tolist(), strict=True))
        return _narrowed(old, self.where, before | now), _narrowed(new, self.where, now)


def _narrowed(table: ScoreTable, where: tuple[Condition, ...], chosen: Mapping[str, bool]) -> ScoreTable:
    """The table of the products that are chosen by name."""
    return narrowed(table, Selected(where, np.array([chosen[name] for name in table.catalogue.products], bool)))


def selecting(editions: Editions, where: Where) -> Editions:
    """The same two editions of some products.

    Raises
    ------
    CatalogueError : an attribute or word that neither catalogue has, or products that there are not
    """
    readings = editions.readings
    return replace(editions, where=conditions_of(where, [readings[False, False], readings[True, True]]))


def editions_of(
    formulas: tuple[Formula, Formula],
    catalogue: Readings,
    catalogue_new: Readings | None,
    bridges: Mapping[str, str | Path],
) -> Editions:
    """Two editions by their formulas and what their catalogues are read from.

    Parameters
    ----------
    formulas : the old one and the new one
    catalogue : of the old edition; catalogue_new : of the new one, None where it is the same
    bridges : a measure whose method is another now -> the file of products that were measured both ways

    Raises
    ------
    CatalogueError : a fault of a catalogue or of a bridge's file, or a bridge of a measure that there is not
    """
    old, new = formulas
    readings = _read_by_both(formulas, catalogue, catalogue_new)
    found: list[Bridge] = []
    notes: list[str] = []
    for measure, path in bridges.items():
        bridge = _bridge(measure, Path(path), new.form, readings[True, True])
        notes += _unlike(bridge, formulas, readings)
        for by_new in (False, True):
            readings[True, by_new] = bridged(readings[True, by_new], bridge)
        found.append(bridge)
    return Editions(old, new, readings, tuple(found), tuple(notes))


def _read_by_both(
    formulas: tuple[Formula, Formula], old: Readings, new: Readings | None
) -> dict[tuple[bool, bool], Catalogue]:
    """Each catalogue as either formula reads it; one for both editions where there is no second."""
    found: dict[tuple[bool, bool], Catalogue] = {}
    for is_new, given in ((False, old), (True, new)):
        for by_new, formula in zip((False, True), formulas, strict=True):
            found[is_new, by_new] = found[False, by_new] if given is None else _read(given, formula)
    return found


def _read(given: Readings, formula: Formula) -> Catalogue:
    """A catalogue that was read already may have been read for the other formula, and counts anew."""
    if isinstance(given, Catalogue):
        return counted_for(formula.form, given)
    return catalogue_of(given, formula)


def _bridge(measure: str, path: Path, form: Form, catalogue: Catalogue) -> Bridge:
    known = catalogue.readings
    if measure not in known:
        expected = "MEASURE=FILE, with a measure of the catalogue"
        raise CatalogueError([Problem(Place("--bridge"), f"`{measure}={path}`", expected, nearest(measure, known))])
    plausible = form.measure(measure).plausible
    ends = (plausible[0].value, plausible[1].value) if plausible else (-np.inf, np.inf)
    return read_bridge(path, measure, catalogue, ends)


def _unlike(bridge: Bridge, formulas: tuple[Formula, Formula], readings: ReadBy) -> tuple[str, ...]:
    """What a bridge has for another old reading than the catalogue: the old one, where that has the measure at all."""
    old, new = formulas
    if bridge.measure in old.form.measures_by_name and bridge.measure in readings[False, False].readings:
        return unlike_the_catalogue(bridge, old.form, readings[False, False])
    return unlike_the_catalogue(bridge, new.form, readings[True, True])


def differing_readings(readings: ReadBy, old: Form, new: Form) -> dict[str, tuple[str, ...]]:
    """The products of both catalogues whose readings or words differ: product to the measures and attributes that do.

    Each formula reads both catalogues, so that a formula that counts readings otherwise makes no difference here. A measure
    that only one formula knows, and only its own catalogue has, was renamed or added: that is the formula's difference.
    """
    found: dict[str, list[str]] = {}
    shared = {measure.name for measure in old.measures} & {measure.name for measure in new.measures}
    for by_new, form in ((False, old), (True, new)):
        before, after = readings[False, by_new], readings[True, by_new]
        both = _in_both(before, after)
        for measure in (measure.name for measure in form.measures):
            one, other = before.readings.get(measure), after.readings.get(measure)
            if measure in shared or (one is not None and other is not None):
                _take_down(found, measure, [name for name, i, j in both if _counting(one, i) != _counting(other, j)])
        for attribute in form.attributes:
            first, second = (_words(catalogue, attribute.name) for catalogue in (before, after))
            _take_down(found, attribute.name, [name for name, i, j in both if first[i] != second[j]])
    return {name: tuple(dict.fromkeys(own)) for name, own in found.items()}


def _in_both(before: Catalogue, after: Catalogue) -> list[tuple[str, int, int]]:
    """The products of both catalogues, each with its rows."""
    there = {name: row for row, name in enumerate(after.products)}
    return [(name, row, there[name]) for row, name in enumerate(before.products) if name in there]


def _take_down(found: dict[str, list[str]], what: str, products: Iterable[str]) -> None:
    for product in products:
        found.setdefault(product, []).append(what)


def _counting(readings: OfMeasure | None, product: int) -> tuple[tuple[float, ...], int, bool]:
    """What counts of a product's readings: its numbers in order, how many are below the limit, whether none applies."""
    if readings is None:
        return (), 0, False
    states, values = readings.states[product], readings.values[product]
    numbers = tuple(np.sort(values[np.isfinite(values)]).tolist())
    return numbers, int((states == State.BELOW).sum()), not numbers and bool((states == State.NOT_APPLICABLE).any())


def _words(catalogue: Catalogue, attribute: str) -> tuple[str, ...]:
    """What a catalogue says of each product under an attribute, "" where it does not have it."""
    return tuple(catalogue.attributes.get(attribute) or ("",) * len(catalogue.products))
