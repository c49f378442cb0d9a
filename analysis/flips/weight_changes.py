"""The least changes of an output's weights that turn an order round, one weight or all, each confirmed by scoring again."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from analysis.flips.found import ABSOLUTE, ONE, SQUARES, Change
from analysis.flips.linear_scores import Branch, Linear
from analysis.flips.numbers import (
    IMPOSSIBLE,
    PROVED,
    SEARCHED,
    TIE,
    UNDECIDED,
    Contest,
    Crossing,
    first_reached,
)
from analysis.flips.readings import Certificate, numbers_confirmed
from analysis.flips.single import changed_number
from analysis.flips.weights import (
    least_absolute,
    least_squares,
    middle,
    mixture,
    one_weight,
    search_weights,
    to_decimals,
)
from analysis.short_figures import DIGITS, MOST_DIGITS
from scoring.form import Number
from scoring.table.table import ScoreTable

Array = NDArray[np.float64]
#: The largest share of all weight that one weight is looked at up to, where it has to be searched.
MOST_SHARE = 0.999
#: A printed vector of weights is this much longer than the exact one at most.
LONGER = 1.02


@dataclass(frozen=True, slots=True, eq=False)
class WeightChanges:
    """What looks for the changes of one contest's weights and confirms them.

    rng: of the random directions of a search; linear: the score as linear in its weights, None where it is not.
    """

    contest: Contest
    table: ScoreTable
    rng: np.random.Generator
    linear: Linear | None

    def all(self) -> Iterator[Change]:
        """The change of each weight by itself, then of all of them by least squares and by least absolute change."""
        weights = [part.weight for part in self.contest.output.parts if part.weight is not None]
        stated = np.array([weight.value for weight in weights])
        branches = self.linear.branches(self.contest) if self.linear is not None else ()
        branches = tuple(branch for branch in branches if len(branch.rows))
        for index, weight in enumerate(weights):
            found, why = self._one_weight(weights, index, stated, branches)
            room = (0.0, math.inf)
            span = weight.value or math.nan
            yield changed_number(self.contest, self.table, ONE, weight, found, span, "the weight", "", room, why)
        for kind, norm in ((SQUARES, 2), (ABSOLUTE, 1)):
            yield self._all_weights(kind, norm, weights, stated, branches)

    def _margins(self, weights: Sequence[Number]) -> Callable[[Array], Array]:
        def margins(rows: Array) -> Array:
            return self.contest.margins({weight.address: rows[:, i] for i, weight in enumerate(weights)})

        return margins

    def _one_weight(
        self, weights: Sequence[Number], index: int, stated: Array, branches: Sequence[Branch]
    ) -> tuple[Crossing, str]:
        """Exact where the score is linear; else searched over the weight's share of the whole."""
        margins = self._margins(weights)
        if branches:
            found_in = [one_weight(stated, branch.rows, index) for branch in branches]
            changes = [change for change, _ in found_in if change is not None]
            if not changes:
                return Crossing(None, 0.0, IMPOSSIBLE), "; nor ".join(dict.fromkeys(why for _, why in found_in))
            change = min(changes, key=abs)
            moved = stated.copy()
            moved[index] += change
            if margins(moved[np.newaxis])[0] >= TIE:
                return Crossing(float(moved[index]), math.inf if change > 0 else 0.0, PROVED), ""
        others = stated.sum() - stated[index]

        def weight_at(shares: Array) -> Array:
            return np.asarray(shares / (1 - shares) * others)

        def reaches(shares: Array) -> NDArray[np.bool_]:
            rows = np.repeat(stated[np.newaxis], len(shares), axis=0)
            rows[:, index] = weight_at(shares)
            return margins(rows) >= TIE

        share = stated[index] / stated.sum()
        ends = (0.0, MOST_SHARE) if share < MOST_SHARE and others > 0 else ()
        found = [first_reached(reaches, share, end) for end in ends if end != share]
        values = [float(weight_at(np.array(value))) for value in found if value is not None]
        if not values:
            return Crossing(None, 0.0, UNDECIDED), f"not up to {100 * MOST_SHARE:g} % of all weight"
        value = min(values, key=lambda each: abs(each - stated[index]))
        return Crossing(value, math.inf if value > stated[index] else 0.0, SEARCHED), ""

    def _all_weights(
        self, kind: str, norm: int, weights: Sequence[Number], stated: Array, branches: Sequence[Branch]
    ) -> Change:
        margins, total = self._margins(weights), float(stated.sum())
        none = Change(kind, "", "", "", (), math.nan, math.nan, math.nan, "the sum", UNDECIDED, "none found", None)
        best, verdict, inner = None, SEARCHED, None
        if branches:
            mixed = [mixture(branch.rows) for branch in branches]
            if all(one is not None for one in mixed):
                whys = [_beaten(branch, one) for branch, one in zip(branches, mixed, strict=True) if one is not None]
                return replace(none, verdict=IMPOSSIBLE, why="; and ".join(whys))
            best, inner = self._least(norm, stated, [b for b, one in zip(branches, mixed, strict=True) if one is None])
            if best is not None and margins(best[np.newaxis])[0] >= TIE:
                verdict = PROVED
        if verdict != PROVED:
            inner = None if inner is None or margins(inner[np.newaxis])[0] <= 0 else inner
            best = search_weights(stated, margins, self.rng, norm, None if inner is None else inner * total)
        if best is None:
            return none
        slack = None if inner is None else inner * total
        done = self._printed(weights, stated, best, slack, norm)
        if done is None:
            return replace(none, why="what was found was not confirmed by scoring again")
        texts, certificate = done
        length = float(np.linalg.norm(np.array([float(text) for text in texts]) - stated, norm))
        settings = tuple((w.address, w.value, text) for w, text in zip(weights, texts, strict=True))
        exact = float(np.linalg.norm(best - stated, norm))
        return replace(
            none,
            settings=settings,
            change=length,
            exact=exact,
            share=length / total,
            verdict=verdict,
            why="",
            certificate=certificate,
        )

    def _least(self, norm: int, stated: Array, branches: Sequence[Branch]) -> tuple[Array | None, Array | None]:
        """The least change over the branches that may be met, and weights well inside the one that it belongs to.

        No change where one of the branches has no solution that is sure: it might have been the least.
        """
        least = least_squares if norm == 2 else least_absolute
        found = [(least(stated, branch.rows), middle(branch.rows)) for branch in branches]
        if any(best is None for best, _ in found):
            return None, next((inner for _, inner in found if inner is not None), None)
        return min(found, key=lambda pair: float(np.linalg.norm(np.asarray(pair[0]) - stated, norm)))

    def _printed(
        self, weights: Sequence[Number], stated: Array, best: Array, inner: Array | None, norm: int
    ) -> tuple[list[str], Certificate] | None:
        """The fewest decimals that keep the sum and turn the order round, and hardly lengthen the change."""
        margins, largest = self._margins(weights), float(np.abs(best - stated).max())
        exact = float(np.linalg.norm(best - stated, norm))
        first = max(0, DIGITS - 1 - math.floor(math.log10(max(largest, 1e-12))))
        for decimals in range(first, first + MOST_DIGITS):
            for push in (0.0, 1.0, 3.0, 10.0, 30.0):
                step = min(push * 10.0**-decimals, 0.5)
                texts = to_decimals(best + step * ((inner if inner is not None else best) - best), stated, decimals)
                row = np.array([[float(text) for text in texts]])
                near = np.linalg.norm(row[0] - stated, norm) <= LONGER * exact or decimals > first + 6
                if not near or row.min() < 0 or margins(row)[0] < 0:
                    continue
                pairs = tuple(zip(weights, row[0].tolist(), strict=True))
                certificate = numbers_confirmed(self.contest, self.table, pairs)
                if certificate is not None:
                    return texts, certificate
        return None


def _beaten(branch: Branch, mixed: Array) -> str:
    """Why no weights help: one rival, or a mixture of them, is better in every part."""
    named = [(name, share) for name, share in zip(branch.names, mixed, strict=True) if share > 1e-9]
    if len(named) == 1:
        return f"{named[0][0]} is better in every part"
    terms = " + ".join(f"{share:.3g} {name}" for name, share in sorted(named, key=lambda each: -each[1]))
    return f"the mixture {terms} is better in every part"
