"""Ways to work the blocks of a run out that an executor may take, and what a result holds as bytes."""

from __future__ import annotations

import pickle
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import fields, is_dataclass
from multiprocessing import get_context
from threading import Event
from typing import TypeVar

import numpy as np

from analysis.runs import Block

Sums = TypeVar("Sums")
Done = tuple[Block, Sums]


def last_first(work: Callable[[Block], Sums], blocks: Sequence[Block]) -> Iterator[Done[Sums]]:
    """The last block is done first."""
    for block in reversed(blocks):
        yield block, work(block)


def in_threads(work: Callable[[Block], Sums], blocks: Sequence[Block]) -> Iterator[Done[Sums]]:
    """Three at a time, and the first block waits for another to be done before it."""
    another = Event()

    def done(block: Block) -> Done[Sums]:
        if block is blocks[0] and len(blocks) > 1:
            another.wait()
        sums = work(block)
        another.set()
        return block, sums

    with ThreadPoolExecutor(3) as pool:
        futures = [pool.submit(done, block) for block in blocks]
        yield from (future.result() for future in sorted(futures, key=lambda future: not future.done()))


def in_halves(work: Callable[[Block], Sums], blocks: Sequence[Block]) -> Iterator[Done[Sums]]:
    """Two halves, each by itself; the second is there first."""
    middle = len(blocks) // 2
    halves = [[(block, work(block)) for block in half] for half in (blocks[:middle], blocks[middle:])]
    yield from (*halves[1], *halves[0])


def as_sent(work: Callable[[Block], Sums], blocks: Sequence[Block]) -> Iterator[Done[Sums]]:
    """As sent elsewhere, and its sums sent back: pickled and read again."""
    for block in blocks:
        away = pickle.loads(pickle.dumps(work))
        yield block, pickle.loads(pickle.dumps(away(block)))


@contextmanager
def processes() -> Iterator[Callable[..., Iterable[Done[object]]]]:
    """A way through two processes that know nothing but what is sent: they begin once, and take the blocks of every run."""
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:

        def in_processes(work: Callable[[Block], Sums], blocks: Sequence[Block]) -> Iterator[Done[Sums]]:
            yield from zip(blocks, pool.map(work, blocks), strict=True)

        yield in_processes


#: Every one but processes, which take seconds to begin.
WAYS: dict[str, Callable[..., Iterable[Done[object]]]] = {
    "the last first": last_first,
    "in threads": in_threads,
    "in halves": in_halves,
    "as sent": as_sent,
}


def held(thing: object) -> object:
    """All that a result holds, arrays as their bytes, so that two results can be compared."""
    if isinstance(thing, np.ndarray):
        return (thing.dtype.str, thing.shape, thing.tobytes())
    if isinstance(thing, float):
        return thing.hex()
    if is_dataclass(thing) and not isinstance(thing, type):
        return {field.name: held(getattr(thing, field.name)) for field in fields(thing)}
    if isinstance(thing, Mapping):
        return {key: held(value) for key, value in thing.items()}
    if isinstance(thing, tuple | list):
        return [held(one) for one in thing]
    return thing
