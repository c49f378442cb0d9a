"""Critical values for many comparisons at once: the largest simulated lead of any, with the error of the simulation.

The family is walked through product by product and the resamples in blocks, so that no cube of resamples, products and products
is ever held.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil

import numpy as np

from scoring.numbers.array_types import Array, Flags, Indices
from scoring.numbers.ordered_sums import matrix_product

#: Confidence of the band about a simulated critical value.
BAND = 0.99
#: Numbers in one block of the simulation: about a megabyte, so that it stays in the cache.
BLOCK = 2**17


@dataclass(frozen=True, slots=True, eq=False)
class Comparisons:
    """One product against others: +1 or -1 over the standard error of each difference, and the observed lead in such errors.

    The sign is that of the estimates' difference, so that a positive simulated lead has the order of the estimates.
    """

    product: int
    others: Indices
    weights: Array
    leads: Array

    def keep(self, kept: Flags) -> Comparisons:
        """Those of the others that are marked."""
        return Comparisons(self.product, self.others[kept], self.weights[kept], self.leads[kept])


Family = Sequence[Comparisons]


def band_positions(coverage: float, resamples: int) -> tuple[int, int, int]:
    """Where, in sorted maxima, the critical value stands, between the ends of its 99 % band; counted from 0.

    Parameters
    ----------
    coverage : above 0.5 and below 1
    resamples : how many maxima there are

    Raises
    ------
    ValueError
        Where the coverage is out of range or the resamples do not reach beyond the band.

    Notes
    -----
    The value itself is the order statistic ceil(coverage (resamples + 1)), which a further maximum exceeds with probability
    1 - coverage at most. The ends: how many of the resamples fall below the true quantile is binomial, so that the l-th and
    u-th lie about it unless fewer than l or at least u do, each with probability 0.5 % at most.
    """
    if not 0.5 < coverage < 1:
        raise ValueError(f"coverage: found {coverage}, must be above 0.5 and below 1")
    below = np.arange(resamples + 1)
    factorials = np.concatenate([[0.0], np.cumsum(np.log(np.arange(1, resamples + 1)))])
    choices = factorials[-1] - factorials - factorials[::-1]
    at_most = np.cumsum(np.exp(choices + below * np.log(coverage) + below[::-1] * np.log1p(-coverage)))
    low = int(np.searchsorted(at_most, (1 - BAND) / 2, side="right")) - 1
    high = int(np.searchsorted(at_most, (1 + BAND) / 2))
    if low < 0 or high >= resamples:
        raise ValueError(f"resamples: found {resamples}, too few for a coverage of {coverage} and the band about it")
    return low, ceil(coverage * (resamples + 1)) - 1, high


def simulated_errors(factor: Array, resamples: int, rng: np.random.Generator) -> Array:
    """Normal errors of covariance F F', shape (products, resamples).

    Parameters
    ----------
    factor : F, shape (products, any); or shape (products,): the diagonal of one that holds nothing else
    """
    errors = np.empty((len(factor), resamples))
    for part in _blocks(resamples, len(factor)):
        normals = rng.standard_normal((part.stop - part.start, factor.shape[-1])).T
        errors[:, part] = factor[:, None] * normals if factor.ndim == 1 else matrix_product(factor, normals)
    return errors


def critical_values(errors: Array, family: Family, positions: tuple[int, int, int], stepwise: bool) -> Array:
    """The lead beyond which a comparison is significant in its family, between the ends of its band.

    Parameters
    ----------
    errors : from `simulated_errors`
    family : both directions of each comparison are hypotheses of the family
    positions : from `band_positions`
    stepwise : a direction whose observed lead is significant leaves the family, and its reverse stays

    Returns
    -------
    array, shape (3,): at the low end, the middle and the high end; 0 where there is nothing to compare

    Notes
    -----
    Only leads in the order of the estimates can be significant. A family in which none but the reverses are left has the
    smallest critical value there can be, `floor`. Resamples whose maximum is below it need no second look, and a comparison
    whose observed lead is no larger never leaves.
    """
    forward, reverse = _largest_leads(errors, family)
    maxima = np.maximum(forward, reverse)
    criticals = np.sort(maxima)[list(positions)]
    if not stepwise:
        return criticals
    floor = float(np.partition(reverse, positions[0])[positions[0]])
    live = maxima > floor
    moving = errors[:, live]
    stays = [row.keep(row.leads <= floor) for row in family]
    known = np.maximum(reverse[live], _largest_leads(moving, stays)[0])
    doubtful = [row.keep((row.leads > floor) & (row.leads <= criticals[2])) for row in family]
    for end, position in enumerate(positions):
        settled = False
        while not settled:
            left = [row.keep(row.leads <= criticals[end]) for row in doubtful]
            maxima[live] = np.maximum(known, _largest_leads(moving, left)[0])
            criticals[end] = np.partition(maxima, position)[position]
            settled = not any((row.leads > criticals[end]).any() for row in left)
    return criticals


def _largest_leads(errors: Array, family: Family) -> tuple[Array, Array]:
    """Largest simulated lead over the family in each resample, in the order of the estimates and in reverse; 0 or more."""
    forward, reverse = np.zeros((2, errors.shape[1]))
    for part in _blocks(errors.shape[1], len(errors)):
        block = errors[:, part]
        for row in family:
            if not len(row.others):
                continue
            leads = block[row.others]
            np.subtract(block[row.product], leads, out=leads)
            leads *= row.weights[:, None]
            np.maximum(forward[part], leads.max(axis=0), out=forward[part])
            np.maximum(reverse[part], -leads.min(axis=0), out=reverse[part])
    return forward, reverse


def _blocks(resamples: int, products: int) -> Iterator[slice]:
    length = max(1, BLOCK // products)
    for start in range(0, resamples, length):
        yield slice(start, min(start + length, resamples))
