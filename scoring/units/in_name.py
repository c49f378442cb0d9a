"""The unit that a column's name states in words, without the square brackets of the catalogue's own rule."""

from __future__ import annotations

import re

from scoring.units.conversion import is_known

#: Units of the bench that may end a name without any brackets; other words there are words.
BENCH_UNITS = frozenset({
    "mm", "cm", "m", "um", "in", "N", "kN", "Pa", "kPa", "mmHg", "kg", "g", "lb", "s", "ms", "min", "h", "J", "W", "Hz",
    "K", "degC", "degF", "°C", "°F", "delta_degC", "%", "pct", "dB", "dBA", "dB(A)", "L/min", "mg/m3", "mg/m³", "ug/m3",
    "ppm", "ppb", "dBC", "dB(C)", "clo", "tog", "sone", '"',
})  # fmt: skip
_INSIDE = re.compile(r"\s*\(\s*((?:[^()]|\([^()]*\))+?)\s*\)")
_AFTER = re.compile(r"(?P<name>.*?\w)(?P<gap>\s*,\s*|\s+in\s+|_|\s+)(?P<unit>[^\s,_]+)")


def is_unit(text: str) -> bool:
    """Whether a text is a unit, and no letter that may as well count something."""
    return text in BENCH_UNITS or (len(text) > 1 and is_known(text))


def unit_in_parentheses(name: str) -> tuple[str, str]:
    """A name without the unit that stands in parentheses in it, and that unit; the whole name and nothing where none does.

    A single capital is no unit, but for those of the bench: `Edge (A)` and `Edge (B)` are two edges.

    Examples
    --------
    >>> unit_in_parentheses("Rise (°C) after 15 min"), unit_in_parentheses("(dB) Noise"), unit_in_parentheses("Edge (A)")
    (('Rise after 15 min', '°C'), ('Noise', 'dB'), ('Edge (A)', ''))
    """
    for inside in _INSIDE.finditer(name):
        before = name[: inside.start()]
        if is_unit(inside[1]) and not before.endswith("dB"):
            return (before + name[inside.end() :]).strip(), inside[1]
    return name, ""


def words_and_unit(name: str) -> tuple[str, str]:
    """A column's name without the unit in it, and that unit; the whole name and nothing where there is none.

    In parentheses any known unit counts, wherever they stand; at the end of the name only those of the bench, and not
    after a number, where it says how long or how far.

    Examples
    --------
    >>> words_and_unit("Noise level (dB)"), words_and_unit("sit_drop_mm"), words_and_unit("Rebound")
    (('Noise level', 'dB'), ('sit_drop', 'mm'), ('Rebound', ''))
    >>> words_and_unit("Rise (°C) after 15 min"), words_and_unit("Noise dB(A)"), words_and_unit("Edge (front)")
    (('Rise after 15 min', '°C'), ('Noise', 'dB(A)'), ('Edge (front)', ''))
    """
    for inside in _INSIDE.finditer(name):
        before = name[: inside.start()]
        if before.strip() and not before.endswith("dB") and (inside[1] in BENCH_UNITS or is_known(inside[1])):
            return (before + name[inside.end() :]).strip(), inside[1]
    after = _AFTER.fullmatch(name)
    if after is None or after["unit"] not in BENCH_UNITS or after["name"][-1].isdigit():
        return name, ""
    return after["name"], after["unit"]
