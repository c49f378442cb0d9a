"""What a number of a formula is a number of. Each role is said once, beside the field or the key that holds the number."""

from __future__ import annotations

from enum import Enum

from scoring.units.conversion import PLAIN_NUMBER, difference_of

#: What ratings and scores are counted in, and the standard uncertainties that a guard counts.
POINTS_UNIT, UNCERTAINTY_UNIT = "points", "u"


class UnitRole(Enum):
    """The role of a number. "The measure" is what its owner reads or rounds: a reading, or a rating, in points."""

    ALONG = "a place along the measure"
    LENGTH = "a length on the measure"
    POINTS = "rating points"
    POINTS_APART = "a difference of rating points"
    SHARE = "a share"
    EXPONENT = "an exponent"
    UNCERTAINTIES = "standard uncertainties"
    COUNT = "a count"
    COEFFICIENT = "a coefficient of correlation"
    PLAIN = "a number in arithmetic, whose unit nobody states"

    def unit(self, measured: str) -> str:
        """The unit as it is printed, "" for a plain number; `measured` is the unit of the owner's measure.

        Examples
        --------
        >>> UnitRole.ALONG.unit("degC"), UnitRole.LENGTH.unit("degC"), UnitRole.LENGTH.unit("kPa"), UnitRole.SHARE.unit("kPa")
        ('degC', 'delta_degC', 'kPa', '')
        """
        match self:
            case UnitRole.ALONG:
                return "" if measured == "1" else measured
            case UnitRole.LENGTH:
                return "" if measured == "1" else difference_of(measured)
            case UnitRole.POINTS | UnitRole.POINTS_APART:
                return POINTS_UNIT
            case UnitRole.UNCERTAINTIES:
                return UNCERTAINTY_UNIT
        return ""


def unit_behind(figure: str, unit: str) -> str:
    """The unit as it is read aloud behind a figure: one point, several points; "" behind a plain number, or behind words."""
    if unit in PLAIN_NUMBER or not any(sign.isdigit() for sign in figure):
        return ""
    return POINTS_UNIT.removesuffix("s") if unit == POINTS_UNIT and figure == "1" else unit


def in_unit(figure: str, unit: str) -> str:
    """A figure with its unit behind it, as it is read aloud.

    Examples
    --------
    >>> in_unit("5.5", "points"), in_unit("1", "points"), in_unit("0.25", "kPa"), in_unit("0.3", "1")
    ('5.5 points', '1 point', '0.25 kPa', '0.3')
    >>> in_unit("does not apply", "%")
    'does not apply'
    """
    return f"{figure} {unit_behind(figure, unit)}".rstrip()
