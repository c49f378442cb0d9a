"""Readings that look like slips: ten times their neighbours or a tenth, and values that fit another unit than their header's."""

from __future__ import annotations

import bisect
import itertools
import math
import re
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from analysis.draft.measured import Look, Measured, Reading

#: By how much a reading must leave all others behind, before it is said to be ten times its neighbours.
_FAR = 2.5
#: How many times the least of a measure's readings its greatest may be, where one is to be told for a slip by them.
_WIDEST = 6.0
#: How near ten times a reading is to the other repeats of its own row.
_NEARLY = (8.0, 12.5)
_FEWEST = 5
#: Of more slips than these, and more than a twentieth of the readings, none is one: the measure is like that.
_MOST_SLIPS = 3


@dataclass(frozen=True, slots=True)
class Slipped:
    """A reading whose point seems to have slipped: `times` is 10, or 0.1; `look` is the table that it stands in."""

    reading: Reading
    cell: str
    times: float
    beside: float
    look: Look | None = None


def told_slip(slip: Slipped) -> str:
    """A slipped reading in a few words.

    Examples
    --------
    >>> told_slip(Slipped(Reading(380.0, 31, 10), "K38", 10.0, 43.0))
    'K38 (380, ten times its neighbours)'
    """
    times = "ten times its neighbours" if slip.times > 1 else "a tenth of its neighbours"
    return f"{slip.cell} ({slip.reading.value:g}, {times})"


@dataclass(frozen=True, slots=True)
class OtherUnit:
    """Values that look like another unit than the header's: all of a measure, or some, the first of which is in `cell`."""

    unit: str
    count: int
    of: int
    cell: str
    least: float
    most: float


def slipped(measure: Measured) -> list[Slipped]:
    """Readings ten times their neighbours, or a tenth of them."""
    found = []
    by_row: dict[int, list[Reading]] = {}
    for reading in measure.readings:
        by_row.setdefault(reading.row, []).append(reading)
    is_signed = any(value < 0 for value in measure.values)
    values = [] if is_signed else sorted(value for value in measure.values if value > 0)
    for reading in measure.readings:
        own = [one.value for one in by_row[reading.row] if one is not reading and one.value > 0]
        times = _times_own(reading.value, own) or _times_all(reading.value, values)
        if times:
            beside = statistics.median(own or values)
            found.append(Slipped(reading, measure.cell(reading), times, beside, measure.look))
    return found if len(found) <= max(_MOST_SLIPS, len(measure.readings) // 20) else []


def _times_own(value: float, own: Sequence[float]) -> float:
    """10 or 0.1 where a reading is so many times the other repeats of its row, of which there are two or more; else 0."""
    if value <= 0 or len(own) < 2 or max(own) > 2 * min(own):
        return 0.0
    ratio = value / statistics.median(own)
    if _NEARLY[0] <= ratio <= _NEARLY[1]:
        return 10.0
    return 0.1 if _NEARLY[0] <= 1 / ratio <= _NEARLY[1] else 0.0


def _times_all(value: float, values: Sequence[float]) -> float:
    """10 or 0.1 where a reading stands far from all of a measure's, and among them with its point moved; else 0.

    `values` are in order. Repeats of one row may have slipped together: up to three readings are left out of what it is
    compared with.
    """
    if value <= 0 or len(values) < _FEWEST:
        return 0.0
    upper = values[: bisect.bisect_right(values, value / _FAR)]
    if len(upper) >= max(len(values) - 3, _FEWEST - 1) and _among(value / 10, upper):
        return 10.0
    lower = values[bisect.bisect_left(values, value * _FAR) :]
    if len(lower) >= max(len(values) - 3, _FEWEST - 1) and _among(value * 10, lower):
        return 0.1
    return 0.0


def _among(value: float, others: Sequence[float]) -> bool:
    """Whether a value lies among others, in order, that lie close enough together to tell."""
    least, most = others[0], others[-1]
    return most <= _WIDEST * least and least / 1.3 <= value <= most * 1.3


#: What a bench reads of a bed, by words of the header: the unit, and between what readings of it lie. Common practice, no source.
_USUAL = (
    (
        re.compile(r"drop|sag|sink|depression|deflection|indent|height loss|compression", re.IGNORECASE),
        "mm",
        (8.0, 260.0),
    ),
    (re.compile(r"temp|temperature", re.IGNORECASE), "degC", (10.0, 48.0)),
    (re.compile(r"\bnoise\b|\bsound\b", re.IGNORECASE), "dB", (10.0, 95.0)),
)
#: Units of one kind: how a figure in the first unit of the kind is written in each.
_LENGTHS = {"mm": 1.0, "cm": 10.0, "in": 25.4, "m": 1000.0}
_SPELT = {
    **dict.fromkeys(("mm", "millimetre", "millimeter"), "mm"),
    **dict.fromkeys(("cm",), "cm"),
    **dict.fromkeys(("in", "inch", "inches"), "in"),
    **dict.fromkeys(("m",), "m"),
    **dict.fromkeys(("degC", "°C", "ºC", "C", "celsius", "Celsius", "deg C"), "degC"),
    **dict.fromkeys(("degF", "°F", "ºF", "F", "fahrenheit", "Fahrenheit", "deg F"), "degF"),
}
_DIFFERENCES = re.compile(r"rise|change|difference|delta|gain|fall|increase|drop in temp", re.IGNORECASE)


def other_unit(measure: Measured) -> OtherUnit | None:
    """The unit that the values of a measure look like, where that is not the one of the header; None where they fit."""
    stated = _SPELT.get(measure.head.unit, "")
    usual = next((one for one in _USUAL if one[0].search(measure.head.words)), None)
    positive = [reading for reading in measure.readings if reading.value > 0]
    if len(positive) < _FEWEST:
        return None
    if measure.head.unit == "%" and max(one.value for one in positive) <= 1:
        return _said(measure, positive, positive, "shares of 1")
    if stated in ("degC", "degF"):
        is_difference = bool(_DIFFERENCES.search(measure.head.words))
        return None if is_difference else _of_temperatures(measure, positive, stated)
    if not stated:
        return None
    some = _some_of_another(measure, positive, stated)
    if some or usual is None or usual[1] != "mm":
        return some
    middle = statistics.median(reading.value for reading in positive)
    least, most = usual[2]
    if least <= middle * _LENGTHS[stated] <= most:
        return None
    fits = [unit for unit, size in _LENGTHS.items() if unit not in (stated, "m") and least <= middle * size <= most]
    best = "in" if "in" in fits else next(iter(fits), "")  # inches are typed into a column of mm more often than cm
    return _said(measure, positive, positive, best) if best else None


def _some_of_another(measure: Measured, readings: Sequence[Reading], stated: str) -> OtherUnit | None:
    """Some readings as many times less (or more) than the rest as another unit is larger (or smaller)."""
    ordered = sorted(readings, key=lambda reading: reading.value)
    gaps = [new.value / old.value for old, new in itertools.pairwise(ordered)]
    split = gaps.index(max(gaps)) + 1
    low, high = ordered[:split], ordered[split:]
    if max(gaps) < 3 or min(len(low), len(high)) < max(2, len(ordered) // 25):
        return None
    ratio = statistics.median(one.value for one in high) / statistics.median(one.value for one in low)
    fewer, is_low = (low, True) if len(low) <= len(high) else (high, False)
    factors = {unit: size / _LENGTHS[stated] for unit, size in _LENGTHS.items() if unit not in (stated, "m")}
    by_how_much = {unit: factor if is_low else 1 / factor for unit, factor in factors.items()}
    unit, factor = min(by_how_much.items(), key=lambda one: abs(math.log(ratio / one[1])))
    is_near = factor > 2 and factor / 1.6 <= ratio <= factor * 1.6
    return _said(measure, fewer, readings, unit) if is_near else None


def _of_temperatures(measure: Measured, readings: Sequence[Reading], stated: str) -> OtherUnit | None:
    """Readings in degC that are as large as those in degF, or the other way."""
    least, most = _USUAL[1][2]
    if stated == "degC":
        strange, unit = [one for one in readings if most < one.value <= 125], "degF"
    else:
        strange, unit = [one for one in readings if least <= one.value < 50], "degC"
    is_far = len(strange) >= max(2, len(readings) // 25)
    return _said(measure, strange, readings, unit) if is_far else None


def _said(measure: Measured, strange: Sequence[Reading], of: Sequence[Reading], unit: str) -> OtherUnit:
    values = [reading.value for reading in strange]
    first = min(strange, key=lambda reading: (reading.row, reading.column))
    return OtherUnit(unit, len(strange), len(of), measure.cell(first), min(values), max(values))
