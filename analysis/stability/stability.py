"""Rank stability: what becomes of a published ranking when judgements, bench noise, or both are drawn again and again."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.stability.retest import FallBack, fall_back, two_doses
from analysis.stability.tally import AGREEMENTS, Tally
from analysis.study import Study
from analysis.study.moves import BootstrapMove, NoiseMove, UnreadMove
from analysis.study.study import Move
from analysis.trials.quantities import Quantities, quantities_of
from analysis.trials.trials import compile_trials
from scoring.table import ScoreTable

Array = NDArray[np.float64]
Progress = Callable[[int, int], None]
DRAWS = 16_384
#: Draws of one batch. Each batch has a generator of its own, so that this figure is part of what a seed stands for.
BATCH = 1024
RETEST = "re-test"
SOURCES = ("judgement", "bench", "both", RETEST)


@dataclass(frozen=True, slots=True)
class Spread:
    """A figure over draws: its mean, median, 5 % and 95 % points."""

    mean: float
    median: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, eq=False)
class RankStability:
    """What one source of variation does to one score's ranking; arrays over the published products, in published order.

    source: "judgement", "bench", "both" or "re-test"; median, low, high (5 % and 95 %), lowest, highest: of the rank, shape (p,);
    first, top: chances of place 1, and of the top places, as the formula ranks ties (a mean place of 1.5 is not first),
    shape (p,); acceptability: chance of each place, shape (p, places), a half place counted to the better one; beats: chance
    that the row product is placed above the column one, over the draws in which both have a score, shape (p, p), NaN where
    they never do; lacking: share of draws in which either has none, shape (p, p); absent: share of draws without a score,
    shape (p,);
    typical: mean shares of the weights among draws in which a product is first, shape (p, parts), NaN where it never is;
    agreement: figures of the whole ranking against the published one, over the draws that define them; score_mean, score_sd:
    of the score, shape (p,).
    """

    source: str
    n_draws: int
    median: Array
    low: Array
    high: Array
    lowest: Array
    highest: Array
    first: Array
    top: Array
    acceptability: Array
    beats: Array
    lacking: Array
    absent: Array
    typical: Array
    agreement: Mapping[str, Spread]
    score_mean: Array
    score_sd: Array


@dataclass(frozen=True, slots=True, eq=False)
class ScoreStability:
    """One score's stability under each source; those that the study does not vary are not there.

    retest: a second table beside the published one, both with the bench's noise; None where it was not asked for, or where the
    study does not vary the bench. (The source "bench" is one dose of noise, about the published readings.) unread: the
    measures of which missing or low readings are drawn with it.
    """

    quantities: Quantities
    parts: tuple[str, ...]
    by_source: Mapping[str, RankStability]
    retest: RankStability | None = None
    unread: tuple[str, ...] = ()


def is_bench(move: Move) -> bool:
    """Whether a move is about the bench's readings, not about a judgement."""
    return isinstance(move, NoiseMove | BootstrapMove | UnreadMove)


def stability(
    study: Study,
    table: ScoreTable,
    *,
    draws: int = DRAWS,
    seed: int = 0,
    progress: Progress | None = None,
    retest: bool = False,
) -> tuple[ScoreStability, ...]:
    """The stability of every score of a study.

    Parameters
    ----------
    table : the scores as published
    draws : of each source, 100 or more
    progress : told how many draws are done, of how many
    retest : whether to look at a re-test too, where the study varies the bench

    Notes
    -----
    Acceptability of places and typical (central) weights after Lahdelma and Salminen, Operations Research 49(3), 2001 (from
    memory), over the study's own distributions; uniform weights are a rule of their own (`simplex: uniform`).
    """
    split = {
        "judgement": tuple(move for move in study.moves if not is_bench(move)),
        "bench": tuple(move for move in study.moves if is_bench(move)),
        "both": study.moves,
    }
    wanted = [source for source in split if split[source]]
    if len(wanted) < len(split):  # one of the two, or nothing at all, varies
        wanted = [source for source in wanted if source != "both"]
    if retest and "bench" in wanted:
        split[RETEST] = split["bench"]
        wanted.append(RETEST)
    quantities = {
        target: quantities_of(study.form, table.column(target), table.catalogue.products, study.top, study.pairs)
        for target in study.scores
    }
    found: dict[str, dict[str, RankStability]] = {target: {} for target in study.scores}
    for number, source in enumerate(wanted):
        own, told = study.of_moves(split[source]), _told(progress, number, wanted, draws)
        seeds = [seed, 4, SOURCES.index(source)]
        for target, tally in _tallied(own, table, quantities, draws, seeds, told, retest=source == RETEST).items():
            found[target][source] = _finished(source, tally)
    unread = tuple(name for move in study.moves if isinstance(move, UnreadMove) for name in move.measures)
    return tuple(
        ScoreStability(quantities[t], _parts(study, t), found[t], found[t].pop(RETEST, None), unread)
        for t in study.scores
    )


def _told(progress: Progress | None, number: int, wanted: list[str], draws: int) -> Callable[[int], None]:
    return (lambda _: None) if progress is None else lambda done: progress(number * draws + done, len(wanted) * draws)


def _parts(study: Study, target: str) -> tuple[str, ...]:
    output = study.form.output(target)
    return tuple(part.source for part in output.parts if part.weight is not None)


def _tallied(
    study: Study,
    table: ScoreTable,
    quantities: Mapping[str, Quantities],
    draws: int,
    seed: list[int],
    told: Callable[[int], None],
    *,
    retest: bool,
) -> dict[str, Tally]:
    """Draws counted. How far a re-test falls back towards the middle of the table is worked out from the first batch."""
    trials = compile_trials(study, table.catalogue)
    tallies = {target: Tally(asked, draws) for target, asked in quantities.items()}
    weights = {target: _weight_addresses(study, target) for target in quantities}
    falls: dict[str, FallBack] = {}
    for start in range(0, draws, BATCH):
        n, rng = min(BATCH, draws - start), np.random.default_rng([*seed, start])
        setting = two_doses(study, trials, n, rng) if retest else study.setting(study.draws(n, rng))
        scores = trials.scores(setting)
        if retest and not falls:
            falls = {t: _fall_back(table, quantities[t], scores[t]) for t in tallies}
        for target, tally in tallies.items():
            drawn = [setting.numbers.get(a, np.full(n, stated)) for a, stated in weights[target]]
            own = falls[target].of(scores[target]) if retest else scores[target]
            tally.add(own, np.stack(drawn, axis=1) if drawn else np.empty((n, 0)))
        told(start + n)
    return tallies


def _fall_back(table: ScoreTable, asked: Quantities, drawn: Array) -> FallBack:
    return fall_back(table.evaluation.values[asked.output.name][0], drawn, asked.products)


def _weight_addresses(study: Study, target: str) -> list[tuple[str, float]]:
    output = study.form.output(target)
    return [(part.weight.address, part.weight.value) for part in output.parts if part.weight is not None]


def _finished(source: str, tally: Tally) -> RankStability:
    n = tally.n_draws
    median, low, high, lowest, highest = tally.rank_quantiles((0.5, 0.05, 0.95, 0.0, 1.0))
    figures = {name: _spread(tally.agreement[name]) for name in AGREEMENTS}
    mean, sd = tally.score_moments()
    return RankStability(
        source=source,
        n_draws=n,
        median=median,
        low=low,
        high=high,
        lowest=lowest,
        highest=highest,
        first=tally.first / n,
        top=tally.top / n,
        acceptability=tally.acceptability(),
        beats=tally.chances_above(),
        lacking=1 - tally.both / n,
        absent=1 - tally.there / n,
        typical=tally.typical_weights(),
        agreement=figures,
        score_mean=mean,
        score_sd=sd,
    )


def _spread(values: Array) -> Spread:
    known = values[~np.isnan(values)]
    if not len(known):
        return Spread(*(float("nan"),) * 4)
    low, median, high = np.quantile(known, [0.05, 0.5, 0.95], method="inverted_cdf").tolist()
    return Spread(float(known.mean()), median, low, high)
