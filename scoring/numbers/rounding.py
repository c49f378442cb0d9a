"""Rounding to a multiple of a step, exact in decimal: one number by `decimal`, an array by numpy.

A float stands for the decimal of 13 significant digits nearest to it, so that the last bits left by binary
arithmetic decide nothing: 8.249999999999998, a weighted sum whose true value is 8.25, rounds as 8.25. The
step is read as the decimal that it prints as.
"""

from __future__ import annotations

import decimal
import math
from collections.abc import Callable
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from scoring.numbers.array_types import Array, Indices


def _half_up(scaled: Array) -> Array:
    return np.trunc(scaled + np.copysign(0.5, scaled))


def _up(scaled: Array) -> Array:
    return np.copysign(np.ceil(np.abs(scaled)), scaled)


class RoundingRule(NamedTuple):
    """One rule, twice and in words.

    in_decimal: its name in `decimal`; on_arrays: the same rule on arrays; of_a_step: how it is said of a step that a number
    is rounded to; means: what it does, where a form may ask for it; in_print: the same beside published figures.
    """

    in_decimal: str
    on_arrays: Callable[[Array], Array]
    of_a_step: str
    means: str = ""
    in_print: str = ""


ROUNDING_RULES: dict[str, RoundingRule] = {
    "half-up": RoundingRule(
        decimal.ROUND_HALF_UP,
        _half_up,
        "rounded half-up to",
        "to the nearest; what lies half way goes away from zero (8.25 to 8.3, -8.25 to -8.3)",
        "a figure half way between two steps goes away from zero",
    ),
    "half-even": RoundingRule(
        decimal.ROUND_HALF_EVEN,
        np.rint,
        "rounded half-even to",
        "to the nearest; what lies half way goes to the even neighbour (8.25 to 8.2, 8.35 to 8.4)",
        "a figure half way between two steps goes to the even one",
    ),
    "down": RoundingRule(decimal.ROUND_DOWN, np.trunc, "rounded towards 0 to", "towards zero", "towards zero"),
    "up": RoundingRule(decimal.ROUND_UP, _up, "rounded away from 0 to", "away from zero", "away from zero"),
    "floor": RoundingRule(decimal.ROUND_FLOOR, np.floor, "rounded down to"),
    "ceiling": RoundingRule(decimal.ROUND_CEILING, np.ceil, "rounded up to"),
}
RULES: tuple[str, ...] = tuple(ROUNDING_RULES)
#: The rules that a form may ask for, with what they do; `floor` and `ceil` are functions of expressions.
FORM_RULES = {name: rule.means for name, rule in ROUNDING_RULES.items() if rule.means}

#: The quotient of two floats (last digits from 1e-336, values to 1.8e308) is whole or a half, or differs from
#: both within 650 digits: cut at 800, it cannot pass for either.
_WIDE = decimal.Context(prec=800)
#: A float and its decimal of 13 digits differ by at most 5e-13 of the value; twice that covers the division.
_DOUBTFUL = 1e-12
#: Half a unit of the 13th digit is at least 5e-14 of the value: a float this near to a decimal of 13 digits
#: stands for it.
_SAME = 4e-14
#: A value below this many units of the step's last decimal has its ties within 13 digits and exact multiples.
_MOST_UNITS = 1e12
#: Significant digits of the decimal that a float stands for; a whole number drawn from them this near to a half is looked at
#: as text.
_DIGITS, _NEAR_HALF = 13, 0.01
#: What a sum of some tens of readings, or a factor of a unit, can leave on a value: a few dozen last bits, as a share of it.
_DUST = 32 * 2.0**-53
#: Whole floats are exact up to 2**53, powers of ten up to 10**22.
_MOST_WHOLE, _MOST_PLACES = 2**53, 22


def round_decimal(value: float, step: str | float, rule: str) -> decimal.Decimal:
    """Round one number to a multiple of a step, exactly.

    Parameters
    ----------
    value : float, finite; stands for its decimal of 13 significant digits, `format(value, ".12e")`
    step : str or float, above 0; a float stands for the decimal that `repr` prints
    rule : one of `RULES`: "half-up" (a tie goes away from zero), "half-even" (to the even multiple),
        "down" (towards zero), "up" (away from zero), "floor", "ceiling"

    Returns
    -------
    decimal.Decimal, a multiple of `step` with as many decimals as `step`; never a negative zero

    Raises
    ------
    ValueError : `value` is not finite, `step` is not a finite number above 0, or `rule` is unknown

    Notes
    -----
    Digits of `value` beyond the 13th count for nothing. A multiple of `step` that needs more than 13 digits
    itself (1e13 + 0.25, or 1/3 as a float) may therefore move when it is rounded again.

    Examples
    --------
    >>> round_decimal(8.25, "0.1", "half-up"), round_decimal(8.25, "0.1", "half-even")
    (Decimal('8.3'), Decimal('8.2'))
    >>> round_decimal(8.249999999999998, "0.1", "half-up")  # the float stands for 8.25
    Decimal('8.3')
    """
    unit = _step_decimal(step)
    quotient = _WIDE.divide(_value_decimal(value), unit)
    multiple = quotient.to_integral_value(rounding=_rule(rule).in_decimal)
    return _WIDE.quantize(_WIDE.multiply(multiple or decimal.Decimal(0), unit), unit)


def round_to(values: ArrayLike, step: ArrayLike, rule: str) -> Array:
    """Round every value to a multiple of its step; equal to `round_decimal` number by number.

    Parameters
    ----------
    values : array_like of float, any shape; NaN and infinities stay as they are
    step : array_like of float, above 0, a scalar or a shape that broadcasts with `values`
    rule : one of `RULES`, as in `round_decimal`

    Returns
    -------
    ndarray of float64, broadcast shape: the floats nearest to the decimal multiples (8.3, not 83 * 0.1), and
        never -0.0

    Raises
    ------
    ValueError : a step is not a finite number above 0, or `rule` is unknown

    Notes
    -----
    With q = value / step in floats and h the multiple of 1/2 nearest to q, a value whose q is further than
    1e-12 |q| from h lies on the same side of h as its decimal. One whose q is within 4e-14 |q| stands for
    h * step itself, as long as that has at most 13 digits. Both are rounded in floats; a multiple is then two
    whole floats divided once (83 / 10), hence the float nearest to it. What lies between, and values of 1e12
    units or more of the step's last decimal, go through `round_decimal`, each distinct pair of value and step
    once: about 5 microseconds each. A step of 13 digits, such as one drawn at random, sends nearly all there.

    Examples
    --------
    >>> round_to([8.25, 8.35, -8.25, float("nan")], 0.1, "half-up")
    array([ 8.3,  8.4, -8.3,  nan])
    >>> round_to([6.2, 6.25, 6.8], 0.5, "half-even")
    array([6., 6., 7.])
    """
    on_arrays = _rule(rule).on_arrays
    given, steps = np.asarray(values, dtype=np.float64), np.asarray(step, dtype=np.float64)
    units, parts = _units(steps)
    with np.errstate(over="ignore", under="ignore", invalid="ignore"):
        scaled = np.asarray(given / steps)
        size = np.abs(scaled)
        half = np.rint(2 * scaled) / 2
        gap = np.abs(scaled - half)
        same = gap <= _SAME * size
        clear = same | (gap > _DOUBTFUL * size)
        exact = (size * units < _MOST_UNITS) & ((size > 0) | (given == 0))
        multiple = on_arrays(np.where(same, half, scaled))
        rounded = np.asarray(multiple * units / parts + 0.0)  # -0.0 + 0.0 is 0.0
    rest = np.flatnonzero(~(clear & exact))
    if rest.size:
        _round_rest(rounded, rest, np.broadcast_arrays(given, steps), rule)
    return rounded


def cleaned(values: ArrayLike) -> Array:
    """Every value as the float nearest to the decimal of 13 significant digits that it stands for.

    Parameters
    ----------
    values : array_like of float, any shape; NaN and infinities stay as they are

    Returns
    -------
    ndarray of float64, the same shape; never -0.0

    Notes
    -----
    It is `float(format(value, ".12e"))` number by number. The digits are first drawn to a whole number: its error is below a
    hundredth of a unit, so that only what lies that near to a half goes through text, and so does what is below 1e-9 or of
    1e13 and more, whose powers of ten are no exact floats.

    Examples
    --------
    >>> cleaned([40.00000000000001, 0.1 + 0.2, 2 / 3, float("nan")])
    array([40.        ,  0.3       ,  0.66666667,         nan])
    """
    given = np.asarray(values, dtype=np.float64)
    size = np.abs(given)
    with np.errstate(all="ignore"):
        places = _DIGITS - 1 - np.floor(np.log10(size))
        plain = (places >= 0) & (places <= _MOST_PLACES)
        tens = np.power(10.0, np.where(plain, places, 0.0))
        scaled = size * tens
        clear = plain & (np.abs(scaled - np.floor(scaled) - 0.5) > _NEAR_HALF)
        clean = np.asarray(np.copysign(np.rint(scaled) / tens, given))
    rest = np.flatnonzero(~clear & np.isfinite(given) & (given != 0))
    clean.flat[rest] = [float(format(value, f".{_DIGITS - 1}e")) for value in given.flat[rest].tolist()]
    return np.where(np.isfinite(given) & (given != 0), clean, given + 0.0)


def undusted(values: ArrayLike, sizes: ArrayLike | None = None) -> Array:
    """Every value that lies within the dust of binary arithmetic of a decimal of 13 significant digits as that decimal.

    Others stay as they are: the mean of 2, 2 and 3 is 2.333... to the last bit.

    Parameters
    ----------
    values : array_like of float, any shape; NaN and infinities stay as they are
    sizes : array_like of float, the same shape
        How large the numbers were that each value was worked out of, for so large is the dust: -0.3, 0.1 and 0.2 add up to
        2.8e-17. The size of the value itself by default.

    Examples
    --------
    >>> undusted([40.00000000000001, 700 * 0.001]).tolist(), bool(undusted(7 / 3) == 7 / 3)
    ([40.0, 0.7], True)
    """
    given = np.asarray(values, dtype=np.float64)
    size = np.abs(given if sizes is None else np.asarray(sizes, dtype=np.float64))
    with np.errstate(all="ignore"):
        tens = np.power(10.0, _DIGITS - 1 - np.floor(np.log10(size)))
        clean = cleaned(np.rint(given * tens) / tens)
        return np.where(np.abs(given - clean) <= _DUST * size, clean, given)


def show(value: float, step: float) -> str:
    """Write a rounded value as fixed text with as many decimals as its step has: "8.3", "8.0", "57".

    Parameters
    ----------
    value : float, finite, already rounded
    step : float, above 0

    Raises
    ------
    ValueError : `value` has more decimals than `step` (showing it would round it by an unstated rule) or is
        not finite, or `step` is not a finite number above 0

    Examples
    --------
    >>> show(8.0, 0.1), show(57.0, 1), show(6.5, 0.25)
    ('8.0', '57', '6.50')
    """
    unit, exact = _step_decimal(step), _value_decimal(value)
    shown = _WIDE.quantize(exact, unit)
    if shown != exact:
        raise ValueError(f"cannot show {float(value)!r} with the decimals of step {step}: round it first")
    return f"{shown or shown.copy_abs():f}"


def _rule(rule: str) -> RoundingRule:
    if rule not in ROUNDING_RULES:
        raise ValueError(f"unknown rounding rule {rule!r}; known: {', '.join(RULES)}")
    return ROUNDING_RULES[rule]


def _value_decimal(value: float) -> decimal.Decimal:
    if not math.isfinite(value):
        raise ValueError(f"cannot round {float(value)!r}: the value must be finite")
    return decimal.Decimal(format(value, ".12e"))


@lru_cache(maxsize=1024)
def _step_decimal(step: str | float) -> decimal.Decimal:
    """The step as a decimal without trailing zeros after the point, and with no exponent above 0."""
    try:
        size = float(step)
    except ValueError:
        size = math.nan
    if not 0 < size < math.inf:
        raise ValueError(f"rounding step {step} is not a finite number above 0")
    unit = _WIDE.normalize(decimal.Decimal(step if isinstance(step, str) else repr(size)))
    return _WIDE.quantize(unit, decimal.Decimal(1)) if unit == unit.to_integral_value() else unit


def _units(steps: Array) -> tuple[Array, Array]:
    """Each step as a ratio of whole floats, 0.25 as 25 / 100; inf / 1 where floats cannot hold the ratio."""
    distinct, where = np.unique(steps, return_inverse=True)
    ratios = np.array([_ratio(step) for step in distinct.tolist()], dtype=np.float64).reshape(-1, 2)
    units, parts = ratios.T
    where = where.reshape(steps.shape)
    return units[where], parts[where]


def _ratio(step: float) -> tuple[float, float]:
    _, digits, exponent = _step_decimal(step).as_tuple()
    assert isinstance(exponent, int)
    unit = int("".join(map(str, digits)))
    fits = unit <= _MOST_WHOLE and -exponent <= _MOST_PLACES
    return (float(unit), 10.0**-exponent) if fits else (math.inf, 1.0)


def _round_rest(rounded: Array, rest: Indices, pairs: tuple[Array, ...], rule: str) -> None:
    """Write the exact result of the finite values among `rest` into `rounded`.

    rounded : any shape; rest : shape (k,), flat indices into it; pairs : the values and the steps, each of the shape of `rounded`
    """
    given, steps = (part.flat[rest] for part in pairs)
    finite = np.isfinite(given)
    asked = list(zip(given[finite].tolist(), steps[finite].tolist(), strict=True))
    answers = {pair: float(round_decimal(*pair, rule)) for pair in set(asked)}
    rounded.flat[rest[finite]] = [answers[pair] for pair in asked]
