"""The least changes of an output's weights that turn an order round, one weight or all, each confirmed by scoring again.

A limit's condition is about readings, ratings or other scores, none of which lean on the weights of the score itself: whether it
is on is the same for all weights. So a capped score is min(w.p, c) for one number c, and "at least equal to a rival" is
w.p >= w.q and c >= w.q, the latter being w.(c - q) >= 0 where weights sum to one: linear programmes, as without a cap.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from analysis.flips.certificates import Certificate, numbers_confirmed
from analysis.flips.contest import TIE, Contest
from analysis.flips.crossing import IMPOSSIBLE, PROVED, SEARCHED, UNDECIDED, Crossing, first_reached
from analysis.flips.found import ABSOLUTE, ONE, SQUARES, Change
from analysis.flips.single import changed_number
from analysis.flips.ways import Way
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
from scoring.blends import Weights
from scoring.form import Limit, Number
from scoring.numbers.array_types import Array, Flags

#: The largest share of all weight that one weight is looked at up to, where it has to be searched.
MOST_SHARE = 0.999
#: A printed vector of weights is this much longer than the exact one at most.
LONGER = 1.02
#: Further up or down than any score: a bound there never holds anything, or always.
FAR = 1e9


@dataclass(frozen=True, slots=True)
class Branch:
    """Conditions rows @ weights >= 0 that are enough together; names: what each is about, in words."""

    rows: Array
    names: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Linear:
    """A score that is linear in its weights but for caps.

    values: products' parts, shape (n_products, n_parts); holds: the products for which it is so, none with a missing part or
    with a limit on that is no cap; caps: the least bound that holds each down, inf where none does
    """

    values: Array
    holds: Flags
    caps: Array

    def branches(self, contest: Contest) -> tuple[Branch, ...]:
        """The ways in which the subject may be at least equal to every rival: one of them is enough, and one is needed.

        None where the subject is not linear. A rival that is not is left out: what is impossible without it is impossible.
        A capped rival is passed either by its weights or, whatever they are, by a score of its cap.
        """
        if not self.holds[contest.subject]:
            return ()
        rivals = [rival for rival in contest.rivals if self.holds[rival] and contest.published[rival]]
        own = float(self.caps[contest.subject])
        reached = sorted({float(cap) for cap in self.caps[rivals] if cap <= own and np.isfinite(cap)})
        return tuple(self._branch(contest, rivals, level) for level in (-np.inf, *reached))

    def _branch(self, contest: Contest, rivals: list[int], level: float) -> Branch:
        """The subject reaches a level, which is enough for every rival that is capped there or below."""
        subject, products = contest.subject, contest.inputs.products
        parts, own = self.values[subject], float(self.caps[subject])
        rows, names = list[Array](), list[str]()
        for rival in rivals:
            if self.caps[rival] <= level:
                continue
            rows.append(contest.sign * (parts - self.values[rival]))
            names.append(products[rival])
            if np.isfinite(own):
                rows.append(own - self.values[rival])
                names.append(f"{products[rival]} (against the cap of {own:g})")
        if np.isfinite(level):
            rows.append(parts - level)
            names.append(f"the cap of {level:g}")
        return Branch(np.array(rows).reshape(-1, self.values.shape[1]), tuple(names))


def linear_view(contest: Contest) -> Linear | None:
    """The parts and caps of each product; None where the score is not linear in its weights for any."""
    output, known = contest.output, contest.program.parameters
    weights = [part.weight for part in output.parts if part.weight is not None]
    always = [limit for limit in output.limits if limit.apply.value == "always"]
    blend = output.blending
    straight = blend is not None and blend.additive and output.round is None
    if not straight or not weights or len(weights) < len(output.parts) or output.ranks.on.value == "shown":
        return None
    if any(limit.curve is not None for limit in always):
        return None
    loose = {limit.bound.address: _loose(limit) for limit in always if limit.bound is not None}
    free = {address: value for address, value in loose.items() if address in known}
    rows = np.vstack([np.eye(len(weights)), [[weight.value for weight in weights]]])
    numbers = {weight.address: rows[:, column] for column, weight in enumerate(weights)}
    n = len(rows)
    values = contest.values({**numbers, **{a: np.full(n, value) for a, value in free.items()}}, gated=False)
    holds, caps = np.isfinite(values).all(axis=0), np.full(values.shape[1], np.inf)
    for limit in always:
        on = _is_on(contest, limit, numbers, free, values)
        # where weights are shares, a bound is a combination of them, too
        is_cap = blend is not None and blend.weights is Weights.SHARES and contest.sign > 0
        if limit.sense == "at_most" and is_cap and limit.bound is not None and limit.bound.address in known:
            caps = np.where(on, np.minimum(caps, limit.bound.value), caps)
        else:
            holds &= ~on
    return Linear(values[:-1].T, np.asarray(holds), caps)


def _loose(limit: Limit) -> float:
    return FAR if limit.sense == "at_most" else -FAR


def _is_on(contest: Contest, limit: Limit, numbers: dict[str, Array], free: dict[str, float], values: Array) -> Flags:
    """The products whose score one limit holds, all others being loose: its bound moves it, wherever that lies."""
    n = len(values)
    bounds = {address: np.full(n, value) for address, value in free.items()}
    if limit.bound is not None and limit.bound.address in free:
        bounds[limit.bound.address] = np.full(n, -_loose(limit))
    held = contest.values({**numbers, **bounds}, gated=False)
    return np.asarray((held != values).any(axis=0))


@dataclass(frozen=True, slots=True, eq=False)
class WeightChanges:
    """What looks for the changes of one contest's weights and confirms them.

    rng: of the random directions of a search; weights: of the parts; stated: their values, shape (n_parts,); branches: conditions
    that are linear in them, one of which is enough and needed; none where the score is not linear in its weights.
    """

    contest: Contest
    rng: np.random.Generator
    weights: tuple[Number, ...]
    stated: Array
    branches: tuple[Branch, ...]

    def all(self) -> Iterator[Change]:
        """The change of each weight by itself, then of all of them by least squares and by least absolute change."""
        for index, weight in enumerate(self.weights):
            found, why = self._one_weight(index)
            way = Way(ONE, weight, 0.0, math.inf, weight.value or math.nan, "the weight", provable=False)
            yield changed_number(self.contest, way, found, why=why)
        for kind, norm in ((SQUARES, 2), (ABSOLUTE, 1)):
            yield self._all_weights(kind, norm)

    def _margins(self, rows: Array) -> Array:
        """The subject's leads, shape (n,), under weights, shape (n, n_parts)."""
        return self.contest.margins({weight.address: rows[:, i] for i, weight in enumerate(self.weights)})

    def _one_weight(self, index: int) -> tuple[Crossing, str]:
        """Exact where the score is linear; else searched over the weight's share of the whole."""
        stated = self.stated
        if self.branches:
            found_in = [one_weight(stated, branch.rows, index) for branch in self.branches]
            changes = [change for change, _ in found_in if change is not None]
            if not changes:
                return Crossing(None, 0.0, IMPOSSIBLE), "; nor ".join(dict.fromkeys(why for _, why in found_in))
            change = min(changes, key=abs)
            moved = stated.copy()
            moved[index] += change
            if self._margins(moved[np.newaxis])[0] >= TIE:
                return Crossing(float(moved[index]), math.inf if change > 0 else 0.0, PROVED), ""
        others = stated.sum() - stated[index]

        def weight_at(shares: Array) -> Array:
            return np.asarray(shares / (1 - shares) * others)

        def reaches(shares: Array) -> Flags:
            rows = np.repeat(stated[np.newaxis], len(shares), axis=0)
            rows[:, index] = weight_at(shares)
            return self._margins(rows) >= TIE

        share = stated[index] / stated.sum()
        ends = (0.0, MOST_SHARE) if share < MOST_SHARE and others > 0 else ()
        found = [first_reached(reaches, share, end) for end in ends if end != share]
        values = [float(weight_at(np.array(value))) for value in found if value is not None]
        if not values:
            return Crossing(None, 0.0, UNDECIDED), f"not up to {100 * MOST_SHARE:g} % of all weight"
        value = min(values, key=lambda each: abs(each - stated[index]))
        return Crossing(value, math.inf if value > stated[index] else 0.0, SEARCHED), ""

    def _all_weights(self, kind: str, norm: int) -> Change:
        """The least change of all weights, their sum kept, or why there is none."""
        stated, branches, total = self.stated, self.branches, float(self.stated.sum())
        none = Change(kind, "", "the sum", UNDECIDED, why="none found")
        best, verdict, inner = None, SEARCHED, None
        if branches:
            mixed = [mixture(branch.rows) for branch in branches]
            if all(one is not None for one in mixed):
                whys = [_beaten(branch, one) for branch, one in zip(branches, mixed, strict=True) if one is not None]
                return replace(none, verdict=IMPOSSIBLE, why="; and ".join(whys))
            best, inner = self._least(norm, [b for b, one in zip(branches, mixed, strict=True) if one is None])
            if best is not None and self._margins(best[np.newaxis])[0] >= TIE:
                verdict = PROVED
        if verdict != PROVED:
            inner = None if inner is None or self._margins(inner[np.newaxis])[0] <= 0 else inner
            best = search_weights(stated, self._margins, self.rng, norm, None if inner is None else inner * total)
        if best is None:
            return none
        slack = None if inner is None else inner * total
        done = self._printed(best, slack, norm)
        if done is None:
            return replace(none, why="what was found was not confirmed by scoring again")
        texts, certificate = done
        length = float(np.linalg.norm(np.array([float(text) for text in texts]) - stated, norm))
        settings = tuple((w.address, w.value, text) for w, text in zip(self.weights, texts, strict=True))
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

    def _least(self, norm: int, branches: Sequence[Branch]) -> tuple[Array | None, Array | None]:
        """The least change over the branches that may be met, and weights well inside the one that it belongs to.

        No change where one of the branches has no solution that is sure: it might have been the least.
        """
        least, stated = least_squares if norm == 2 else least_absolute, self.stated
        found = [(least(stated, branch.rows), middle(branch.rows)) for branch in branches]
        if any(best is None for best, _ in found):
            return None, next((inner for _, inner in found if inner is not None), None)
        return min(found, key=lambda pair: float(np.linalg.norm(np.asarray(pair[0]) - stated, norm)))

    def _printed(self, best: Array, inner: Array | None, norm: int) -> tuple[list[str], Certificate] | None:
        """The fewest decimals that keep the sum and turn the order round, and hardly lengthen the change."""
        stated, largest = self.stated, float(np.abs(best - self.stated).max())
        exact = float(np.linalg.norm(best - stated, norm))
        first = max(0, DIGITS - 1 - math.floor(math.log10(max(largest, 1e-12))))
        for decimals in range(first, first + MOST_DIGITS):
            for push in (0.0, 1.0, 3.0, 10.0, 30.0):
                step = min(push * 10.0**-decimals, 0.5)
                texts = to_decimals(best + step * ((inner if inner is not None else best) - best), stated, decimals)
                row = np.array([[float(text) for text in texts]])
                near = np.linalg.norm(row[0] - stated, norm) <= LONGER * exact or decimals > first + 6
                if not near or row.min() < 0 or self._margins(row)[0] < 0:
                    continue
                pairs = tuple(zip(self.weights, row[0].tolist(), strict=True))
                certificate = numbers_confirmed(self.contest, pairs)
                if certificate is not None:
                    return texts, certificate
        return None


def weight_changes_of(contest: Contest, rng: np.random.Generator) -> WeightChanges:
    """What looks for the changes of a contest's weights."""
    weights = tuple(part.weight for part in contest.output.parts if part.weight is not None)
    linear = linear_view(contest)
    branches = linear.branches(contest) if linear is not None else ()
    stated = np.array([weight.value for weight in weights])
    return WeightChanges(contest, rng, weights, stated, tuple(branch for branch in branches if len(branch.rows)))


def _beaten(branch: Branch, mixed: Array) -> str:
    """Why no weights help: one rival, or a mixture of them, is better in every part."""
    named = [(name, share) for name, share in zip(branch.names, mixed, strict=True) if share > 1e-9]
    if len(named) == 1:
        return f"{named[0][0]} is better in every part"
    terms = " + ".join(f"{share:.3g} {name}" for name, share in sorted(named, key=lambda each: -each[1]))
    return f"the mixture {terms} is better in every part"
