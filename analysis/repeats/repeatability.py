"""Repeatability: how closely the repeats of a bench agree, measure by measure, from a catalogue's own readings.

A cell holds readings taken under the same conditions: a product's, or a product's in one session and of one specimen, where
those are named. Components are those of `scoring.measurement_error`, formulas of ISO 5725-2, Accuracy of
measurement methods and results, part 2, 1994 (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from analysis.repeats.cells import Cells, cells_of, named_beside
from analysis.repeats.outliers import OutlierFinding, OutlierTest, outlier_study
from analysis.repeats.robust import made_by, robust_pooled_sd
from scoring.catalogue import Catalogue, State
from scoring.catalogue.repeats import PooledSd, pooled_sd
from scoring.form import Form, Measure
from scoring.measurement_error.variance_components import (
    Estimate,
    VarianceComponents,
    variance_components,
)
from scoring.numbers.array_types import Array, Flags

#: Two readings differ by more than this many standard deviations in about 5 % of cases: 1.96 sqrt(2), rounded as in
#: "r1 = 2.8 Sr1", Building Research Establishment, Aggregate, Formulae, which quotes ISO 5725 (read).
LIMIT_FACTOR = 2.8


@dataclass(frozen=True, slots=True)
class SessionPart:
    """What a new session adds, from products that share its shift; the unit is that of the `Precision`.

    n_products: those read in two sessions or more, n_sessions: those that a product links to another, in n_parts groups
    within which they are compared; n_bar: readings a session, the average for unequal numbers; mean_square between
    sessions, products (and specimens) adjusted for, on freedom_between, and p_value, its chance where sessions do not differ
    (NaN where repeats never do); between_sd: s_L, with between_freedom and its 95 % interval between_low to between_high;
    is_zero: whether its estimate was not above 0 and is put there; total_sd: s_R, of readings in sessions of their own,
    with its effective freedom and 95 % interval.
    """

    n_products: int
    n_sessions: int
    n_parts: int
    n_bar: float
    mean_square: float
    freedom_between: int
    p_value: float
    between_sd: float
    between_freedom: float
    between_low: float
    between_high: float
    is_zero: bool
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
    by_session, by_specimen : whether a cell is one session's, one specimen's, not all of a product's readings
    specimens : what a new specimen of a product adds, s_S; None where that cannot be told
    sd, freedom, low, high : s_r, its degrees of freedom and 95 % interval; NaN where no cell has two readings
    robust_sd, whole : pooled so that wild repeats hardly count; over whole products, which `pooled` means in a formula
    made_by, sd_without : the fewest products, those of the widest repeats and `FEW_PRODUCTS` at most, without which s_r has the
        declared value in its interval, and s_r without them; none and NaN where it has it with all, or not without those
    declared : what the form declares; None where it pools, or declares nothing
    k : shape (n_products,), the greatest Mandel's k of the product's cells; NaN where there is none
    """

    measure: str
    unit: str
    is_share: bool
    by_session: bool
    by_specimen: bool
    counts: Counts
    sd: float
    freedom: int
    low: float
    high: float
    robust_sd: float
    whole: PooledSd
    declared: float | None
    made_by: tuple[str, ...]
    sd_without: float
    sessions: SessionPart | None
    why_no_sessions: str
    specimens: Estimate | None
    why_no_specimens: str
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

    @property
    def refuted(self) -> bool:
        """Whether the declared value lies outside the interval, and about the robust value outside on the same side.

        About the robust value the interval is taken to be as wide, as a multiple, as about s_r.
        """
        if self.declared is None or self.declared_inside is not False:
            return False
        if self.declared < self.low:
            return self.declared < self.low * self.robust_sd / self.sd
        return not self.sd or self.declared > self.high * self.robust_sd / self.sd


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


def is_relative(measure: Measure) -> bool:
    """Whether the scatter of a measure is a share of its mean, as its declared repeatability says."""
    declared = measure.repeatability
    return declared is not None and declared.kind.value.endswith("relative")


def _precision(measure: Measure, catalogue: Catalogue) -> Precision:
    readings, declared = catalogue.readings[measure.name], measure.repeatability
    is_share = is_relative(measure)
    cells = cells_of(measure.name, catalogue, is_share)
    named = np.array([bool(session) for session in cells.sessions], dtype=np.bool_)
    sessions, specimens = (named_beside(kind, measure.name, catalogue) for kind in ("session", "specimen"))
    counted = np.where(readings.states == State.VALUE, readings.values, np.nan)
    components = variance_components(counted, sessions, specimens, is_share)
    within = components.within
    stated = declared.amount.value if declared is not None and declared.amount is not None else None
    carriers, sd_without = made_by(cells, stated)
    tests, findings, k = outlier_study(cells)
    greatest = np.full(len(catalogue.products), np.nan)
    np.fmax.at(greatest, cells.products, k)
    return Precision(
        measure=measure.name,
        unit=measure.unit,
        is_share=is_share,
        by_session=bool(named.any()),
        by_specimen=any(cells.specimens),
        counts=_counts(cells, named, int((readings.states == State.BELOW).sum())),
        sd=within.sd,
        freedom=within.mean_square_freedom,
        low=within.low,
        high=within.high,
        robust_sd=robust_pooled_sd(cells.sds, cells.counts - 1),
        whole=pooled_sd(readings, is_share),
        declared=stated,
        made_by=carriers,
        sd_without=sd_without,
        sessions=_session_part(components),
        why_no_sessions=components.why_no_sessions,
        specimens=components.specimens,
        why_no_specimens=components.why_no_specimens,
        k=greatest,
        tests=tests,
        findings=findings,
    )


def _counts(cells: Cells, named: Flags, below_limit: int) -> Counts:
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


def _session_part(found: VarianceComponents) -> SessionPart | None:
    """The part of sessions, where it can be told."""
    part, total = found.sessions, found.total
    if part is None or total is None:
        return None
    return SessionPart(
        n_products=part.n_products,
        n_sessions=part.n_levels,
        n_parts=part.n_parts,
        n_bar=part.coefficient,
        mean_square=part.mean_square,
        freedom_between=part.mean_square_freedom,
        p_value=part.p_value,
        between_sd=part.sd,
        between_freedom=part.freedom,
        between_low=part.low,
        between_high=part.high,
        is_zero=part.is_zero,
        total_sd=total.sd,
        freedom=total.freedom,
        low=total.low,
        high=total.high,
    )
