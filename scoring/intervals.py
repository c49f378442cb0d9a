"""Rigorous intervals: every bound is rounded outwards, so that what is enclosed is proved. The one owner of mpmath.

The arithmetic is mpmath's interval context at 53 bits. Two rules are ours, as usual where intervals enclose difference
quotients: 0 times an unbounded interval is 0, and an operation without meaning anywhere gives everything.
References: Moore, Kearfott, Cloud, Introduction to Interval Analysis, 2009, ch. 2-6 (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from mpmath import iv

iv.prec = 53
INFINITY = math.inf


@dataclass(frozen=True, slots=True)
class Interval:
    """All reals from `low` to `high`, both ends included (infinite ends excluded)."""

    low: float
    high: float

    def __add__(self, other: Interval) -> Interval:
        low, high = self.low + other.low, self.high + other.high
        return Interval(_below(low), _above(high))

    def __neg__(self) -> Interval:
        return Interval(-self.high, -self.low)

    def __sub__(self, other: Interval) -> Interval:
        return self + -other

    def __mul__(self, other: Interval) -> Interval:
        if self.is_zero or other.is_zero:
            return ZERO
        ends = [_times(a, b) for a in (self.low, self.high) for b in (other.low, other.high)]
        return Interval(_below(min(ends)), _above(max(ends)))

    def __truediv__(self, other: Interval) -> Interval:
        if other.low <= 0 <= other.high:
            if other.is_zero:
                return EVERYWHERE
            if other.low == 0:
                return self * Interval(_below(1 / other.high), INFINITY)
            if other.high == 0:
                return self * Interval(-INFINITY, _above(1 / other.low))
            return EVERYWHERE
        return self * Interval(_below(1 / other.high), _above(1 / other.low))

    @property
    def is_zero(self) -> bool:
        """Whether it holds 0 alone."""
        return self.low == 0 == self.high

    @property
    def width(self) -> float:
        """Its length."""
        return self.high - self.low

    @property
    def middle(self) -> float:
        """A point inside it, finite wherever one exists."""
        if math.isinf(self.low) and math.isinf(self.high):
            return 0.0
        if math.isinf(self.low):
            return self.high - max(1.0, abs(self.high))
        if math.isinf(self.high):
            return self.low + max(1.0, abs(self.low))
        return self.low + (self.high - self.low) / 2

    def contains(self, value: float) -> bool:
        """Whether `value` lies in it."""
        return self.low <= value <= self.high

    def hull(self, other: Interval) -> Interval:
        """The smallest interval that holds both."""
        return Interval(min(self.low, other.low), max(self.high, other.high))

    def meet(self, other: Interval) -> Interval:
        """What both hold (they must overlap)."""
        return Interval(max(self.low, other.low), min(self.high, other.high))

    def lesser_of(self, other: Interval) -> Interval:
        """Every min(a, b)."""
        return Interval(min(self.low, other.low), min(self.high, other.high))

    def greater_of(self, other: Interval) -> Interval:
        """Every max(a, b)."""
        return Interval(max(self.low, other.low), max(self.high, other.high))

    def absolute(self) -> Interval:
        """Every |a|."""
        if self.low >= 0:
            return self
        return -self if self.high <= 0 else Interval(0, max(-self.low, self.high))

    def exp(self) -> Interval:
        """Every exp(a)."""
        return self._rising(lambda x: iv.exp(x), 0.0)

    def log(self) -> Interval:
        """Every ln(a) for a above 0; everything where some a is not."""
        if self.low < 0:
            return EVERYWHERE
        low = -INFINITY if self.low == 0 else _low(iv.log(iv.mpf(self.low)))
        high = INFINITY if math.isinf(self.high) else -INFINITY if self.high == 0 else _high(iv.log(iv.mpf(self.high)))
        return Interval(low, high)

    def power(self, exponent: float) -> Interval:
        """Every a ** exponent; everything where some a is below 0 and the exponent is no whole number."""
        if exponent == 0:
            return Interval(1, 1)
        if exponent == int(exponent) and self.low < 0:
            return self._whole_power(int(exponent))
        if self.low < 0:
            return EVERYWHERE
        low, high = _power(self.low, exponent), _power(self.high, exponent)
        return low.hull(high)

    def _whole_power(self, exponent: int) -> Interval:
        if exponent < 0:
            return Interval(1, 1) / self._whole_power(-exponent)
        if exponent % 2 == 0:
            return self.absolute().power(exponent)
        low = -_power(-self.low, exponent)
        high = _power(self.high, exponent) if self.high >= 0 else -_power(-self.high, exponent)
        return low.hull(high)

    def _rising(self, function: Callable[[object], object], at_minus_infinity: float) -> Interval:
        low = at_minus_infinity if self.low == -INFINITY else _low(function(iv.mpf(self.low)))
        if self.high == -INFINITY:
            return Interval(low, low)
        high = INFINITY if math.isinf(self.high) else _high(function(iv.mpf(self.high)))
        return Interval(low, high)


def decimal_interval(text: str) -> Interval:
    """The smallest interval of doubles that holds the decimal number written as `text`."""
    value = iv.mpf(text)
    return Interval(_low(value), _high(value))


def hull_of(points: list[float]) -> Interval:
    """The smallest interval that holds all `points`."""
    return Interval(min(points), max(points))


def _power(base: float, exponent: float) -> Interval:
    if base == 0:
        return Interval(0, 0) if exponent > 0 else Interval(INFINITY, INFINITY)
    if math.isinf(base):
        return Interval(INFINITY, INFINITY) if exponent > 0 else ZERO
    value = (
        iv.exp(iv.mpf(exponent) * iv.log(iv.mpf(base))) if exponent != int(exponent) else iv.mpf(base) ** int(exponent)
    )
    return Interval(_low(value), _high(value))


def _times(a: float, b: float) -> float:
    return 0.0 if a == 0 or b == 0 else a * b


def _below(value: float) -> float:
    return (
        -INFINITY if math.isnan(value) else math.nextafter(value, -INFINITY) if value not in (0.0, INFINITY) else value
    )


def _above(value: float) -> float:
    return (
        INFINITY if math.isnan(value) else math.nextafter(value, INFINITY) if value not in (0.0, -INFINITY) else value
    )


def _low(value: object) -> float:
    return _below(float(value.a))  # type: ignore[attr-defined]


def _high(value: object) -> float:
    return _above(float(value.b))  # type: ignore[attr-defined]


ZERO = Interval(0, 0)
UNIT = Interval(0, 1)
RISING = Interval(0, INFINITY)
FALLING = Interval(-INFINITY, 0)
EVERYWHERE = Interval(-INFINITY, INFINITY)
