"""How much work something takes, as a count of calls: the same on every machine, however busy."""

from __future__ import annotations

import cProfile
import sys
from collections import Counter
from collections.abc import Callable
from typing import TypeVar

T = TypeVar("T")


def calls_of(work: Callable[[], T]) -> tuple[T, Counter[str]]:
    """What some work gives, and how often each function written in Python was called meanwhile, as `module.function`."""
    profile = cProfile.Profile(subcalls=False, builtins=False)
    result = profile.runcall(work)
    modules = {getattr(module, "__file__", None): name for name, module in list(sys.modules.items())}
    counts: Counter[str] = Counter()
    for entry in profile.getstats():
        if not isinstance(entry.code, str):
            counts[f"{modules.get(entry.code.co_filename, '')}.{entry.code.co_name}"] += entry.callcount
    return result, counts
