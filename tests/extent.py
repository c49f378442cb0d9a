"""How far the tests go: what a change waits for, or, with `--long`, every example and whole simulations."""

from __future__ import annotations

import os
from collections.abc import Callable, Hashable, Sequence
from typing import TypeVar

import pytest

T = TypeVar("T")
#: Set by `--long` before any test module is read, in every process of the run.
ASKED = "STEELYARD_LONG_TESTS"
#: What only a long run takes, because a smaller version of it stands beside it.
only_long = pytest.mark.long


def is_long() -> bool:
    """Whether `--long` was given."""
    return os.environ.get(ASKED) == "1"


def examples(full: int, few: int | None = None) -> int:
    """How many examples a property is tried on: all in a long run, otherwise a sixth of them, or as many as are named."""
    if is_long():
        return full
    return few or max(5, full // 6)


def some(cases: Sequence[T], every: int) -> Sequence[T]:
    """All cases in a long run; otherwise one of so many that follow each other."""
    return cases if is_long() else cases[::every]


def one_of_each(cases: Sequence[T], kind: Callable[[T], Hashable]) -> Sequence[T]:
    """All cases in a long run; otherwise the first of each kind."""
    if is_long():
        return cases
    firsts: dict[Hashable, T] = {}
    for case in cases:
        firsts.setdefault(kind(case), case)
    return list(firsts.values())
