"""Intervals hold the exact results: sums, products and quotients against fractions, the rest against 60-digit decimals."""

from __future__ import annotations

import decimal
import math
from fractions import Fraction

import pytest
from extent import examples
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from scoring.numbers.intervals import EVERYWHERE, Interval, decimal_interval, hull_of, point

NUMBER = st.floats(-1e6, 1e6) | st.sampled_from([0.0, -0.0, 1.0, -1.0, 0.1, 5e-324, -5e-324, 1e300, -1e300])
END = NUMBER | st.sampled_from([math.inf, -math.inf])
SHARE = st.floats(0, 1)
DIGITS = decimal.Context(prec=60, Emax=10**9, Emin=-(10**9))
LARGEST = Fraction(1.7976931348623157e308)


@st.composite
def interval_and_member(draw: st.DrawFn) -> tuple[Interval, float]:
    """An interval, bounded or not, and a finite number in it."""
    ends = sorted([draw(END), draw(END)])
    assume(not (ends[0] == ends[1] and math.isinf(ends[0])))
    low, high = max(ends[0], -1e300), min(ends[1], 1e300)
    share = draw(SHARE)
    member = min(max(low * (1 - share) + high * share, low), high)
    return Interval(*ends), member


def holds(interval: Interval, exact: Fraction) -> bool:
    """Whether an exact number lies in an interval of doubles."""
    below = interval.low == -math.inf or (interval.low != math.inf and Fraction(interval.low) <= exact)
    above = interval.high == math.inf or (interval.high != -math.inf and exact <= Fraction(interval.high))
    return below and above


@given(a=interval_and_member(), b=interval_and_member(), operation=st.sampled_from("+-*/"))
@settings(deadline=None, max_examples=examples(2000))
def test_arithmetic_holds_every_exact_result(
    a: tuple[Interval, float], b: tuple[Interval, float], operation: str
) -> None:
    """The exact sum, difference, product or quotient of two members is in the result, overflow and underflow included."""
    (box, x), (other, y) = a, b
    assume(operation != "/" or y != 0)
    results = {
        "+": lambda p, q: p + q,
        "-": lambda p, q: p - q,
        "*": lambda p, q: p * q,
        "/": lambda p, q: p / q,
    }
    work = results[operation]
    assert holds(work(box, other), work(Fraction(x), Fraction(y)))


@given(x=st.floats(-1e9, 1e9), y=st.floats(-1e9, 1e9), operation=st.sampled_from("+-*"))
@settings(deadline=None, max_examples=examples(500))
def test_arithmetic_of_two_numbers_is_tight(x: float, y: float, operation: str) -> None:
    """The result of two points is at most two doubles wide, and a sum that is exact is a point."""
    work = {"+": lambda p, q: p + q, "-": lambda p, q: p - q, "*": lambda p, q: p * q}[operation]
    result = work(point(x), point(y))
    assert result.high <= math.nextafter(math.nextafter(result.low, math.inf), math.inf)
    exact = work(Fraction(x), Fraction(y))
    if operation != "*" and Fraction(float(exact)) == exact:
        assert result.is_point


@given(a=interval_and_member())
@settings(deadline=None, max_examples=examples(500))
def test_exp_and_log_hold_the_exact_result(a: tuple[Interval, float]) -> None:
    """exp and ln of a member, worked out to 60 digits, lie in the result."""
    box, x = a
    if -700 < x < 700:
        assert holds(box.exp(), Fraction(DIGITS.exp(decimal.Decimal(x))))
    if x > 0 and box.low >= 0:
        assert holds(box.log(), Fraction(DIGITS.ln(decimal.Decimal(x))))


@given(
    low=st.floats(-1e4, 1e4),
    width=st.floats(0, 1e4),
    at=SHARE,
    exponent=st.sampled_from([-3.0, -2.0, -1.0, -0.5, 0.3, 0.5, 1.0, 1.5, 2.0, 3.0]),
)
@settings(deadline=None, max_examples=examples(1000))
def test_powers_hold_the_exact_result(low: float, width: float, at: float, exponent: float) -> None:
    """A member to a whole or broken power, worked out to 60 digits, lies in the result."""
    whole = exponent % 1 == 0
    low = low if whole else abs(low)
    box, x = Interval(low, low + width), min(low + at * width, low + width)
    assume(abs(x) > 1e-60)
    exact = (
        Fraction(x) ** int(exponent) if whole else Fraction(DIGITS.power(decimal.Decimal(x), decimal.Decimal(exponent)))
    )
    assert holds(box.power(exponent), exact)


@given(low=st.floats(0, 50), width=st.floats(0, 50), first=st.floats(-3, 3), span=st.floats(0, 3), at=SHARE, by=SHARE)
@settings(deadline=None, max_examples=examples(500))
def test_a_range_of_exponents_is_held(
    low: float, width: float, first: float, span: float, at: float, by: float
) -> None:
    """x ** e lies in the result for every x and every e of two ranges."""
    base = min(low + at * width, low + width)
    exponent = min(first + by * span, first + span)
    assume(base > 1e-9)
    result = Interval(low, low + width).raised(Interval(first, first + span))
    assert holds(result, Fraction(DIGITS.power(decimal.Decimal(base), decimal.Decimal(exponent))))


@pytest.mark.parametrize(
    "text", ["10", "0.1", "4.5", "5%", "2.5 %", "1e-3", "-7.25", ".5", "3.", "123456789.123456789"]
)
def test_a_written_decimal_is_held_as_tightly_as_doubles_can(text: str) -> None:
    """The exact decimal lies in its interval; the ends are one double, or two beside each other."""
    exact = Fraction(decimal.Decimal(text.rstrip("% "))) / (100 if "%" in text else 1)
    found = decimal_interval(text)
    assert holds(found, exact)
    assert found.is_point == (Fraction(float(exact)) == exact)
    assert found.high <= math.nextafter(found.low, math.inf)


def test_division_by_an_interval_around_zero_gives_everything() -> None:
    """A quotient that may be anything says so; one by 0 or above keeps its sign."""
    assert Interval(1, 2) / Interval(-1, 1) == EVERYWHERE
    assert Interval(4, 8) / Interval(0, 4) == Interval(1, math.inf)
    assert Interval(4, 8) / Interval(-4, 0) == Interval(-math.inf, -1)


def test_the_hull_holds_each_and_no_more() -> None:
    """The hull of several intervals ends where they end."""
    assert hull_of([Interval(1, 2), Interval(-3, 0), Interval(4, 4)]) == Interval(-3, 4)
