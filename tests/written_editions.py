"""Two editions of a formula and its readings, written in a test, and every mixture of them made by hand."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from analysis.changes.changes import changes
from analysis.comparison.coalitions import Coalitions, targets_of
from analysis.comparison.players import players_of
from scoring.addresses.addresses import set_addresses
from scoring.catalogue import Catalogue
from scoring.form import Form
from scoring.table.table import ScoreTable, score_catalogue

Array = NDArray[np.float64]


def read_by_all(old: Catalogue, new: Catalogue) -> dict[tuple[bool, bool], Catalogue]:
    """Catalogues held in memory are the same to any formula."""
    return {(is_new, by_new): new if is_new else old for is_new in (False, True) for by_new in (False, True)}


def editions(
    old: Form,
    new: Form,
    before: Catalogue,
    after: Catalogue | None = None,
    readings: Mapping[tuple[bool, bool], Catalogue] | None = None,
) -> Coalitions:
    """The mixtures of two formulas on two catalogues; on one where there is no second."""
    read = readings or read_by_all(before, after or before)
    tables = score_catalogue(old, read[False, False]), score_catalogue(new, read[True, True])
    players = players_of(changes(old, new), old, new, read)
    came = [name for name in read[False, False].products if name not in read[True, True].products]
    products = (*read[True, True].products, *came)
    return Coalitions(*tables, players, targets_of(*tables, ()), products, read)


def published(table: ScoreTable, name: str, products: tuple[str, ...]) -> tuple[Array, Array]:
    """Worked-out values and places of a table, over the products of both editions."""
    value, rank = np.full(len(products), np.nan), np.full(len(products), np.nan)
    for i, product in enumerate(table.catalogue.products):
        at = products.index(product)
        value[at] = table.evaluation.values[name][0][i]
        rank[at] = table.column(name).rank[i]
    return value, rank


def by_hand(
    mixtures: Coalitions, members: NDArray[np.bool_], read: Callable[[Form], Catalogue] | None = None
) -> ScoreTable:
    """The table of one mixture of edits and products: settings made on the old formula, products picked, scored.

    read : the catalogue as a formula reads it, where that is the same in all mixtures
    """
    there = [player for player, is_in in zip(mixtures.players, members, strict=True) if is_in]
    kinds = {player.kind for player in there}
    assert "structure" not in kinds, "has no settings"
    form = set_addresses(mixtures.old.form, [f"{p.address}={p.after}" for p in there if p.kind == "edit"])
    if read is not None:
        return score_catalogue(form, read(form))
    first, second = mixtures.readings["readings" in kinds, False], mixtures.readings["readings" not in kinds, False]
    products = (mixtures.new if "products" in kinds else mixtures.old).catalogue.products
    return score_catalogue(form, picked(first, second, products))


def picked(first: Catalogue, second: Catalogue, products: tuple[str, ...]) -> Catalogue:
    """Some products, each from the first catalogue that has it; row by row, for catalogues of one shape."""
    rows = [
        (first, first.products.index(p)) if p in first.products else (second, second.products.index(p))
        for p in products
    ]

    def of(name: str, field: str) -> NDArray[np.generic]:
        return np.stack([getattr(source.readings[name], field)[i] for source, i in rows])

    readings = {
        name: replace(
            one, **{field: of(name, field) for field in ("values", "states", "written", "marks", "rows")}, reasons={}
        )
        for name, one in first.readings.items()
    }
    words = {name: tuple(source.attributes[name][i] for source, i in rows) for name in first.attributes}
    return replace(first, products=products, readings=readings, attributes=words, extras={})


def check_ends(mixtures: Coalitions) -> None:
    """The empty coalition is the old table, the full one the new table: values to the last bits, places exactly."""
    ends = np.array([[False] * len(mixtures.players), [True] * len(mixtures.players)])
    scores = mixtures.scores(ends)
    for name in mixtures.targets:
        ranks = mixtures.ranks(name, scores[name], ends)
        for row, table in enumerate((mixtures.old, mixtures.new)):
            value, rank = published(table, name, mixtures.products)
            np.testing.assert_allclose(scores[name][row], value, rtol=0, atol=1e-12, err_msg=f"{name}, {row}")
            np.testing.assert_array_equal(ranks[row], rank, err_msg=f"{name}, {row}")
