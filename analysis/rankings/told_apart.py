"""What the bench can tell apart: the places that each product may truly hold, and the groups that a table prints."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.rankings.bench_errors import BenchErrors
from analysis.rankings.rank_groups import RankGroups, rank_groups, settled
from analysis.rankings.rank_sets import RankSets, rank_sets
from analysis.trials.quantities import Quantities

Array = NDArray[np.float64]
COVERAGE = 0.95
#: The critical value of one pair looked at by itself, in standard errors of its difference, at 95 %.
ALONE = 1.96
#: A score whose noisy draws lie off its own figure by more than this many of their standard deviations is no normal one,
UNEVEN = 0.25
#: nor is one of whose variance more than this share is not linear in its readings' errors.
BENT = 0.05


@dataclass(frozen=True, slots=True, eq=False)
class ToldApart:
    """One score under the bench's noise alone; arrays over the published products, in published order.

    sets: joint confidence sets of the ranks; groups: products that are not told apart; settled: products whose set is one
    place; sd: the standard uncertainty of each score; apart: the standard error of the difference of each two neighbours,
    shape (products - 1,); uneven: products whose noise does not lie evenly about their score, because a limit or the end of
    a curve is near, or a part is missing: they are told from another only where hardly a draw has the other
    order; errors: the draws that all of it comes of; undecided: the pairs that too many draws turn round.
    """

    sets: RankSets
    groups: RankGroups
    settled: tuple[int, ...]
    sd: Array
    apart: Array
    uneven: tuple[int, ...]
    errors: BenchErrors | None = None
    undecided: NDArray[np.bool_] | None = None

    def distance(self, *, alone: bool = False) -> float:
        """From how far apart two scores are told apart, in points: the median over neighbours in the table.

        alone: for one pair looked at by itself, at 95 %, and not for the whole table at once.
        """
        critical = ALONE if alone else float(np.max(self.sets.critical))
        return float(np.median(critical * self.apart)) if len(self.apart) else float("nan")

    @property
    def first_settled(self) -> int:
        """How many of the first lines of the table are settled, each at the place of its line, without a gap."""
        lines = np.arange(1, len(self.sd) + 1)
        there = (self.sets.low == lines) & (self.sets.high == lines)
        return len(lines) if there.all() else int(np.argmin(there))


def told_apart(quantities: Quantities, bench: BenchErrors, *, seed: int, coverage: float = COVERAGE) -> ToldApart:
    """The joint rank sets and groups of a score, from draws of its errors under the bench's noise.

    Notes
    -----
    Two products are told apart where two things hold. Their difference is beyond the critical value in standard errors, the
    quantile of the largest difference of drawn errors over all pairs: so errors that products share, correlated measures,
    unequal sizes, and sizes that rest on few degrees of freedom are in it. And where the noise of one of them is uneven, hardly
    a draw of the readings has the other order: fewer than both of two independent things that each lie 1 / sqrt(2) of the
    critical value off would make. So a score that jumps at the edge of a limit is not told from one that it stands above
    once it has jumped: two chances in one, as far off together as the critical value.
    """
    best = quantities.form.ranks.best.value
    rng = np.random.default_rng([seed, 7])

    def sets_of(undecided: NDArray[np.bool_] | None, *, stepwise: bool) -> RankSets:
        return rank_sets(
            quantities.values,
            bench.spread,
            rng=rng,
            coverage=coverage,
            best=best,
            stepwise=stepwise,
            errors=bench.errors,
            undecided=undecided,
        )

    critical = float(np.max(sets_of(None, stepwise=False).critical))
    apart = neighbours_apart(bench)
    sd = bench.sd
    off = np.abs(bench.mean - quantities.values) > UNEVEN * sd
    uneven = (off | (bench.rest > BENT)) & (sd > 0)
    signed = quantities.values if best == "highest" else -quantities.values
    allowed = _tail(bench, apart, critical / math.sqrt(2)) ** 2 * bench.n_draws
    undecided = _undecided(bench, signed, uneven, allowed)
    sets = sets_of(undecided, stepwise=True)
    groups = rank_groups(quantities.published, sets.beats)
    return ToldApart(sets, groups, settled(sets, quantities.published), sd, apart, _places(uneven), bench, undecided)


def neighbours_apart(bench: BenchErrors) -> Array:
    """The standard error of the difference of each two neighbours in the table, shape (products - 1,)."""
    spread = np.diag(bench.spread**2) if bench.spread.ndim == 1 else bench.spread
    own = np.diag(spread)
    return np.sqrt(np.maximum(own[1:] + own[:-1] - 2 * np.diag(spread, 1), 0.0))


def _places(flags: NDArray[np.bool_]) -> tuple[int, ...]:
    return tuple(np.flatnonzero(flags).tolist())


def _undecided(bench: BenchErrors, values: Array, uneven: NDArray[np.bool_], allowed: float) -> NDArray[np.bool_]:
    """The pairs with an uneven product of which more draws than `allowed` have not the order of the scores, the highest best."""
    turned = bench.not_above > allowed
    either = uneven[:, np.newaxis] | uneven
    return np.asarray(either & np.where(values[:, np.newaxis] > values, turned, turned.T))


def _tail(bench: BenchErrors, apart: Array, critical: float) -> float:
    """The chance that a difference of errors is beyond the critical value, one way: the mean over neighbours."""
    gaps = np.diff(bench.errors, axis=0)[apart > 0] / apart[apart > 0, np.newaxis]
    return float((np.abs(gaps) > critical).mean() / 2) if gaps.size else 0.0
