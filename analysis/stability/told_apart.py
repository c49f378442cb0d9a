"""What the bench can tell apart: the places that each product may truly hold, and the groups that a table prints."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.stability.rank_groups import RankGroups, rank_groups, settled
from analysis.stability.rank_sets import RESAMPLES, RankSets, rank_sets
from analysis.stability.stability import RankStability
from analysis.trials.quantities import Quantities

Array = NDArray[np.float64]
COVERAGE = 0.95
#: The critical value of one pair looked at by itself, in standard errors of its difference, at 95 %.
ALONE = 1.96
#: A score whose noisy draws lie off its own figure by more than this many of their standard deviations is no normal one.
UNEVEN = 0.25
#: A scatter below this share of the score is the dust of binary arithmetic, and none.
DUST = 1e-12


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

    def distance(self, *, alone: bool = False) -> float:
        """From how far apart two scores are told apart, in points: the median over neighbours in the table.

        alone: for one pair looked at by itself, at 95 %, and not for the whole table at once.
        """
        error = np.sqrt(self.sd[1:] ** 2 + self.sd[:-1] ** 2)
        critical = ALONE if alone else float(np.max(self.sets.critical))
        return float(np.median(critical * error)) if len(error) else float("nan")

    @property
    def first_settled(self) -> int:
        """How many of the first lines of the table are settled, each at the place of its line, without a gap."""
        lines = np.arange(1, len(self.sd) + 1)
        there = (self.sets.low == lines) & (self.sets.high == lines)
        return len(lines) if there.all() else int(np.argmin(there))


def told_apart(
    quantities: Quantities, bench: RankStability, *, seed: int, coverage: float = COVERAGE, resamples: int = RESAMPLES
) -> ToldApart:
    """The joint rank sets and groups of a score, from the scatter of its draws under the bench's noise.

    Notes
    -----
    Errors are taken as normal and, products being read one by one, as independent of each other; their standard
    deviations are those of the draws, so that flat and bent curves count as they act.
    They are taken as known: where repeatability is pooled from few repeats the sets hold less often than they say (4 equal
    products of 2 repeats, hence 4 degrees of freedom: about 86 % of the time at 95 %; 12 degrees: 92 %; measured).
    """
    sd = np.where(bench.score_sd > DUST * np.abs(quantities.values), bench.score_sd, 0.0)
    best = quantities.form.ranks.best.value
    rng = np.random.default_rng([seed, 5])
    sets = rank_sets(quantities.values, sd, rng=rng, coverage=coverage, best=best, resamples=resamples)
    off = np.abs(bench.score_mean - quantities.values) > UNEVEN * sd
    uneven = tuple(np.flatnonzero(off & (sd > 0)).tolist())
    groups = rank_groups(quantities.published, sets.beats)
    return ToldApart(sets, groups, settled(sets, quantities.published), sd, uneven)
