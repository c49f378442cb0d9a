"""How often a plan of further readings settles its question, beside equal shares and one measure alone; by hand.

    PYTHONPATH=. .venv/bin/python tests/rereading_campaign.py --tables 400 --seed 0

Tables are drawn about true scores: each score is a sum of four measures, each read a few times. A plan is made for every table
whose question is not settled; new readings are drawn, the scores are made of old and new ones, and the question is put again to
the rank sets that `stability` prints (a pair: to 1.96 standard errors). `foretold` is the mean of the chances that the plans told.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.next_readings.falling import Falling
from analysis.next_readings.plan import Case, plans_for
from analysis.next_readings.preposterior import Standing, outlook
from analysis.next_readings.question import Pair, Question, Top
from analysis.rankings.rank_sets import rank_sets
from analysis.rankings.shrunken import prior_of
from scoring.numbers.array_types import Integers

Array = NDArray[np.float64]
PRODUCTS, BUDGET = 10, 24
#: Variance of a score by one reading of each measure, and how many there are of each.
ONE_READING, READ = np.array([0.5, 0.2, 0.1, 0.05]), np.array([3, 2, 4, 3])
RESAMPLES = 2_000
QUESTIONS = ("first", "first three", "pair")


@dataclass(frozen=True)
class Settled:
    """Shares of the tables whose question was open: settled under each plan, and as the proposed plans foretold."""

    tables: int
    proposed: float
    equal: float
    one_measure: float
    foretold: float


def falling_parts(size: float, unequal: Array) -> Falling:
    """Four measures of all products; the noise of each product is `unequal` times as large."""
    now = np.repeat(READ[:, np.newaxis], PRODUCTS, axis=1)
    parts = size * (ONE_READING / READ)[:, np.newaxis] * unequal**2
    further = np.arange(BUDGET + 1)
    kept = READ[:, np.newaxis] / (READ[:, np.newaxis] + further)
    return Falling(("a", "b", "c", "d"), now, parts, np.repeat(kept[:, np.newaxis], PRODUCTS, axis=1))


def open_question(name: str, scores: Array, sd: Array, rng: np.random.Generator) -> Question | None:
    """The question as the table puts it; None where it is settled already."""
    order = np.argsort(-scores)
    if name == "pair":
        pair = Pair(int(order[1]), int(order[2]), 1.96)
        return pair if pair.disputed(scores, np.diag(sd**2)) else None
    places = 1 if name == "first" else 3
    sets = rank_sets(scores, sd, rng=rng, resamples=RESAMPLES)
    return None if is_settled(sets.high, order, places) else Top(places, float(np.max(sets.critical)))


def is_settled(high: NDArray[np.int64], order: NDArray[np.intp], places: int) -> bool:
    """Whether each of the first is told apart from all that come after: no set of theirs goes beyond the edge."""
    return bool((high[order[:places]] <= places).all())


def after(scores: Array, true: Array, falling: Falling, further: Integers, deviates: Array) -> tuple[Array, Array]:
    """Scores of old and new readings, and their standard deviations: the errors that were made stay in by their share.

    deviates : shape (2, measures, products): of the errors that were made, given their sum, and of the new ones
    """
    variance = falling.parts.sum(axis=0)
    # the errors of the measures, given that they add up to the error of the score
    made = np.sqrt(falling.parts) * deviates[0]
    made += falling.parts / variance * (scores - true - made.sum(axis=0))
    left = falling.readings / (falling.readings + further)
    new = np.sqrt(falling.parts * left * (1 - left)) * deviates[1]
    return true + (left * made + new).sum(axis=0), np.sqrt((falling.parts * left).sum(axis=0))


def simulated(name: str, tables: int, size: float, rng: np.random.Generator) -> Settled:
    """So many tables with an open question, each planned and read again."""
    counts = {"best": 0, "equal": 0, "one_measure": 0}
    foretold, done = 0.0, 0
    while done < tables:
        falling = falling_parts(size, rng.uniform(0.6, 1.6, PRODUCTS))
        variance = falling.parts.sum(axis=0)
        true = rng.standard_normal(PRODUCTS)
        scores = true + np.sqrt(variance) * rng.standard_normal(PRODUCTS)
        question = open_question(name, scores, np.sqrt(variance), rng)
        if question is None:
            continue
        standing = Standing(scores, np.diag(variance), prior_of(scores, np.sqrt(variance)))
        tried, judged = (outlook(standing, question, draws, rng) for draws in (1_000, 4_000))
        plans = plans_for(Case(standing, question, falling), BUDGET, tried, judged)
        assert plans is not None
        done += 1
        foretold += plans.best.chance
        deviates = rng.standard_normal((2, len(ONE_READING), PRODUCTS))
        for plan in counts:
            then, sd = after(scores, true, falling, getattr(plans, plan).further, deviates)
            if isinstance(question, Pair):
                settled = bool(question.strength(then[np.newaxis], np.diag(sd**2))[0] > question.critical)
            else:
                sets = rank_sets(then, sd, rng=rng, resamples=RESAMPLES)
                settled = is_settled(sets.high, np.argsort(-then), question.places)
            counts[plan] += settled
    shares = {plan: count / tables for plan, count in counts.items()}
    return Settled(tables, shares["best"], shares["equal"], shares["one_measure"], foretold / tables)


def main() -> None:
    """Print a line for each question and size of the noise."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--tables", type=int, default=400)
    asked.add_argument("--seed", type=int, default=0)
    options = asked.parse_args()
    sys.stdout.write(f"{'':<14}{'noise':>7}{'proposed':>10}{'equal':>8}{'one measure':>13}{'foretold':>10}\n")
    for row, name in enumerate(QUESTIONS):
        for column, size in enumerate((0.1, 0.4)):
            found = simulated(name, options.tables, size, np.random.default_rng([options.seed, row, column]))
            sys.stdout.write(
                f"{name:<14}{size:>7}{found.proposed:>10.1%}{found.equal:>8.1%}{found.one_measure:>13.1%}"
                f"{found.foretold:>10.1%}\n"
            )
            sys.stdout.flush()


if __name__ == "__main__":
    main()
