"""One way to run what is drawn: numbered blocks of draws, worked out in any order, their sums merged in theirs.

An experiment says what a block draws; a reducer says what is kept of it. A block is drawn from the seed and its own place
alone, every block has sums of its own, and sums are merged from the first block to the last: so neither who works a block
out, nor when, nor with which others, moves a digit. What keeps to these rules can be spread over processes or machines by
another executor; what is sent there is pickled (`Trials` and `Coalitions` compile their kernels anew where they arrive).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Generic, Protocol, TypeVar

import numpy as np
from numpy.typing import NDArray

from scoring.numbers.array_types import Array

Piece = TypeVar("Piece")
Sums = TypeVar("Sums")
Result_co = TypeVar("Result_co", covariant=True)
Piece_co = TypeVar("Piece_co", covariant=True)
Piece_contra = TypeVar("Piece_contra", contravariant=True)
#: Told how many draws are done.
Told = Callable[[int], None]


@dataclass(frozen=True, slots=True)
class Block:
    """The draws from `first` up to `last`, without it; `number` counts blocks from 0."""

    number: int
    first: int
    last: int

    def __len__(self) -> int:
        return self.last - self.first

    @property
    def rows(self) -> slice:
        """Its rows of what is held of all draws."""
        return slice(self.first, self.last)

    def stream(self, *seed: int) -> np.random.Generator:
        """A generator of its own, by a seed and by where it begins."""
        return np.random.default_rng([*seed, self.first])


def blocks_of(draws: int, size: int, *, first: int = 0) -> tuple[Block, ...]:
    """Draws from `first`, a multiple of the size, up to `draws` in blocks of one size; the last may be shorter.

    Examples
    --------
    >>> [(block.number, len(block)) for block in blocks_of(2500, 1000)]
    [(0, 1000), (1, 1000), (2, 500)]
    """
    if first % size:
        raise ValueError(f"a run that begins at draw {first}, inside a block of {size}")
    return tuple(Block(start // size, start, min(start + size, draws)) for start in range(first, draws, size))


class Experiment(Protocol[Piece_co]):
    """What is drawn and worked out of a block."""

    def pieces(self, block: Block) -> Iterable[Piece_co]:
        """A block's draws, in pieces that fit the cache; the same whenever and wherever they are asked for."""
        ...


class Reducer(Protocol[Piece_contra, Sums, Result_co]):
    """What is kept of draws."""

    def start(self) -> Sums:
        """Sums of nothing."""
        ...

    def add(self, sums: Sums, piece: Piece_contra) -> Sums:
        """Sums with a piece of their own block in them, too; those given are given up."""
        ...

    def merge(self, sums: Sums, after: Sums) -> Sums:
        """Sums of both, `after` being of the draws that come next; those given are given up."""
        ...

    def finish(self, sums: Sums) -> Result_co:
        """What sums come to."""
        ...


class Executor(Protocol):
    """Works blocks out, each by itself, and gives their sums in any order."""

    def __call__(self, work: Callable[[Block], Sums], blocks: Sequence[Block]) -> Iterable[tuple[Block, Sums]]:
        """Every block once, with what `work` makes of it."""
        ...


@dataclass(frozen=True, slots=True, eq=False)
class Work(Generic[Piece, Sums]):
    """What is done with a block, wherever that is."""

    experiment: Experiment[Piece]
    reducer: Reducer[Piece, Sums, object]

    def __call__(self, block: Block) -> Sums:
        """The sums of one block."""
        sums = self.reducer.start()
        for piece in self.experiment.pieces(block):
            sums = self.reducer.add(sums, piece)
        return sums


def serially(work: Callable[[Block], Sums], blocks: Sequence[Block]) -> Iterable[tuple[Block, Sums]]:
    """One block after the other, here."""
    for block in blocks:
        yield block, work(block)


def untold(done: int) -> None:
    """Nobody asks."""


def gather(
    experiment: Experiment[Piece],
    reducer: Reducer[Piece, Sums, object],
    blocks: Sequence[Block],
    *,
    onto: Sums | None = None,
    told: Told = untold,
    execute: Executor = serially,
) -> Sums:
    """The sums of some blocks.

    Parameters
    ----------
    blocks : in order
    onto : the sums of the blocks before them, which are given up
    told : told how many draws of these blocks are done
    execute : works the blocks out; it moves no digit

    Raises
    ------
    ValueError
        The executor left a block out, or gave one twice.
    """
    whole = reducer.start() if onto is None else onto
    missing, waiting, done = set(blocks), dict[Block, Sums](), 0
    in_order = iter(blocks)
    following = next(in_order, None)
    for block, sums in execute(Work(experiment, reducer), blocks):
        if block not in missing:
            raise ValueError(f"block {block.number} was not asked for, or is here already")
        missing.remove(block)
        waiting[block] = sums
        while following in waiting:
            whole = reducer.merge(whole, waiting.pop(following))
            following = next(in_order, None)
        done += len(block)
        told(done)
    if missing:
        raise ValueError(f"blocks {sorted(block.number for block in missing)} were not worked out")
    return whole


def run(
    experiment: Experiment[Piece],
    reducer: Reducer[Piece, Sums, Result_co],
    blocks: Sequence[Block],
    *,
    told: Told = untold,
    execute: Executor = serially,
) -> Result_co:
    """What an experiment comes to: its blocks gathered, and finished."""
    return reducer.finish(gather(experiment, reducer, blocks, told=told, execute=execute))


@dataclass(frozen=True, slots=True, eq=False)
class Held:
    """An experiment on a table of draws that is held, a row each: blocks are its rows."""

    table: NDArray[np.generic]

    def pieces(self, block: Block) -> Iterable[NDArray[np.generic]]:
        """The rows of a block."""
        yield self.table[block.rows]


@dataclass(frozen=True, slots=True)
class Joined:
    """A reducer that keeps draws as they are, by name, one block after the other along an axis."""

    axis: int = 0

    def start(self) -> list[Mapping[str, Array]]:
        """Nothing."""
        return []

    def add(self, sums: list[Mapping[str, Array]], piece: Mapping[str, Array]) -> list[Mapping[str, Array]]:
        """A piece at the end."""
        sums.append(piece)
        return sums

    def merge(self, sums: list[Mapping[str, Array]], after: list[Mapping[str, Array]]) -> list[Mapping[str, Array]]:
        """One after the other."""
        sums += after
        return sums

    def finish(self, sums: list[Mapping[str, Array]]) -> dict[str, Array]:
        """Every array of all draws."""
        return {name: np.concatenate([piece[name] for piece in sums], axis=self.axis) for name in sums[0]}
