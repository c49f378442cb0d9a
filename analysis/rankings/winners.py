"""Whose lead is real: the first score, and its lead over the second, corrected for both having been picked by their figures.

Whoever comes first was helped by its errors more often than not, so that its figure and its lead are too high on average, and
a plain interval misses. The correction asks how such a figure comes about given who was picked: a normal law of which only
the part is seen that leaves the same products first and second.
Source: I. Andrews, T. Kitagawa and A. McCloskey, Inference on Winners, Quarterly Journal of Economics 139(1), 2024, 305-358
(the article from memory; the algorithm read in the authors' published implementation).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtri

from analysis.rankings.truncated_normal import mean_at
from scoring.numbers.array_types import Array
from scoring.numbers.ordered_sums import matrix_product

#: The part of the error that the hybrid spends on its simultaneous interval: a tenth, as the authors do.
SPENT = 0.1
#: A covariance below this share of the variances that it is made of is the dust of binary arithmetic.
DUST = 1e-12


@dataclass(frozen=True, slots=True)
class Corrected:
    """A figure that was picked, and what it says of the true one.

    published : as it stands; sd : of its error
    estimate : the hybrid estimate, median-unbiased to within `SPENT` of the error, always within `low` to `high`
    conditional : the median-unbiased estimate given who was picked, without bounds: minus infinity in a dead heat
    low, high : the hybrid interval
    plain_low, plain_high : what the interval would be had nobody been picked; it misses more often than it says
    """

    published: float
    sd: float
    estimate: float
    conditional: float
    low: float
    high: float
    plain_low: float
    plain_high: float


@dataclass(frozen=True, slots=True)
class Lead:
    """The best estimate of all and the next best (indices), and what may be said of them; coverage : of each interval alone."""

    first: int
    second: int
    coverage: float
    margin: Corrected
    score: Corrected

    @property
    def stands(self) -> bool:
        """Whether the corrected interval of the margin leaves only a lead."""
        return self.margin.low > 0


def lead_of(
    estimates: ArrayLike, covariance: ArrayLike, *, coverage: float = 0.95, best: str = "highest"
) -> Lead | None:
    """The lead of the first over the second, and the score of the first, corrected for having been picked.

    Parameters
    ----------
    estimates : array, shape (products,), finite
    covariance : array, shape (products, products): covariance of the estimates' errors, taken as normal and known;
        or shape (products,): standard deviations of independent errors
    coverage : of each interval, above 0.5 and below 1
    best : "highest" or "lowest"; margins are counted as leads either way

    Returns
    -------
    Lead, or None where there are fewer than two products, or no error in the difference or the score of the first

    Notes
    -----
    What is picked is the pair (first, second) for the margin, and the first alone for its score. Given the part of the
    estimates that is independent of the figure y, whoever was picked is picked again for y between two truncation points;
    y is then a truncated normal one, and the corrected estimate is the mean under which half of that law lies below y.
    The hybrid also cuts that law at `reach` standard deviations about its mean, where `reach` makes a simultaneous interval of
    all figures that could have been picked, at the level 1 - beta, beta = a tenth of 1 - coverage; by Bonferroni over them,
    which needs no draws and is a little wider than the authors' simulated value. The rest of the level, gamma = (alpha - beta)
    / (1 - beta), goes into the truncated law.

    Examples
    --------
    A lead of a third of its standard error was picked, and nothing is left of it; one of ten stands.

    >>> near, far = lead_of([5.0, 4.95], [0.1, 0.1]), lead_of([5.0, 3.6], [0.1, 0.1])
    >>> round(near.margin.estimate, 2), near.stands
    (-0.18, False)
    >>> round(far.margin.estimate, 2), far.stands
    (1.4, True)
    """
    return leads_of(np.asarray(estimates, float)[np.newaxis], covariance, coverage=coverage, best=best)[0]


def leads_of(
    tables: ArrayLike, covariance: ArrayLike, *, coverage: float = 0.95, best: str = "highest"
) -> list[Lead | None]:
    """`lead_of` for each row of `tables`, shape (tables, products): all at once, as a simulation asks for them."""
    if best not in ("highest", "lowest"):
        raise ValueError(f"best: found {best!r}, must be highest or lowest")
    if not 0.5 < coverage < 1:
        raise ValueError(f"coverage: found {coverage}, must be above 0.5 and below 1")
    sign = 1.0 if best == "highest" else -1.0
    rows = sign * np.asarray(tables, float)
    if not np.isfinite(rows).all():
        raise ValueError("estimates: must be finite")
    errors = np.asarray(covariance, float)
    errors = np.diag(errors**2) if errors.ndim == 1 else errors
    n = rows.shape[1]
    if n < 2:
        return [None] * len(rows)
    pairs = [tuple(np.argsort(-row, kind="stable")[:2].tolist()) for row in rows]
    margins = [_margin(row, errors, *pair) for row, pair in zip(rows, pairs, strict=True)]
    scores = [_score(row, errors, first) for row, (first, _) in zip(rows, pairs, strict=True)]
    found = zip(
        pairs,
        _corrected(margins, n * (n - 1) // 2, coverage),
        _corrected(scores, n, coverage),
        strict=True,
    )
    return [
        None if margin is None or score is None else Lead(first, second, coverage, margin, _turned(score, sign))
        for (first, second), margin, score in found
    ]


@dataclass(frozen=True, slots=True)
class _Picked:
    """A figure that was picked, its standard error, and how far down and up, in standard errors, it is picked again."""

    y: float
    sd: float
    below: float
    above: float


def _margin(values: Array, errors: Array, first: int, second: int) -> _Picked | None:
    """First less second, picked while the first is above the second and the second above all others."""
    lead = np.zeros(len(values))
    lead[first], lead[second] = 1.0, -1.0
    others = np.delete(np.eye(len(values)), [first, second], axis=0)
    others[:, second] = -1.0
    return _picked(values, errors, lead, np.vstack([others, -lead]))


def _score(values: Array, errors: Array, first: int) -> _Picked | None:
    """The score of the first, picked while it is above all others."""
    alone = np.zeros(len(values))
    alone[first] = 1.0
    others = np.delete(np.eye(len(values)), first, axis=0)
    others[:, first] = -1.0
    return _picked(values, errors, alone, others)


def _picked(values: Array, errors: Array, figure: Array, rivals: Array) -> _Picked | None:
    """A linear figure of the estimates, picked while `rivals` times them is 0 or less; None where it has no error."""
    toward = matrix_product(errors, figure)
    variance = float(np.sum(figure * toward))
    if variance <= DUST * float(np.sum(np.abs(figure) * np.diag(errors))):
        return None
    sd = float(np.sqrt(variance))
    below, above = _room(matrix_product(rivals, values), matrix_product(rivals, toward / sd))
    return _Picked(float(np.sum(figure * values)), sd, below, above)


def _corrected(picked: list[_Picked | None], could_be: int, coverage: float) -> list[Corrected | None]:
    """Each figure corrected; could_be : how many could have been picked instead, itself among them."""
    alpha = 1 - coverage
    beta = SPENT * alpha
    reach = -float(ndtri(beta / (2 * could_be)))
    gamma = (alpha - beta) / (1 - beta)
    plain = -float(ndtri(alpha / 2))
    there = [one for one in picked if one is not None]
    below, above = (np.array([[getattr(one, end)] for one in there]) for end in ("below", "above"))
    shares = np.array([0.5, 0.5, 1 - gamma / 2, gamma / 2])
    reaches = np.array([reach, np.inf, reach, reach])
    steps = iter(mean_at(shares, below, above, reaches).tolist() if there else ())

    def corrected(one: _Picked) -> Corrected:
        estimate, conditional, low, high = (one.y - one.sd * step for step in next(steps))
        ends = one.y - plain * one.sd, one.y + plain * one.sd
        return Corrected(one.y, one.sd, estimate, conditional, low, high, *ends)

    return [None if one is None else corrected(one) for one in picked]


def _room(held: Array, slopes: Array) -> tuple[float, float]:
    """How far down and up the figure can go, in standard deviations, before somebody else is picked.

    held : 0 or less; slopes : how each moves when the figure rises by one standard deviation and what is independent stays
    """
    size = np.abs(slopes).max(initial=0.0)
    rising, falling = slopes > DUST * size, slopes < -DUST * size
    slack = np.maximum(-held, 0.0)
    above = float((slack[rising] / slopes[rising]).min(initial=np.inf))
    below = float((slack[falling] / -slopes[falling]).min(initial=np.inf))
    return below, above


def _turned(one: Corrected, sign: float) -> Corrected:
    """The figure of which this is `sign` times."""
    if sign > 0:
        return one
    return Corrected(
        published=-one.published,
        sd=one.sd,
        estimate=-one.estimate,
        conditional=-one.conditional,
        low=-one.high,
        high=-one.low,
        plain_low=-one.plain_high,
        plain_high=-one.plain_low,
    )
