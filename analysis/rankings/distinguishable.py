"""What the bench can tell apart: the places that each product may truly hold, and the groups that a table prints.

`bench_of` and `bench_under` ask it of every score, by the bench's noise and nothing else; corrections and plans take the errors
of scores from `score_covariance`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from analysis.rankings.bench_errors import DRAWS, BenchErrors, bench_errors
from analysis.rankings.rank_groups import RankGroups, rank_groups, settled
from analysis.rankings.rank_sets import RankSets, rank_sets
from analysis.runs import Executor, serially
from analysis.study import Study, default_study
from analysis.study.building import Wording, unread_move
from analysis.study.study import Move
from analysis.trials.quantities import Quantities, quantities_of
from scoring.errors import Place, Problem, StudyError
from scoring.measurement_error import ALL_KNOWN, NoiseKnown, noise_known
from scoring.numbers.array_types import Array, Flags
from scoring.table.table import ScoreTable

COVERAGE = 0.95
#: The critical value of one pair looked at by itself, in standard errors of its difference, at 95 %.
ALONE = 1.96
#: A score whose noisy draws lie off its own figure by more than this many of their standard deviations is no normal one,
UNEVEN = 0.25
#: nor is one of whose variance more than this share is not linear in its readings' errors.
BENT = 0.05
#: The highest level of one table that the draws reach, with the band about its critical value.
HIGHEST = 0.9995


@dataclass(frozen=True, slots=True, eq=False)
class Distinguishable:
    """One score under the bench's noise alone; arrays over the published products, in published order.

    sets: joint confidence sets of the ranks; groups: products that are not told apart; settled: products whose set is one
    place; sd: the standard uncertainty of each score; apart: the standard error of the difference of each two neighbours,
    shape (products - 1,); uneven: products whose noise does not lie evenly about their score, because a limit or the end of
    a curve is near, or a part is missing: they are told from another only where hardly a draw has the other
    order; errors: the draws that all of it comes of; undecided: the pairs that too many draws turn round; noise: of which
    measures that the score stands on the noise is known: what is said here is said with its caveat.
    """

    sets: RankSets
    groups: RankGroups
    settled: tuple[int, ...]
    sd: Array
    apart: Array
    uneven: tuple[int, ...]
    errors: BenchErrors | None = None
    undecided: Flags | None = None
    noise: NoiseKnown = ALL_KNOWN

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


def bench_of(
    table: ScoreTable, seed: int, *, draws: int = DRAWS, execute: Executor = serially
) -> dict[str, Distinguishable]:
    """What the bench can tell apart of each score, where some noise of it is known and moves the score."""
    scores = tuple(column.output.name for column in table.scores if not np.isnan(column.rank).all())
    if not scores:
        return {}
    return bench_under(default_study(table.form, table.catalogue, scores), table, seed, draws=draws, execute=execute)


def bench_under(
    study: Study,
    table: ScoreTable,
    seed: int,
    *,
    draws: int = DRAWS,
    coverage: float = COVERAGE,
    at_once: bool = False,
    execute: Executor = serially,
) -> dict[str, Distinguishable]:
    """The same by a study's own account of the bench, of each of its scores.

    Parameters
    ----------
    at_once : let the statements of all tables hold at once with `coverage`, each at 1 - (1 - coverage) / their number
        (Bonferroni's inequality)
    execute : works the blocks of draws out

    Raises
    ------
    StudyError : so many tables at once that the draws do not reach the level of each
    """
    moves = tuple(move for move in study.moves if move.is_bench)
    if all(move.fills for move in moves):
        return {}
    quantities = {
        name: quantities_of(study.form, table.column(name), table.catalogue.products, study.top, study.pairs)
        for name in study.scores
    }
    if at_once:
        coverage = _level_of_each(coverage, len(quantities))
    found = bench_errors(
        _with_unread(study.of_moves(moves), table), table, quantities, seed=seed, draws=draws, execute=execute
    )
    return {
        name: replace(
            told_apart(quantities[name], one, seed=seed, coverage=coverage), noise=noise_under(moves, table, name)
        )
        for name, one in found.items()
        if one.moves
    }


def noise_of(table: ScoreTable, name: str) -> NoiseKnown:
    """Of which measures that a score stands on the noise is known, by what the formula declares."""
    return noise_known(table.errors, table.program.measures_under(name))


def noise_under(moves: Sequence[Move], table: ScoreTable, name: str) -> NoiseKnown:
    """The same as a study reckons with it: where repeats are drawn again, of a measure that has any."""
    again = [move for move in moves if move.resamples]
    found = noise_of(table, name)
    if not again:
        return found
    every = set(found.moving + found.unknown + found.exact)
    repeated = [one for move in again for one in move.repeated if one in every]
    return NoiseKnown(tuple(repeated), tuple(one for one in table.errors.read if one in every.difference(repeated)))


def _with_unread(study: Study, table: ScoreTable) -> Study:
    """The study with what was not read drawn too: a place that stands on a gap is never settled by leaving it out."""
    if any(move.fills for move in study.moves):
        return study
    everything = np.ones(len(table.catalogue.products), bool)
    unread, _ = unread_move(study.form, table.catalogue, everything, Wording("what other readings say of it"))
    return study if unread is None else replace(study, moves=(*study.moves, unread))


def _level_of_each(coverage: float, tables: int) -> float:
    level = 1 - (1 - coverage) / max(tables, 1)
    if level > HIGHEST:
        found = f"{100 * coverage:g} % for {tables} tables at once, hence {100 * level:g} % for each"
        raise StudyError(
            [Problem(Place("--coverage"), found, f"at most {100 * HIGHEST:g} % for each", "Ask for less.")]
        )
    return level


def told_apart(quantities: Quantities, bench: BenchErrors, *, seed: int, coverage: float = COVERAGE) -> Distinguishable:
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
    best = quantities.output.ranks.best.value
    rng = np.random.default_rng([seed, 7])

    def sets_of(undecided: Flags | None, *, stepwise: bool) -> RankSets:
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
    return Distinguishable(
        sets, groups, settled(sets, quantities.published), sd, apart, _places(uneven), bench, undecided
    )


def neighbours_apart(bench: BenchErrors) -> Array:
    """The standard error of the difference of each two neighbours in the table, shape (products - 1,)."""
    spread = np.diag(bench.spread**2) if bench.spread.ndim == 1 else bench.spread
    own = np.diag(spread)
    return np.sqrt(np.maximum(own[1:] + own[:-1] - 2 * np.diag(spread, 1), 0.0))


def _places(flags: Flags) -> tuple[int, ...]:
    return tuple(np.flatnonzero(flags).tolist())


def _undecided(bench: BenchErrors, values: Array, uneven: Flags, allowed: float) -> Flags:
    """The pairs with an uneven product of which more draws than `allowed` have not the order of the scores, the highest best."""
    turned = bench.not_above > allowed
    either = uneven[:, np.newaxis] | uneven
    return np.asarray(either & np.where(values[:, np.newaxis] > values, turned, turned.T))


def _tail(bench: BenchErrors, apart: Array, critical: float) -> float:
    """The chance that a difference of errors is beyond the critical value, one way: the mean over neighbours."""
    gaps = np.diff(bench.errors, axis=0)[apart > 0] / apart[apart > 0, np.newaxis]
    return float((np.abs(gaps) > critical).mean() / 2) if gaps.size else 0.0


def score_covariance(bench: Distinguishable) -> Array:
    """Covariance of the scores' errors, shape (products, products), in published order.

    Independent unless products share an error, of a session or a method. Estimated sizes are taken as they stand.
    """
    if bench.errors is None or bench.errors.spread.ndim == 1:
        return np.diag(bench.sd**2)
    return bench.errors.spread
