"""What scores may be after further readings, told from the scores as they stand, and the chance that a question is settled then.

True scores are taken for draws of one normal law, whose mean and spread the catalogue tells: whoever is first now has been
picked, and is expected to fall back a little. With x = theta + e now and x' = theta + e' then, e' being made of the old readings
and of new ones, cov(e, e') = cov(e') (the old errors are in the new ones by their share), so that x' is normal given x, with the
mean x - D K (x - mean) and the covariance D - D K D, where D is what falls of the variance and K the inverse of the covariance
of x over the law of true scores.
Source of the idea: H. Raiffa and R. Schlaifer, Applied Statistical Decision Theory, 1961 (preposterior analysis; from memory).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri

from analysis.next_readings.question import Question
from analysis.rankings.shrunken import Prior, directions
from analysis.runs import Block, Executor, Joined, blocks_of, run, serially
from scoring.numbers.array_types import Array, Indices
from scoring.numbers.ordered_sums import matrix_product

#: Points of the normal law, each as likely as the others, where the readings of one product alone are new.
POINTS = 2001
#: Draws of one block.
BLOCK = 2048
#: A chance below this is told by too few draws to choose plans by.
WORTH_COUNTING = 0.02
#: A variance below this share of the largest is the dust of binary arithmetic.
DUST = 1e-14


@dataclass(frozen=True, slots=True, eq=False)
class Standing:
    """Scores as they stand; higher is better.

    scores : shape (products,); covariance : of their errors, shape (products, products); prior : of the true scores
    """

    scores: Array
    covariance: Array
    prior: Prior

    def precision(self) -> Array:
        """K, the common mean being told by the scores themselves, shape (products, products)."""
        sizes, turn = directions(self.covariance + self.prior.variance * np.eye(len(self.scores)))
        inverse = np.divide(1.0, sizes, out=np.zeros_like(sizes), where=sizes > DUST * sizes.max())
        precision = matrix_product(turn * inverse, turn.T)
        rows = precision.sum(axis=1)
        total = float(rows.sum())
        return precision - np.outer(rows, rows) / total if total > 0 else precision


@dataclass(frozen=True, slots=True, eq=False)
class Outlook:
    """What new readings may say, by the same normal deviates for every plan, so that plans differ by no luck.

    watched : the products that can have to do with the question, of which alone the rest speaks; scores, covariance : theirs
    pull : K (x - mean); precision : K; deviates : shape (draws, watched); execute : works blocks of draws out
    """

    question: Question
    watched: Indices
    scores: Array
    covariance: Array
    pull: Array
    precision: Array
    deviates: Array
    execute: Executor = serially

    def chance(self, fall: Array) -> float:
        """The chance that the question is settled after variances have fallen by `fall`, shape (products,), of all products."""
        return float((self._strengths(fall[self.watched], self.deviates) > self.question.critical).mean())

    def promise(self, fall: Array) -> tuple[float, float]:
        """The chance, and the strength that the question has in the best of twenty cases: for plans whose chance is nothing.

        fall : shape (products,), of all products
        """
        strength = self._strengths(fall[self.watched], self.deviates)
        chance = float((strength > self.question.critical).mean())
        return (chance if chance >= WORTH_COUNTING else 0.0), float(np.quantile(strength, 0.95))

    def chance_of_one(self, product: int, fall: float) -> float:
        """The same for new readings of one product, without any luck: over equally likely points of its new score."""
        at = int(np.flatnonzero(self.watched == product)[0])
        deviates, falls = np.zeros((POINTS, len(self.watched))), np.zeros(len(self.watched))
        deviates[:, at], falls[at] = ndtri((np.arange(POINTS) + 0.5) / POINTS), fall
        return float((self._strengths(falls, deviates) > self.question.critical).mean())

    def _strengths(self, fall: Array, deviates: Array) -> Array:
        """How strong the question is after variances have fallen, shape (draws,); fall : shape (watched,)."""
        read = np.flatnonzero(fall > 0)
        moved = fall[read]
        spread = np.diag(moved) - moved[:, np.newaxis] * self.precision[np.ix_(read, read)] * moved
        after = ReadAgain(
            question=self.question,
            scores=self.scores,
            covariance=self.covariance - np.diag(fall),
            read=read,
            root=_root(spread),
            pulled=moved * self.pull[read],
            deviates=deviates,
        )
        return run(after, Joined(), blocks_of(len(deviates), BLOCK), execute=self.execute)["strength"]


@dataclass(frozen=True, slots=True, eq=False)
class ReadAgain:
    """What new readings may make of a question.

    scores : as they stand, shape (watched,); covariance : of their errors then; read : which are read again; root : of the
    covariance of their moves, shape (read, read); pulled : how far they are expected to fall back, shape (read,);
    deviates : shape (draws, watched), the same for every plan, so that they are held
    """

    question: Question
    scores: Array
    covariance: Array
    read: Indices
    root: Array
    pulled: Array
    deviates: Array

    def pieces(self, block: Block) -> Iterator[dict[str, Array]]:
        """The strength of the question in each draw, shape (n,)."""
        deviates = self.deviates[block.rows]
        scores = np.broadcast_to(self.scores, deviates.shape).copy()
        scores[:, self.read] += matrix_product(deviates[:, self.read], self.root) - self.pulled
        yield {"strength": self.question.strength(scores, self.covariance)}


def _root(covariance: Array) -> Array:
    """The symmetric square root, of the same shape (n, n): it changes little where the covariance does."""
    sizes, turn = directions(covariance)
    return matrix_product(turn * np.sqrt(np.maximum(sizes, 0.0)), turn.T)


def outlook(
    standing: Standing, question: Question, draws: int, rng: np.random.Generator, *, execute: Executor = serially
) -> Outlook:
    """What new readings may say, by so many draws."""
    precision = standing.precision()
    pull = matrix_product(precision, standing.scores)
    watched = np.flatnonzero(question.watched(standing.scores, standing.covariance))
    own = question.among(watched.tolist())
    near = np.ix_(watched, watched)
    return Outlook(
        question=own,
        watched=watched,
        scores=standing.scores[watched],
        covariance=standing.covariance[near],
        pull=pull[watched],
        precision=precision[near],
        deviates=rng.standard_normal((draws, len(watched))),
        execute=execute,
    )
