"""A second opinion on wanted shares: questions made by chance, each answer worked out again and each proof attacked.

    .venv/bin/python tests/wanted_campaign.py --seed 0 --count 2000

Parts are correlated, opposed, copied with little noise, whole points, or follow from each other; what is asked is by chance,
or what some weights give, or that and a little more. Nothing here calls what is tested, but for the question itself.
- Found: weights from 0 up that add to 1 give the shares, and what is said to be held is held.
- Impossible: weights by chance, all over the room that was searched, and least squares from the nearest of them, do not do it.
- What can be given: weights by chance stay within it, and least squares come to its ends
  (where parts nearly cancel, an end is at one point, and is missed: that is counted).
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from analysis.importance.sought import (
    FOUND,
    HELD_EFFECTS,
    HELD_WEIGHTS,
    IMPOSSIBLE,
    Attempt,
    WeightsSought,
    sought_weights,
)

Array = NDArray[np.float64]
#: Weights by chance for each proof, and from how many of them least squares start.
DENSE, STARTS = 20_000, 6
#: A share this near is given; an end of a range is come to this near.
GIVEN, AT_THE_END = 1e-7, 1e-3
#: What rounding may make of a share where parts nearly cancel.
ROUNDING = 1e-6
KINDS = ("correlated", "opposed", "copied", "whole points", "following", "one factor")


@dataclass(frozen=True, slots=True, eq=False)
class Asked:
    """One question: covariance, stated weights, wanted shares (NaN where nothing is asked) and what they are shares of."""

    kind: str
    sigma: Array
    stated: Array
    wanted: Array
    share_of: str

    def shares(self, weights: Array) -> Array:
        """The share of each part, shape (rows, parts), from weights of that shape."""
        along = weights @ self.sigma
        variance = np.sum(along * weights, axis=1, keepdims=True)
        effects = along**2 / np.diag(self.sigma) / np.where(variance > 1e-14, variance, np.nan)
        return effects if self.share_of == "variance" else effects / effects.sum(axis=1, keepdims=True)


@dataclass(slots=True)
class Tally:
    """What was tried, what fell, and how near weights came to what is called impossible."""

    counts: Counter[str] = field(default_factory=Counter)
    false: list[str] = field(default_factory=list)
    nearest: float = np.inf


def question(rng: np.random.Generator) -> Asked:
    """One question by chance."""
    n = int(rng.integers(2, 7))
    kind = str(rng.choice(KINDS))
    sigma = np.atleast_2d(np.cov(_parts(kind, n, rng).T))
    stated = rng.dirichlet(np.ones(n))
    if rng.random() < 0.2:
        stated[rng.integers(n)] = 0.0
        stated = stated / stated.sum()
    share_of = str(rng.choice(["variance", "effects"]))
    named = rng.choice(n, int(rng.integers(1, n + 1)), replace=False)
    wanted = np.full(n, np.nan)
    asked = Asked(kind, sigma, stated, wanted, share_of)
    given = asked.shares(rng.dirichlet(np.full(n, 0.5), 1))[0, named]
    how = rng.choice(["chance", "given", "a little more"])
    if how == "chance":
        given = rng.uniform(0, 1, len(named)) if share_of == "variance" else rng.dirichlet(np.ones(n))[: len(named)]
    elif how == "a little more":
        given = given * rng.uniform(0.98, 1.02, len(named))
    whole = len(named) == n and share_of == "effects"
    wanted[named] = np.clip(given / given.sum() if whole else given, 0, 1)
    return Asked(kind, sigma, stated, wanted, share_of)


def _parts(kind: str, n: int, rng: np.random.Generator) -> Array:
    """Values of n parts over 40 products."""
    base = rng.normal(size=(40, n)) @ rng.normal(size=(n, n)) * rng.uniform(0.3, 3, n)
    if kind == "opposed":
        base[:, 0] = -base[:, 1:].sum(axis=1) + rng.normal(0, 0.5, 40)
    elif kind == "copied":
        base[:, 0] = base[:, -1] * rng.choice([-1, 1]) + rng.normal(0, 10.0 ** rng.uniform(-6, -1), 40)
    elif kind == "whole points":
        base = rng.integers(0, 6, (40, n)).astype(float)
    elif kind == "following":
        base[:, 0] = base[:, 1:] @ rng.normal(size=n - 1)
    elif kind == "one factor":
        base = rng.normal(size=(40, 1)) * rng.choice([-1, 1], n) + rng.uniform(0.1, 1, n) * rng.normal(size=(40, n))
    return np.asarray(base)


def held_to(asked: Asked, found: WeightsSought, tally: Tally, rng: np.random.Generator) -> None:
    """Every attempt of one answer, and the ranges beside it."""
    for attempt in found.attempts:
        tally.counts[f"{asked.share_of}, held: {attempt.held}, {attempt.state}"] += 1
        if attempt.state == FOUND:
            tally.false += [f"{asked}: {fault}" for fault in _faults(asked, found)]
        elif attempt.state == IMPOSSIBLE:
            away = _nearest(asked, attempt, rng)
            tally.nearest = min(tally.nearest, away)
            if away <= GIVEN:
                tally.false.append(f"{asked}: {attempt} is given to {away:.1e}")
    for part in np.flatnonzero(~np.isnan(found.low)):
        tally.counts["ranges"] += 1
        fault, unmet = _range_fault(asked, int(part), (float(found.low[part]), float(found.high[part])), rng)
        tally.counts["ends of ranges that least squares did not come to"] += unmet
        if fault:
            tally.false.append(f"{asked}: part {part} {fault}")


def _faults(asked: Asked, found: WeightsSought) -> list[str]:
    """What is wrong with weights that were found."""
    weights, named = found.weights, ~np.isnan(asked.wanted)
    shares, faults = asked.shares(weights[None])[0], []
    if weights.min() < 0 or abs(weights.sum() - 1) > 1e-9:
        faults.append(f"weights {weights}")
    if np.abs(shares - asked.wanted)[named].max() > 1e-5:
        faults.append(f"shares {shares}")
    others, stated = weights[~named], asked.stated[~named]
    if found.held == HELD_WEIGHTS and np.abs(others * stated.sum() - stated * others.sum()).max() > 1e-9:
        faults.append(f"weights {weights} hold nothing")
    if found.held == HELD_EFFECTS and not named.all():
        left = shares[~named]
        if np.abs(left * stated.sum() - stated * left.sum()).max() > 1e-5:
            faults.append(f"main effects {shares} hold nothing")
    return faults


def _nearest(asked: Asked, attempt: Attempt, rng: np.random.Generator) -> float:
    """How near weights come to what is called impossible: the largest miss of a share, least over what was tried."""
    named = ~np.isnan(asked.wanted)
    wanted, spread = asked.wanted, np.eye(len(named))
    if attempt.held == HELD_EFFECTS:
        left, rest = 1 - np.nansum(asked.wanted), asked.stated[~named].sum()
        wanted = np.where(named, asked.wanted, asked.stated * left / rest if rest > 0 else 0.0)
    elif attempt.held == HELD_WEIGHTS:
        spread = np.vstack([spread[named], np.where(named, 0.0, asked.stated)])

    def missed(weights: Array) -> Array:
        away: Array = np.nan_to_num((asked.shares(weights) - wanted)[:, ~np.isnan(wanted)], nan=1.0)
        return away

    return float(np.abs(_closest(missed, spread, rng)).max(axis=1).min())


def _closest(missed: Callable[[Array], Array], spread: Array, rng: np.random.Generator) -> Array:
    """What is missed by weights all over a room, and by least squares from the nearest of them."""
    n = len(spread)
    inner = np.concatenate(
        [np.eye(n), rng.dirichlet(np.ones(n), DENSE // 2), rng.dirichlet(np.full(n, 0.3), DENSE // 2)]
    )

    def at(roots: Array) -> Array:
        mixed = (roots**2 / np.sum(roots**2))[None] @ spread
        return missed(mixed / mixed.sum())[0]

    mixed = inner @ spread
    dense = missed(mixed / mixed.sum(axis=1, keepdims=True))
    order = np.argsort(np.abs(dense).max(axis=1))[:STARTS]
    ends = [
        at(least_squares(at, np.sqrt(inner[start]) + 1e-3, xtol=1e-15, ftol=1e-15, gtol=1e-15).x) for start in order
    ]
    return np.vstack([dense, *ends])


def _range_fault(asked: Asked, part: int, ends: tuple[float, float], rng: np.random.Generator) -> tuple[str, int]:
    """What is wrong with the range of shares that any weights can give one part, and how many of its ends are not met."""
    n = len(asked.stated)
    shares = asked.shares(np.vstack([np.eye(n), rng.dirichlet(np.full(n, 0.4), DENSE)]))[:, part]
    if np.nanmin(shares) < ends[0] - ROUNDING or np.nanmax(shares) > ends[1] + ROUNDING:
        return f"is given {np.nanmin(shares)} to {np.nanmax(shares)}, beyond {ends}", 0
    unmet = 0
    for end in ends:
        away = _closest(lambda weights, end=end: asked.shares(weights)[:, [part]] - end, np.eye(n), rng)  # type: ignore[misc]
        unmet += bool(np.nanmin(np.abs(away)) > AT_THE_END)
    return "", unmet


def campaign(seed: int, count: int) -> Tally:
    """So many questions, from a seed."""
    tally = Tally()
    for index in range(count):
        rng = np.random.default_rng([seed, index])
        asked = question(rng)
        tally.counts[f"questions, {asked.kind}"] += 1
        held_to(asked, sought_weights(asked.sigma, asked.stated, asked.wanted, asked.share_of, seed=seed), tally, rng)
    return tally


def main() -> int:
    """Run the campaign and print its counts."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--seed", type=int, required=True)
    parser.add_argument("--count", type=int, default=1000)
    given = parser.parse_args()
    tally = campaign(given.seed, given.count)
    for name, number in sorted(tally.counts.items()):
        print(f"{number:7d}  {name}")
    print(f"{len(tally.false):7d}  false; nearest to what is called impossible: {tally.nearest:.1e}")
    print("\n".join(tally.false[:20]))
    return 1 if tally.false else 0


if __name__ == "__main__":
    sys.exit(main())
