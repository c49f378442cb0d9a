"""The weights that would give parts a wanted share: what is asked, what was held, what was found, and what is proved.

Looked for in this order, until one is found:

    of the summed main effects: with the other parts' main effects in the proportions of their stated weights (`wanted`)
    with the other parts' weights in proportion: every solution is gone through, and the nearest to the stated weights kept
    with nothing held: whether there is a solution is decided (`attainable`), and the one of least change is searched

"Impossible" is a proof over all weights from 0 up that hold what is held, and no search comes within a millionth of the shares
either. All of it is about the weighted mean of the parts.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np
import scipy
from numpy.typing import ArrayLike

from analysis.importance.attainable import EFFECTS, NEAR, VARIANCE, Decided, attainable, decided, shares_of
from analysis.importance.importance import DUST
from analysis.importance.wanted import WantedWeights, wanted_weights
from scoring.numbers.array_types import Array, Flags, Indices
from scoring.numbers.ordered_sums import matrix_product

#: What is held while weights are looked for.
HELD_EFFECTS, HELD_WEIGHTS, HELD_NOTHING = "main effects of the others", "weights of the others", "nothing"
#: A search ends within this many decimals of its end, whatever the order of its sums.
DECIMALS = 6
FOUND, IMPOSSIBLE, NOT_FOUND, REFUSED = "found", "impossible", "not found", "refused"
#: From so many places a search starts, besides the stated weights.
STARTS = 12


@dataclass(frozen=True, slots=True)
class Attempt:
    """What was held, and how it came out: `found`, `impossible` (proved), `not found` (searched) or `refused`."""

    held: str
    state: str


@dataclass(frozen=True, slots=True, eq=False)
class WeightsSought:
    """The answer to what was asked; arrays of shape (parts,).

    share_of: what the wanted shares are shares of. wanted: NaN for a part of which nothing is asked. attempts: in order; the
    last has the answer. weights: adding to 1, NaN where there are none. gives: the shares that they give in the weighted mean,
    and `now` those of the stated weights. against: the named parts that fall as the score rises. low, high: what any weights
    can give each named part by itself, where the answer is no weights. nearest: the weights found that come nearest to it
    then, and what they give, NaN elsewhere. proportional: the closed form, where it was asked.
    """

    share_of: str
    wanted: Array
    attempts: tuple[Attempt, ...]
    weights: Array
    gives: Array
    now: Array
    against: Flags
    low: Array
    high: Array
    nearest: Array
    nearest_gives: Array
    proportional: WantedWeights | None

    @property
    def state(self) -> str:
        """How the last attempt came out."""
        return self.attempts[-1].state

    @property
    def held(self) -> str:
        """What was held in it."""
        return self.attempts[-1].held


def sought_weights(
    covariance: ArrayLike, stated: ArrayLike, wanted: ArrayLike, share_of: str, *, seed: int
) -> WeightsSought:
    """The weights that give the wanted shares of the weighted mean.

    Parameters
    ----------
    covariance : array, shape (parts, parts)
    stated : array, shape (parts,), the stated weights, adding to 1
    wanted : array, shape (parts,), shares from 0 to 1; NaN for a part of which nothing is asked
    share_of : "variance", the share of the score's variance that a part explains by itself; "effects", its share of all such
        shares added up
    seed : of the places that searches start from

    Raises
    ------
    ValueError : nothing is asked
    """
    sigma, shares, asked = np.asarray(covariance, float), np.asarray(stated, float), np.asarray(wanted, float)
    named = ~np.isnan(asked)
    if not named.any():
        raise ValueError("of no part a share is wanted")
    varies = np.diag(sigma) > DUST * np.diag(sigma).max()
    question = Question(sigma[np.ix_(varies, varies)], shares[varies], asked[varies], share_of, seed)
    whole = filled(asked, shares)  # it adds to less where all other parts have no weight to be held in proportion to
    closed = wanted_weights(sigma, whole) if share_of == EFFECTS and whole.sum() > 1 - NEAR else None
    attempts: list[Attempt] = []
    weights = np.full(len(shares), np.nan)
    for attempt, found in _attempts(question, closed, constant=bool((named & ~varies).any())):
        attempts.append(attempt)
        if found is not None:
            weights = found if len(found) == len(shares) else _with_constants(found, shares, varies)
            break
    low, high, nearest = (np.full(len(shares), np.nan) for _ in range(3))
    if attempts[-1].state in (IMPOSSIBLE, NOT_FOUND):
        asked_of = np.flatnonzero(named)
        ends = [attainable(question.sigma, int(varies[:part].sum()), share_of) for part in asked_of]
        low[asked_of], high[asked_of] = np.array(ends).T
        closest = nearest_weights(question, np.eye(len(question.stated)))
        nearest = _with_constants(np.round(closest, DECIMALS), shares, varies)
    there = weights if attempts[-1].state == FOUND else shares
    return WeightsSought(
        share_of=share_of,
        wanted=asked,
        attempts=tuple(attempts),
        weights=weights,
        gives=shares_of(weights, sigma, share_of),
        now=shares_of(shares, sigma, share_of),
        against=named & (matrix_product(sigma, there) < 0) & (asked > 0),
        low=low,
        high=high,
        nearest=nearest,
        nearest_gives=shares_of(nearest, sigma, share_of),
        proportional=closed,
    )


def filled(wanted: Array, stated: Array) -> Array:
    """Wanted shares of every part, adding to 1: those of which nothing is asked share the rest by their stated weights."""
    free, rest = np.isnan(wanted), float(stated[np.isnan(wanted)].sum())
    left = max(0.0, 1.0 - float(np.nansum(wanted)))
    scaled = stated * left / rest if rest > 0 else np.zeros_like(stated)
    return np.where(free, scaled, wanted)


@dataclass(frozen=True, slots=True, eq=False)
class Question:
    """What is asked of the parts that vary: arrays of shape (parts,), and their covariance."""

    sigma: Array
    stated: Array
    wanted: Array
    share_of: str
    seed: int

    @property
    def named(self) -> Indices:
        """The parts of which a share is wanted."""
        return np.flatnonzero(~np.isnan(self.wanted))

    def correlations(self, weights: Array) -> Array:
        """The signed roots of the named parts' shares, shape (named,)."""
        along = matrix_product(self.sigma, weights)
        effects = along / np.sqrt(np.diag(self.sigma))
        whole = float(matrix_product(along, weights)) if self.share_of == VARIANCE else float(np.sum(effects**2))
        return np.asarray(effects[self.named] / np.sqrt(whole)) if whole > 0 else np.zeros(len(self.named))


def _attempts(
    question: Question, closed: WantedWeights | None, *, constant: bool
) -> Iterator[tuple[Attempt, Array | None]]:
    """Each attempt in turn, with the weights where it found some."""
    n_parts, whole = len(question.stated), len(question.named) == len(question.stated)
    if closed is not None:
        yield _closed_form(question, closed)
        if whole:
            return
    if constant:
        yield Attempt(HELD_NOTHING, REFUSED), None
        return
    rest = np.where(np.isnan(question.wanted), question.stated, 0.0)
    if rest.sum() > 0:
        mixed = np.column_stack([np.eye(n_parts)[:, question.named], rest / rest.sum()])
        held = decided(question.sigma, question.wanted, question.share_of, mixed)
        weights = nearest_of(held.weights, question.stated)
        weights = weights if weights is not None else _within_reach(question, mixed)
        yield Attempt(HELD_WEIGHTS, FOUND if weights is not None else _state(held)), weights
    free = decided(question.sigma, question.wanted, question.share_of)
    weights = _within_reach(question, np.eye(n_parts)) if free.state == "none" else least_change(question, free)
    yield Attempt(HELD_NOTHING, FOUND if weights is not None else _state(free)), weights


def _closed_form(question: Question, closed: WantedWeights) -> tuple[Attempt, Array | None]:
    """The closed form's answer, its weights being of all parts; of those that vary, where a search comes near enough."""
    if closed.state in ("found", "against"):
        return Attempt(HELD_EFFECTS, FOUND), closed.weights
    if closed.state == "refused":
        return Attempt(HELD_EFFECTS, REFUSED), None
    weights = _within_reach(replace(question, wanted=closed.wanted), np.eye(len(question.stated)))
    if weights is not None:
        return Attempt(HELD_EFFECTS, FOUND), weights
    return Attempt(HELD_EFFECTS, IMPOSSIBLE if closed.every_sign else NOT_FOUND), None


def _within_reach(question: Question, mixed: Array) -> Array | None:
    """Weights that come so near to the wanted shares that no figure tells them apart; None where a search finds none."""
    weights = nearest_weights(question, mixed)
    away = question.correlations(weights) ** 2 - question.wanted[question.named]
    return weights if np.abs(away).max() <= NEAR else None


def _state(found: Decided) -> str:
    return {"found": FOUND, "none": IMPOSSIBLE, "open": NOT_FOUND}[found.state]


def nearest_of(weights: Array, stated: Array) -> Array | None:
    """The solution that is nearest to the stated weights; None where there is none."""
    if not len(weights):
        return None
    return np.asarray(weights[np.argmin(np.linalg.norm(weights - stated / stated.sum(), axis=1))])


def least_change(question: Question, found: Decided) -> Array | None:
    """The weights nearest to the stated ones, of those that a search from many places finds to give what is asked.

    Notes
    -----
    Sequential quadratic programming (scipy's SLSQP) of the squared change, from every start and every solution known.
    Whatever it ends at is worked out again, and left aside where it does not give the wanted shares.
    """
    wanted = found.signs * np.sqrt(question.wanted[question.named])
    stated = question.stated / question.stated.sum()
    constraints = (
        {"type": "eq", "fun": lambda w: question.correlations(w) - wanted},
        {"type": "eq", "fun": lambda w: w.sum() - 1.0},
    )
    ends = [
        _ended(start, lambda w: float(np.sum((w - stated) ** 2)), constraints)
        for start in (*found.weights[:STARTS], stated, *_starts(len(stated), question.seed))
    ]
    fits = [w for w in ends if np.all(np.abs(question.correlations(w) ** 2 - wanted**2) <= NEAR)]
    return nearest_of(np.array([*found.weights, *fits]), stated)


def nearest_weights(question: Question, mixed: Array) -> Array:
    """The weights that come nearest to what is asked, of those that a search from many places ends at.

    Parameters
    ----------
    mixed : array, shape (parts, directions), each from 0 up and adding to 1; weights are mixtures of them
    """
    wanted = question.wanted[question.named]

    def away(shares: Array) -> float:
        return float(np.sum((question.correlations(matrix_product(mixed, shares)) ** 2 - wanted) ** 2))

    whole = ({"type": "eq", "fun": lambda w: w.sum() - 1.0},)
    starts = _starts(mixed.shape[1], question.seed)
    return matrix_product(mixed, min([*starts, *(_ended(start, away, whole) for start in starts)], key=away))


def _starts(n: int, seed: int) -> Array:
    """Where searches begin: all weights alike, nearly all on one, and by chance; shape (starts, n)."""
    chance = np.random.default_rng(seed).dirichlet(np.ones(n), STARTS)
    return np.vstack([np.full(n, 1 / n), 0.9 * np.eye(n) + 0.1 / n, chance])


def _ended(start: Array, least: Callable[[Array], float], constraints: tuple[dict[str, object], ...]) -> Array:
    """Where a search ends, as weights from 0 up that add to 1; the start itself where it ends nowhere."""
    found = scipy.optimize.minimize(
        least,
        start,
        method="SLSQP",
        bounds=[(0.0, 1.0)] * len(start),
        constraints=constraints,
        options={"maxiter": 300, "ftol": 1e-14},
    )
    weights = np.maximum(found.x, 0.0)
    return np.asarray(weights / weights.sum()) if np.isfinite(weights).all() and weights.sum() > 0 else start


def _with_constants(weights: Array, stated: Array, varies: Flags) -> Array:
    """Weights of the parts that vary, beside those of the others, which stay as stated."""
    found = stated.copy()
    found[varies] = weights * (1.0 - float(stated[~varies].sum()))
    return found
