"""What is guessed of a measure from its readings and its name; nothing here is known, and the draft says so of each."""

from __future__ import annotations

import math
import re
from collections.abc import Collection
from dataclasses import dataclass, replace
from decimal import Decimal

import numpy as np

from analysis.draft.columns import MeasuredColumn
from analysis.draft.marked import DECIDE
from scoring.expression import LARGEST_NUMBER

#: Words in a column's name after which less is likely better, or more. Common practice of the bench, no source.
LESS_IS_BETTER = frozenset(
    {
        "noise",
        "sound",
        "level",
        "drop",
        "sag",
        "sink",
        "rise",
        "loss",
        "pressure",
        "time",
        "delay",
        "recovery",
        "wobble",
    }
    | {
        "motion",
        "transfer",
        "emission",
        "emissions",
        "voc",
        "tvoc",
        "odour",
        "smell",
        "price",
        "cost",
        "wear",
        "creep",
        "heat",
    }
)
MORE_IS_BETTER = frozenset(
    {"rebound", "bounce", "airflow", "permeability", "durability", "cycles", "strength", "support", "life"}
)
LONGEST_NAME = 40


@dataclass(frozen=True, slots=True)
class Guess:
    """A figure or word that stands in the draft, and what it rests on."""

    value: str
    because: str


def name_of(words: str, taken: Collection[str]) -> str:
    """A name for the form: small letters, digits and underscores, not a digit first, and none that is `taken`."""
    bare = re.sub(r"[^a-z0-9]+", "_", words.casefold()).strip("_")[:LONGEST_NAME].strip("_") or "measure"
    bare = f"m_{bare}" if bare[0].isdigit() else bare
    name, count = bare, 2
    while name in taken:
        name, count = f"{bare}_{count}", count + 1
    return name


def better_of(words: str) -> Guess:
    """Which end of a measure is better, by the words of its name."""
    said = re.split(r"[\W_]+", words.casefold())
    for known, way in ((LESS_IS_BETTER, "lower"), (MORE_IS_BETTER, "higher")):
        for word in said:
            if word in known:
                return Guess(way, f'"{word}" stands in its name')
    return Guess("higher", "nothing in its name says which end is better: DECIDE THIS FIRST")


def plausible_of(column: MeasuredColumn) -> Guess:
    """A range that no true reading leaves: that of the readings, with as much again on either side, but not past 0.

    Readings that look like slips are left out of it and stay outside it, so that whoever scores them is stopped at their cells.
    """
    low, high = least_and_most(without_odd(column))
    span = (high - low) or abs(high) or 1.0
    least = down(low - span) if low < 0 else max(0.0, down(low - span))
    most = up(high + span) if high > 0 else min(0.0, up(high + span))
    below, above = [odd for odd in column.odd if odd < low], [odd for odd in column.odd if odd > high]
    least = max([least, *(down((odd + low) / 2) for odd in below)])
    most = min([most, *(up((odd + high) / 2) for odd in above)])
    least = min([least, *map(down, column.limits)])  # a limit that readings lie below is one of its figures
    ends = apart(max(least, -LARGEST_NUMBER), min(most, LARGEST_NUMBER))
    run = f"readings run from {low:g} to {high:g}"
    room = "as much again is left on either side"
    written = "[{}, {}]".format(*ends)
    if not column.odd:
        return Guess(written, f"{run}; {room}")
    if all(_holds(ends, odd) for odd in column.odd):
        return Guess(written, f"{run}, without {column.why_odd}, which this holds all the same; {room}")
    which = "if it is right, widen this" if len(column.odd) == 1 else "if they are right, widen this"
    because = f"{run}, without {column.why_odd}: {which}; {room}"
    return Guess(written, because if column.is_corrected else f"{DECIDE}: {because}")


def _holds(ends: tuple[str, str], value: float) -> bool:
    return float(ends[0]) <= value <= float(ends[1])


def anchors_of(column: MeasuredColumn, better: str) -> Guess:
    """A straight line over the readings, so that none saturates and none is favoured."""
    low, high = least_and_most(without_odd(column))
    span = (high - low) or abs(high) or 1.0
    step = _step(span)
    least, most = math.floor(low / step) * step, math.ceil(high / step) * step
    ends = apart(least, most)
    worst, best = reversed(ends) if better == "lower" else ends
    because = "straight, from the worst reading to the best" + (f", without {column.why_odd}" if column.odd else "")
    return Guess(f"{{line: {{worst: {worst}, best: {best}}}}}", because)


def without_odd(column: MeasuredColumn) -> MeasuredColumn:
    """The same without readings that look like slips; another reading of the same value stays."""
    kept = column.values.tolist()
    for odd in column.odd:
        if odd in kept:
            kept.remove(odd)
    return replace(column, values=np.array(kept, dtype=np.float64)) if column.odd and kept else column


def least_and_most(column: MeasuredColumn) -> tuple[float, float]:
    """The least and the greatest reading; 0 and 1 where there is none."""
    if not column.values.size:
        return 0.0, 1.0
    return float(column.values.min()), float(column.values.max())


def apart(least: float, most: float) -> tuple[str, str]:
    """Both as they are written; 1 apart where they would be written alike."""
    ends = plain(least), plain(most)
    return ends if float(ends[0]) < float(ends[1]) else (ends[0], plain(float(ends[0]) + 1))


def down(number: float) -> float:
    """A number cut to two figures, towards minus infinity."""
    step = _step(number)
    return math.floor(number / step) * step


def up(number: float) -> float:
    """A number cut to two figures, towards infinity."""
    step = _step(number)
    return math.ceil(number / step) * step


def plain(number: float) -> str:
    """A number in plain decimal, as the form takes it: no exponent, no binary dust.

    Examples
    --------
    >>> plain(0.1 + 0.2), plain(2500000.0), plain(0.00001), plain(96.2)
    ('0.3', '2500000', '0.00001', '96.2')
    """
    text = f"{Decimal(f'{number:.10g}'):.15f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _step(number: float) -> float:
    """The place of a number's second figure."""
    return 10.0 ** (math.floor(math.log10(abs(number))) - 1) if number else 1.0
