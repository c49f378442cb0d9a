"""Rounding as a symbolic function: its enclosure and slopes by hand, rule by rule."""

from __future__ import annotations

import math

import numpy as np
import pytest
from sympy import Float, Integer, Symbol

from scoring.numbers.intervals import EVERYWHERE, RISING, ZERO, Interval, decimal_interval, point
from scoring.numbers.rounding import RULES
from scoring.symbolic.rounded import Rounded, rounded

X = Symbol("x", real=True)
TENTH = decimal_interval("0.1")


def of(rule: str) -> Rounded:
    """A rounding by one rule."""
    return rounded(X, Float(0.1), rule)


# What 0.26 to 0.34 and -0.25 to -0.21 come to in tenths, rule by rule.
WORKED = {
    "half-up": ((0.3, 0.3), (-0.3, -0.2)),
    "half-even": ((0.3, 0.3), (-0.2, -0.2)),
    "down": ((0.2, 0.3), (-0.2, -0.2)),
    "up": ((0.3, 0.4), (-0.3, -0.3)),
    "floor": ((0.2, 0.3), (-0.3, -0.3)),
    "ceiling": ((0.3, 0.4), (-0.2, -0.2)),
}


def test_every_rule_has_a_worked_case() -> None:
    """By the table of rules itself."""
    assert set(WORKED) == set(RULES)


@pytest.mark.parametrize("rule", RULES)
def test_a_box_is_rounded_at_its_ends(rule: str) -> None:
    """A tenth is no double, and stands for its decimal all the same; where both ends come to one multiple, it is flat."""
    assert of(rule).rule == rule
    for box, (low, high) in zip((Interval(0.26, 0.34), Interval(-0.25, -0.21)), WORKED[rule], strict=True):
        args = [box, TENTH, point(0.0)]
        held = of(rule).enclose(args)
        assert (held.low, held.high) == pytest.approx((low, high), abs=1e-15)
        assert held.low <= low
        assert high <= held.high
        assert of(rule).slopes(args) == (ZERO if low == high else RISING, EVERYWHERE, ZERO)


def test_a_box_without_an_end_stays_without() -> None:
    """From 0.26 on: from 0.3 on."""
    held = of("half-up").enclose([Interval(0.26, math.inf), TENTH, point(0.0)])
    assert (held.low, held.high) == (pytest.approx(0.3), math.inf)
    held = of("half-up").enclose([Interval(-math.inf, 0.26), TENTH, point(0.0)])
    assert (held.low, held.high) == (-math.inf, pytest.approx(0.3))


def test_a_step_that_is_not_one_decimal_moves_a_value_by_one_step_at_most() -> None:
    """From 0.1 to 0.2: 3 to 5 comes to 2.8 to 5.2, and a rounded value may jump."""
    args = [Interval(3.0, 5.0), Interval(0.1, 0.2), point(0.0)]
    held = of("half-up").enclose(args)
    assert (held.low, held.high) == pytest.approx((2.8, 5.2), abs=1e-11)
    assert held.low < 2.8 - 4e-12
    assert held.high > 5.2 + 4e-12
    assert of("half-up").slopes(args) == (RISING, EVERYWHERE, ZERO)
    assert of("half-up").slopes([point(3.0), *args[1:]])[0] == RISING


def test_a_step_of_three_doubles_in_a_row_is_no_decimal() -> None:
    """Two neighbours stand for what lies between them, three for nothing; nor does a double of 17 digits beside its neighbour."""
    above = np.nextafter(0.5, 1.0)
    for step, jumps in (
        (point(0.5), False),
        (Interval(0.5, float(above)), False),
        (Interval(0.5, float(np.nextafter(above, 1.0))), True),
        (point(float(above)), True),
    ):
        held = rounded(X, Integer(1), "half-up").enclose([Interval(0.9, 1.1), step, point(0.0)])
        assert (held.low, held.high) == pytest.approx((0.4, 1.6) if jumps else (1.0, 1.0))
