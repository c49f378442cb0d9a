"""What is asked of one score under many draws: values, places, the top, the winner, who beats whom, the shift in rank."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from scoring.form import Form, Output
from scoring.ranks import rank_rows
from scoring.rounding import round_to
from scoring.table import Column

Array = NDArray[np.float64]
SHIFT = "mean shift in rank"


@dataclass(frozen=True, eq=False)
class Quantities:
    """The quantities of one score over the products that are published with it.

    products: their indices in the catalogue, in published order; ids; published: their ranks, shape (p,);
    top: how many places the top are; pairs: positions among the products of each "A beats B".
    """

    form: Form
    output: Output
    products: NDArray[np.intp]
    ids: tuple[str, ...]
    published: Array
    values: Array
    top: int
    pairs: tuple[tuple[int, int], ...]

    @cached_property
    def names(self) -> tuple[tuple[str, str], ...]:
        """(family, which) of each quantity, in order."""
        found = [("score", name) for name in self.ids]
        found += [("rank", name) for name in self.ids]
        found += [(f"in the first {self.top}", name) for name in self.ids]
        found += [("first", name) for name in self.ids]
        found += [(SHIFT, "")]
        for a, b in self.pairs:
            found += [("beats", f"{self.ids[a]} {self.ids[b]}"), ("gap", f"{self.ids[a]} {self.ids[b]}")]
        return tuple(found)

    def family(self, name: str) -> slice:
        """Where a family of quantities stands."""
        places = [place for place, (family, _) in enumerate(self.names) if family == name]
        return slice(places[0], places[-1] + 1) if places else slice(0, 0)

    def ranks(self, values: Array) -> Array:
        """Places of the published products, shape (n, p), as the formula ranks them; `values` of all products."""
        return self._places(values[:, self.products])

    def _places(self, own: Array) -> Array:
        if self.form.ranks.on.value == "shown":
            rule = self.output.scale.show
            own = round_to(own, rule.step.value, rule.rule.value)
        return rank_rows(own, self.form.ranks.best.value, self.form.ranks.ties.value)

    def of(self, values: Array) -> Array:
        """Every quantity, shape (n, q), of the scores of all products, shape (n, products).

        A product that a draw leaves without a score has no score and no rank there; it is neither first nor in the top, and
        has no part in the mean shift. Whether it stands above another is no question there: NaN.
        """
        p = len(self.ids)
        found = np.empty((len(values), len(self.names)))
        own = values[:, self.products]
        found[:, :p] = own
        found[:, p : 2 * p] = ranks = self._places(own)
        np.less_equal(ranks, self.top, out=found[:, 2 * p : 3 * p])
        np.less_equal(ranks, 1, out=found[:, 3 * p : 4 * p])
        found[:, 4 * p] = self._shift(ranks)
        for place, (a, b) in enumerate(self.pairs):
            column = 4 * p + 1 + 2 * place
            gap = own[:, a] - own[:, b]
            found[:, column] = np.where(np.isnan(gap), np.nan, ranks[:, a] < ranks[:, b])
            found[:, column + 1] = gap
        return found

    def _shift(self, ranks: Array) -> Array:
        """The mean of |rank - published rank| over the products that have a rank, shape (n,); 0 where none has."""
        moved = np.abs(ranks - self.published)
        known = ~np.isnan(moved)
        if known.all() and moved.shape[1]:
            return np.asarray(moved.mean(axis=1))
        return np.asarray(np.where(known, moved, 0.0).sum(axis=1) / np.maximum(known.sum(axis=1), 1))


def quantities_of(
    form: Form, column: Column, ids: Sequence[str], top: int, pairs: Sequence[tuple[str, str]]
) -> Quantities:
    """The quantities of a published score; the pair of the first two is added where none is asked for."""
    order = np.argsort(np.where(np.isnan(column.rank), np.inf, column.rank), kind="stable")
    products = order[~np.isnan(column.rank[order])]
    names = tuple(ids[i] for i in products.tolist())
    asked = [(names.index(a), names.index(b)) for a, b in pairs if a in names and b in names]
    if not asked and len(names) > 1:
        asked = [(0, 1)]
    return Quantities(
        form,
        column.output,
        products,
        names,
        column.rank[products],
        column.value[products],
        min(top, len(names)),
        tuple(asked),
    )
