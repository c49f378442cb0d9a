"""Repeatability: certified and printed analyses, and critical values of the outlier tests."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import partial

import numpy as np
from numpy.typing import ArrayLike

from analysis.repeats.critical_values import (
    cochran_critical,
    furthest,
    grubbs_critical,
    mandel_h_critical,
    mandel_k_critical,
)
from analysis.repeats.repeatability import Precision, precisions
from analysis.selftest.closed_case import ClosedCase, written
from scoring.catalogue import from_arrays

#: NIST, SiRstv: resistivity of silicon at five instruments, five readings each.
SILICON = (
    (196.3052, 196.1240, 196.1890, 196.2569, 196.3403),
    (196.3042, 196.3825, 196.1669, 196.3257, 196.0422),
    (196.1303, 196.2005, 196.2889, 196.0343, 196.1811),
    (196.2795, 196.1748, 196.1494, 196.1485, 195.9885),
    (196.2119, 196.1051, 196.1850, 196.0052, 196.2090),
)
#: Readings of a mass spectrometer, one of them wild.
SPECTROMETER = (199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57)

SIRSTV = "NIST Statistical Reference Datasets, SiRstv: certified values read in a test file of R, readings from memory"
SUMS = "NIST/SEMATECH e-Handbook of Statistical Methods, 2.4.4.4: read"
GRUBBS_EXAMPLE = (
    "NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17.1: read in the front page of R's package outlierTests"
)
COCHRAN_5 = "National Measurement System, Cochran test, 2009, at 5 %: read"
MANDEL = "ISO 5725-2:1994, table 6, at 1 %: read as quoted at metrology.wordpress.com"
FORM = 'formula: bench\nscale: {from: 0}\nmeasures: {reading: {unit: "1"}}\nscores: {y: {value: reading}}\n'


def precision_of(readings: ArrayLike, sessions: list[str] | None = None) -> Precision:
    """The precision of products' repeats, shape (products, repeats); or of one product, a session a row."""
    values = np.asarray(readings, float)
    if sessions is None:
        return precisions(written(FORM), from_arrays([f"p{row}" for row in range(len(values))], {"reading": values}))[0]
    catalogue = from_arrays(["only"], {"reading": values.reshape(1, -1)})
    named = np.repeat(np.array(sessions, dtype=object), values.shape[1])[np.newaxis]
    return precisions(written(FORM), replace(catalogue, extras={"session": {"reading": named}}))[0]


def silicon(seed: int) -> Iterator[ClosedCase]:  # noqa: ARG001
    """Analysis of variance with certified figures."""
    found = precision_of(SILICON, [f"instrument {row}" for row in range(5)])
    part = found.sessions
    between = part.mean_square if part is not None else float("nan")
    case = partial(ClosedCase, "precision", source=SIRSTV)
    within = 1e-10
    why = "certified to 15 digits; readings near 196 keep 11 of them"
    yield case(name="silicon, repeatability", published=0.104076068334656, within=within, why=why, ours=found.sd)
    name = "silicon, mean square between instruments"
    yield case(
        name=name, published=0.0127865654, within=5e-11, why="certified sum of squares to 10 decimals", ours=between
    )


def pooled(seed: int) -> Iterator[ClosedCase]:  # noqa: ARG001
    """Five sums of squares of a gauge pooled, on 60 degrees of freedom each."""
    sums = np.array([0.48115, 0.69209, 0.48483, 1.21752, 0.30076])
    readings = np.zeros((5, 61))  # two readings carry each sum, 59 stand at the mean
    readings[:, 0], readings[:, 1] = np.sqrt(sums / 2), -np.sqrt(sums / 2)
    found = precision_of(readings)
    name = "five runs pooled, sum of squares on 300 degrees of freedom"
    yield ClosedCase("precision", name, SUMS, 3.17635, 5e-6, "printed to 5 decimals", found.sd**2 * found.freedom)


def critical_values(seed: int) -> Iterator[ClosedCase]:  # noqa: ARG001
    """Grubbs' example, Cochran's and Mandel's tables."""
    case = partial(ClosedCase, "precision")
    statistic = float(furthest(np.array([SPECTROMETER]))[0][0])
    six, three, two = "printed to 6 decimals", "printed to 3 decimals", "printed to 2 decimals"
    yield case("Grubbs' statistic of eight readings", GRUBBS_EXAMPLE, 2.468765, 5e-7, six, statistic)
    one_sided = float(grubbs_critical(8, 0.05, sides=1))
    yield case("Grubbs' critical value, 8 readings, 5 % on one side", GRUBBS_EXAMPLE, 2.031652, 5e-7, six, one_sided)
    ours = float(cochran_critical(2, 20, 10, 0.05))
    yield case("Cochran's critical value, 10 cells of 3, 5 %", COCHRAN_5, 0.445, 5e-4, three, ours)
    yield case("Mandel's h, 10 laboratories, 1 %", MANDEL, 2.18, 0.005, two, float(mandel_h_critical(10, 0.01)))
    ours = float(mandel_k_critical(1, 10, 0.01))
    yield case("Mandel's k, 10 laboratories, 2 repeats, 1 %", MANDEL, 2.32, 0.005, two, ours)


GROUPS = (silicon, pooled, critical_values)
