"""Rank stability: what becomes of a published ranking when judgements, bench noise, or both are drawn again and again."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from analysis.rankings.distinguishable import noise_under
from analysis.rankings.retest import FallBack, fall_back, two_doses
from analysis.rankings.tally import AGREEMENTS, Tally
from analysis.runs import Block, Executor, blocks_of, run, serially
from analysis.study import Setting, Study
from analysis.trials.quantities import Quantities, quantities_of
from analysis.trials.trials import Trials, compile_trials
from scoring.measurement_error import ALL_KNOWN, NoiseKnown
from scoring.numbers.array_types import Array
from scoring.table.table import ScoreTable

Progress = Callable[[int, int], None]
DRAWS = 16_384
#: Draws of one block. Each has a generator of its own, so that this figure is part of what a seed stands for.
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
    measures of which missing or low readings are drawn with it; noise: of which measures that the score stands on it is known.
    """

    quantities: Quantities
    parts: tuple[str, ...]
    by_source: Mapping[str, RankStability]
    retest: RankStability | None = None
    unread: tuple[str, ...] = ()
    noise: NoiseKnown = ALL_KNOWN


def rank_stability(
    study: Study,
    table: ScoreTable,
    *,
    draws: int = DRAWS,
    seed: int = 0,
    progress: Progress | None = None,
    retest: bool = False,
    execute: Executor = serially,
) -> tuple[ScoreStability, ...]:
    """The stability of every score of a study.

    Parameters
    ----------
    table : the scores as published
    draws : of each source, 100 or more
    progress : told how many draws are done, of how many
    retest : whether to look at a re-test too, where the study varies the bench
    execute : works the blocks of draws out

    Notes
    -----
    Acceptability of places and typical (central) weights after Lahdelma and Salminen, Operations Research 49(3), 2001 (from
    memory), over the study's own distributions; uniform weights are a rule of their own (`simplex: uniform`).
    """
    split = {
        "judgement": tuple(move for move in study.moves if not move.is_bench),
        "bench": tuple(move for move in study.moves if move.is_bench),
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
    blocks = blocks_of(draws, BATCH)
    for number, source in enumerate(wanted):
        trials = compile_trials(study.of_moves(split[source]), table.catalogue)
        drawn = RankDraws(trials, (seed, 4, SOURCES.index(source)), is_retest=source == RETEST)
        falls = run(drawn, Falls(table, quantities), blocks[:1], execute=execute) if drawn.is_retest else {}
        told = _told(progress, number, wanted, draws)
        for target, one in run(drawn, Tallies(source, quantities, falls), blocks, told=told, execute=execute).items():
            found[target][source] = one
    filling = [move for move in study.moves if move.fills]
    unread = tuple(name for move in filling for name in move.measures)
    return tuple(
        ScoreStability(
            quantities[t],
            _parts(study, t),
            found[t],
            found[t].pop(RETEST, None),
            unread,
            noise_under(split["bench"], table, t),
        )
        for t in study.scores
    )


def _told(progress: Progress | None, number: int, wanted: list[str], draws: int) -> Callable[[int], None]:
    return (lambda _: None) if progress is None else lambda done: progress(number * draws + done, len(wanted) * draws)


def _parts(study: Study, target: str) -> tuple[str, ...]:
    output = study.form.output(target)
    return tuple(part.source for part in output.parts if part.weight is not None)


@dataclass(frozen=True, slots=True, eq=False)
class RankDraws:
    """The draws of one source of variation: each score, and the weights of its parts.

    seed: of the source; is_retest: whether readings err twice, as published and as read again.
    """

    trials: Trials
    seed: tuple[int, ...]
    is_retest: bool

    def pieces(self, block: Block) -> Iterator[dict[str, Drawn]]:
        """Scores and weights by the name of the score."""
        study, n, rng = self.trials.study, len(block), block.stream(*self.seed)
        setting = two_doses(self.trials, n, rng) if self.is_retest else study.setting(study.draws(n, rng))
        scores = self.trials.scores(setting)
        yield {target: Drawn(own, _weights(study, target, setting)) for target, own in scores.items()}


@dataclass(frozen=True, slots=True, eq=False)
class Drawn:
    """One score under some draws, shape (n, all products), and the weights of its parts, shape (n, parts)."""

    scores: Array
    weights: Array


def _weights(study: Study, target: str, setting: Setting) -> Array:
    output = study.form.output(target)
    weights = [part.weight for part in output.parts if part.weight is not None]
    drawn = np.empty((setting.n_draws, len(weights)))
    for column, weight in enumerate(weights):
        drawn[:, column] = setting.numbers.get(weight.address, weight.value)
    return drawn


@dataclass(frozen=True, slots=True, eq=False)
class Falls:
    """How far each score of a re-test falls back towards the middle of the table: from the first draws, which are enough."""

    table: ScoreTable
    quantities: Mapping[str, Quantities]

    def start(self) -> dict[str, FallBack]:
        """Nothing yet."""
        return {}

    def add(self, sums: dict[str, FallBack], piece: Mapping[str, Drawn]) -> dict[str, FallBack]:
        """By the draws of one block."""
        for target, asked in self.quantities.items():
            published = self.table.evaluation.values[target][0]
            sums.setdefault(target, fall_back(published, piece[target].scores, asked.products))
        return sums

    def merge(self, sums: dict[str, FallBack], after: dict[str, FallBack]) -> dict[str, FallBack]:
        """The first block's."""
        return sums or after

    def finish(self, sums: dict[str, FallBack]) -> dict[str, FallBack]:
        """As they are."""
        return sums


@dataclass(frozen=True, slots=True, eq=False)
class Tallies:
    """Every score's draws counted; falls: how far each falls back, of a re-test."""

    source: str
    quantities: Mapping[str, Quantities]
    falls: Mapping[str, FallBack]

    def start(self) -> dict[str, Tally]:
        """A tally of nothing for each score."""
        return {target: Tally(asked) for target, asked in self.quantities.items()}

    def add(self, sums: dict[str, Tally], piece: Mapping[str, Drawn]) -> dict[str, Tally]:
        """Count some draws."""
        for target, tally in sums.items():
            own, drawn = self.falls.get(target), piece[target]
            tally.add(drawn.scores if own is None else own.of(drawn.scores), drawn.weights)
        return sums

    def merge(self, sums: dict[str, Tally], after: dict[str, Tally]) -> dict[str, Tally]:
        """The counts of both."""
        return {target: tally.merge(after[target]) for target, tally in sums.items()}

    def finish(self, sums: dict[str, Tally]) -> dict[str, RankStability]:
        """The chances that counts come to."""
        return {target: _finished(self.source, tally) for target, tally in sums.items()}


def _finished(source: str, tally: Tally) -> RankStability:
    n = tally.n_draws
    median, low, high, lowest, highest = tally.rank_quantiles((0.5, 0.05, 0.95, 0.0, 1.0))
    figures = {name: _spread(tally.agreement(name)) for name in AGREEMENTS}
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
