"""The array functions that the kernel calls, at their edges: by hand, and by simpler numpy."""

from __future__ import annotations

import numpy as np
import pytest

from scoring.arrays import (
    beyond,
    cubic_coefficients,
    fixed_smooth,
    monotone_slopes,
    nonnegative,
    segments,
    smooth,
    standing,
    steps,
    varying_steps,
)

NAN = float("nan")


def test_a_value_below_0_is_no_number_and_0_is() -> None:
    """Where a geometric mean has no meaning."""
    np.testing.assert_array_equal(nonnegative([-1e-300, -0.0, 0.0, 0.5, 3, NAN]), [NAN, 0, 0, 0.5, 3, NAN])
    assert not np.signbit(nonnegative([-0.0]))[0]  # 1/-0.0 would be -inf, and a harmonic mean of two zeros no number


def test_a_points_curve_is_carried_on_by_its_first_and_its_last_slope() -> None:
    """Slopes (6 - 2)/2 = 2 and (5 - 6)/4 = -1/4; nothing is added between the anchors, nor at them."""
    xs, ys = [1, 3, 7], [2, 6, 5]
    found = beyond([-1, 0.5, 1, 4, 7, 9, 15], xs, ys)
    np.testing.assert_array_equal(found, [-4, -1, 0, 0, 0, -0.5, -2])


@pytest.mark.parametrize("function", [segments, smooth, varying_steps])
def test_anchors_by_draw_give_a_row_a_draw(function: object) -> None:
    """Three draws of the anchors on one row of readings, and one draw on three rows of readings: (3, 2) either way."""
    assert callable(function)
    xs, ys = [1.0, 2.0, 4.0], [3.0, 5.0, 2.0]
    x = np.array([[1.0, 5.0]])
    by_draw = [[np.array([[a], [a], [a]]) for a in values] for values in (xs, ys)]
    for found in (function(x, *by_draw), function(np.repeat(x, 3, axis=0), xs, ys), function(x, xs, by_draw[1])):
        np.testing.assert_array_equal(found, [[3.0, 2.0]] * 3)


def test_segments_held_and_missing() -> None:
    """10 at 2, 7 at 4.5, 1 at 9, whole numbers in lists; a missing reading stays missing."""
    np.testing.assert_allclose(segments([0, 3, 6, 50, NAN], [2, 4.5, 9], [10, 7, 1]), [10, 8.8, 5, 1, NAN])


@pytest.mark.parametrize(
    ("xs", "ys", "slopes"),
    [
        # one piece: its secant
        ([0, 4], [2, 10], [2, 2]),
        # secants 1 and 2, runs 1 and 1: 2/(1 + 1/2) = 4/3 inside; ends (3*1 - 2)/2 = 1/2 and (3*2 - 1)/2 = 5/2
        ([0, 1, 2], [0, 1, 3], [0.5, 4 / 3, 2.5]),
        # runs 1 and 3, secants 3 and 1: weights 2*3 + 1 = 7 and 3 + 2 = 5, so 12/(7/3 + 5) = 18/11; ends
        # ((2 + 3)*3 - 1*1)/4 = 7/2 and ((6 + 1)*1 - 3*3)/4 = -1/2, which is of the wrong sign: 0
        ([0, 1, 4], [0, 3, 6], [3.5, 18 / 11, 0]),
        # secants 1 and -8: 0 inside; first (3*1 + 8)/2 = 5.5, more than 3 times its secant: 3; last (-24 - 1)/2 = -12.5
        ([0, 1, 2], [0, 1, -7], [3, 0, -12.5]),
        # secants 1 and -3: first (3 + 3)/2 = 3, just what is allowed
        ([0, 1, 2], [0, 1, -2], [3, 0, -5]),
        # a flat end: secants 0 and 2; first (0 - 2)/2 has another sign than 0: 0; last (6 - 0)/2 = 3
        ([0, 1, 2], [1, 1, 3], [0, 0, 3]),
        # secants 1 and 9 of one sign: first (3 - 9)/2 = -3 is of the wrong sign; last (27 - 1)/2 = 13
        ([0, 1, 2], [0, 1, 10], [0, 1.8, 13]),
    ],
)  # fmt: skip
def test_the_slopes_of_a_monotone_cubic_by_hand(xs: list[float], ys: list[float], slopes: list[float]) -> None:
    """Inside, at the ends, and where an end is held back."""
    assert [float(m) for m in monotone_slopes(xs, ys)] == pytest.approx(slopes, abs=1e-14)


def test_a_cubic_by_its_coefficients_is_the_cubic_by_hermite() -> None:
    """On each piece, at each anchor and outside; whole numbers in lists, and a reading that is missing."""
    xs, ys = [0, 1, 4, 5], [0, 3, 6, 2]
    x = [-1, 0, 0.5, 1, 2, 4, 4.5, 5, 6, NAN]
    coefficients = cubic_coefficients(xs, ys)
    assert [len(row) for row in coefficients] == [3, 3, 3, 3]
    np.testing.assert_allclose(fixed_smooth(x, xs, coefficients), smooth(x, xs, ys), atol=1e-12)
    np.testing.assert_allclose(smooth([0, 1, 4, 9], xs, ys), [0, 3, 6, 2])
    np.testing.assert_array_equal(fixed_smooth(x, xs, coefficients)[[0, 1, 3, 5, 7, 8]], [0, 0, 3, 6, 2, 2])


def test_a_step_starts_at_its_edge() -> None:
    """Whole numbers in lists, below, at and beyond the edges."""
    x, expected = [0, 1, 2, 3, 4, 5, NAN], [3, 3, 5, 5, 2, 2, NAN]
    np.testing.assert_array_equal(steps(x, [1, 2, 4], [3, 5, 2]), expected)
    np.testing.assert_array_equal(varying_steps(x, [1, 2, 4], [3, 5, 2]), expected)


def test_the_standing_in_a_population_of_one_or_none() -> None:
    """Above one of one: 1; equal to it: a half by the mean, all by the lowest, which is held at 1; among nobody: 0, or 1 of 1."""
    for ties, expected in (("mean", [0, 0.5, 1]), ("lowest", [1, 1, 1]), ("highest", [0, 1, 1])):
        np.testing.assert_array_equal(standing([1, 2, 3], [2], ties), [expected])
    np.testing.assert_array_equal(standing([[1, NAN]], [[NAN, NAN]], "mean"), [[0, NAN]])


def test_the_standing_by_draw_is_each_draws_own() -> None:
    """Two draws of the population, then two of the readings, against one of the other."""
    np.testing.assert_array_equal(standing([2, 5], [[1, 3], [4, 6]], "highest"), [[0.5, 1], [0, 0.5]])
    np.testing.assert_array_equal(standing([[0, 2], [3, 4]], [1, 3], "highest"), [[0, 0.5], [1, 1]])
