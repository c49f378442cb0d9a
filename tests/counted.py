"""How much work something takes, as a count of calls: the same on every machine, however busy."""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Callable
from types import FrameType
from typing import Any, TypeVar

T = TypeVar("T")


def calls_of(work: Callable[[], T]) -> tuple[T, Counter[str]]:
    """What some work gives, and how often each function written in Python was called meanwhile, as `module.function`."""
    counts: Counter[str] = Counter()

    def count(frame: FrameType, event: str, _: Any) -> None:
        if event == "call":
            counts[f"{frame.f_globals.get('__name__', '')}.{frame.f_code.co_name}"] += 1

    before = sys.getprofile()
    sys.setprofile(count)
    try:
        return work(), counts
    finally:
        sys.setprofile(before)
