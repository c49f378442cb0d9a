"""Rigorous intervals: every bound is rounded outwards, so that what is enclosed is proved. The one owner of mpmath.

Sums, products and quotients are those of doubles, stepped outwards by one double where the result is not known to be
exact; exponentials, logarithms and powers come from mpmath's interval context at 53 bits. Two rules are ours, as usual
where intervals enclose difference quotients: 0 times an unbounded interval is 0, and an operation without meaning for
some of its arguments gives everything.
References: Moore, Kearfott, Cloud, Introduction to Interval Analysis, 2009, ch. 2-6 (from memory); the exact error of a
sum of two doubles: Knuth, The Art of Computer Programming 2, 4.2.2 theorem B (from memory).
"""

from __future__ import annotations

import math
import sys
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache

from mpmath import iv

iv.prec = 53
INFINITY = math.inf
LARGEST = sys.float_info.max
#: The least positive double of full precision: what stands for "above 0".
LEAST = sys.float_info.min
#: Whole doubles below this size are exact, and so are their sums and products.
_WHOLE = 2.0**53


@dataclass(frozen=True, slots=True)
class Interval:
    """All reals from `low` to `high`, both ends included (infinite ends excluded)."""

    low: float
    high: float

    def __add__(self, other: Interval) -> Interval:
        return Interval(_sum_below(self.low, other.low), _sum_above(self.high, other.high))

    def __neg__(self) -> Interval:
        return Interval(-self.high, -self.low)

    def __sub__(self, other: Interval) -> Interval:
        return Interval(_sum_below(self.low, -other.high), _sum_above(self.high, -other.low))

    def __mul__(self, other: Interval) -> Interval:
        if self.is_zero or other.is_zero:
            return ZERO
        a, b, c, d = self.low, self.high, other.low, other.high
        if a < 0 < b and c < 0 < d:
            low = min(_product_below(a, d), _product_below(b, c))
            return Interval(low, max(_product_above(a, c), _product_above(b, d)))
        least = (b if d <= 0 or (c < 0 and a >= 0) else a, c if a >= 0 or (b > 0 and d <= 0) else d)
        most = (a if d <= 0 or (c < 0 and b <= 0) else b, c if b <= 0 or (a < 0 and d <= 0) else d)
        return Interval(_product_below(*least), _product_above(*most))

    def __truediv__(self, other: Interval) -> Interval:
        if other.low < 0 < other.high or other.is_zero:
            return EVERYWHERE
        if other.high <= 0:
            return (-self) / (-other)
        a, b, c, d = self.low, self.high, other.low, other.high
        return Interval(_quotient_below(a, d if a >= 0 else c), _quotient_above(b, c if b >= 0 else d))

    @property
    def is_zero(self) -> bool:
        """Whether it holds 0 alone."""
        return self.low == 0 == self.high

    @property
    def is_point(self) -> bool:
        """Whether it holds one number alone."""
        return self.low == self.high

    @property
    def width(self) -> float:
        """Its length."""
        return self.high - self.low

    @property
    def size(self) -> float:
        """The greatest absolute value in it."""
        return max(abs(self.low), abs(self.high))

    @property
    def middle(self) -> float:
        """A point inside it, finite wherever one exists."""
        if math.isinf(self.low) and math.isinf(self.high):
            return 0.0
        if math.isinf(self.low):
            return self.high - max(1.0, abs(self.high))
        if math.isinf(self.high):
            return self.low + max(1.0, abs(self.low))
        return self.low / 2 + self.high / 2

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
        return -self if self.high <= 0 else Interval(0.0, max(-self.low, self.high))

    def exp(self) -> Interval:
        """Every exp(a)."""
        return Interval(_exp(self.low)[0], _exp(self.high)[1])

    def log(self) -> Interval:
        """Every ln(a), -inf at 0; everything where some a is below 0."""
        if self.low < 0:
            return EVERYWHERE
        return Interval(_log(self.low)[0], _log(self.high)[1])

    def power(self, exponent: float) -> Interval:
        """Every a ** exponent; everything where some a is below 0 and the exponent is no whole number."""
        return self.raised(Interval(exponent, exponent))

    def raised(self, exponent: Interval) -> Interval:
        """Every a ** e; everything where some a is below 0 and the exponent is not one whole number."""
        if self.low < 0:
            whole = exponent.is_point and exponent.low % 1 == 0
            return self._whole_power(int(exponent.low)) if whole else EVERYWHERE
        exponents = {exponent.low, exponent.high}
        corners = [_power(base, e) for base in {self.low, self.high} for e in exponents]
        return Interval(min(low for low, _ in corners), max(high for _, high in corners))

    def _whole_power(self, exponent: int) -> Interval:
        if exponent < 0:
            return ONE / self._whole_power(-exponent)
        if exponent % 2 == 0:
            return self.absolute().power(exponent)
        below = _power(-self.low, exponent)[1]
        high = _power(self.high, exponent)[1] if self.high >= 0 else -_power(-self.high, exponent)[0]
        return Interval(-below, high)


def decimal_interval(text: str) -> Interval:
    """The smallest interval of doubles that holds the decimal number written as `text`, which may end in %."""
    return fraction_interval(written_fraction(text))


def written_fraction(text: str) -> Fraction:
    """The decimal number written as `text`, which may end in %, exactly."""
    number = text.strip().removesuffix("%")
    value = Fraction(Decimal(number.strip()))
    return value / 100 if text.strip().endswith("%") else value


def fraction_interval(value: Fraction) -> Interval:
    """The smallest interval of doubles that holds `value`."""
    nearest = float(value)
    exact = Fraction(nearest)
    low = nearest if exact <= value else math.nextafter(nearest, -INFINITY)
    high = nearest if exact >= value else math.nextafter(nearest, INFINITY)
    return Interval(low, high)


def point(value: float) -> Interval:
    """The interval that holds `value` alone."""
    return Interval(value, value)


def hull_of(intervals: list[Interval]) -> Interval:
    """The smallest interval that holds all `intervals`."""
    return Interval(min(one.low for one in intervals), max(one.high for one in intervals))


def _sum_error(a: float, b: float, total: float) -> float:
    """a + b - total, exactly, for finite doubles (NaN otherwise)."""
    rounded = total - a
    return (a - (total - rounded)) + (b - rounded)


def _sum_below(a: float, b: float) -> float:
    total = a + b
    if not math.isfinite(total):
        if math.isnan(total):
            return -INFINITY
        return LARGEST if total > 0 and math.isfinite(a) and math.isfinite(b) else total
    return total if _sum_error(a, b, total) >= 0 else math.nextafter(total, -INFINITY)


def _sum_above(a: float, b: float) -> float:
    return -_sum_below(-a, -b)


def _product_below(a: float, b: float) -> float:
    """A double at or below a times b, 0 times infinity being 0."""
    if a == 0 or b == 0:
        return 0.0
    product = a * b
    if math.isinf(product):
        return LARGEST if product > 0 and math.isfinite(a) and math.isfinite(b) else product
    if a % 1 == 0 and b % 1 == 0 and abs(product) < _WHOLE:
        return product
    return max(0.0, math.nextafter(product, -INFINITY)) if (a > 0) == (b > 0) else math.nextafter(product, -INFINITY)


def _product_above(a: float, b: float) -> float:
    return -_product_below(-a, b)


def _quotient_below(a: float, b: float) -> float:
    """A double at or below a divided by b, b being 0 or above; division by 0 goes to infinity, 0 / 0 is 0."""
    if a == 0 or math.isinf(b):
        return 0.0 if a >= 0 else math.nextafter(0.0, -INFINITY)
    if b == 0:
        return math.copysign(INFINITY, a)
    quotient = a / b
    if math.isinf(quotient):
        return LARGEST if quotient > 0 and math.isfinite(a) else quotient
    if a % 1 == 0 and b % 1 == 0 and quotient % 1 == 0 and abs(a) < _WHOLE:
        return quotient
    return max(0.0, math.nextafter(quotient, -INFINITY)) if a > 0 else math.nextafter(quotient, -INFINITY)


def _quotient_above(a: float, b: float) -> float:
    return -_quotient_below(-a, b)


@lru_cache(maxsize=1 << 14)
def _exp(x: float) -> tuple[float, float]:
    if math.isinf(x):
        return (0.0, 0.0) if x < 0 else (INFINITY, INFINITY)
    low, high = (1.0, 1.0) if x == 0 else _ends(iv.exp(iv.mpf(x)))
    return max(low, 0.0), high


@lru_cache(maxsize=1 << 14)
def _log(x: float) -> tuple[float, float]:
    if x == 0 or math.isinf(x):
        return (-INFINITY, -INFINITY) if x == 0 else (INFINITY, INFINITY)
    return (0.0, 0.0) if x == 1 else _ends(iv.log(iv.mpf(x)))


@lru_cache(maxsize=1 << 14)
def _power(base: float, exponent: float) -> tuple[float, float]:
    """Bounds of base ** exponent, for a base of 0 or more."""
    if exponent == 0 or base == 1:
        return 1.0, 1.0
    if exponent == 1:
        return base, base
    if base == 0 or math.isinf(base):
        return (0.0, 0.0) if (base == 0) == (exponent > 0) else (INFINITY, INFINITY)
    if exponent % 1 == 0:
        low, high = _ends(iv.mpf(base) ** int(exponent))
    else:
        low, high = _ends(iv.exp(iv.mpf(exponent) * iv.log(iv.mpf(base))))
    return max(low, 0.0), high


def _ends(value: object) -> tuple[float, float]:
    """The ends of an mpmath interval as doubles, one double outwards."""
    low, high = float(value.a), float(value.b)  # type: ignore[attr-defined]
    low = LARGEST if low == INFINITY else math.nextafter(low, -INFINITY)
    high = -LARGEST if high == -INFINITY else math.nextafter(high, INFINITY)
    return low, high


ZERO = Interval(0.0, 0.0)
ONE = Interval(1.0, 1.0)
UNIT = Interval(0.0, 1.0)
BOTH_WAYS = Interval(-1.0, 1.0)
RISING = Interval(0.0, INFINITY)
FALLING = Interval(-INFINITY, 0.0)
EVERYWHERE = Interval(-INFINITY, INFINITY)
