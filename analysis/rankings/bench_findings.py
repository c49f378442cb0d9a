"""What the bench's noise says of one score beside its joint rank sets: each product alone, the first's lead, shrunken scores."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.rankings.distinguishable import Distinguishable, score_covariance
from analysis.rankings.rank_sets import RankSets, rank_sets
from analysis.rankings.shrunken import Shrunken, shrunken
from analysis.rankings.winners import Lead, lead_of
from analysis.trials.quantities import Quantities


@dataclass(frozen=True, slots=True, eq=False)
class BenchFindings:
    """One score under the bench's noise; arrays over the published products, in published order.

    bench: what is told apart; alone: the places of each product, for a question about that product alone; lead: of the best
    score over the next, None where neither has an error; shrunken: scores and expected places.
    """

    bench: Distinguishable
    alone: RankSets
    lead: Lead | None
    shrunken: Shrunken

    def top_set(self, places: int) -> tuple[int, ...]:
        """The products that could truly be among the first `places`, at the joint level.

        They are those whose joint set reaches up to there, so that the sets for every number of places hold at once, and with
        the joint sets; `rank_sets.tau_best` gives the same ones.
        """
        return tuple(np.flatnonzero(self.bench.sets.low <= places).tolist())


def bench_findings(quantities: Quantities, bench: Distinguishable, *, seed: int) -> BenchFindings | None:
    """All of it, at the level of the joint sets; None where fewer than two products are published."""
    if len(quantities.ids) < 2:
        return None
    covariance = score_covariance(bench)
    best = quantities.output.ranks.best.value
    coverage = bench.sets.coverage
    rng = np.random.default_rng([seed, 9])
    return BenchFindings(
        bench=bench,
        alone=rank_sets(
            quantities.values,
            covariance,
            rng=rng,
            coverage=coverage,
            best=best,
            family="marginal",
            errors=None if bench.errors is None else bench.errors.errors,
            undecided=bench.undecided,
        ),
        lead=lead_of(quantities.values, covariance, coverage=coverage, best=best),
        shrunken=shrunken(quantities.values, covariance, best=best),
    )
