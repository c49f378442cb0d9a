"""How many readings of which product: the plan that most likely settles a question, of a budget of so many readings.

The chance that a question is settled is no smooth or concave thing of the plan: one reading may do nothing where twelve do. So
plans are tried from several starts and bettered by moving readings from one product to another, all held against the same draws;
where hardly any draw is settled, by how near they bring it.
One start is the optimal computing budget allocation of C.-H. Chen, J. Lin, E. Yucesan and S. E. Chick, Simulation budget
allocation for further enhancing the efficiency of ordinal optimization, Discrete Event Dynamic Systems 10, 2000, 251-270 (from
memory).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import permutations

import numpy as np

from analysis.next_readings.falling import Falling, Shares
from analysis.next_readings.preposterior import Outlook, Standing
from analysis.next_readings.question import Pair, Question, standard_errors
from scoring.numbers.array_types import Array, Integers

#: A gap of less than this many standard errors is taken for so many where readings are shared out by gaps.
LEAST_GAP = 0.5
#: So many products are looked at, those nearest to the edge.
MOST_PRODUCTS = 16


@dataclass(frozen=True, slots=True, eq=False)
class Case:
    """A question of order, the scores as they stand, and what further readings take of their noise."""

    standing: Standing
    question: Question
    falling: Falling

    def readable(self) -> tuple[int, ...]:
        """The products in dispute of which further readings tell more, nearest to the edge first, at most `MOST_PRODUCTS`."""
        scores = self.standing.scores
        disputed = self.question.disputed(scores, self.standing.covariance)
        told = [product for product in disputed if (self.falling.parts[:, product] > 0).any()]
        if not told:
            return ()
        edge = self._edge(disputed)
        return tuple(sorted(told, key=lambda product: (abs(scores[product] - edge), product))[:MOST_PRODUCTS])

    def _edge(self, disputed: Sequence[int]) -> float:
        """The score about which the dispute is: between the last inside and the first outside, or between the pair."""
        scores = self.standing.scores
        if isinstance(self.question, Pair):
            return float(np.mean(scores[list(disputed)]))
        places = self.question.places
        return float(np.sort(scores)[::-1][places - 1 : places + 1].mean())


@dataclass(frozen=True, slots=True, eq=False)
class Sharing:
    """Readings shared out among products; those of each product go to its measures at best.

    products : those that may be read again; shares : the best use of 0, 1, ... readings of each
    A split says how many readings each of them gets, shape (products,).
    """

    case: Case
    products: tuple[int, ...]
    shares: Mapping[int, Shares]

    def fall(self, split: Integers) -> Array:
        """By how much the variance of each score falls, shape (scores,)."""
        fall = np.zeros(len(self.case.standing.scores))
        for product, readings in zip(self.products, split.tolist(), strict=True):
            fall[product] = self.shares[product].falls[readings]
        return fall

    def readings(self, split: Integers) -> Integers:
        """The readings of a split, each product's shared out at best, shape (measures, scores)."""
        further = np.zeros(self.case.falling.parts.shape, np.int64)
        for product, readings in zip(self.products, split.tolist(), strict=True):
            further[:, product] = self.shares[product].readings(readings)
        return further

    def starts(self, budget: int) -> Iterator[Integers]:
        """Splits to begin with: equally among the nearest few, by gaps and errors, and one product alone."""
        count = len(self.products)
        for few in range(1, count + 1):
            yield _whole(np.where(np.arange(count) < few, 1.0, 0.0), budget)
        yield _whole(_by_gaps(self.case.standing, self.case.question, self.products), budget)
        alone = [self.shares[product].falls[budget] for product in self.products]
        yield _whole(np.where(np.arange(count) == int(np.argmax(alone)), 1.0, 0.0), budget)


def sharing_of(case: Case, most: int) -> Sharing | None:
    """How up to `most` readings are shared out; None where nothing is disputed, or no reading takes any variance away."""
    products = case.readable()
    if not products:
        return None
    return Sharing(case, products, {product: case.falling.shared_out(product, most) for product in products})


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """further : readings, shape (measures, products); chance : that the question is settled then; what : says who made it."""

    what: str
    further: Integers
    chance: float


@dataclass(frozen=True, slots=True, eq=False)
class Plans:
    """best : the plan proposed; equal : the same budget shared out equally; one_measure : the best plan of one measure alone."""

    best: Plan
    equal: Plan
    one_measure: Plan


def plans_for(case: Case, budget: int, tried: Outlook, judged: Outlook) -> Plans | None:
    """The plans for a budget; None where nothing is disputed, or no reading of what is takes any variance away.

    Parameters
    ----------
    tried, judged : the same outlook by other draws: plans are made by the first, and their chances told by the second, in which
        the winner of many tries has not been picked
    """
    falling, sharing = case.falling, sharing_of(case, budget)
    if sharing is None:
        return None

    def promise(further: Integers) -> tuple[float, float]:
        return tried.promise(falling.fall(further))

    def promise_of_split(split: Integers) -> tuple[float, float]:
        return tried.promise(sharing.fall(split))

    def plan(what: str, further: Integers) -> Plan:
        return Plan(what, further, judged.chance(falling.fall(further)))

    best_split = _bettered(max(sharing.starts(budget), key=promise_of_split), promise_of_split)
    equal = equal_shares(falling, sharing.products, budget)
    single = [one_measure(falling, sharing.products, budget, row) for row in range(len(falling.measures))]
    alone = max((further for further in single if falling.fall(further).any()), key=promise)
    # the benchmarks stand for election too: what is proposed is at least as good in these draws
    proposed = max((sharing.readings(best_split), equal, alone), key=promise)
    return Plans(best=plan("proposed", proposed), equal=plan("equal", equal), one_measure=plan("one measure", alone))


def enough_for(case: Case, tried: Outlook, *, start: int, chance: float = 0.5) -> int | None:
    """The least of `start` times 1, 2, 4, ... readings, up to `falling.most`, that settle the question with this chance."""
    most = case.falling.most
    sharing = sharing_of(case, most)
    if sharing is None:
        return None
    budget = start
    while budget <= most:
        if any(tried.chance(sharing.fall(split)) >= chance for split in sharing.starts(budget)):
            return budget
        budget *= 2
    return None


def equal_shares(falling: Falling, products: tuple[int, ...], budget: int) -> Integers:
    """One reading after another, shape (measures, products): each product in turn, and of each the measures in turn."""
    further = np.zeros(falling.parts.shape, np.int64)
    turns = {product: np.flatnonzero(falling.parts[:, product] > 0) for product in products}
    for number in range(budget):
        product = products[number % len(products)]
        rows = turns[product]
        further[rows[(number // len(products)) % len(rows)], product] += 1
    return further


def one_measure(falling: Falling, products: tuple[int, ...], budget: int, row: int) -> Integers:
    """All readings of one measure, shared out equally among the products that have a reading of it.

    row : of the measure; the readings are of shape (measures, products)
    """
    further = np.zeros(falling.parts.shape, np.int64)
    there = [product for product in products if falling.parts[row, product] > 0]
    for number in range(budget if there else 0):
        further[row, there[number % len(there)]] += 1
    return further


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


def _whole(weights: Array, budget: int) -> Integers:
    """Whole numbers in the proportion of weights, both of shape (products,), that add up to the budget, by largest remainders."""
    exact = budget * weights / weights.sum()
    found: Integers = np.floor(exact).astype(np.int64)
    order = np.argsort(-(exact - found), kind="stable")
    found[order[: budget - int(found.sum())]] += 1
    return found


def _bettered(split: Integers, promise: Callable[[Integers], tuple[float, float]]) -> Integers:
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
