"""What is asked of one score under many draws: values, places, the top, the winner, who beats whom, the shift in rank.

Indices, tallies and documents ask here and nowhere else: a draw's places are found once (`Outcome`), and each family of
quantities says what it is called and what it makes of them.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from scoring.form import Form, Output
from scoring.numbers.array_types import Array, Flags, Indices
from scoring.numbers.ranks import rank_rows
from scoring.numbers.rounding import round_to
from scoring.table.table import Column

Columns = NDArray[np.float64] | NDArray[np.bool_]
SHIFT = "mean shift in rank"


def as_ranked(output: Output, values: Array) -> Array:
    """The figures of a score that its places go by, of the same shape: as they are, or as they are shown."""
    if output.ranks.on.value != "shown":
        return values
    rule = output.scale.show
    return np.asarray(round_to(values, rule.step.value, rule.rule.value))


def places_of(output: Output, values: Array) -> Array:
    """Places within each row of scores, shape (n, products), as the formula ranks them; NaN where there is no score."""
    return rank_rows(as_ranked(output, values), output.ranks.best.value, output.ranks.ties.value)


@dataclass(frozen=True, eq=False)
class Outcome:
    """One score under some draws: scores and places of the published products, shape (n, p); NaN where there is none."""

    asked: Quantities
    scores: Array
    ranks: Array

    @property
    def first(self) -> Flags:
        """Who is first, shape (n, p); no product without a score is."""
        return self.ranks <= 1

    @property
    def top(self) -> Flags:
        """Who is in the top, shape (n, p)."""
        return self.ranks <= self.asked.top

    @cached_property
    def shift(self) -> Array:
        """The mean of |rank - published rank| over the products that have a rank, shape (n,); 0 where none has."""
        moved = np.abs(self.ranks - self.asked.published)
        known = ~np.isnan(moved)
        if known.all() and moved.shape[1]:
            return np.asarray(moved.mean(axis=1))
        return np.asarray(np.where(known, moved, 0.0).sum(axis=1) / np.maximum(known.sum(axis=1), 1))

    def gap(self, pair: tuple[int, int]) -> Array:
        """By how much the first of a pair lies above the second, shape (n,)."""
        return np.asarray(self.scores[:, pair[0]] - self.scores[:, pair[1]])

    def above(self, pair: tuple[int, int]) -> Array:
        """Whether the first of a pair stands above the second, shape (n,): 1 or 0; NaN where one has no score."""
        return np.where(np.isnan(self.gap(pair)), np.nan, self.ranks[:, pair[0]] < self.ranks[:, pair[1]])


class Family(ABC):
    """A family of quantities; key: as it is named in a question; of_pairs: whether it has one a pair, and none a product."""

    key: str
    of_pairs = False

    def title(self, asked: Quantities) -> str:  # noqa: ARG002
        """What its quantities are called."""
        return self.key

    @abstractmethod
    def says(self, ids: Sequence[str]) -> str:
        """Its quantities in a sentence: of some products, or () of all."""

    def which(self, asked: Quantities) -> tuple[str, ...]:
        """What each of its quantities is of."""
        if self.of_pairs:
            return tuple(f"{asked.ids[a]} {asked.ids[b]}" for a, b in asked.pairs)
        return asked.ids

    @abstractmethod
    def of(self, outcome: Outcome) -> Columns:
        """Its quantities under some draws, shape (n, quantities)."""


def _of_products(called: str, ids: Sequence[str]) -> str:
    return f"the {called} of {' and '.join(ids) or 'every product'}"


class Score(Family):
    """Every product's score."""

    key = "score"

    def says(self, ids: Sequence[str]) -> str:
        return _of_products("score", ids)

    def of(self, outcome: Outcome) -> Columns:
        return outcome.scores


class Rank(Family):
    """Every product's place."""

    key = "rank"

    def says(self, ids: Sequence[str]) -> str:
        return _of_products("rank", ids)

    def of(self, outcome: Outcome) -> Columns:
        return outcome.ranks


class Top(Family):
    """Whether a product is in the top."""

    key = "top"

    def title(self, asked: Quantities) -> str:
        return f"in the first {asked.top}"

    def says(self, ids: Sequence[str]) -> str:
        return _of_products("place in the top", ids)

    def of(self, outcome: Outcome) -> Columns:
        return outcome.top


class First(Family):
    """Whether a product is first."""

    key = "first"

    def says(self, ids: Sequence[str]) -> str:
        return _of_products("first place", ids)

    def of(self, outcome: Outcome) -> Columns:
        return outcome.first


class Shift(Family):
    """How far the whole ranking is from the published one."""

    key = "shift"

    def title(self, asked: Quantities) -> str:  # noqa: ARG002
        return SHIFT

    def says(self, ids: Sequence[str]) -> str:  # noqa: ARG002
        return f"the {SHIFT}"

    def which(self, asked: Quantities) -> tuple[str, ...]:  # noqa: ARG002
        return ("",)

    def of(self, outcome: Outcome) -> Columns:
        return outcome.shift[:, np.newaxis]


class Above(Family):
    """Whether the first of a pair stands above the second; of a draw that leaves one without a score it is no question."""

    key, of_pairs = "beats", True

    def says(self, ids: Sequence[str]) -> str:
        return f"whether {ids[0]} stands above {ids[1]}" if ids else "who stands above whom"

    def of(self, outcome: Outcome) -> Columns:
        return np.column_stack([outcome.above(pair) for pair in outcome.asked.pairs])


class Gap(Family):
    """By how much the first of a pair lies above the second."""

    key, of_pairs = "gap", True

    def says(self, ids: Sequence[str]) -> str:
        return _of_products("gap", ids)

    def of(self, outcome: Outcome) -> Columns:
        return np.column_stack([outcome.gap(pair) for pair in outcome.asked.pairs])


#: Every family, by the key that a question names it by; in the order of the quantities.
FAMILIES: dict[str, Family] = {one.key: one for one in (Score(), Rank(), Top(), First(), Shift(), Above(), Gap())}


@dataclass(frozen=True, eq=False)
class Quantities:
    """The quantities of one score over the products that are published with it.

    products: their indices in the catalogue, in published order; ids; published: their ranks, shape (p,);
    top: how many places the top are; pairs: positions among the products of each "A beats B".
    """

    form: Form
    output: Output
    products: Indices
    ids: tuple[str, ...]
    published: Array
    values: Array
    top: int
    pairs: tuple[tuple[int, int], ...]

    @cached_property
    def names(self) -> tuple[tuple[str, str], ...]:
        """(family, which) of each quantity, in order."""
        return tuple((family.title(self), which) for family, which in self._each)

    @cached_property
    def _each(self) -> tuple[tuple[Family, str], ...]:
        """Family after family, and then pair after pair."""
        whole = [one for one in FAMILIES.values() if not one.of_pairs]
        found = [(one, which) for one in whole for which in one.which(self)]
        paired = [one for one in FAMILIES.values() if one.of_pairs]
        pairs = zip(*(one.which(self) for one in paired), strict=True)
        return (*found, *((one, which) for pair in pairs for one, which in zip(paired, pair, strict=True)))

    @cached_property
    def _at(self) -> dict[str, slice]:
        """Where the quantities of each family stand, by its key and by its title."""
        found = {}
        for family in FAMILIES.values():
            places = [place for place, (own, _) in enumerate(self._each) if own is family]
            step = places[1] - places[0] if len(places) > 1 else 1
            found[family.key] = slice(places[0], places[-1] + 1, step) if places else slice(0, 0)
            found[family.title(self)] = found[family.key]
        return found

    def family(self, name: str) -> slice:
        """Where a family of quantities stands, by its key or by what its quantities are called."""
        return self._at[name]

    def places(self, name: str) -> range:
        """The number of each quantity of a family."""
        return range(len(self.names))[self.family(name)]

    def outcome(self, values: Array) -> Outcome:
        """The scores of all products, shape (n, products), as the published ones stand under them."""
        own = values[:, self.products]
        return Outcome(self, own, places_of(self.output, own))

    def ranks(self, values: Array) -> Array:
        """Places of the published products, shape (n, p), as the formula ranks them; `values` of all products."""
        return self.outcome(values).ranks

    def of(self, values: Array) -> Array:
        """Every quantity, shape (n, q), of the scores of all products, shape (n, products).

        A product that a draw leaves without a score has no score and no rank there; it is neither first nor in the top, and
        has no part in the mean shift. Whether it stands above another is no question there: NaN.
        """
        outcome = self.outcome(values)
        found = np.empty((len(values), len(self.names)))
        for family in FAMILIES.values():
            if self.places(family.key):
                found[:, self.family(family.key)] = family.of(outcome)
        return found


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
