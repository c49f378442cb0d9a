"""The array functions that the kernel calls, at their edges: by hand, and by simpler numpy."""

from __future__ import annotations

import numpy as np
import pytest

from scoring.numbers.arrays import (
    COMPARISONS,
    beyond,
    both,
    choose,
    compared,
    cubic_coefficients,
    denied,
    either,
    fixed_smooth,
    ln,
    monotone_slopes,
    nonnegative,
    over,
    raised,
    reaches,
    root,
    segments,
    smooth,
    standing,
    steps,
    varying_steps,
)

NAN = float("nan")


def test_a_value_below_0_is_no_number_and_0_is() -> None:
    """Where a geometric mean has no meaning."""
    found = nonnegative([-1e-300, -0.0, 0.0, 0.5, 3, NAN])
    np.testing.assert_array_equal(found, [NAN, 0, 0, 0.5, 3, NAN])
    assert not np.signbit(found[1])  # 1 / -0.0 is minus infinity, and with 1 / 0.0 beside it no number


# Undefined, below, at and above the number where each is lost.
@pytest.mark.parametrize(
    ("function", "a", "expected"),
    [
        (ln, [-1, -0.0, 0, 5e-324, 1, np.inf, NAN], [NAN, NAN, NAN, np.log(5e-324), 0, np.inf, NAN]),
        (root, [-1, -5e-324, -0.0, 0, 4, np.inf, NAN], [NAN, NAN, 0, 0, 2, np.inf, NAN]),
    ],
)
def test_a_logarithm_needs_more_than_0_and_a_root_0(function: object, a: list[float], expected: list[float]) -> None:
    """Undefined is NaN, and never infinite."""
    assert callable(function)
    with np.errstate(all="ignore"):
        np.testing.assert_array_equal(function(a), expected)


def test_nothing_is_divided_by_0() -> None:
    """Of either sign, 0 by 0 too; whole numbers in lists, and a row by a column."""
    np.testing.assert_array_equal(over([6, 0, -3, NAN, 6], [3, 2, 0, 1, NAN]), [2, 0, NAN, NAN, NAN])
    np.testing.assert_array_equal(over([0.0, 1.0, -1.0], [0.0, -0.0, 0.0]), [NAN, NAN, NAN])
    np.testing.assert_array_equal(over([[1, 2]], [[4], [0]]), [[0.25, 0.5], [NAN, NAN]])
    with np.errstate(over="ignore"):
        assert over(1, 5e-324) == np.inf  # beyond doubles, which is no division by 0


@pytest.mark.parametrize(
    ("base", "exponent", "expected"),
    [
        (0, -1, NAN),
        (-0.0, -3, NAN),
        (0, -0.5, NAN),
        (0, 0, 1),
        (0, 2, 0),
        (0, 0.5, 0),
        (-8, 1 / 3, NAN),
        (-2, 3, -8),
        (-2, -1, -0.5),
        (-2, 0, 1),
        (2, -1, 0.5),
        (9, 0.5, 3),
        (NAN, 0, NAN),
        (1, NAN, NAN),
        (NAN, 2, NAN),
        (10, 400, np.inf),
    ],
)
def test_a_power_by_hand(base: float, exponent: float, expected: float) -> None:
    """0 to a power below 0 and a root of what is below 0 are undefined; so is 1 to the power of what is."""
    with np.errstate(all="ignore"):
        np.testing.assert_array_equal(raised([base], [exponent]), [expected])


DUSTY = 40.00000000000001  # 40 and one bit more
NEXT = 40.00000000001  # the next decimal of 13 digits


@pytest.mark.parametrize(
    ("a", "holding"),
    [
        (39.99999999999, "< <= !="),
        (39.99999999999999, "<= >= =="),
        (40.0, "<= >= =="),
        (DUSTY, "<= >= =="),
        (40.000000000004, "<= >= =="),  # rounds to 40 in 13 digits
        (40.000000000006, "> >= !="),  # rounds to the next decimal
        (NEXT, "> >= !="),
        (-40.0, "< <= !="),
        (0.0, "< <= !="),
        (np.inf, "> >= !="),
        (NAN, ""),
    ],
)
def test_a_comparison_is_one_of_decimals_of_13_digits(a: float, holding: str) -> None:
    """With 40, from either side, and with the signs turned: 1 where it holds, 0 where it does not, NaN for NaN."""
    mirrored = {"<": ">", "<=": ">=", ">": "<", ">=": "<=", "==": "==", "!=": "!="}
    for sign in COMPARISONS:
        expected = NAN if np.isnan(a) else float(sign in holding.split())
        np.testing.assert_array_equal(compared([a], sign, 40.0), [expected])
        np.testing.assert_array_equal(compared(40.0, mirrored[sign], [a]), [expected])
        np.testing.assert_array_equal(compared([-a], mirrored[sign], -40.0), [expected])
    np.testing.assert_array_equal(reaches(np.array([a]), 40.0), [">=" in holding.split()])


def test_beside_0_nothing_is_dust() -> None:
    """0 has no digits to go by: what is not 0 differs from it, and -0 does not."""
    np.testing.assert_array_equal(compared([1e-300, -1e-300, 0.0, -0.0], "==", 0.0), [0, 0, 1, 1])
    np.testing.assert_array_equal(compared([1e-300, -1e-300, -0.0], ">", 0.0), [1, 0, 0])


def test_one_dusty_pair_leaves_the_others_as_they_are() -> None:
    """In rows and columns; of infinity and infinity, which stand for what is beyond doubles, nobody can tell."""
    np.testing.assert_array_equal(compared([[DUSTY, 41.0]], ">", [[40.0], [41.0]]), [[0, 1], [0, 0]])
    np.testing.assert_array_equal(compared([np.inf], ">", [np.inf]), [NAN])


T, F = 1.0, 0.0
TABLE = [(T, T), (T, F), (T, NAN), (F, T), (F, F), (F, NAN), (NAN, T), (NAN, F), (NAN, NAN)]


def test_conditions_are_joined_by_the_tables_of_three_values() -> None:
    """A sure part decides, whatever stands beside it, in either order."""
    a, b = np.array(TABLE).T
    np.testing.assert_array_equal(both(a, b), [T, F, NAN, F, F, F, NAN, F, NAN])
    np.testing.assert_array_equal(either(a, b), [T, T, T, T, F, NAN, T, NAN, NAN])
    np.testing.assert_array_equal(denied([T, F, NAN]), [F, T, NAN])
    np.testing.assert_array_equal(both(a, b, 0), np.zeros(9))
    np.testing.assert_array_equal(both(a, b, True), both(a, b))
    np.testing.assert_array_equal(either(a, b, True), np.ones(9))
    np.testing.assert_array_equal(denied(both(a, b)), either(denied(a), denied(b)))


def test_only_the_branch_that_is_taken_counts() -> None:
    """What has no value in the other one is not looked at; a condition without a value takes neither."""
    np.testing.assert_array_equal(
        choose([T, F, NAN, T, F], [1, NAN, 3, NAN, 5], [NAN, 2, 3, 4, NAN]), [1, 2, NAN, NAN, NAN]
    )
    np.testing.assert_array_equal(choose(True, [1, 2], 3), [1, 2])


def test_a_step_starts_at_what_stands_for_its_edge() -> None:
    """One bit to either side of 40 is 40; the next decimal below is not."""
    x = [39.99999999999, 39.99999999999999, 40.0, DUSTY, NEXT]
    np.testing.assert_array_equal(steps(x, [0, 40, 80], [10, 7, 3]), [10, 7, 7, 7, 7])
    np.testing.assert_array_equal(varying_steps(x, [0, 40, 80], [10, 7, 3]), [10, 7, 7, 7, 7])


def test_a_standing_takes_what_stands_for_one_decimal_for_equal() -> None:
    """0.1 + 0.2 is equal to 0.3; with `lowest`, where nobody is equal, nobody's place is counted."""
    members = [0.3, 0.5, 0.5, 0.9]
    for ties, expected in (
        ("mean", [0.125, 0.5, 0.75]),
        ("lowest", [0.25, 0.5, 0.75]),
        ("highest", [0.25, 0.75, 0.75]),
    ):
        np.testing.assert_array_equal(standing([0.1 + 0.2, 0.5, 0.6], members, ties), [expected])


@pytest.mark.parametrize(
    ("xs", "ys"),
    [([33.1, 87], [0.68, 0]), ([22, 34, 46], [10, 7, 1]), ([0, 0.1, 0.3], [0.1, 0.7, 0.30000000000000004])],
)
def test_a_smooth_curve_hits_its_anchors_to_the_last_bit(xs: list[float], ys: list[float]) -> None:
    """By its coefficients and by Hermite's form, and held beyond the outermost."""
    x = [xs[0] - 1, *xs, xs[-1] + 1]
    expected = [ys[0], *ys, ys[-1]]
    np.testing.assert_array_equal(smooth(x, xs, ys), expected)
    np.testing.assert_array_equal(fixed_smooth(x, xs, ys, cubic_coefficients(xs, ys)), expected)


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


def test_segments_are_an_anchors_own_rating_at_it_and_beyond_the_outermost() -> None:
    """To the last bit: a sum of segments would leave 2.8e-17 in place of 0, which a geometric mean does not forget."""
    xs, ys = [26, 37.2, 39.2, 59.059, 67.769], [0.42, 0.5, 0.59, 0.171, 0]
    np.testing.assert_array_equal(segments([1, *xs, 68, 1000, NAN], xs, ys), [0.42, *ys, 0, 0, NAN])
    np.testing.assert_array_equal(segments([[5.0]], [2, [[1], [4]]], [10, [[7], [7]]]), [[NAN], [7]])


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
    np.testing.assert_allclose(fixed_smooth(x, xs, ys, coefficients), smooth(x, xs, ys), atol=1e-12)
    np.testing.assert_allclose(smooth([0, 1, 4, 9], xs, ys), [0, 3, 6, 2])
    np.testing.assert_array_equal(fixed_smooth(x, xs, ys, coefficients)[[0, 1, 3, 5, 7, 8]], [0, 0, 3, 6, 2, 2])


def test_a_step_starts_at_its_edge() -> None:
    """Whole numbers in lists, below, at and beyond the edges."""
    x, expected = [0, 1, 2, 3, 4, 5, NAN], [3, 3, 5, 5, 2, 2, NAN]
    np.testing.assert_array_equal(steps(x, [1, 2, 4], [3, 5, 2]), expected)
    np.testing.assert_array_equal(varying_steps(x, [1, 2, 4], [3, 5, 2]), expected)


def test_the_standing_in_a_population_of_one_or_none() -> None:
    """Above one of one: 1; equal to it: a half by the mean, all by the lowest; below it, and among nobody: 0."""
    for ties, expected in (("mean", [0, 0.5, 1]), ("lowest", [0, 1, 1]), ("highest", [0, 1, 1])):
        np.testing.assert_array_equal(standing([1, 2, 3], [2], ties), [expected])
    np.testing.assert_array_equal(standing([[1, NAN]], [[NAN, NAN]], "mean"), [[0, NAN]])


def test_the_standing_by_draw_is_each_draws_own() -> None:
    """Two draws of the population, then two of the readings, against one of the other."""
    np.testing.assert_array_equal(standing([2, 5], [[1, 3], [4, 6]], "highest"), [[0.5, 1], [0, 0.5]])
    np.testing.assert_array_equal(standing([[0, 2], [3, 4]], [1, 3], "highest"), [[0, 0.5], [1, 1]])
