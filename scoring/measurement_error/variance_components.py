"""Variance components of a measure's readings: within cells, between sessions that products share, between specimens.

reading = product (fixed) + session (one shift of all that is read in it) + specimen (of one product) + within. Components
come from the mean squares of C. R. Henderson's method 3, fitting constants, Biometrics 9 (1953) (from memory): each
factor after all others, so that its expectation holds its own component and that within cells only. For one product it is
the analysis of variance of ISO 5725-2:1994 (from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import scipy

from scoring.measurement_error.coded_readings import (
    CodedReadings,
    coded_readings,
    codes_of,
    in_two_levels,
    without_gaps,
)
from scoring.measurement_error.fiducial import sampled_variances, total_interval, variance_interval
from scoring.measurement_error.reductions import Reduction, sessions_after, specimens_after
from scoring.numbers.array_types import Array, Flags, Integers, Texts
from scoring.numbers.chi_squared import f_chance_above, value_above, value_below

COVERAGE = 0.95
NO_SESSIONS = (
    "no session is named beside the readings (a column `session`), so a difference between sessions cannot be separated from"
    " repeatability"
)
ONE_SESSION = "no product was read in two sessions, so a difference between sessions cannot be separated"
ONE_SESSION_A_SPECIMEN = (
    "no specimen was read in two sessions, so a difference between sessions is not separated from one between specimens"
)
NO_SPECIMENS = (
    "no specimen is named beside the readings (a column `specimen`), so a difference between specimens cannot be separated"
    " from repeatability"
)
ONE_SPECIMEN = (
    "no product has two specimens that can be compared once sessions are taken out (read in one session, or in sessions that"
    " other products link), so a difference between specimens cannot be separated"
)
NO_REPEATS = "no session holds two readings of a product, so repeatability and sessions cannot be separated"
NO_SPECIMEN_REPEATS = "no specimen was read twice in one session, so repeatability and specimens cannot be separated"


@dataclass(frozen=True, slots=True)
class Estimate:
    """A standard deviation, in the unit or as a share of the product's mean, and what it rests on.

    Attributes
    ----------
    sd, freedom : NaN and 0 where nothing is known; for a component beside that within, the freedom is that whose chi-squared
        interval reaches as high as `high`, since a difference of mean squares is no chi-squared; where the estimate of the
        variance is not above 0, it is that of the mean square
    low, high : its 95 % interval
    is_zero : whether the estimate of the variance came out at 0 or below, and was put at 0
    mean_square, mean_square_freedom : what it was worked out from; for `within` its own
    coefficient : how often the component stands in the mean square's expectation; 1 for `within`
    n_levels, n_parts : sessions or specimens that could be compared, and the connected parts within which they were
    n_products : products that could tell of it
    p_value : the chance of such a mean square where the component is 0; NaN where it is not told
    """

    sd: float
    freedom: float
    low: float
    high: float
    is_zero: bool
    mean_square: float
    mean_square_freedom: int
    coefficient: float = 1.0
    n_levels: int = 0
    n_parts: int = 0
    n_products: int = 0
    p_value: float = math.nan


@dataclass(frozen=True, slots=True)
class Total:
    """s_R, of readings of one specimen in sessions of their own, its effective freedom and 95 % interval."""

    sd: float
    freedom: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class VarianceComponents:
    """The components of one measure's readings; None and the reason where one cannot be separated.

    `total` is None without `sessions`; `reductions` are those of sessions and specimens, as far as they are there.
    """

    within: Estimate
    sessions: Estimate | None
    specimens: Estimate | None
    why_no_sessions: str
    why_no_specimens: str
    total: Total | None
    reductions: tuple[Reduction, ...] = ()

    def sampled_variances(self, n: int, rng: np.random.Generator) -> tuple[Array, Array | None, Array | None]:
        """Draws of the variances within, between sessions and between specimens from what the readings leave open.

        Returns
        -------
        three arrays of shape (n,); None where there is no such component. They differ from sd^2 freedom / chi-squared where
        a component is small beside that within: many are 0, and an estimate that was put at 0 is not 0 in all of them.

        Raises
        ------
        ValueError : nothing is known of the scatter within
        """
        if not self.within.mean_square_freedom:
            raise ValueError("no draws without two readings of one product, session and specimen")
        freedom = self.within.mean_square_freedom
        inside, *others = sampled_variances(self.within.mean_square * freedom, freedom, self.reductions, n, rng)
        drawn = iter(others)
        sessions = next(drawn) if self.sessions is not None else None
        return inside, sessions, next(drawn) if self.specimens is not None else None


def variance_components(
    values: Array, sessions: Texts | None, specimens: Texts | None, relative: bool
) -> VarianceComponents:
    """Estimate what the readings of one measure scatter by within cells, between sessions and between specimens.

    Parameters
    ----------
    values : shape (n_products, n_repeats), in the measure's unit; NaN where there is no reading
    sessions : the same shape, texts, empty where none is named; a name means one session for all products
    specimens : the same shape; a name belongs to its product, so that two products' "a" are two specimens
    relative : scale each product's readings by its mean; products with a mean of 0 are left out

    Notes
    -----
    A cell is a product, session and specimen. What names no session is a session of its own for `within` and tells nothing
    of the component. A product that names no specimen is one; of one that names some, what names none is a specimen of its
    own for `within` and tells nothing of either component.

    sigma^2 = (MS - MS_r) / coefficient, 0 where that is below it. The freedom of s_R is that of
    (1 - 1/n) MS_r + MS / n by Satterthwaite, with n the coefficient and MS on (sum theta)^2 / sum theta^2 degrees,
    theta_k = sigma_r^2 + weight_k sigma_L^2. Intervals of sessions, specimens and s_R are fiducial, see `fiducial`: those
    of Satterthwaite's freedom cover too little where sessions are few.
    """
    readings = coded_readings(values, sessions, specimens, relative)
    within = _within(readings)
    session_part, why_no_sessions = _sessions(readings, within)
    specimen_part, why_no_specimens = _specimens(readings, within)
    there = [part for part in (session_part, specimen_part) if part is not None]
    return VarianceComponents(
        within=within,
        sessions=session_part[0] if session_part else None,
        specimens=specimen_part[0] if specimen_part else None,
        why_no_sessions=why_no_sessions,
        why_no_specimens=why_no_specimens,
        total=_total(within, *session_part) if session_part else None,
        reductions=tuple(reduction for _, reduction in there),
    )


def sd_interval(sd: float, freedom: float, coverage: float = COVERAGE) -> tuple[float, float]:
    """The interval of a standard deviation of normal readings; NaN where it rests on nothing.

    Notes
    -----
    nu s^2 / sigma^2 follows chi-squared with nu degrees of freedom; the tails are equal.
    """
    if not 0 < freedom < math.inf:
        return (sd, sd) if freedom > 0 else (math.nan, math.nan)
    tail = (1 - coverage) / 2
    least, most = float(value_below(tail, freedom)), float(value_above(tail, freedom))
    return sd * math.sqrt(freedom / least), sd * math.sqrt(freedom / most)


def _within(readings: CodedReadings) -> Estimate:
    cells = codes_of(codes_of(readings.products, readings.sessions), readings.specimens)
    counts = np.bincount(cells)
    means = np.bincount(cells, readings.values) / np.maximum(counts, 1)
    freedom = len(cells) - len(counts)
    if not freedom:
        return Estimate(math.nan, 0, math.nan, math.nan, False, math.nan, 0)
    square = float(((readings.values - means[cells]) ** 2).sum()) / freedom
    low, high = sd_interval(math.sqrt(square), freedom)
    several = len(np.unique(readings.products[counts[cells] > 1]))
    return Estimate(math.sqrt(square), freedom, low, high, False, square, freedom, n_products=several)


def _sessions(readings: CodedReadings, within: Estimate) -> tuple[tuple[Estimate, Reduction] | None, str]:
    named = readings.sessions >= 0
    if not named.any():
        return None, NO_SESSIONS
    there = readings.where(named & (readings.specimens >= 0))
    if not len(there.values):
        return None, ONE_SESSION
    rows, sessions = without_gaps(there.specimens), without_gaps(there.sessions)
    found = sessions_after(rows, sessions, there.values)
    if not found.rank:
        return None, ONE_SESSION_A_SPECIMEN if _any_in_two(there.products, there.sessions) else ONE_SESSION
    if not within.mean_square_freedom:
        return None, NO_REPEATS
    return (_component(found, within, in_two_levels(rows, sessions, there.products), sessions), found), ""


def _specimens(readings: CodedReadings, within: Estimate) -> tuple[tuple[Estimate, Reduction] | None, str]:
    if not readings.is_specimen_named:
        return None, NO_SPECIMENS
    named = readings.specimens >= 0
    by_session = bool((readings.sessions >= 0).any())
    there = readings.where(named & ((readings.sessions >= 0) | (not by_session)))
    if not len(there.values):
        return None, ONE_SPECIMEN
    products, specimens = without_gaps(there.products), without_gaps(there.specimens)
    sessions = without_gaps(there.sessions) if by_session else None
    found = specimens_after(products, specimens, sessions, there.values)
    if not found.rank:
        return None, ONE_SPECIMEN
    if not within.mean_square_freedom:
        return None, NO_SPECIMEN_REPEATS
    return (_component(found, within, in_two_levels(products, specimens, products), specimens), found), ""


def _any_in_two(rows: Integers, levels: Integers) -> bool:
    """Whether any row has two levels; both of shape (n_readings,)."""
    return bool(in_two_levels(without_gaps(rows), without_gaps(levels), rows)[0])


def _component(found: Reduction, within: Estimate, in_two: tuple[int, Flags], levels: Integers) -> Estimate:
    """The estimate of a factor from its reduction; its interval is fiducial.

    in_two : as `in_two_levels` gives it; levels : shape (n_readings,), the factor's
    """
    n_products, several = in_two
    inside, freedom = within.mean_square, within.mean_square_freedom
    variance = (found.mean_square - inside) / found.coefficient
    low, high = (math.sqrt(end) for end in variance_interval(inside * freedom, freedom, found, COVERAGE))
    sd = math.sqrt(max(variance, 0.0))
    return Estimate(
        sd=sd,
        freedom=_freedom_reaching(high / sd, found.rank) if sd else found.rank,
        low=low,
        high=high,
        is_zero=variance <= 0,
        mean_square=found.mean_square,
        mean_square_freedom=found.rank,
        coefficient=found.coefficient,
        n_levels=len(np.unique(levels[several])),
        n_parts=found.n_parts,
        n_products=n_products,
        p_value=float(f_chance_above(found.mean_square / inside, found.rank, freedom)) if inside else math.nan,
    )


def _freedom_reaching(ratio: float, most: int) -> float:
    """The degrees of freedom, `most` at most, whose chi-squared interval ends at `ratio` times the standard deviation."""

    def beyond(freedom: float) -> float:
        return float(sd_interval(1.0, freedom)[1]) - ratio

    least = 0.2
    if beyond(most) >= 0:
        return float(most)
    return float(scipy.optimize.brentq(beyond, least, most)) if beyond(least) > 0 else least


def _total(within: Estimate, sessions: Estimate, found: Reduction) -> Total:
    inside, freedom, n = within.mean_square, within.mean_square_freedom, found.coefficient
    low, high = (math.sqrt(end) for end in total_interval(inside * freedom, freedom, found, COVERAGE))
    variance = inside + sessions.sd**2
    if sessions.is_zero:
        return Total(math.sqrt(variance), freedom, low, high)
    thetas = inside + found.weights * sessions.sd**2
    spread = float((thetas**2).sum()) / float(thetas.sum()) ** 2
    spent = (max(0.0, 1 - 1 / n) * inside) ** 2 / freedom + (found.mean_square / n) ** 2 * spread
    return Total(math.sqrt(variance), variance**2 / spent, low, high)
