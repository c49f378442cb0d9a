"""How one measure is distributed over the products: a line through its ordered readings, and tails beyond them.

A normal score z stands for the share Phi(z) of products below. Van der Waerden's scores put the i-th of n readings at the
share i / (n + 1), so that a new product of the same kind lies below it with that chance, whatever the law. Beyond the first and
the last reading the tails run on as a normal law's prediction does, with the spread of the ordered readings, or of their
logarithms, whichever fit a normal law better (the likelihoods of Box and Cox). They are t's with n - 2 degrees of freedom: mean,
spread and the choice between the two are all taken from the n readings.
Readings below a reporting limit take the lowest shares, and the law runs on under the limit by the ordered readings above it.

Sources, from memory: B. L. van der Waerden, Order tests for the two-sample problem and their power, Indag. Math. 14, 1952;
G. E. P. Box, D. R. Cox, An analysis of transformations, J. R. Stat. Soc. B 26, 1964; D. R. Helsel, T. A. Cohn, Estimation of
descriptive statistics for multiply censored water quality data, Water Resour. Res. 24, 1988 (regression on order statistics).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import scipy
from scipy.special import ndtr, ndtri, stdtr, stdtrit

from scoring.numbers.array_types import Array

#: A logarithm beyond which no double lies; the plausible range cuts readings off long before.
GREATEST = 700.0


@dataclass(frozen=True, slots=True, eq=False)
class Marginal:
    """A strictly rising line from normal scores to readings.

    scores, places : ndarray, shape (knots,), rising: normal scores, and readings (or their logarithms) there
    slope : of the tails, a standard deviation of the readings (or of their logarithms)
    n : the number of products that it comes of, which says how heavy the tails are
    logarithmic : whether `places` are logarithms
    """

    scores: Array
    places: Array
    slope: float
    n: int
    logarithmic: bool

    def readings(self, scores: Array) -> Array:
        """The readings that stand at normal scores, of the same shape."""
        places = np.asarray(np.interp(scores, self.scores, self.places))
        for end, beyond in ((self.scores[0], scores < self.scores[0]), (self.scores[-1], scores > self.scores[-1])):
            places[beyond] += self.slope * (self._ahead(scores[beyond]) - self._ahead(end))
        return np.asarray(np.exp(np.minimum(places, GREATEST)) if self.logarithmic else places)

    def scores_of(self, readings: Array) -> Array:
        """The normal scores at which readings stand, of the same shape; -inf and inf where none is low or high enough."""
        with np.errstate(divide="ignore", invalid="ignore"):
            places = np.log(np.maximum(readings, 0.0)) if self.logarithmic else np.asarray(readings, float)
        first, last = self.places[0], self.places[-1]
        scores = np.interp(places, self.places, self.scores)
        under = self._behind(self._ahead(self.scores[0]) + (places - first) / self.slope)
        over = self._behind(self._ahead(self.scores[-1]) + (places - last) / self.slope)
        return np.where(places < first, under, np.where(places > last, over, scores))

    def _ahead(self, scores: Array) -> Array:
        """Standard deviations off the mean at which the prediction of one more normal reading has these scores.

        Of the shape of `scores`.
        """
        return np.asarray(_widening(self.n) * stdtrit(self.n - 2, ndtr(scores)))

    def _behind(self, deviations: Array) -> Array:
        """The scores that the prediction of one more normal reading has so many standard deviations off the mean.

        Of the shape of `deviations`.
        """
        return np.asarray(ndtri(stdtr(self.n - 2, deviations / _widening(self.n))))


def marginal_of(readings: Array, censored: Array, low: float) -> tuple[Marginal, Array]:
    """The marginal of a measure, and the normal score of each of its readings.

    Parameters
    ----------
    readings : ndarray, shape (n,), finite, three or more of them different
    censored : ndarray, shape (m,), the limits that further readings lie below; each counts as just under its limit
    low : the least that the measure can read, -inf where nothing says so; logarithms are looked at where it is 0 or more, or
        where nothing says so

    Returns
    -------
    Marginal, and the scores of `readings`, shape (n,)
    """
    n = len(readings) + len(censored)
    order = scipy.stats.rankdata(np.concatenate([np.nextafter(censored, -np.inf), readings]))[len(censored) :]
    scores = ndtri(order / (n + 1))
    at, values = np.unique(scores), np.unique(readings)
    if len(censored) and censored.max() < values[0]:
        at = np.concatenate([[ndtri((len(censored) + 0.5) / (n + 1))], at])
        values = np.concatenate([[censored.max()], values])
    may_be_logarithmic = values[0] > 0 and (low >= 0 or low == -math.inf)
    logarithmic = bool(may_be_logarithmic and _fits_better_in_logarithms(readings))
    places = np.log(values) if logarithmic else values
    whole = np.log(readings) if logarithmic else readings
    plain = Marginal(at, places, 1.0, n, logarithmic)
    off = plain._ahead(scores)
    slope = float(np.sum((off - off.mean()) * (whole - whole.mean())) / np.sum((off - off.mean()) ** 2))
    return Marginal(at, places, slope, n, logarithmic), np.asarray(scores)


def _widening(n: int) -> float:
    """The standard deviation of one more reading about the mean of n, in standard deviations of one."""
    return math.sqrt(1 + 1 / n)


def _fits_better_in_logarithms(readings: Array) -> bool:
    """Whether the normal likelihood of Box and Cox of readings, shape (n,), is greater at the power 0 than at 1."""
    logarithms = np.log(readings)
    n = len(readings)
    return float(-n * math.log(logarithms.std()) - logarithms.sum()) > float(-n * math.log(readings.std()))
