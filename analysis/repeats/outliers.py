"""Outlier statistics of repeats and sessions, reported and never acted on: Grubbs, Cochran, Mandel's h and k.

The tests and their reading, a straggler beyond the 5 % value and an outlier beyond the 1 % value, are those of ISO 5725-2,
Accuracy of measurement methods and results, part 2, 1994 (from memory). Critical values are computed, not looked up.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import scipy

from analysis.repeats.cells import Cells
from analysis.repeats.critical_values import (
    cochran_critical,
    furthest,
    grubbs_critical,
    mandel_h_critical,
    mandel_k_critical,
)
from scoring.numbers.array_types import Array, Integers

#: Beyond the critical value of the first level a finding is a straggler, beyond that of the second an outlier.
LEVELS = (0.05, 0.01)
GRUBBS, GRUBBS_MEANS, COCHRAN = "Grubbs, repeats", "Grubbs, session means", "Cochran's C"
MANDEL_H, MANDEL_K = "Mandel's h", "Mandel's k"
ALIKE = "cells whose repeats agree to the last digit, all or all but one,"
ALIKE_MEANS = "products whose session means are equal, all or all but one,"
SPECIMENS = "means of sessions are not tested where specimens are named, since they differ by both"
UNEQUAL = (
    "numbers of repeats differ, so each cell's share of the sum of squares is held against the value for its own number; "
    "where all are equal that is Cochran's C"
)


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
    specimen: str
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
    cells: Integers
    statistics: Array
    criticals: Array
    p_values: Array
    n_tests: int
    note: str = ""
    n_untested: int = 0
    suspects: Integers | None = None


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
    return np.asarray(scipy.stats.t.sf(statistics * np.sqrt(n * (n - 2) / room), n - 2))


def _repeats(cells: Cells) -> _Outcome:
    """Grubbs' test in each cell."""
    outcome, suspects = _grubbs(GRUBBS, cells.values, ALIKE)
    note = outcome.note if (cells.counts >= 3).any() else "no cell has three repeats"
    return outcome._replace(suspects=suspects, note=note)


def _grubbs(test: str, values: Array, alike: str) -> tuple[_Outcome, Integers]:
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
    tails = np.asarray(scipy.stats.beta.sf(shares, freedom / 2, (total - freedom) / 2))
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
    if any(cells.specimens):
        return _nothing(GRUBBS_MEANS, SPECIMENS), _nothing(MANDEL_H, SPECIMENS)
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


def _mandel_h(means: Array, owners: Integers, n: Array, note: str) -> _Outcome:
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
            specimen=cells.specimens[cell],
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
