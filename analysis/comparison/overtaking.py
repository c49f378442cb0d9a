"""Who overtakes whom from one edition to the next, and which of these pairs the bench tells apart in either."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from analysis.rankings.distinguishable import bench_of
from analysis.rankings.rank_groups import rank_groups
from analysis.rankings.rank_sets import rank_sets
from analysis.trials.quantities import quantities_of
from scoring.numbers.array_types import Array, Flags, Indices
from scoring.table.table import Column, ScoreTable


@dataclass(frozen=True, slots=True, eq=False)
class Bench:
    """What the bench tells apart of one score in one edition, over the products of its catalogue.

    apart: shape (products, products); letters: of each product's groups, () where it is not ranked.
    """

    apart: Flags
    letters: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True, eq=False)
class Overtakings:
    """The pairs of products that swap their order: of all pairs that both editions rank, next to each other or not.

    A pair swaps where one product stands above the other before, and below it now; a tie is no order.

    pairs: how many pairs both editions rank; above, below: of each pair that swaps, the product that stands above now and the one
    that it overtakes, shape (swaps,); before, now: whether the bench tells the two apart in that edition, shape (swaps,); known:
    whether any noise is known of either edition; apart: how many of all these pairs the bench tells apart, before and now.
    """

    pairs: int
    above: Indices
    below: Indices
    before: Flags
    now: Flags
    known: bool
    apart: tuple[int, int] = (0, 0)

    @property
    def told(self) -> Flags:
        """Which swaps are of products that the bench tells apart in either edition, shape (swaps,)."""
        return self.before | self.now

    def counts(self, products: int, *, told: bool = False) -> tuple[Indices, Indices]:
        """How many others each product overtakes, and how many overtake it; told: only those told apart from it."""
        which = self.told if told else np.ones(len(self.above), bool)
        overtakes, overtaken = (np.bincount(side[which], minlength=products) for side in (self.above, self.below))
        return overtakes, overtaken


def overtakings(old: Array, new: Array, told: tuple[Flags | None, Flags | None]) -> Overtakings:
    """The pairs that swap order.

    Parameters
    ----------
    old, new : array, shape (products,): places; NaN where a product has none
    told : shape (products, products) each: which are told apart in the old edition and in the new; None where no noise is known
    """
    both = ~np.isnan(old) & ~np.isnan(new)
    with np.errstate(invalid="ignore"):
        swapped = (old[:, np.newaxis] > old) & (new[:, np.newaxis] < new)
    above, below = np.nonzero(swapped)
    order = np.lexsort((old[below], new[above]))
    above, below = above[order], below[order]
    before, now = (np.zeros(len(above), bool) if flags is None else flags[above, below] for flags in told)
    n = int(both.sum())
    known = any(flags is not None for flags in told)
    counts = [0 if flags is None else int(np.triu(flags[np.ix_(both, both)], 1).sum()) for flags in told]
    return Overtakings(n * (n - 1) // 2, above, below, before, now, known, (counts[0], counts[1]))


def benches_of(table: ScoreTable, names: Sequence[str], seed: int) -> dict[str, Bench]:
    """What the bench tells apart of some scores and ratings: the same as letters the groups of a published table."""
    columns = {name: table.column(name) for name in names}
    asked = replace(table, scores=tuple(columns.values()))
    found = {}
    for name, told in bench_of(asked, seed).items():
        ranked = _ranked(table, columns[name])
        found[name] = _over_the_catalogue(table, ranked, told.sets.beats, told.groups.letters)
    return found


def benches_by_noise(table: ScoreTable, sd: Mapping[str, Array], seed: int) -> dict[str, Bench]:
    """The same by given standard deviations, score name to array over the catalogue: where a table's own are not all.

    Readings that were mapped from another method are known as well as the map is, which no catalogue says.
    """
    found = {}
    for name, own in sd.items():
        column = table.column(name)
        ranked = _ranked(table, column)
        if len(ranked) < 2 or not (own[ranked] > 0).any():
            continue
        rng, best = np.random.default_rng([seed, 5]), column.output.ranks.best.value
        sets = rank_sets(column.value[ranked], np.nan_to_num(own[ranked]), rng=rng, best=best)
        letters = rank_groups(column.rank[ranked], sets.beats).letters
        found[name] = _over_the_catalogue(table, ranked, sets.beats, letters)
    return found


def _ranked(table: ScoreTable, column: Column) -> Indices:
    """The products that are ranked, in published order."""
    return quantities_of(table.form, column, table.catalogue.products, 1, ()).products


def _over_the_catalogue(table: ScoreTable, ranked: Indices, beats: Flags, letters: Sequence[tuple[str, ...]]) -> Bench:
    n = len(table.catalogue.products)
    apart = np.zeros((n, n), bool)
    apart[np.ix_(ranked, ranked)] = beats | beats.T
    own: list[tuple[str, ...]] = [()] * n
    for product, of_it in zip(ranked.tolist(), letters, strict=True):
        own[product] = of_it
    return Bench(apart, tuple(own))
