"""Groups of products that the bench cannot tell apart, as a published table prints them, by letters.

Two products share a letter if, and only if, they are not told apart: the letters are those of a compact letter display. A
group is a largest set of products no two of which are told apart; it is mostly a run of the published order, but a product
whose figure is badly known can stand in many groups without drawing its neighbours into them.

References: [1] Piepho, An algorithm for a letter-based representation of all-pairwise comparisons, Journal of Computational
and Graphical Statistics 13(2), 2004: what such letters promise. [2] Bron and Kerbosch, Algorithm 457: finding all cliques of
an undirected graph, Communications of the ACM 16(9), 1973, with a pivot. (Both from memory.)
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from string import ascii_lowercase

import numpy as np
from numpy.typing import ArrayLike

from analysis.rankings.rank_sets import RankSets
from scoring.numbers.array_types import Flags

#: So many groups a product may come to before they are too many to print.
MOST_A_PRODUCT = 8


@dataclass(frozen=True, slots=True)
class Group:
    """Its letters, its products in published order, and the lines of the first and last of them, counted from 1."""

    letters: str
    first: int
    last: int
    products: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class RankGroups:
    """The groups from the top of the table down, and the letters of each product in the order that the ranks came in.

    exact: whether two products share a letter only where they are not told apart. It is False where such groups are too many
    to print; then they are runs of the published order, and two that share a letter may be told apart all the same.
    """

    groups: tuple[Group, ...]
    letters: tuple[tuple[str, ...], ...]
    exact: bool = True


def rank_groups(ranks: ArrayLike, beats: ArrayLike) -> RankGroups:
    """The largest sets of products no two of which are told apart.

    Parameters
    ----------
    ranks : array, shape (products,), published ranks, 1 for the best. Within a tie, products keep the order they came in.
    beats : bool array, shape (products, products); [i, j] where i is told to be better than j, at the joint level
        (`RankSets.beats`)

    Raises
    ------
    ValueError
        Where a rank is missing or the shapes do not fit.

    Notes
    -----
    The groups are the maximal cliques of the graph that joins what is not told apart [2]. Where they are more than
    `MOST_A_PRODUCT` times the products, the groups are instead the longest runs of the published order in which any pair
    may stand together: places i <= j may if any i' <= i and j' >= j are not told apart.
    """
    places, told = np.asarray(ranks, float), np.asarray(beats, bool)
    if places.ndim != 1 or told.shape != (len(places), len(places)):
        raise ValueError(
            f"beats: found shape {told.shape} for ranks of shape {places.shape}, must be products by products"
        )
    if not np.isfinite(places).all():
        raise ValueError(f"ranks: none for product {int(np.flatnonzero(~np.isfinite(places))[0])}; leave it out")
    lines = np.argsort(places, kind="stable")
    told = told[np.ix_(lines, lines)]
    found = _largest_sets(~(told | told.T), MOST_A_PRODUCT * max(len(lines), 8))
    exact = found is not None
    sets = found if found is not None else _runs(_together(told))
    groups = tuple(
        Group(letters(number), members[0] + 1, members[-1] + 1, tuple(lines[list(members)].tolist()))
        for number, members in enumerate(sorted(sets))
    )
    own = tuple(tuple(group.letters for group in groups if product in group.products) for product in range(len(places)))
    return RankGroups(groups, own, exact)


def run_from(beats: Flags, line: int) -> int:
    """The last line of the longest run from `line` on in which no two products are told apart; lines counted from 0.

    Parameters
    ----------
    beats : bool array, shape (products, products), in published order
    """
    apart = beats | beats.T
    last = line
    while last + 1 < len(apart) and not apart[line : last + 1, last + 1].any():
        last += 1
    return last


def letters(number: int) -> str:
    """The label of a group counted from 0: a, b, ..., z, aa, ab, ..."""
    label = ""
    number += 1
    while number:
        number, letter = divmod(number - 1, len(ascii_lowercase))
        label = ascii_lowercase[letter] + label
    return label


def settled(sets: RankSets, ranks: ArrayLike) -> tuple[int, ...]:
    """The products whose set is one place, in published order: each is told apart from all others.

    Parameters
    ----------
    sets : the joint sets, for a statement that holds of all of them at once
    ranks : array, shape (products,), published ranks

    Raises
    ------
    ValueError
        Where the sets are marginal, or not of as many products.
    """
    places = np.asarray(ranks, float)
    if sets.family != "joint":
        raise ValueError(f"sets: found family {sets.family}, must be joint")
    if places.shape != sets.low.shape:
        raise ValueError(f"ranks: found shape {places.shape}, must be {sets.low.shape} as the sets are")
    return tuple(
        int(product) for product in np.argsort(places, kind="stable") if sets.low[product] == sets.high[product]
    )


def _largest_sets(joined: Flags, most: int) -> list[tuple[int, ...]] | None:
    """All maximal cliques of a graph, each in order; None where they are more than `most`."""
    near = [sum(1 << j for j in np.flatnonzero(row).tolist() if j != i) for i, row in enumerate(joined)]
    found: list[tuple[int, ...]] = []
    stack = [(0, (1 << len(near)) - 1, 0)] if near else []
    while stack:
        clique, open_, closed = stack.pop()
        if not open_ and not closed:
            found.append(tuple(_bits(clique)))
            if len(found) > most:
                return None
            continue
        pivot = max(_bits(open_ | closed), key=lambda vertex: (open_ & near[vertex]).bit_count())
        for vertex in _bits(open_ & ~near[pivot]):
            stack.append((clique | 1 << vertex, open_ & near[vertex], closed & near[vertex]))
            open_ &= ~(1 << vertex)
            closed |= 1 << vertex
    return found


def _bits(flags: int) -> Iterator[int]:
    """The places of the ones in a binary number, from the lowest."""
    while flags:
        lowest = flags & -flags
        yield lowest.bit_length() - 1
        flags ^= lowest


def _together(told: Flags) -> Flags:
    """Which lines may stand together in runs, upper triangle; `told` is in the order of lines."""
    together = ~told
    np.fill_diagonal(together, True)
    farther = np.logical_or.accumulate(np.triu(together), axis=0)
    return np.asarray(np.logical_or.accumulate(farther[:, ::-1], axis=1)[:, ::-1])


def _runs(together: Flags) -> list[tuple[int, ...]]:
    """The lines of each run that is inside no other."""
    runs: list[tuple[int, ...]] = []
    for top, row in enumerate(together):
        bottom = int(np.flatnonzero(row)[-1])
        if not runs or bottom > runs[-1][-1]:
            runs.append(tuple(range(top, bottom + 1)))
    return runs
