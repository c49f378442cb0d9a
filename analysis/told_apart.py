"""What the bench can tell apart: the places that each product may truly hold, and the groups that a table prints."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.quantities import Quantities
from analysis.rank_groups import RankGroups, rank_groups, settled
from analysis.rank_sets import RESAMPLES, RankSets, rank_sets
from analysis.stability import RankStability

Array = NDArray[np.float64]
COVERAGE = 0.95
#: A score whose noisy draws lie off its own figure by more than this many of their standard deviations is no normal one.
UNEVEN = 0.25


@dataclass(frozen=True, slots=True, eq=False)
class ToldApart:
    """One score under the bench's noise alone; arrays over the published products, in published order.

    sets: joint confidence sets of the ranks; groups: products that are not told apart; settled: products whose set is one
    place; sd: of each score under noise; uneven: products whose noise does not lie evenly about their score, because a
    limit or the end of a curve is near: their sets rest on a normal law that does not hold well.
    """

    sets: RankSets
    groups: RankGroups
    settled: tuple[int, ...]
    sd: Array
    uneven: tuple[int, ...]

    @property
    def first_settled(self) -> int:
        """How many of the first places are settled, counted from the first without a gap."""
        alone = set(self.settled)
        return next((place for place in range(len(self.sd)) if place not in alone), len(self.sd))


def told_apart(
    quantities: Quantities, bench: RankStability, *, seed: int, coverage: float = COVERAGE, resamples: int = RESAMPLES
) -> ToldApart:
    """The joint rank sets and groups of a score, from the scatter of its draws under the bench's noise.

    Notes
    -----
    Errors are taken as normal and, products being read one by one, as independent of each other; their standard
    deviations are those of the draws, so that flat and bent curves count as they act.
    """
    sd = np.where(np.isfinite(bench.score_sd), bench.score_sd, 0.0)
    best = quantities.form.ranks.best.value
    rng = np.random.default_rng([seed, 5])
    sets = rank_sets(quantities.values, sd, rng=rng, coverage=coverage, best=best, resamples=resamples)
    off = np.abs(bench.score_mean - quantities.values) > UNEVEN * sd
    uneven = tuple(np.flatnonzero(off & (sd > 0)).tolist())
    groups = rank_groups(quantities.published, sets.beats)
    return ToldApart(sets, groups, settled(sets, quantities.published), sd, uneven)
