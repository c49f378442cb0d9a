"""A score that is linear in its weights, or held at a bound by a limit, as conditions that are linear in them.

A limit's condition is about readings, ratings or other scores, none of which lean on the weights of the score itself: whether it
is on is the same for all weights. So a capped score is min(w.p, c) for one number c, and "at least equal to a rival" is
w.p >= w.q and c >= w.q, the latter being w.(c - q) >= 0 where weights sum to one: linear programmes, as without a cap.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.flips.numbers import Contest
from scoring.blends import Weights
from scoring.form import Limit

Array = NDArray[np.float64]
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
    holds: NDArray[np.bool_]
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
    if not straight or not weights or len(weights) < len(output.parts) or contest.form.ranks.on.value == "shown":
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


def _is_on(
    contest: Contest, limit: Limit, numbers: dict[str, Array], free: dict[str, float], values: Array
) -> NDArray[np.bool_]:
    """The products whose score one limit holds, all others being loose: its bound moves it, wherever that lies."""
    n = len(values)
    bounds = {address: np.full(n, value) for address, value in free.items()}
    if limit.bound is not None and limit.bound.address in free:
        bounds[limit.bound.address] = np.full(n, -_loose(limit))
    held = contest.values({**numbers, **bounds}, gated=False)
    return np.asarray((held != values).any(axis=0))
