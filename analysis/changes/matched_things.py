"""Which thing of one list is which of another: by name, by what it holds where its name is only its place, or renamed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import product

Pairs = list[tuple[int, int]]
Same = Callable[[int, int], bool]


def matched(
    old: Sequence[str],
    new: Sequence[str],
    same: Same,
    *,
    by_place: Callable[[str], bool] = lambda _: False,
    may_be_renamed: bool = True,
) -> Pairs:
    """Pairs of indices (old, new), in the order of the new list.

    Parameters
    ----------
    old, new : sequences of names, each name once
    same : whether two things hold the same, whatever they are called
    by_place : whether a name only says where a thing stands in its list, so that one put before it would change it
    may_be_renamed : whether two things of different names, the only ones of their lists that hold the same, are one

    Notes
    -----
    In turn: the same name (and, where it is a place, the same contents); the same contents at another place; the same
    contents under another name, with one candidate on either side; the same place.
    """
    found = _Pairing(old, new, same)
    for i, j in found.left():
        if old[i] == new[j] and (not by_place(old[i]) or same(i, j)):
            found.pair(i, j)
    for i, j in found.left():
        if by_place(old[i]) and by_place(new[j]) and found.free(i, j) and same(i, j):
            found.pair(i, j)
    if may_be_renamed:
        found.pair_renamed()
    for i, j in found.left():
        if old[i] == new[j]:
            found.pair(i, j)
    return sorted(found.pairs, key=lambda pair: pair[1])


class _Pairing:
    """Pairs found so far."""

    def __init__(self, old: Sequence[str], new: Sequence[str], same: Same) -> None:
        self.old, self.new, self.same = old, new, same
        self.pairs: Pairs = []

    def pair(self, i: int, j: int) -> None:
        self.pairs.append((i, j))

    def free(self, i: int, j: int) -> bool:
        return all(i != a and j != b for a, b in self.pairs)

    def left(self) -> Pairs:
        """Every pair of two things that have no partner."""
        return [(i, j) for i, j in product(range(len(self.old)), range(len(self.new))) if self.free(i, j)]

    def pair_renamed(self) -> None:
        alike = [(i, j) for i, j in self.left() if self.old[i] != self.new[j] and self.same(i, j)]
        for i, j in alike:
            if sum(a == i for a, _ in alike) == 1 and sum(b == j for _, b in alike) == 1:
                self.pair(i, j)
