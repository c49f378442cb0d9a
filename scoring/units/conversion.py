"""Units: whether two are the same, and how readings in one become readings in another.

Unit texts are read by a grammar of our own, so that none can run code or start an endless power. The library
is asked, and loaded, only when two units differ. A temperature and a temperature difference are two things.
"""

from __future__ import annotations

import functools
import re
import unicodedata
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike

from scoring.errors import Place, Problem, SteelyardError
from scoring.numbers.array_types import Array
from scoring.numbers.rounding import undusted
from scoring.units import trade

if TYPE_CHECKING:
    import pint

Parts = tuple[tuple[str, int], ...]

LONGEST = 60
OFFSETS = frozenset({"degC", "degF"})
DIFFERENCES = frozenset({"delta_degC", "delta_degF"})
PLAIN_NUMBER = frozenset({"", "1", "-", "dimensionless"})

_REWRITTEN = (
    (re.compile(r"Δ\s*|delta[ _]+"), "delta_"),
    (re.compile(r"(?:[°º]|\bdeg(?:ree)?s? )\s*([CFK])\b"), r"deg\1"),
    (re.compile(r"[µμ]"), "u"),
    (re.compile(r"\bmm Hg\b"), "mmHg"),
    (re.compile(r"−"), "-"),
    (re.compile(r"[·⋅×]"), "."),
    (re.compile(r"\*\*"), "^"),
    *trade.REWRITTEN,
)
#: Other spellings of a name.
SPELLINGS = {
    "in": "inch",
    "inches": "inch",
    "sec": "s",
    "second": "s",
    "seconds": "s",
    "l": "L",
    "hr": "h",
    "lbs": "lb",
    "pct": "%",
    "percent": "%",
    "degK": "K",
    "celsius": "degC",
    "Celsius": "degC",
    "fahrenheit": "degF",
    "Fahrenheit": "degF",
    **trade.SPELLINGS,
}
_TOKEN = re.compile(
    r"\s*(?:(?P<name>[A-Za-z]*H2O|[^\W\d]+|%|1(?=\s*/))"
    r"(?:\^?(?P<power>[+-]?[0-9]{1,2})(?![0-9]))?|(?P<sign>[./*()]))\s*"
)


class UnitError(SteelyardError):
    """Two units that do not go into each other, or a unit that nobody knows."""

    def __init__(self, found: str, expected: str, hint: str = "", place: Place | None = None) -> None:
        super().__init__([Problem(place or Place("unit"), found, expected, hint)])


def unit_problem(unit: str) -> str | None:
    """Say what is wrong with a unit as a text, or None; that it is known is asked on conversion only."""
    if len(unit) > LONGEST:
        return f"a unit of {len(unit)} characters; the longest allowed is {LONGEST}"
    if not unit.isprintable():
        return "a unit with a control or invisible character"
    if any(sign in unit for sign in "[]#"):
        return "a unit with one of `[`, `]`, `#`, which a catalogue's header keeps for itself"
    return None


def same_unit(one: str, other: str) -> bool:
    """Whether two unit texts are two spellings of one unit.

    Examples
    --------
    >>> same_unit("m2.Pa/W", "Pa*m^2/W"), same_unit("mm", "cm")
    (True, False)
    """
    return one.strip() == other.strip() or _spelling(one) == _spelling(other)


def is_offset_unit(unit: str) -> bool:
    """Whether the unit counts from a zero of its own (degC, degF), so that shares of it mean nothing."""
    return _spelling(unit) in {((name, 1),) for name in OFFSETS}


def difference_of(unit: str) -> str:
    """The unit of a difference of two values in `unit`: its own, but for a temperature.

    Examples
    --------
    >>> difference_of("mm"), difference_of("degC")
    ('mm', 'delta_degC')
    """
    parts = _spelling(unit)
    return f"delta_{parts[0][0]}" if parts and is_offset_unit(unit) else unit


def is_known(unit: str) -> bool:
    """Whether the text is a unit that can be converted, or decibels; a plain number and a unit of the house are none.

    Examples
    --------
    >>> is_known("m2.Pa/W"), is_known("dB(A)"), is_known("front"), is_known("1")
    (True, True, False, False)
    """
    parts = _spelling(unit)
    if not parts or parts[0][0] in trade.LEVELS:
        return bool(parts)
    try:
        _library_unit(_registry(), parts, unit)
    except UnitError:
        return False
    return True


def convert(values: ArrayLike, from_unit: str, to_unit: str) -> Array:
    """Turn readings in one unit into readings in another.

    Parameters
    ----------
    values : array_like, any shape, in `from_unit`; NaN stays NaN
    from_unit, to_unit : str

    Returns
    -------
    ndarray, the shape of `values`, in `to_unit`, free of the dust of binary factors: 700 ug/m3 are 0.7 mg/m3, not a bit more

    Raises
    ------
    UnitError : a unit is unknown, the two measure different things, or only one is a temperature difference

    Examples
    --------
    >>> convert([2.5, float("nan")], "in", "mm")
    array([63.5,  nan])
    >>> convert([71.6], "degF", "degC"), convert([9.0], "delta_degF", "delta_degC")
    (array([22.]), array([5.]))
    """
    numbers = np.array(values, dtype=np.float64)
    if same_unit(from_unit, to_unit):
        return numbers
    for unit in (from_unit, to_unit):
        fault = unit_problem(unit)
        if fault:
            raise UnitError(fault, "a unit such as mm, N, kPa, mmHg, s, degC, delta_degC, %")
    _check_kinds(from_unit, to_unit)
    source, target = _known_parts(from_unit), _known_parts(to_unit)
    registry = _registry()
    before, after = _library_unit(registry, source, from_unit), _library_unit(registry, target, to_unit)
    if before.dimensionality != after.dimensionality:
        raise UnitError(
            f"the unit `{from_unit}` ({before.dimensionality})",
            f"`{to_unit}` ({after.dimensionality}) or a unit that goes into it",
            _why_not(source, target),
        )
    with np.errstate(over="ignore"):  # an overflow becomes infinite, which the catalogue refuses by its place
        converted = np.asarray(registry.Quantity(numbers, before).to(after).magnitude, dtype=np.float64)
    # by way of kelvin, 71.6 degF comes out as 22.00000000000006 degC, and 32 degF not quite as 0
    return undusted(np.round(converted, 12) if is_offset_unit(to_unit) else converted)


def _why_not(*units: Parts) -> str:
    """Why two units do not go into each other, as far as that is known."""
    shares = [unit for unit in units if len(unit) == 1 and unit[0][0] in trade.SHARES and unit[0][1] == 1]
    if len(shares) == 1 and any(("m", -3) in unit or ("L", -1) in unit for unit in units):
        return (
            "A share of a gas is a mass of it in air only by its molar mass, and at a stated temperature and pressure: no "
            "factor holds for every gas. Give the readings in the formula's unit, as the laboratory that took them states them."
        )
    return "The two measure different things. Unit names are case-sensitive; a temperature is `degC`."


def _check_kinds(from_unit: str, to_unit: str) -> None:
    """Refuse decibels against anything else, and temperatures against temperature differences."""
    units = (from_unit, to_unit)
    if any(unit.strip().startswith("dB") for unit in units):
        hint = "Decibels are not converted: write the level that the formula asks for."
        if to_unit and not to_unit.strip().startswith("dB"):
            hint += f" Is the formula's unit, {to_unit}, misspelt?"
        raise UnitError(f"the unit `{from_unit}`", f"`{to_unit}`" if to_unit else "no unit, as in the formula", hint)
    offset = [unit for unit in units if is_offset_unit(unit)]
    difference = [unit for unit in units if any(name in DIFFERENCES for name, _ in _spelling(unit) or ())]
    if offset and difference:
        raise UnitError(
            f"the unit `{from_unit}`",
            f"`{to_unit}`",
            f"`{offset[0]}` is a temperature and `{difference[0]}` a difference of two: 20 degC is 68 degF, "
            "a rise of 20 delta_degC is a rise of 36 delta_degF. Write the one that was read.",
        )


def _known_parts(unit: str) -> Parts:
    parts = _spelling(unit)
    if parts is None:
        raise UnitError(
            f"the unit `{unit}`",
            "names with whole powers, such as `m2.Pa/W`, `W/m2`, `mg/m3` or `W/(m2.K)`",
            "Where a product stands below a slash, put it in parentheses.",
        )
    return parts


def _library_unit(registry: Any, parts: Parts, unit: str) -> Any:
    text = "*".join(f"{'percent' if name == '%' else name}**{power}" for name, power in parts)
    try:
        known = registry.parse_units(text) if parts else registry.dimensionless
        ends = registry.Quantity(np.array([1.0, 2.0]), known).to_base_units().magnitude
    except Exception as fault:  # the library raises many kinds for a name it does not know
        raise UnitError(
            f"the unit `{unit}`, which is not known",
            "a unit such as mm, N, kPa, mmHg, s, degC, delta_degC, %",
            "Names are case-sensitive. A unit of the house is spelt in the catalogue as in the formula.",
        ) from fault
    if parts and not is_offset_unit(unit) and not np.isclose(ends[1], 2 * ends[0], rtol=1e-12):
        raise UnitError(f"the unit `{unit}`, a logarithmic one", "a unit that converts by a factor")
    return known


@functools.cache
def _registry() -> pint.UnitRegistry[Any]:
    import pint  # a fifth of a second to load: only when two units differ

    registry: pint.UnitRegistry[Any] = pint.UnitRegistry()
    for definition in trade.DEFINITIONS:
        registry.define(definition)
    return registry


@functools.lru_cache(maxsize=1024)
def _spelling(unit: str) -> Parts | None:
    """The unit as sorted (name, power) pairs; None where it is none, or can be read in two ways."""
    if unit_problem(unit):
        return None
    text = unicodedata.normalize("NFKC", unit.strip())
    for pattern, replacement in _REWRITTEN:
        text = pattern.sub(replacement, text)
    if text in PLAIN_NUMBER:
        return ()
    powers = _powers(text)
    if powers is None:
        return None
    parts = [(name, power) for name, power in powers.items() if power]
    if len(parts) > 1 or any(power != 1 for _, power in parts):  # a degree in a product is a difference
        parts = [(f"delta_{name}" if name in OFFSETS else name, power) for name, power in parts]
    return tuple(sorted(parts))


def _powers(text: str) -> dict[str, int] | None:
    """Read a product of powers; one slash may be followed by one factor, or by a product in parentheses."""
    powers: dict[str, int] = {}
    sign, grouped, slashed, expects, position = 1, False, False, True, 0
    while position < len(text):
        token = _TOKEN.match(text, position)
        if token is None:
            return None
        position, mark = token.end(), token["sign"]
        if token["name"]:
            if slashed and sign == 1:
                return None  # W/m2.K: below the slash, or not?
            if token["name"] != "1":
                name = SPELLINGS.get(token["name"], token["name"])
                powers[name] = powers.get(name, 0) + sign * int(token["power"] or 1)
            expects, sign = False, sign if grouped else 1
        elif mark == "(" and expects and not grouped:
            grouped = True
        elif mark == ")" and grouped and not expects:
            grouped, sign = False, 1
        elif mark in "*./" and not expects and not (mark == "/" and grouped):
            sign, slashed = (-1, True) if mark == "/" else (sign, slashed)
            expects = True
        else:
            return None
    return None if expects or grouped else powers
