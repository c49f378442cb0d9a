"""Cases with published or exactly known answers, run again on the machine at hand.

Every figure of ours comes from the functions that the commands call, most of them by way of a small formula and a study
written as a user writes them. What is random in a case follows from the seed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from analysis.selftest import (
    overlap_cases,
    precision_cases,
    ranking_cases,
    rounding_cases,
    sensitivity_cases,
    uncertainty_cases,
    weights_cases,
)
from analysis.selftest.closed_case import ClosedCase

__all__ = ["GROUPS", "ClosedCase", "closed_cases"]
#: What a seed makes of each group; the cases of a group share their runs.
GROUPS: tuple[Callable[[int], Iterator[ClosedCase]], ...] = (
    *rounding_cases.GROUPS,
    *uncertainty_cases.GROUPS,
    *precision_cases.GROUPS,
    *weights_cases.GROUPS,
    *ranking_cases.GROUPS,
    *overlap_cases.GROUPS,
    *sensitivity_cases.GROUPS,
)


def closed_cases(seed: int = 0) -> Iterator[ClosedCase]:
    """Every closed case, group after group, each as soon as it is there.

    Parameters
    ----------
    seed : of everything random in them; published answers do not depend on it, and ours only within `within`
    """
    for group in GROUPS:
        yield from group(seed)
