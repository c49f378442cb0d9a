"""Numbers worked out exactly, or to 60 digits, each with a bound on how far off a double of it may lie.

A step that asks "is it at, above or below?" goes by the decimal of 13 significant digits that a double stands for. It is
decided where every double within the bound gives one answer, and raises `Undecided` where they do not: what lies within the
dust of an edge, and not on it, no double can tell. Nothing here comes from the engine, numpy or sympy.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Context, Decimal
from fractions import Fraction

import mpmath
from mpmath import mpf

Number = Fraction | mpf
Truth = bool | None
ZERO, ONE = Fraction(0), Fraction(1)
#: The share of a number by which the nearest double may miss it.
HALF_ULP = 2.0**-53
#: Beyond these a double has no room, or loses its digits.
LARGEST, SMALLEST = Fraction(10) ** 280, Fraction(1, 10**280)
#: Fractions longer than this many bits go on as numbers of 60 digits.
LONGEST = 4000
#: Exponents up to this one are worked out as repeated products.
WHOLE_EXPONENT = 64

mpmath.mp.dps = 60
_THIRTEEN = Context(prec=13, rounding=ROUND_HALF_EVEN, Emin=-400, Emax=400)
_made: dict[object, int] = {}


class Undecided(Exception):
    """Doubles within the bound give more than one answer, or have no room for the number."""


@dataclass(frozen=True, slots=True)
class Undefined:
    """No value, and why."""

    why: str


@dataclass(frozen=True, slots=True)
class Real:
    """A number; `off` bounds how far a double of it lies off, and two of one `key` are the same double.

    nearest: whether the double is the one nearest to the number.
    """

    x: Number
    off: float
    key: int
    nearest: bool = False

    @property
    def size(self) -> float:
        return abs(float(self.x))


Value = Real | Undefined


def key_of(*parts: object) -> int:
    """A number for what something was made of."""
    return _made.setdefault(parts, len(_made))


def forget() -> None:
    """Begin anew with what things were made of."""
    _made.clear()


def leaf(number: Fraction | str | int) -> Real:
    """A decimal that stands in a file: its double is the nearest one."""
    x = Fraction(number)
    return Real(_in_range(x), abs(float(Fraction(float(x)) - x)), key_of("leaf", x), nearest=True)


def computed(x: Number, off: float, key: int, *, exact_inputs: bool = False) -> Real:
    """The result of one operation whose inputs put it `off`, and whose own rounding comes on top."""
    _in_range(x)
    if isinstance(x, Fraction) and max(x.numerator.bit_length(), x.denominator.bit_length()) > LONGEST:
        x = wide(x)
    nearest = exact_inputs and off == 0
    if nearest and isinstance(x, Fraction) and Fraction(float(x)) == x:
        return Real(x, 0.0, key, nearest=True)
    return Real(x, off * 1.0001 + 1.01 * HALF_ULP * abs(float(x)), key, nearest)


def loose(value: Value, magnitude: float, steps: int = 8) -> Value:
    """The same number, off by `steps` roundings of `magnitude` more: it is worked out in another order elsewhere."""
    if isinstance(value, Undefined):
        return value
    return Real(value.x, value.off + steps * HALF_ULP * magnitude, value.key)


def wide(x: Number) -> mpf:
    """The number to 60 digits."""
    return mpf(x.numerator) / mpf(x.denominator) if isinstance(x, Fraction) else x


def fraction(x: Number) -> Fraction:
    """The number as a fraction."""
    if isinstance(x, Fraction):
        return x
    sign, mantissa, exponent, _ = x._mpf_
    size = Fraction(int(mantissa)) * Fraction(2) ** exponent
    return -size if sign else size


def undefined_among(*values: Value) -> Undefined | None:
    """The first that has no value."""
    return next((value for value in values if isinstance(value, Undefined)), None)


def _in_range(x: Number) -> Number:
    least, most = (SMALLEST, LARGEST) if isinstance(x, Fraction) else (wide(SMALLEST), wide(LARGEST))
    if x != 0 and not least < abs(x) < most:
        raise Undecided("beyond doubles")
    return x


def _both(a: Number, b: Number) -> tuple[Number, Number]:
    return (a, b) if isinstance(a, Fraction) and isinstance(b, Fraction) else (wide(a), wide(b))


# arithmetic


def plus(a: Value, b: Value) -> Value:
    """a + b."""
    lost = undefined_among(a, b)
    if lost is not None:
        return lost
    x, y = _both(a.x, b.x)
    return computed(x + y, a.off + b.off, key_of("+", a.key, b.key), exact_inputs=a.off == b.off == 0)


def minus(a: Value, b: Value) -> Value:
    """a - b; exactly 0 where both are the same double."""
    lost = undefined_among(a, b)
    if lost is not None:
        return lost
    key = key_of("-", a.key, b.key)
    if a.key == b.key or (a.nearest and b.nearest and a.x == b.x):
        return Real(ZERO, 0.0, key, nearest=True)
    x, y = _both(a.x, b.x)
    return computed(x - y, a.off + b.off, key, exact_inputs=a.off == b.off == 0)


def negative(a: Value) -> Value:
    """-a."""
    return a if isinstance(a, Undefined) else Real(-a.x, a.off, key_of("neg", a.key), a.nearest)


def times(a: Value, b: Value) -> Value:
    """a * b."""
    lost = undefined_among(a, b)
    if lost is not None:
        return lost
    x, y = _both(a.x, b.x)
    off = a.size * b.off + b.size * a.off + a.off * b.off
    return computed(x * y, off, key_of("*", a.key, b.key), exact_inputs=a.off == b.off == 0)


def over(a: Value, b: Value) -> Value:
    """a / b; undefined where b is 0."""
    lost = undefined_among(a, b)
    if lost is not None:
        return lost
    if sign(b) == 0:
        return Undefined("divided by 0")
    x, y = _both(a.x, b.x)
    quotient = x / y
    _in_range(quotient)
    off = (a.off + abs(float(quotient)) * b.off) / (b.size - b.off)
    return computed(quotient, off, key_of("/", a.key, b.key), exact_inputs=a.off == b.off == 0)


def sign(a: Real) -> int:
    """Whether it is above (1), at (0) or below 0 (-1): 0 only where its double is 0."""
    if a.x == 0 and a.off == 0:
        return 0
    if a.size <= a.off:
        raise Undecided("about 0")
    return 1 if a.x > 0 else -1


def _through(a: Real, function: Callable[[mpf], mpf], name: str, exact: Fraction | None = None) -> Real:
    """A monotone function; the ends of what a double may be say how far off it gets."""
    here = function(wide(a.x))
    off = 0.0
    if a.off:
        ends = [function(wide(a.x) + mpf(a.off)), function(wide(a.x) - mpf(a.off))]
        off = max(abs(float(end - here)) for end in ends)
    value = computed(here if exact is None else exact, off, key_of(name, a.key))
    return Real(value.x, value.off + 2 * HALF_ULP * value.size, value.key)


def exponential(a: Value) -> Value:
    """e to the power of a."""
    if isinstance(a, Undefined):
        return a
    if abs(a.x) > 600:
        raise Undecided("beyond doubles")
    if a.x == 0 and a.off == 0:
        return leaf(1)
    return _through(a, mpmath.exp, "exp")


def logarithm(a: Value) -> Value:
    """The natural logarithm; undefined at 0 and below."""
    if isinstance(a, Undefined):
        return a
    if sign(a) <= 0:
        return Undefined("the logarithm")
    if a.x == 1 and a.off == 0:
        return leaf(0)
    return _through(a, mpmath.log, "log")


def root(a: Value) -> Value:
    """The square root; undefined below 0."""
    if isinstance(a, Undefined):
        return a
    if sign(a) < 0:
        return Undefined("the square root")
    if a.x == 0:
        return leaf(0)
    exact = None
    if isinstance(a.x, Fraction):
        top, below = math.isqrt(a.x.numerator), math.isqrt(a.x.denominator)
        if top * top == a.x.numerator and below * below == a.x.denominator:
            exact = Fraction(top, below)
    if exact is not None and a.off == 0:
        return computed(exact, 0.0, key_of("sqrt", a.key), exact_inputs=True)
    return _through(a, mpmath.sqrt, "sqrt", exact)


def power(a: Value, b: Value) -> Value:
    """a to the power of b; undefined for 0 to a power below 0, and below 0 for a power that is not whole."""
    lost = undefined_among(a, b)
    if lost is not None:
        return lost
    key = key_of("**", a.key, b.key)
    whole = isinstance(b.x, Fraction) and b.x.denominator == 1
    side = sign(a) if b.off or not (whole and b.x >= 0) else (a.x > 0) - (a.x < 0)
    if b.x == 0 and b.off == 0:
        return leaf(1)
    if side == 0 and a.off == 0:
        return Undefined("0 to the power of") if sign(b) < 0 else leaf(0)
    if side < 0 and not (whole and b.off == 0):
        if b.off and abs(float(b.x) - round(float(b.x))) <= b.off:
            raise Undecided("a power that is about whole")
        return Undefined("to the power of")
    if whole and b.off == 0 and abs(b.x) <= WHOLE_EXPONENT and isinstance(a.x, Fraction):
        exponent = int(b.x)
        result: Number = a.x**exponent
    elif a.x == 0:
        result = ZERO
    else:
        result = mpmath.power(wide(a.x), wide(b.x))
    _in_range(result)
    grown = abs(float(b.x)) * (a.size + a.off) ** (float(b.x) - 1) * a.off if a.off and b.x >= 1 else 0.0
    if a.off and b.x < 1:
        grown = abs(float(b.x)) * (a.size - a.off) ** (float(b.x) - 1) * a.off
    if b.off:
        grown += abs(float(result) * math.log(a.size)) * b.off * 2
    value = computed(result, grown, key)
    return Real(value.x, value.off + 4 * HALF_ULP * value.size, key)


def magnitude(a: Value) -> Value:
    """a without its sign."""
    return a if isinstance(a, Undefined) else Real(abs(a.x), a.off, key_of("abs", a.key), a.nearest)


def least(values: Sequence[Value]) -> Value:
    """The least; undefined where one is."""
    return _extreme(values, -1)


def greatest(values: Sequence[Value]) -> Value:
    """The greatest; undefined where one is."""
    return _extreme(values, 1)


def _extreme(values: Sequence[Value], side: int) -> Value:
    lost = undefined_among(*values)
    if lost is not None:
        return lost
    best = values[0]
    for value in values[1:]:
        x, y = _both(value.x, best.x)
        if side * (x - y) > 0:
            best = value
    rivals = [v for v in values if abs(float(v.x) - float(best.x)) <= v.off + best.off]
    if len({rival.key for rival in rivals}) == 1:
        return best
    return Real(best.x, max(rival.off for rival in rivals), key_of("extreme", side, *(v.key for v in values)))


def held(x: Value, low: Value, high: Value) -> Value:
    """x held between low and high."""
    return least([greatest([x, low]), high])


def total(values: Sequence[Value]) -> Value:
    """The sum, in some order."""
    result: Value = leaf(0)
    for value in values:
        result = plus(result, value)
    return loose(result, sum(v.size for v in values if isinstance(v, Real)), len(values))


# decisions, by the decimal of 13 significant digits


def thirteen(x: Number) -> Fraction:
    """The decimal of 13 significant digits nearest to a number."""
    exact = fraction(x)
    return Fraction(_THIRTEEN.divide(Decimal(exact.numerator), Decimal(exact.denominator)))


def stands_for(a: Real) -> tuple[Fraction, Fraction]:
    """The least and the greatest decimal that a double of it may stand for."""
    if a.nearest:
        only = thirteen(Fraction(float(a.x)))
        return only, only
    off, x = Fraction(a.off), fraction(a.x)
    return thirteen(x - off), thirteen(x + off)


@dataclass
class Tally:
    """How many questions were asked at an edge, and answered."""

    edges: int = 0


TALLY = Tally()


def compare(a: Real, b: Real) -> int:
    """1, 0 or -1 as a is more than, equal to or less than b, as decimals of 13 significant digits."""
    x, y = _both(a.x, b.x)
    gap = x - y
    if a.key == b.key:
        return 0
    if abs(float(gap)) > a.off + b.off + 1e-11 * max(a.size, b.size):
        return 1 if gap > 0 else -1
    (low_a, high_a), (low_b, high_b) = stands_for(a), stands_for(b)
    if low_a > high_b or high_a < low_b:
        return 1 if low_a > high_b else -1
    if low_a == high_a == low_b == high_b:
        TALLY.edges += 1
        return 0
    raise Undecided("too near to an edge")


def round_exactly(x: Fraction, step: Fraction, rule: str) -> Fraction:
    """A multiple of the step, by the rule's own words."""
    count = x / step
    floor = Fraction(math.floor(count))
    rest = count - floor
    away = floor + 1 if count > 0 else floor
    towards = floor if count >= 0 else floor + 1
    if rest == 0:
        return floor * step
    if rule == "floor":
        return floor * step
    if rule == "ceiling":
        return (floor + 1) * step
    if rule in ("up", "down"):
        return (away if rule == "up" else towards) * step
    if rest != Fraction(1, 2):
        return (floor + (1 if rest > Fraction(1, 2) else 0)) * step
    if rule == "half-even":
        return (floor if floor % 2 == 0 else floor + 1) * step
    return away * step


def rounded(a: Value, step: Fraction, rule: str) -> Value:
    """A number rounded to multiples of a step; what it stands for is rounded."""
    if isinstance(a, Undefined):
        return a
    low, high = stands_for(a)
    down, up = round_exactly(low, step, rule), round_exactly(high, step, rule)
    if down != up:
        raise Undecided("too near to a rounding edge")
    if (low / step).denominator in (1, 2):
        TALLY.edges += 1
    return leaf(down)


# conditions of three values


def holds_all(truths: Sequence[Truth]) -> Truth:
    """Whether all hold: one that does not decides."""
    if False in truths:
        return False
    return None if None in truths else True


def holds_any(truths: Sequence[Truth]) -> Truth:
    """Whether one holds: one that does decides."""
    if True in truths:
        return True
    return None if None in truths else False


def denied(truth: Truth) -> Truth:
    """Whether it does not hold."""
    return None if truth is None else not truth
