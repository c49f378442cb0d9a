"""A conversion of units as a person keys it in: degrees Fahrenheit less 32, over 1.8."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scoring.units.conversion import PLAIN_NUMBER, convert

#: Digits that a factor is told to: those that readings are cleaned to.
_DIGITS = 13


@dataclass(frozen=True, slots=True)
class ByHand:
    """How a number in one unit becomes one in another: take `less` off, times or over `factor`, and add `plus`.

    Each is text as it is keyed in, with its sign (`- 32`, `/ 1.8`), "" for nothing to do.
    """

    from_unit: str
    to_unit: str
    less: str
    factor: str
    plus: str

    def of(self, figure: str) -> str:
        """The arithmetic with a figure in it.

        Examples
        --------
        >>> by_hand("degF", "degC").of("95.5"), by_hand("in", "mm").of("2.44")
        ('(95.5 - 32) / 1.8', '2.44 * 25.4')
        """
        taken = f"{figure} {self.less}" if self.less else figure
        if self.less and self.factor:
            taken = f"({taken})"
        return " ".join(part for part in (taken, self.factor, self.plus) if part)

    @property
    def says(self) -> str:
        """The rule, with the units in the place of figures.

        Examples
        --------
        >>> by_hand("degC", "degF").says, by_hand("degC", "K").says, by_hand("ug/m3", "mg/m3").says
        ('degF = degC * 1.8 + 32', 'K = degC + 273.15', 'mg/m3 = (ug/m3) / 1000')
        """
        is_composed = any(sign in self.from_unit for sign in "*./- ")
        figure = f"({self.from_unit})" if is_composed else self.from_unit
        return f"{'value' if self.to_unit in PLAIN_NUMBER else self.to_unit} = {self.of(figure)}"


def by_hand(from_unit: str, to_unit: str) -> ByHand:
    """How a person converts.

    Raises
    ------
    UnitError : the two do not go into each other
    """
    zero, much = convert(np.array([0.0, 1e6]), from_unit, to_unit).tolist()
    slope = (much - zero) / 1e6
    less, plus = _shift(zero, slope)
    return ByHand(from_unit, to_unit, _signed(-less), _factor(slope), _signed(plus))


def _shift(zero: float, slope: float) -> tuple[float, float]:
    """What is taken off before the factor, and what is added after it: the one of the two that is shorter to write."""
    before = -zero / slope
    return (0.0, zero) if _length(zero) <= _length(before) else (before, 0.0)


def _factor(slope: float) -> str:
    """Times or over, whichever is the shorter to write; of equals the one that is no fraction."""
    if _text(slope) == "1":
        return ""
    over = 1 / slope
    is_over = (_length(over), over < 1) < (_length(slope), slope < 1)
    return f"/ {_text(over)}" if is_over else f"* {_text(slope)}"


def _signed(number: float) -> str:
    if number == 0:
        return ""
    return f"{'-' if number < 0 else '+'} {_text(abs(number))}"


def _length(number: float) -> int:
    """How many digits a number is written with, zeros at its ends left out."""
    return len(_text(abs(number)).replace(".", "").strip("0"))


def _text(number: float) -> str:
    """A number in `_DIGITS` digits, never as a power of ten."""
    return np.format_float_positional(number, precision=_DIGITS, unique=False, fractional=False, trim="-")
