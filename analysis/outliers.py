"""Outlier statistics of repeats and sessions, reported and never acted on: Grubbs, Cochran, Mandel's h and k.

The tests and their reading, a straggler beyond the 5 % value and an outlier beyond the 1 % value, are those of ISO 5725-2,
Accuracy of measurement methods and results, part 2, 1994 (from memory). Critical values are computed, not looked up.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

#: Beyond the critical value of the first level a finding is a straggler, beyond that of the second an outlier.
LEVELS = (0.05, 0.01)
GRUBBS, GRUBBS_MEANS, COCHRAN = "Grubbs, repeats", "Grubbs, session means", "Cochran's C"
MANDEL_H, MANDEL_K = "Mandel's h", "Mandel's k"
ALIKE = "cells whose repeats agree to the last digit, all or all but one,"
ALIKE_MEANS = "products whose session means are equal, all or all but one,"
UNEQUAL = (
    "numbers of repeats differ, so each cell's share of the sum of squares is held against the value for its own number; "
    "where all are equal that is Cochran's C"
)


@dataclass(frozen=True, slots=True, eq=False)
class Cells:
    """Readings of one measure, a row a cell: a product, or a product and session where sessions are named.

    names: the ids of the catalogue's products; products: each cell's place among them, rising; sessions: a text a cell, empty
    where none is named; values: (n_cells, n_repeats), repeat 1 in column 0, NaN where the cell has no counted reading;
    counts, means, sds: (n_cells,), the last in the unit or as a share of the mean's size, NaN where there is none.
    """

    measure: str
    names: tuple[str, ...]
    products: Indices
    sessions: tuple[str, ...]
    values: Array
    counts: Indices
    means: Array
    sds: Array

    def __post_init__(self) -> None:
        for array in (self.products, self.values, self.counts, self.means, self.sds):
            array.setflags(write=False)


@dataclass(frozen=True, slots=True)
class OutlierFinding:
    """One statistic beyond its critical value at `level`, the smallest of `LEVELS` that it goes beyond.

    repeats: the one suspected repeat under Grubbs' test of repeats, else every repeat of the cell, counted from 1; furthest:
    the repeat furthest from the mean of its cell, None where it has fewer than three; p_value: the chance of as much in
    one test of normal readings, for Grubbs and Cochran an upper bound; n_tests: such tests made of this measure.
    """

    test: str
    measure: str
    product: str
    session: str
    repeats: tuple[int, ...]
    furthest: int | None
    statistic: float
    critical: float
    level: float
    p_value: float
    n_tests: int

    @property
    def kind(self) -> str:
        """A straggler, or an outlier."""
        return "outlier" if self.level == LEVELS[1] else "straggler"

    @property
    def by_chance(self) -> float:
        """How many findings at this level the tests of this measure would give if nothing were amiss."""
        return self.n_tests * self.level


class OutlierTest(NamedTuple):
    """How often one test was made of one measure, how often it went beyond its values at `LEVELS` (an outlier counts at
    both), how often chance alone would, how many cells or products could not be tested; `note` says why, or how it was.
    """

    test: str
    measure: str
    n_tests: int
    n_beyond: tuple[int, int]
    by_chance: tuple[float, float]
    n_untested: int
    note: str


class _Outcome(NamedTuple):
    """One test of a measure: the cells and their statistics, critical values (levels, cells) and p values."""

    test: str
    cells: Indices
    statistics: Array
    criticals: Array
    p_values: Array
    n_tests: int
    note: str = ""
    n_untested: int = 0
    suspects: Indices | None = None


def grubbs_critical(n: ArrayLike, level: float | Array, sides: int = 2) -> Array:
    """The critical value of Grubbs' single test in n values, three or more.

    Notes
    -----
    G = (n - 1) / sqrt(n) * sqrt(t^2 / (n - 2 + t^2)), t the upper level / (sides n) quantile of Student's distribution
    with n - 2 degrees of freedom: F. E. Grubbs, Ann. Math. Stat. 21 (1950), with the bound of Pearson and Sekar,
    Biometrika 28 (1936) (formula from memory).
    """
    size = np.asarray(n, dtype=np.float64)
    squared = stats.t.isf(level / (sides * size), size - 2) ** 2
    return np.asarray((size - 1) / np.sqrt(size) * np.sqrt(squared / (size - 2 + squared)))


def mandel_h_critical(n: ArrayLike, level: float) -> Array:
    """The critical value of |h| for one mean out of n, three or more.

    Notes
    -----
    (1 + h sqrt(n) / (n - 1)) / 2 follows Beta((n - 2) / 2, (n - 2) / 2) for means of equal variance (documentation of
    R's package metRology, Mandel-h, read), which is Grubbs' relation to Student's t without the n-fold choice.
    """
    return grubbs_critical(n, level * np.asarray(n, dtype=np.float64))


def mandel_k_critical(freedom: ArrayLike, total: float, level: float) -> Array:
    """The critical value of k = s_i / s_r for a cell of `freedom` degrees of freedom out of `total` over all cells.

    Notes
    -----
    The cell's share of the sum of squares, k^2 freedom / total, follows Beta(freedom / 2, (total - freedom) / 2): for
    equal cells documented for R's package metRology, Mandel-k (read); for unequal ones worked out here.
    """
    own = np.asarray(freedom, dtype=np.float64)
    return np.asarray(np.sqrt(total / own * stats.beta.isf(level, own / 2, (total - own) / 2)))


def cochran_critical(freedom: ArrayLike, total: float, n_cells: int, level: float) -> Array:
    """The critical value of a cell's share of the sum of squares, the greatest share of `n_cells` being tested.

    Notes
    -----
    For equal cells the share is Cochran's C = s_max^2 / sum s^2, and the value is the upper bound
    C = 1 / (1 + (p - 1) / F), F the upper level / p quantile of F(n - 1, (p - 1)(n - 1)): W. G. Cochran, Ann. Eugenics 11
    (1941) (formula from memory). For unequal cells each share has its own Beta distribution, and the bound of level / p
    for each still holds: R. U. E. 't Lam, Anal. Chim. Acta 659 (2010) (from memory; worked out here again).
    """
    own = np.asarray(freedom, dtype=np.float64)
    return np.asarray(stats.beta.isf(level / n_cells, own / 2, (total - own) / 2))


def furthest(values: Array) -> tuple[Array, Indices, NDArray[np.bool_]]:
    """The greatest deviation of each row from its mean, |x - mean| / s, its column, and whether it can be tested.

    Parameters
    ----------
    values : shape (n_rows, n_columns); NaN where there is none

    Returns
    -------
    three of shape (n_rows,); a row can be tested where it has three values, and those other than the suspect differ

    Notes
    -----
    Where the others are all equal, as rounded readings often are, the statistic is (n - 1) / sqrt(n) however small the
    deviation; that is above every critical value, and says nothing. The statistic is NaN there.
    """
    here = np.isfinite(values)
    counts = here.sum(axis=1)
    means = np.where(here, values, 0.0).sum(axis=1) / np.maximum(counts, 1)
    deviations = np.where(here, np.abs(values - means[:, np.newaxis]), 0.0)
    columns = deviations.argmax(axis=1)
    rest = here & (np.arange(values.shape[1]) != columns[:, np.newaxis])
    differ = np.where(rest, values, -np.inf).max(axis=1) > np.where(rest, values, np.inf).min(axis=1)
    testable = (counts >= 3) & differ
    sds = np.sqrt((deviations**2).sum(axis=1) / np.maximum(counts - 1, 1))
    return np.where(testable, deviations.max(axis=1) / np.where(testable, sds, 1.0), np.nan), columns, testable


def outlier_study(cells: Cells) -> tuple[tuple[OutlierTest, ...], tuple[OutlierFinding, ...], Array]:
    """Test every cell of a measure for wild repeats, wide scatter and strange sessions.

    Returns
    -------
    every test; what went beyond a critical value; and Mandel's k of every cell, shape (n_cells,), NaN where there is none

    Notes
    -----
    Cochran's C and Mandel's k take the cells to share one standard deviation, Mandel's h and Grubbs' test of session
    means take a product's sessions to be read equally often. Each test is made once: one wild cell swells the total and
    may hide another, so a reading that is set aside calls for a second look.
    """
    k, cochran, mandel = _scatter(cells)
    outcomes = [_repeats(cells), cochran, mandel, *_sessions(cells)]
    findings = tuple(found for outcome in outcomes for found in _findings(cells, outcome))
    return tuple(_tally(cells, outcome) for outcome in outcomes), findings, k


def _deviation_tail(statistics: Array, n: Array) -> Array:
    """The chance that one given value of n lies this far above the mean, in standard deviations."""
    room = np.maximum((n - 1) ** 2 - n * statistics**2, np.finfo(float).tiny)
    return np.asarray(stats.t.sf(statistics * np.sqrt(n * (n - 2) / room), n - 2))


def _repeats(cells: Cells) -> _Outcome:
    """Grubbs' test in each cell."""
    outcome, suspects = _grubbs(GRUBBS, cells.values, ALIKE)
    note = outcome.note if (cells.counts >= 3).any() else "no cell has three repeats"
    return outcome._replace(suspects=suspects, note=note)


def _grubbs(test: str, values: Array, alike: str) -> tuple[_Outcome, Indices]:
    """Grubbs' test of each row of values, `cells` being rows, and the column of each row's suspect."""
    statistics, suspects, testable = furthest(values)
    rows, counts = np.flatnonzero(testable), np.isfinite(values).sum(axis=1)
    n = counts[rows].astype(np.float64)
    criticals = np.array([grubbs_critical(n, level) for level in LEVELS])
    p_values = np.minimum(1.0, 2 * n * _deviation_tail(statistics[rows], n))
    untested = int((counts >= 3).sum()) - len(rows)
    note = f"{alike} are not tested" if untested else ""
    return _Outcome(test, rows, statistics[rows], criticals, p_values, len(rows), note, untested), suspects[rows]


def _scatter(cells: Cells) -> tuple[Array, _Outcome, _Outcome]:
    """Mandel's k of every cell, Cochran's test of them together and Mandel's of each."""
    rows = np.flatnonzero(np.isfinite(cells.sds))
    freedom = cells.counts[rows] - 1
    squares, total = freedom * cells.sds[rows] ** 2, int(freedom.sum())
    k, whole = np.full(len(cells.sds), np.nan), float(squares.sum())
    if len(rows) < 2 or whole == 0:
        note = "fewer than two cells have two repeats" if len(rows) < 2 else "no repeats differ"
        return k, _nothing(COCHRAN, note), _nothing(MANDEL_K, note)
    shares = squares / whole
    k[rows] = np.sqrt(shares * total / freedom)
    tails = np.asarray(stats.beta.sf(shares, freedom / 2, (total - freedom) / 2))
    cochran = np.array([cochran_critical(freedom, total, len(rows), level) for level in LEVELS])
    mandel = np.array([mandel_k_critical(freedom, total, level) for level in LEVELS])
    bounds = np.minimum(1.0, tails * len(rows))
    return (
        k,
        _Outcome(COCHRAN, rows, shares, cochran, bounds, 1, UNEQUAL if np.ptp(freedom) else ""),
        _Outcome(MANDEL_K, rows, k[rows], mandel, tails, len(rows)),
    )


def _sessions(cells: Cells) -> tuple[_Outcome, _Outcome]:
    """Grubbs' test of each product's session means, and Mandel's h of each mean."""
    named = np.flatnonzero([bool(session) for session in cells.sessions])
    products, places, counts = np.unique(cells.products[named], return_inverse=True, return_counts=True)
    if not (counts >= 3).any():
        note = "no product was read in three sessions"
        return _nothing(GRUBBS_MEANS, note), _nothing(MANDEL_H, note)
    owners = np.full((len(products), int(counts.max())), -1, dtype=np.int64)
    owners[places, np.arange(len(named)) - (np.cumsum(counts) - counts)[places]] = named
    means = np.where(owners >= 0, cells.means[owners], np.nan)
    outcome, suspects = _grubbs(GRUBBS_MEANS, means, ALIKE_MEANS)
    rows = outcome.cells
    mandel = _mandel_h(means[rows], owners[rows], counts[rows].astype(np.float64), outcome.note)._replace(
        n_untested=outcome.n_untested
    )
    return outcome._replace(cells=owners[rows, suspects]), mandel


def _mandel_h(means: Array, owners: Indices, n: Array, note: str) -> _Outcome:
    """Mandel's h, without its sign, of n session means in rows by product; `owners` are their cells, -1 where none."""
    deviations = np.abs(means - np.nanmean(means, axis=1, keepdims=True))
    h = (deviations / np.nanstd(means, axis=1, ddof=1, keepdims=True))[owners >= 0]
    sizes = np.broadcast_to(n[:, np.newaxis], owners.shape)[owners >= 0]
    criticals = np.array([mandel_h_critical(sizes, level) for level in LEVELS])
    tails = 2 * _deviation_tail(h, sizes)
    return _Outcome(MANDEL_H, owners[owners >= 0], h, criticals, tails, len(h), note)


def _nothing(test: str, note: str) -> _Outcome:
    none = np.empty(0)
    return _Outcome(test, np.empty(0, dtype=np.int64), none, np.empty((len(LEVELS), 0)), none, 0, note)


def _findings(cells: Cells, outcome: _Outcome) -> Iterator[OutlierFinding]:
    """What went beyond a critical value, the least likely first."""
    beyond = np.flatnonzero(outcome.statistics > outcome.criticals[0])
    for place in beyond[np.argsort(outcome.p_values[beyond], kind="stable")].tolist():
        cell = int(outcome.cells[place])
        worst = int(outcome.statistics[place] > outcome.criticals[1, place])
        values = cells.values[cell]
        repeats = tuple((np.flatnonzero(np.isfinite(values)) + 1).tolist())
        yield OutlierFinding(
            test=outcome.test,
            measure=cells.measure,
            product=cells.names[int(cells.products[cell])],
            session=cells.sessions[cell],
            repeats=repeats if outcome.suspects is None else (int(outcome.suspects[place]) + 1,),
            furthest=int(np.nanargmax(np.abs(values - cells.means[cell]))) + 1 if len(repeats) >= 3 else None,
            statistic=float(outcome.statistics[place]),
            critical=float(outcome.criticals[worst, place]),
            level=LEVELS[worst],
            p_value=float(outcome.p_values[place]),
            n_tests=outcome.n_tests,
        )


def _tally(cells: Cells, outcome: _Outcome) -> OutlierTest:
    first, second = (int((outcome.statistics > critical).sum()) for critical in outcome.criticals)
    by_chance = (outcome.n_tests * LEVELS[0], outcome.n_tests * LEVELS[1])
    return OutlierTest(
        outcome.test, cells.measure, outcome.n_tests, (first, second), by_chance, outcome.n_untested, outcome.note
    )
