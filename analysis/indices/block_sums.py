"""Sums by block over the rows of a sensitivity design: all that is kept of its outputs.

The base sample is a number of independent scrambles of the Sobol' sequence ("blocks"), so that the scatter between blocks
measures the error of what is estimated. Sums can be added to, so that a sample is extended and no output of any draw held.
They belong to one design, by its hash: rows of another, or in another order, would give plausible nonsense.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import combinations

import numpy as np

from scoring.numbers.array_types import Array, Integers

BLOCKS = 16
#: So many outputs are summed at a time, that they stay in the cache.
PIECE = 1 << 14


@dataclass(slots=True, eq=False)
class Sums:
    """Sums by block over the rows of a design, of q outputs; swaps are the sets of factors taken from the other sample.

    shift, shape (q,): a value near each output's mean (`near_mean`), so that squares lose no digits; design: the hash of the
    design whose rows are summed; rows: how many of each block base samples have, and taken: the same of each swap; lost: how
    many values of each output were not finite; known, seen: of those of the base samples that were, how many and their sum.

    With A and B the outputs on both base samples, AB on the first with a swap from the second, and BA the other way
    round, all less `shift`: a, b, aa, bb sum A, B and their squares, and apart (A - B)^2, shape (blocks, q); alone, moved
    and across sum (BA - B) (A - AB), (A - AB)^2 + (B - BA)^2 and (BA - AB)^2, shape (swaps, blocks, q); pairs, for second
    order between the `paired` swaps j and k, sums (BA_j - BA_k) (AB_k - AB_j).

    How much of a sum is few rows' is told by sums over all blocks (`tails`): apart4 of (A - B)^4, shape (q,); moved4 of
    (A - AB)^4 + (B - BA)^4, alone1 and alone2 of the size of (BA - B) (A - AB) and of its square, shape (swaps, q).
    differing, shape (q,), counts the rows in which A and B differ.
    """

    shift: Array
    n_swaps: int
    paired: tuple[int, ...] = ()
    n_blocks: int = BLOCKS
    design: str = field(kw_only=True)
    rows: int = field(default=0, init=False)
    taken: Integers = field(init=False)
    lost: Integers = field(init=False)
    known: Integers = field(init=False)
    seen: Array = field(init=False)
    differing: Integers = field(init=False)
    tails: dict[str, Array] = field(init=False)
    parts: dict[str, Array] = field(init=False)

    def __post_init__(self) -> None:
        q = len(self.shift)
        if not self.design:
            raise ValueError("sums without the hash of a design")
        self.lost, self.known, self.differing = np.zeros((3, q), np.int64)
        self.seen = np.zeros(q)
        self.tails = {name: np.zeros((self.n_swaps, q)) for name in ("moved4", "alone1", "alone2")}
        self.tails["apart4"] = np.zeros(q)
        self.taken = np.zeros(self.n_swaps, np.int64)
        self.parts = {name: np.zeros((self.n_blocks, q)) for name in ("a", "b", "aa", "bb", "apart")}
        self.parts |= {name: np.zeros((self.n_swaps, self.n_blocks, q)) for name in ("alone", "moved", "across")}
        if self.paired:
            pairs = len(self.paired) * (len(self.paired) - 1) // 2
            self.parts["pairs"] = np.zeros((pairs, self.n_blocks, q))

    def check(self, design: str) -> None:
        """Refuse another design's hash.

        Raises
        ------
        ValueError
            It is not that of the design whose rows are summed.
        """
        if design != self.design:
            raise ValueError(f"results of the design {design[:12] or '(none)'}; these sums are of {self.design[:12]}")

    def add_base(self, a: Array, b: Array, *, design: str) -> tuple[Array, Array]:
        """Take in both base samples' outputs, shape (blocks * rows, q), block by block; gives them centred.

        Raises
        ------
        ValueError
            Outputs of another design, of another number of outputs, or not in equal blocks.
        """
        self.check(design)
        a, b = self.centred(a), self.centred(b)
        _check_alike(b, a)
        self.rows += a.shape[1]
        for values in (a, b):
            finite = ~np.isnan(values)
            self.known += np.count_nonzero(finite, axis=(0, 1))
            self.seen += np.where(finite, values, 0.0).sum(axis=(0, 1))
        for name, values in (("a", a), ("b", b)):
            self.parts[name] += values.sum(axis=1)
            self.parts[2 * name] += _summed(values, values)
        for at in _pieces(a.shape):
            apart = (a[at] - b[at]) ** 2
            self.parts["apart"][at] += apart.sum(axis=1)
            self.tails["apart4"] += _over_all(apart, apart)
            self.differing += np.count_nonzero(apart, axis=(0, 1))
        return a, b

    def add_swap(self, swap: int, ab: Array, ba: Array, a: Array, b: Array) -> tuple[Array, Array]:
        """Take in the outputs with one swap, both ways round; `a` and `b` as `add_base` gave them; gives both centred.

        Raises
        ------
        ValueError
            Outputs that do not stand in rows and blocks as those of the base samples do.
        """
        ab, ba = self.centred(ab), self.centred(ba)
        _check_alike(ab, a)
        _check_alike(ba, a)
        self.taken[swap] += a.shape[1]
        alone, moved, across = (self.parts[name][swap] for name in ("alone", "moved", "across"))
        for at in _pieces(a.shape):
            first, second, over = a[at] - ab[at], ba[at] - b[at], ba[at] - ab[at]
            product = first * second
            alone[at] += product.sum(axis=1)
            across[at] += _summed(over, over)
            self.tails["alone1"][swap] += np.abs(product).sum(axis=(0, 1))
            self.tails["alone2"][swap] += _over_all(product, product)
            for change in (first, second):
                np.square(change, out=change)
                moved[at] += change.sum(axis=1)
                self.tails["moved4"][swap] += _over_all(change, change)
        return ab, ba

    def add_second(self, abs_: list[Array], bas: list[Array]) -> None:
        """Take in what second order needs: the outputs with each paired swap, both ways round, centred."""
        for pair, (j, k) in enumerate(combinations(range(len(self.paired)), 2)):
            for at in _pieces(abs_[j].shape):
                self.parts["pairs"][pair][at] += _summed(bas[j][at] - bas[k][at], abs_[k][at] - abs_[j][at])

    def merge(self, after: Sums) -> Sums:
        """These sums with those of other points of the same design, which come after their own.

        Raises
        ------
        ValueError
            Sums of another design.
        """
        self.check(after.design)
        self.rows += after.rows
        for name in ("taken", "lost", "known", "seen", "differing"):
            own = getattr(self, name)
            own += getattr(after, name)
        for own_sums, others in ((self.tails, after.tails), (self.parts, after.parts)):
            for name, own in own_sums.items():
                own += others[name]
        return self

    def centred(self, outputs: Array) -> Array:
        """Outputs of shape (blocks * rows, q), block after block, less the shift, as (blocks, rows, q).

        Those that are not finite are counted, and become NaN.
        """
        q = len(self.shift)
        if outputs.ndim != 2 or outputs.shape[1] != q or len(outputs) % self.n_blocks:
            expected = f"rows in {self.n_blocks} equal blocks and {q} columns are needed"
            raise ValueError(f"outputs of shape {outputs.shape}; {expected}")
        blocks = outputs.reshape(self.n_blocks, -1, q)
        centred = np.empty(blocks.shape)
        for at in _pieces(blocks.shape):
            piece = blocks[at]
            finite = np.isfinite(piece)
            if not finite.all():
                self.lost += np.count_nonzero(~finite, axis=(0, 1))
                piece = np.where(finite, piece, np.nan)
            np.subtract(piece, self.shift, out=centred[at])
        return centred


def near_mean(outputs: Array) -> Array:
    """The mean of those outputs of some rows that are finite, shape (q,); 0 where none is."""
    known = np.isfinite(outputs)
    return np.asarray(np.where(known, outputs, 0.0).sum(axis=0) / np.maximum(known.sum(axis=0), 1))


def _check_alike(outputs: Array, base: Array) -> None:
    if outputs.shape != base.shape:
        raise ValueError(f"{outputs.shape[1]} rows of each block, beside a base sample of {base.shape[1]}")


def _pieces(shape: tuple[int, ...]) -> list[slice]:
    """Some blocks at a time, out of (blocks, rows, q)."""
    step = max(1, PIECE // max(1, shape[1] * shape[2]))
    return [slice(first, first + step) for first in range(0, shape[0], step)]


def _summed(one: Array, other: Array) -> Array:
    """Sums of products over the rows of each block, shape (blocks, q)."""
    return np.asarray(np.einsum("brq,brq->bq", one, other))


def _over_all(one: Array, other: Array) -> Array:
    """Sums of products over the rows of all blocks, shape (q,)."""
    return np.asarray(np.einsum("brq,brq->q", one, other))
