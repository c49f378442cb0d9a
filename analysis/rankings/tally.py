"""Counting over draws of one score: places, firsts, who stands above whom, agreement; no draw is kept."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from analysis.rankings.agreement import kendall, spearman, top_overlap
from analysis.rankings.rank_biased_overlap import rank_biased_overlap
from analysis.trials.quantities import SHIFT, Outcome, Quantities
from scoring.numbers.array_types import Array, Integers
from scoring.numbers.ordered_sums import matrix_product

AGREEMENTS = (
    "Kendall tau-b",
    "pairs turned",
    "Spearman",
    SHIFT,
    "top overlap",
    "rank-biased overlap",
)


@dataclass(slots=True, eq=False)
class Tally:
    """Counts over draws of one score; n_draws: how many there were.

    places: how often each product had each place, in half places from 1, shape (p, 2 p); there: how often it had a score;
    first, top: how often it was first, and in the top; beats: how often the row product stood above the column one; both: how
    often both had a score;
    weights: sums of the weights' shares over the draws in which each was first, shape (p, parts);
    sums, squares: of each score less the published one, shape (p,);
    agreements: figures of each draw's whole ranking against the published one, by name, shape (draws,) each, batch by batch.
    """

    quantities: Quantities
    n_draws: int = field(default=0, init=False)
    places: Integers = field(init=False)
    there: Integers = field(init=False)
    first: Integers = field(init=False)
    top: Integers = field(init=False)
    beats: Integers = field(init=False)
    both: Integers = field(init=False)
    weights: Array | None = field(default=None, init=False)
    sums: Array = field(init=False)
    squares: Array = field(init=False)
    agreements: list[dict[str, Array]] = field(default_factory=list, init=False)

    def __post_init__(self) -> None:
        p = len(self.quantities.ids)
        self.places = np.zeros((p, 2 * p), np.int64)
        self.there, self.first, self.top = (np.zeros(p, np.int64) for _ in range(3))
        self.beats, self.both = (np.zeros((p, p), np.int64) for _ in range(2))
        self.sums, self.squares = np.zeros(p), np.zeros(p)

    def add(self, scores: Array, weights: Array) -> None:
        """Take in a batch: scores of all products, shape (n, products), and weights, shape (n, parts)."""
        outcome = self.quantities.outcome(scores)
        ranks = outcome.ranks
        known = ~np.isnan(ranks)
        n, p = ranks.shape
        self.there += known.sum(axis=0)
        self.first += outcome.first.sum(axis=0)
        self.top += outcome.top.sum(axis=0)
        half = (2 * ranks[known] - 2).astype(np.int64)
        product = np.broadcast_to(np.arange(p), ranks.shape)[known]
        self.places += np.bincount(product * 2 * p + half, minlength=2 * p * p).reshape(p, 2 * p)
        for one in range(p):
            self.beats[one] += (ranks[:, one, np.newaxis] < ranks).sum(axis=0)
        self.both += n if known.all() else matrix_product(known.T, known).astype(np.int64)
        change = np.where(known, outcome.scores - self.quantities.values, 0.0)
        self.sums += change.sum(axis=0)
        self.squares += (change**2).sum(axis=0)
        self._add_weights(_weights_of_first(outcome, weights))
        self.agreements.append(self._agreement(outcome))
        self.n_draws += n

    def merge(self, after: Tally) -> Tally:
        """This tally with the draws of another, which come after its own."""
        for name in ("places", "there", "first", "top", "beats", "both", "sums", "squares"):
            counted = getattr(self, name)
            counted += getattr(after, name)
        if after.weights is not None:
            self._add_weights(after.weights)
        self.agreements += after.agreements
        self.n_draws += after.n_draws
        return self

    def _add_weights(self, weights: Array) -> None:
        self.weights = weights if self.weights is None else self.weights + weights

    def _agreement(self, outcome: Outcome) -> dict[str, Array]:
        published, ranks = self.quantities.published, outcome.ranks
        tau, turned = kendall(published, ranks)
        return {
            "Kendall tau-b": tau,
            "pairs turned": turned,
            "Spearman": spearman(published, ranks),
            SHIFT: np.where(np.isnan(ranks).all(axis=1), np.nan, outcome.shift),
            "top overlap": top_overlap(published, ranks, self.quantities.top),
            "rank-biased overlap": rank_biased_overlap(published, ranks),
        }

    def agreement(self, name: str) -> Array:
        """One figure of each draw's ranking against the published one, shape (n_draws,)."""
        return np.concatenate([batch[name] for batch in self.agreements])

    def chances_above(self) -> Array:
        """The chance that the row product stands above the column one, where both have a score; NaN where they never do."""
        with np.errstate(invalid="ignore", divide="ignore"):
            return np.where(self.both > 0, self.beats / self.both, np.nan)

    def rank_quantiles(self, shares: Sequence[float]) -> list[Array]:
        """The least place that a share of the draws is at or above, for each share (0: the best place ever held)."""
        cumulative = np.cumsum(self.places, axis=1)
        total = cumulative[:, -1:]
        found = []
        for share in shares:
            needed = np.maximum(np.ceil(share * total), 1)
            place = 1 + np.argmax(cumulative >= needed, axis=1) / 2
            found.append(np.where(total[:, 0] > 0, place, np.nan))
        return found

    def acceptability(self) -> Array:
        """The chance of each place, shape (p, p): half places count to the better one."""
        p = len(self.quantities.ids)
        return np.asarray(self.places.reshape(p, p, 2).sum(axis=2) / self.n_draws)

    def typical_weights(self) -> Array:
        """The mean shares of the weights among the draws in which each product was first, NaN where it never was."""
        if self.weights is None:
            return np.empty((len(self.first), 0))
        with np.errstate(invalid="ignore", divide="ignore"):
            return np.where(self.first[:, np.newaxis] > 0, self.weights / self.first[:, np.newaxis], np.nan)

    def score_moments(self) -> tuple[Array, Array]:
        """Mean and standard deviation of each product's score over the draws in which it had one."""
        with np.errstate(invalid="ignore", divide="ignore"):
            mean = self.sums / self.there
            square = self.squares / self.there - mean**2
        return self.quantities.values + mean, np.sqrt(np.maximum(square, 0))


def _weights_of_first(outcome: Outcome, weights: Array) -> Array:
    """Sums of the weights' shares over the draws in which each product is first, shape (p, parts)."""
    with np.errstate(invalid="ignore"):
        shares = weights / weights.sum(axis=1, keepdims=True)
    return matrix_product(outcome.first.T, np.nan_to_num(shares))
