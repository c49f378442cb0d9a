"""Questions of order that readings may settle: who is first, who is among the first, which of two is better.

A question is settled where its strength, the least lead that it hangs on in standard errors, is above its critical value.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scoring.numbers.array_types import Array, Flags

#: An error variance of a difference below this share of those of the two scores is the dust of binary arithmetic.
DUST = 1e-12
#: What lies by so many standard errors further off than what is told apart comes into no question.
BEYOND = 3.0


@dataclass(frozen=True, slots=True)
class Top:
    """Who the first `places` are: settled where each of them is told apart from everybody else.

    critical : in standard errors of a difference, for all pairs of the table at once
    """

    places: int
    critical: float

    def strength(self, scores: Array, covariance: Array) -> Array:
        """The least lead across the edge in standard errors, for each row of scores, shape (rows, products), higher is better."""
        errors = standard_errors(covariance)
        order = np.argsort(-scores, axis=1, kind="stable")[:, : self.places]
        rows = np.arange(len(scores))
        inside = np.zeros(scores.shape, bool)
        np.put_along_axis(inside, order, True, axis=1)
        least = np.full(len(scores), np.inf)
        for who in order.T:
            leads = _in_errors(scores[rows, who][:, np.newaxis] - scores, errors[who])
            least = np.minimum(least, np.where(inside, np.inf, leads).min(axis=1))
        return least

    def watched(self, scores: Array, covariance: Array) -> Flags:
        """The products that new readings could bring to the edge: `BEYOND` standard errors, told apart and more, below it.

        scores : shape (products,), as the result; covariance : shape (products, products)
        """
        edge = np.sort(scores)[-self.places]
        widest = np.sqrt(2 * np.max(np.diag(covariance)))
        return np.asarray(scores >= edge - (self.critical + BEYOND) * widest)

    def among(self, products: list[int]) -> Top:  # noqa: ARG002
        """The same question among some products, the first of which are all there."""
        return self

    def disputed(self, scores: Array, covariance: Array) -> tuple[int, ...]:
        """The products of the pairs across the edge that are not told apart now.

        scores : shape (products,); covariance : shape (products, products)
        """
        leads = scores[:, np.newaxis] - scores
        apart = _in_errors(leads, standard_errors(covariance)) > self.critical
        inside = np.zeros(len(scores), bool)
        inside[np.argsort(-scores, kind="stable")[: self.places]] = True
        pairs = inside[:, np.newaxis] & ~inside & ~apart
        return tuple(np.flatnonzero(pairs.any(axis=0) | pairs.any(axis=1)).tolist())


@dataclass(frozen=True, slots=True)
class Pair:
    """Which of two products is better; critical : for this pair alone."""

    one: int
    other: int
    critical: float

    def strength(self, scores: Array, covariance: Array) -> Array:
        """The size of their difference in standard errors, shape (rows,), as of `Top`."""
        error = standard_errors(covariance)[self.one, self.other]
        return _in_errors(np.abs(scores[:, self.one] - scores[:, self.other]), error)

    def watched(self, scores: Array, covariance: Array) -> Flags:  # noqa: ARG002
        """Both; shapes as of `Top`."""
        return np.isin(np.arange(len(scores)), [self.one, self.other])

    def among(self, products: list[int]) -> Pair:
        """The same question, by their places among some products."""
        return Pair(products.index(self.one), products.index(self.other), self.critical)

    def disputed(self, scores: Array, covariance: Array) -> tuple[int, ...]:
        """Both, where they are not told apart now; shapes as of `Top`."""
        is_settled = self.strength(scores[np.newaxis], covariance)[0] > self.critical
        return () if is_settled else (self.one, self.other)


Question = Top | Pair


def _in_errors(leads: Array, errors: Array | float) -> Array:
    """Leads in standard errors, of the same shape; any lead at all is endless where there is no error.

    errors : a shape that broadcasts to that of the leads
    """
    certain = np.where(leads > 0, np.inf, 0.0)
    return np.asarray(np.divide(leads, errors, out=certain, where=np.broadcast_to(errors, leads.shape) > 0))


def standard_errors(covariance: Array) -> Array:
    """Of all differences, shape (products, products)."""
    own = np.diag(covariance)
    both = own[:, np.newaxis] + own
    variances = both - covariance - covariance.T
    return np.sqrt(np.where(variances > DUST * both, variances, 0.0))
