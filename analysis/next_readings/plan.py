"""How many readings of which product: the plan that most likely settles a question, of a budget of so many readings.

The chance that a question is settled is no smooth or concave thing of the plan: one reading may do nothing where twelve do. So
plans are tried from several starts and bettered by moving readings from one product to another, all held against the same draws;
where hardly any draw is settled, by how near they bring it.
One start is the optimal computing budget allocation of C.-H. Chen, J. Lin, E. Yucesan and S. E. Chick, Simulation budget
allocation for further enhancing the efficiency of ordinal optimization, Discrete Event Dynamic Systems 10, 2000, 251-270 (from
memory).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import permutations

import numpy as np
from numpy.typing import NDArray

from analysis.next_readings.falling import Counts, Falling, Shares
from analysis.next_readings.preposterior import Outlook, Standing
from analysis.next_readings.question import Pair, Question, standard_errors

Array = NDArray[np.float64]
#: A gap of less than this many standard errors is taken for so many where readings are shared out by gaps.
LEAST_GAP = 0.5
#: So many products are looked at, those nearest to the edge.
MOST_PRODUCTS = 16


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """further : readings, shape (measures, products); chance : that the question is settled then; what : says who made it."""

    what: str
    further: Counts
    chance: float


@dataclass(frozen=True, slots=True, eq=False)
class Plans:
    """best : the plan proposed; equal : the same budget shared out equally; one_measure : the best plan of one measure alone."""

    best: Plan
    equal: Plan
    one_measure: Plan


def plans_for(
    standing: Standing, question: Question, falling: Falling, budget: int, tried: Outlook, judged: Outlook
) -> Plans | None:
    """The plans for a budget; None where nothing is disputed, or no reading of what is takes any variance away.

    Parameters
    ----------
    tried, judged : the same outlook by other draws: plans are made by the first, and their chances told by the second, in which
        the winner of many tries has not been picked
    """
    products = readable(standing, question, falling)
    if not products or budget < 1:
        return None
    shares = {product: falling.shared_out(product, budget) for product in products}

    def promise(split: Counts) -> tuple[float, float]:
        return tried.promise(_fall(standing, products, shares, split))

    start = max(_starts(standing, question, products, shares, budget), key=promise)
    best_split = _bettered(start, promise)
    equal = equal_shares(falling, products, budget)
    single = [one_measure(falling, products, budget, row) for row in range(len(falling.measures))]
    single = [further for further in single if falling.fall(further).any()]
    alone = max(single, key=lambda further: tried.promise(falling.fall(further)))
    # the benchmarks stand for election too: what is proposed is at least as good in these draws
    proposed = max(
        (_readings(falling, products, shares, best_split), equal, alone),
        key=lambda further: tried.promise(falling.fall(further)),
    )

    def plan(what: str, further: Counts) -> Plan:
        return Plan(what, further, judged.chance(falling.fall(further)))

    return Plans(best=plan("proposed", proposed), equal=plan("equal", equal), one_measure=plan("one measure", alone))


def enough_for(
    standing: Standing, question: Question, falling: Falling, tried: Outlook, *, start: int, chance: float = 0.5
) -> int | None:
    """The least of `start` times 1, 2, 4, ... readings, up to `falling.most`, that settle the question with this chance."""
    products = readable(standing, question, falling)
    if not products:
        return None
    shares = {product: falling.shared_out(product, falling.most) for product in products}
    budget = start
    while budget <= falling.most:
        for split in _starts(standing, question, products, shares, budget):
            if tried.chance(_fall(standing, products, shares, split)) >= chance:
                return budget
        budget *= 2
    return None


def readable(standing: Standing, question: Question, falling: Falling) -> tuple[int, ...]:
    """The products in dispute of which further readings tell more, nearest to the edge first, no more than `MOST_PRODUCTS`."""
    disputed = question.disputed(standing.scores, standing.covariance)
    told = [product for product in disputed if (falling.parts[:, product] > 0).any()]
    edge = float(np.mean(standing.scores[list(disputed)])) if disputed else 0.0
    if not isinstance(question, Pair) and disputed:
        ordered = np.sort(standing.scores)[::-1]
        edge = float(ordered[question.places - 1 : question.places + 1].mean())
    return tuple(sorted(told, key=lambda product: (abs(standing.scores[product] - edge), product))[:MOST_PRODUCTS])


def equal_shares(falling: Falling, products: tuple[int, ...], budget: int) -> Counts:
    """One reading after another, shape (measures, products): each product in turn, and of each the measures in turn."""
    further = np.zeros(falling.parts.shape, np.int64)
    turns = {product: np.flatnonzero(falling.parts[:, product] > 0) for product in products}
    for number in range(budget):
        product = products[number % len(products)]
        rows = turns[product]
        further[rows[(number // len(products)) % len(rows)], product] += 1
    return further


def one_measure(falling: Falling, products: tuple[int, ...], budget: int, row: int) -> Counts:
    """All readings of one measure, shared out equally among the products that have a reading of it.

    row : of the measure; the readings are of shape (measures, products)
    """
    further = np.zeros(falling.parts.shape, np.int64)
    there = [product for product in products if falling.parts[row, product] > 0]
    for number in range(budget if there else 0):
        further[row, there[number % len(there)]] += 1
    return further


def _fall(standing: Standing, products: tuple[int, ...], shares: dict[int, Shares], split: Counts) -> Array:
    """By how much the variance of each score falls, shape (scores,).

    split : readings of each of `products`, shape (products,)
    """
    fall = np.zeros(len(standing.scores))
    for product, readings in zip(products, split.tolist(), strict=True):
        fall[product] = shares[product].falls[readings]
    return fall


def _readings(falling: Falling, products: tuple[int, ...], shares: dict[int, Shares], split: Counts) -> Counts:
    """The readings of a split, shape (products,), each product's shared out at best: shape (measures, scores)."""
    further = np.zeros(falling.parts.shape, np.int64)
    for product, readings in zip(products, split.tolist(), strict=True):
        further[:, product] = shares[product].readings(readings)
    return further


def _starts(
    standing: Standing, question: Question, products: tuple[int, ...], shares: dict[int, Shares], budget: int
) -> Iterator[Counts]:
    """Readings a product, shape (products,): equally among the nearest few, by gaps and errors, and one product alone."""
    for few in range(1, len(products) + 1):
        yield _whole(np.where(np.arange(len(products)) < few, 1.0, 0.0), budget)
    yield _whole(_by_gaps(standing, question, products), budget)
    alone = [shares[product].falls[budget] for product in products]
    yield _whole(np.where(np.arange(len(products)) == int(np.argmax(alone)), 1.0, 0.0), budget)


def _by_gaps(standing: Standing, question: Question, products: tuple[int, ...]) -> Array:
    """N_i as (s_i / gap_i)^2, and N of the best as s_b sqrt(sum of (N_i / s_i)^2), with the errors of scores for s_i.

    Shape (products,).
    """
    own = np.sqrt(np.diag(standing.covariance))[list(products)]
    scores = standing.scores[list(products)]
    if isinstance(question, Pair):
        return own
    best = int(np.argmax(scores))
    errors = standard_errors(standing.covariance)[products[best], list(products)]
    gaps = np.maximum(scores[best] - scores, LEAST_GAP * errors)
    shares = np.divide(own**2, gaps**2, out=np.zeros_like(own), where=np.arange(len(own)) != best)
    squares = np.divide(shares**2, own**2, out=np.zeros_like(own), where=own > 0)
    shares[best] = own[best] * np.sqrt(squares.sum())
    return shares if shares.sum() > 0 else np.ones(len(own))


def _whole(weights: Array, budget: int) -> Counts:
    """Whole numbers in the proportion of weights, both of shape (products,), that add up to the budget, by largest remainders."""
    exact = budget * weights / weights.sum()
    found: Counts = np.floor(exact).astype(np.int64)
    order = np.argsort(-(exact - found), kind="stable")
    found[order[: budget - int(found.sum())]] += 1
    return found


def _bettered(split: Counts, promise: Callable[[Counts], tuple[float, float]]) -> Counts:
    """The split after readings have been moved from one product to another as long as that helps, in ever smaller steps.

    split : shape (products,), as the result
    """
    best, at = split, promise(split)
    step = max(1, int(split.sum()) // 4)
    while step:
        bettered = False
        for giver, taker in permutations(range(len(best)), 2):
            if best[giver] < step:
                continue
            moved = best.copy()
            moved[giver] -= step
            moved[taker] += step
            found = promise(moved)
            if found > at:
                best, at, bettered = moved, found, True
        step = step if bettered else step // 2
    return best
