"""The laws of sums of squares are scipy's, to the last bit."""

from __future__ import annotations

import numpy as np
from scipy import stats

from scoring.numbers.chi_squared import chance_above, f_chance_above, value_above, value_below

VALUES = np.array([0.0, 1e-300, 1e-9, 0.3, 1.0, 2.7, 19.5, 1e4, np.inf])
SHARES = np.array([1e-300, 1e-9, 0.025, 0.3, 0.5, 0.975, 1 - 1e-9])
FREEDOMS = np.array([[0.2], [1], [2], [2.5], [17], [4000]])


def test_chances_and_values_are_those_of_scipys_laws() -> None:
    np.testing.assert_array_equal(chance_above(VALUES, FREEDOMS), stats.chi2.sf(VALUES, FREEDOMS))
    np.testing.assert_array_equal(value_above(SHARES, FREEDOMS), stats.chi2.ppf(SHARES, FREEDOMS))
    np.testing.assert_array_equal(value_below(SHARES, FREEDOMS), stats.chi2.isf(SHARES, FREEDOMS))
    for below in (1, 3.5, 200):
        np.testing.assert_array_equal(f_chance_above(VALUES, FREEDOMS, below), stats.f.sf(VALUES, FREEDOMS, below))


def test_a_published_point_of_chi_squared() -> None:
    """3.841 is the 95 % point with one degree of freedom: NIST/SEMATECH e-Handbook, table 1.3.6.7.4 (from memory)."""
    assert round(float(value_above(0.95, 1)), 3) == 3.841
    assert round(float(value_below(0.05, 1)), 3) == 3.841
