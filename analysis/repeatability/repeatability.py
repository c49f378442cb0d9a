"""Repeatability: how closely the repeats of a bench agree, measure by measure, from a catalogue's own readings.

A cell holds readings taken under the same conditions: a product's, or a product's in one session where sessions are named.
Formulas of ISO 5725-2, Accuracy of measurement methods and results, part 2, 1994 (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

from analysis.repeatability.cells import Array, Cells, cells_of
from analysis.repeatability.outliers import OutlierFinding, OutlierTest, outlier_study
from scoring.catalogue import Catalogue, State, from_arrays
from scoring.form import Form, Measure
from scoring.repeats import PooledSd, pooled_sd

COVERAGE = 0.95
#: Two readings differ by more than this many standard deviations in about 5 % of cases: 1.96 sqrt(2), rounded as in
#: "r1 = 2.8 Sr1", Building Research Establishment, Aggregate, Formulae, which quotes ISO 5725 (read).
LIMIT_FACTOR = 2.8
#: The share of cells that `robust_pooled_sd` cuts down where all is well.
CUT = 0.1
NO_SESSIONS = (
    "no session is named beside the readings (a column `session`), so a difference between sessions cannot be separated from"
    " repeatability"
)
ONE_SESSION = "no product was read in two sessions, so a difference between sessions cannot be separated"
NO_REPEATS = "no session holds two readings of a product, so repeatability and sessions cannot be separated"


@dataclass(frozen=True, slots=True)
class SessionPart:
    """What a new session adds, pooled over the products read in two or more; the unit is that of the `Precision`.

    n_bar: readings a product and session, the average that ISO 5725-2 takes of unequal numbers; mean_square between the
    sessions of a product, on freedom_between, and p_value, its chance where sessions do not differ (NaN where repeats never
    do); between_sd: s_L, 0 where mean_square is not above that within; total_sd: s_R, of readings in sessions of their own,
    with its effective freedom and 95 % interval.
    """

    n_products: int
    n_sessions: int
    n_bar: float
    mean_square: float
    freedom_between: int
    p_value: float
    between_sd: float
    total_sd: float
    freedom: float
    low: float
    high: float

    @property
    def limit(self) -> float:
        """R = 2.8 s_R, which two readings of different sessions seldom differ by."""
        return LIMIT_FACTOR * self.total_sd


class Counts(NamedTuple):
    """What an estimate rests on: products, cells and readings, of cells with two readings or more. What is left out: cells
    of one reading (alone), cells with a mean of 0 in shares (at_zero), readings below the reporting limit. What to mind:
    cells whose readings are all equal (alike), readings without a session beside others that have one (unnamed).
    """

    products: int
    cells: int
    readings: int
    alone: int
    at_zero: int
    below_limit: int
    alike: int
    unnamed: int


@dataclass(frozen=True, slots=True, eq=False)
class Precision:
    """The repeatability of one measure; standard deviations are in the unit, or shares of the mean where `is_share`.

    Attributes
    ----------
    by_session : whether a cell is a product and session, not a product
    sd, freedom, low, high : s_r, its degrees of freedom and 95 % interval; NaN where no cell has two readings
    robust_sd, whole : pooled so that wild repeats hardly count; over whole products, which `pooled` means in a formula
    declared : what the form declares; None where it pools, or declares nothing
    k : shape (n_products,), the greatest Mandel's k of the product's cells; NaN where there is none
    """

    measure: str
    unit: str
    is_share: bool
    by_session: bool
    counts: Counts
    sd: float
    freedom: int
    low: float
    high: float
    robust_sd: float
    whole: PooledSd
    declared: float | None
    sessions: SessionPart | None
    why_no_sessions: str
    k: Array
    tests: tuple[OutlierTest, ...]
    findings: tuple[OutlierFinding, ...]

    @property
    def limit(self) -> float:
        """r = 2.8 s_r, which two repeats seldom differ by."""
        return LIMIT_FACTOR * self.sd

    @property
    def declared_inside(self) -> bool | None:
        """Whether the declared value lies in the interval; None where either is not there."""
        if self.declared is None or math.isnan(self.low):
            return None
        return self.low <= self.declared <= self.high


def precisions(form: Form, catalogue: Catalogue) -> tuple[Precision, ...]:
    """The repeatability of every measure of the form that the catalogue has readings of, in the form's order."""
    return tuple(_precision(measure, catalogue) for measure in form.measures if measure.name in catalogue.readings)


def effective_freedom(u: Sequence[float], freedom: Sequence[float]) -> float:
    """The degrees of freedom of a combined standard uncertainty.

    Parameters
    ----------
    u : the standard uncertainties combined, each times its sensitivity; 0 or more, not all 0
    freedom : the degrees of freedom of each, above 0; infinite where it is known exactly

    Raises
    ------
    ValueError : the two do not fit each other or these ranges

    Notes
    -----
    nu = (sum u^2)^2 / sum (u^4 / nu_i), for independent components: Welch and Satterthwaite; JCGM 100:2008, Guide to the
    expression of uncertainty in measurement, G.4.1.
    """
    sizes, known = np.asarray(u, dtype=np.float64), np.asarray(freedom, dtype=np.float64)
    if sizes.ndim != 1 or sizes.shape != known.shape:
        raise ValueError("as many degrees of freedom as uncertainties are needed")
    if not (np.isfinite(sizes).all() and (sizes >= 0).all() and (sizes > 0).any()):
        raise ValueError("uncertainties must be finite, 0 or more, and not all 0")
    if not (known > 0).all():
        raise ValueError("degrees of freedom must be above 0")
    shares = (sizes / sizes.max()) ** 2
    spent = float((shares**2 / known).sum())
    return float(shares.sum() ** 2 / spent) if spent else math.inf


def sd_interval(sd: float, freedom: float, coverage: float = COVERAGE) -> tuple[float, float]:
    """The interval of a standard deviation of normal readings; NaN where it rests on nothing.

    Notes
    -----
    nu s^2 / sigma^2 follows chi-squared with nu degrees of freedom; the tails are equal.
    """
    if not 0 < freedom < math.inf:
        return (sd, sd) if freedom > 0 else (math.nan, math.nan)
    tail = (1 - coverage) / 2
    least, most = float(stats.chi2.isf(tail, freedom)), float(stats.chi2.ppf(tail, freedom))
    return sd * math.sqrt(freedom / least), sd * math.sqrt(freedom / most)


def robust_pooled_sd(sds: ArrayLike, freedom: ArrayLike) -> float:
    """Pool standard deviations so that a few wild ones hardly count.

    Parameters
    ----------
    sds, freedom : shape (n_cells,), a standard deviation (NaN is passed over) and repeats less one

    Returns
    -------
    float; NaN where there is nothing to pool, 0 where so many cells are 0 that the method has no other answer

    Notes
    -----
    Algorithm S of ISO 5725-5:1998 as the documentation of R's package metRology, algS, describes it (read; the standard
    was not): s_i is cut down to eta s*, eta^2 = q / nu with q the 0.9 quantile of chi-squared, and
    s*^2 = xi^2 mean(min(s_i, eta s*)^2), xi^-2 = E min(chi-squared / nu, eta^2) = P(chi-squared_{nu + 2} < q) +
    0.1 eta^2. Worked out here for unequal nu_i: s*^2 = sum nu_i min(s_i^2, eta_i^2 s*^2) / sum nu_i xi_i^-2, whose mean
    is right at the normal for any numbers of repeats. The right side is concave in s*^2, so that it is solved by
    finding which cells are cut, without iteration.
    """
    spread, spare = np.asarray(sds, dtype=np.float64), np.asarray(freedom, dtype=np.float64)
    here = np.isfinite(spread) & (spare > 0)
    if not here.any():
        return math.nan
    squares, spare = spread[here] ** 2, spare[here]
    caps = stats.chi2.isf(CUT, spare) / spare
    expected = float((spare * (stats.chi2.cdf(spare * caps, spare + 2) + CUT * caps)).sum())
    edges = squares / caps
    order = np.argsort(edges)
    kept = np.concatenate([[0.0], np.cumsum((spare * squares)[order])])
    cut = np.concatenate([[0.0], np.cumsum((spare * caps)[order][::-1])])[::-1]
    whole = int((kept[1:] + cut[1:] * edges[order] >= expected * edges[order]).sum())
    return math.sqrt(kept[whole] / (expected - cut[whole])) if kept[whole] > 0 else 0.0


def _precision(measure: Measure, catalogue: Catalogue) -> Precision:
    readings, declared = catalogue.readings[measure.name], measure.repeatability
    is_share = declared is not None and declared.kind.value.endswith("relative")
    cells = cells_of(measure.name, catalogue, is_share)
    named = np.array([bool(session) for session in cells.sessions], dtype=np.bool_)
    rows = from_arrays([str(row) for row in range(len(cells.values))], {measure.name: cells.values})
    pooled = pooled_sd(rows.readings[measure.name], is_share)
    low, high = sd_interval(*pooled)
    sessions, why = _session_part(cells, named, pooled, is_share)
    tests, findings, k = outlier_study(cells)
    greatest = np.full(len(catalogue.products), np.nan)
    np.fmax.at(greatest, cells.products, k)
    return Precision(
        measure=measure.name,
        unit=measure.unit,
        is_share=is_share,
        by_session=bool(named.any()),
        counts=_counts(cells, named, int((readings.states == State.BELOW).sum())),
        sd=pooled.sd,
        freedom=pooled.freedom,
        low=low,
        high=high,
        robust_sd=robust_pooled_sd(cells.sds, cells.counts - 1),
        whole=pooled_sd(readings, is_share),
        declared=declared.amount.value if declared is not None and declared.amount is not None else None,
        sessions=sessions,
        why_no_sessions=why,
        k=greatest,
        tests=tests,
        findings=findings,
    )


def _counts(cells: Cells, named: NDArray[np.bool_], below_limit: int) -> Counts:
    used = np.isfinite(cells.sds)
    return Counts(
        products=len(np.unique(cells.products[used])),
        cells=int(used.sum()),
        readings=int(cells.counts[used].sum()),
        alone=int((cells.counts == 1).sum()),
        at_zero=int(((cells.counts >= 2) & ~used).sum()),
        below_limit=below_limit,
        alike=int((cells.sds == 0).sum()),
        unnamed=int(cells.counts[~named].sum()) if named.any() else 0,
    )


def _session_part(
    cells: Cells, named: NDArray[np.bool_], within: PooledSd, is_share: bool
) -> tuple[SessionPart | None, str]:
    """The part of sessions, or why it cannot be told.

    Notes
    -----
    s_L^2 = max(0, (MSB - MSW) / n), s_R^2 = s_r^2 + s_L^2, with MSW = s_r^2 over all cells and n = sum_j (N_j - sum_i
    n_ij^2 / N_j) / sum_j (p_j - 1) over products j of p_j sessions i. The effective freedom is that of (1 - 1/n) MSW +
    MSB / n by Welch and Satterthwaite; the interval is approximate, and covered 93 to 98 % of simulated data sets.
    Sessions of different products are taken to be independent.
    """
    if not named.any():
        return None, NO_SESSIONS
    n, means = cells.counts[named], cells.means[named]
    _, places, n_sessions = np.unique(cells.products[named], return_inverse=True, return_counts=True)
    totals = np.bincount(places, n)
    grand = np.bincount(places, n * means) / totals
    several = (n_sessions >= 2) & ((grand != 0) | (not is_share))
    if not several.any() or not within.freedom:
        return None, NO_REPEATS if several.any() else ONE_SESSION
    squares = np.bincount(places, n * (means - grand[places]) ** 2)[several]
    freedom = int((n_sessions[several] - 1).sum())
    n_bar = float((totals - np.bincount(places, n**2) / totals)[several].sum()) / freedom
    between = float((squares / grand[several] ** 2 if is_share else squares).sum()) / freedom
    extra, inside, spare = max(0.0, (between - within.sd**2) / n_bar), within.sd**2, float(within.freedom)
    if extra:
        parts = (math.sqrt(max(0.0, 1 - 1 / n_bar) * inside), math.sqrt(between / n_bar))
        spare = effective_freedom(parts, (within.freedom, freedom))
    total = math.sqrt(inside + extra)
    p_value = float(stats.f.sf(between / inside, freedom, within.freedom)) if inside else math.nan
    size = int(several.sum()), len(np.unique(np.array(cells.sessions)[named][several[places]])), n_bar
    return SessionPart(*size, between, freedom, p_value, math.sqrt(extra), total, spare, *sd_interval(total, spare)), ""
