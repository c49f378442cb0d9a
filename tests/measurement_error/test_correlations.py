"""Correlations of the errors of measures read in one run: by hand, by numpy, and matrices that pairs contradict."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scoring.measurement_error.correlations import Runs, correlation_matrix, pooled_correlation, semidefinite

NAN = math.nan


def runs(rows: object, cells: object = None, repeats: object = None, *, relative: bool = False) -> Runs:
    """One measure's readings, written as lists."""
    marks = None if cells is None else np.array(cells, dtype=object)
    return Runs(np.array(rows, dtype=float), marks, None if repeats is None else np.array(repeats), relative)


def test_it_is_worked_by_hand_over_two_products() -> None:
    """Residuals -1 1 and -2 2 of one, -1 1 and 1 -1 of the other: (2 - 4) / sqrt(10 x 4) on two degrees of freedom."""
    found = pooled_correlation(runs([[1, 3], [6, 10]]), runs([[4, 6], [9, 7]]))
    assert found == (pytest.approx(-2 / math.sqrt(40)), 2)


def test_products_themselves_say_nothing() -> None:
    """Means that go together perfectly, residuals of one kind: what is pooled is within products."""
    rng = np.random.default_rng(0)
    errors = rng.standard_normal((2, 400, 5))
    levels = 1000 * np.arange(400)[:, np.newaxis]
    found = pooled_correlation(runs(levels + errors[0]), runs(levels + errors[1]))
    assert abs(found.coefficient) < 0.1
    assert found.freedom == 1600


def test_one_product_is_the_ordinary_coefficient() -> None:
    """numpy's."""
    one, other = np.random.default_rng(1).standard_normal((2, 1, 9))
    assert pooled_correlation(runs(one), runs(other)).coefficient == pytest.approx(np.corrcoef(one, other)[0, 1])


def test_runs_are_matched_by_their_numbers_and_gaps_left_out() -> None:
    """Numbers in another order, one run of each measure alone: the same as of the four that both have."""
    both = pooled_correlation(runs([[1, 4, 2, 9]]), runs([[3, 4, 8, 7]]))
    one = runs([[1, 4, 2, 9, 50]], repeats=[[1, 2, 3, 4, 5]])
    other = runs([[7, 8, 4, 3, 60]], repeats=[[4, 3, 2, 1, 6]])
    assert pooled_correlation(one, other) == (pytest.approx(both.coefficient), 3)
    gaps = pooled_correlation(runs([[1, 4, 2, 9, 50, NAN]]), runs([[3, 4, 8, 7, NAN, 60]]))
    assert gaps == (pytest.approx(both.coefficient), 3)


def test_sessions_are_cells_of_their_own_and_may_number_anew() -> None:
    """A shift between sessions that both measures share is no error within a run."""
    cells, repeats = [list("aabb")], [[1, 2, 1, 2]]
    one, other = [[1, 3, 101, 103]], [[6, 4, 206, 204]]
    assert pooled_correlation(runs(one, cells, repeats), runs(other, cells, repeats)) == (pytest.approx(-1), 2)
    assert pooled_correlation(runs(one), runs(other)).coefficient > 0.99


def test_shares_are_weighed_by_their_mean() -> None:
    """A product a thousand times as large counts as much as another; one with a mean of 0 is left out."""
    one, other = np.array([[9, 11], [90_000, 110_000], [-1, 1]]), np.array([[1, 3], [3, 1], [3, 1]])
    assert pooled_correlation(runs(one, relative=True), runs(other)) == (pytest.approx(0), 2)


@pytest.mark.parametrize(
    ("one", "other", "freedom"),
    [([[1, NAN]], [[NAN, 2]], 0), ([[1, 2]], [[5, NAN]], 0), ([[1, 2]], [[5, 5]], 1), ([], [], 0)],
    ids=["no run of both", "one run of both", "all alike", "no products"],
)
def test_what_tells_nothing_is_no_number(one: object, other: object, freedom: int) -> None:
    """Not 0."""
    found = pooled_correlation(*(runs(rows) if rows else Runs(np.empty((0, 2))) for rows in (one, other)))
    assert math.isnan(found.coefficient)
    assert found.freedom == freedom


def test_other_products_and_two_readings_of_one_run_are_refused() -> None:
    """Rather than matched by chance."""
    with pytest.raises(ValueError, match="the same products"):
        pooled_correlation(runs([[1, 2]]), runs([[1, 2], [3, 4]]))
    with pytest.raises(ValueError, match="two readings of one measure stand in one run"):
        pooled_correlation(runs([[1, 2]], repeats=[[1, 1]]), runs([[1, 2]]))


def test_pairs_that_contradict_each_other_are_made_a_covariance() -> None:
    """a with b and b with c go together, a with c against each other, each on products of its own."""
    up, down, gap = [0, 1, 2, 3.1], [3, 2, 1, 0.2], [NAN] * 4
    measures = [runs([up, gap, up]), runs([up, up, gap]), runs([gap, up, down])]
    found = correlation_matrix(measures)
    assert np.linalg.eigvalsh(found.coefficients).min() >= -1e-12
    np.testing.assert_allclose(np.diag(found.coefficients), 1)
    assert found.moved > 0.3
    assert found.freedom.tolist() == [[0, 3, 3], [3, 0, 3], [3, 3, 0]]


def test_a_pair_that_tells_nothing_is_taken_as_0_on_no_freedom() -> None:
    """And a measure that lacks repeats moves no other."""
    found = correlation_matrix([runs([[1, 2, 4]]), runs([[2, 1, 5]]), runs([[7, NAN, NAN]])])
    assert found.coefficients[2].tolist() == [0, 0, 1]
    assert (found.freedom[0, 1], found.freedom[0, 2], found.moved) == (2, 0, 0)


@given(st.integers(0, 10_000), st.integers(2, 6))
def test_any_symmetric_matrix_of_coefficients_becomes_one_that_errors_can_have(seed: int, size: int) -> None:
    """Diagonal 1, entries from -1 to 1, no eigenvalue below 0 but for dust; what was one stays."""
    rng = np.random.default_rng(seed)
    given_ = np.tril(rng.uniform(-1, 1, (size, size)), -1)
    made = semidefinite(given_ + given_.T + np.eye(size))
    np.testing.assert_allclose(np.diag(made), 1)
    assert np.abs(made).max() <= 1 + 1e-12
    assert np.linalg.eigvalsh(made).min() >= -1e-10
    assert semidefinite(made) == pytest.approx(made, abs=1e-9)
