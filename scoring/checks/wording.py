"""Words that several findings share."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

from scoring.checks.domain import Domain
from scoring.checks.findings import Case
from scoring.checks.proving import Attempt, Box
from scoring.form import Measure
from scoring.units.role import in_unit

MOST_NAMED = 3
#: A figure of more digits than these is a double that no person types.
MOST_DIGITS = 15
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?(?:e-?\d+)?")


def advice(domain: Domain, output: str) -> str:
    """What would help a proof: a plausible range for each measure that has none."""
    bare = [name for name in domain.leans_on(output) if name in domain.bare]
    return f"; give {_the_measures(bare)} a plausible range" if bare else ""


def at_inputs(case: Case) -> str:
    """The inputs of a case in one phrase, or nothing where there are too many to read."""
    if not 0 < len(case.inputs) <= MOST_NAMED:
        return " there"
    return " where " + ", ".join(f"{name} = {as_typed(text, unit)}" for name, text, unit in case.inputs)


def as_typed(text: str, unit: str) -> str:
    """An input as a person reads it, with its unit: a double that no short decimal is stands just beside one.

    Examples
    --------
    >>> as_typed("0.09999999999999999", "%"), as_typed("12.5", "mm"), as_typed("does not apply", "%")
    ('just below 0.1 %', '12.5 mm', 'does not apply')
    """
    if len(text.replace(".", "").lstrip("-0")) <= MOST_DIGITS or not _NUMBER.fullmatch(text):
        return in_unit(text, unit)
    value, short = float(text), f"{float(text):.13g}"
    side = "just below " if value < float(short) else "just above " if value > float(short) else ""
    return f"{side}{in_unit(short, unit)}"


def give_a_range(domain: Domain, output: str) -> str:
    """Which measures were held above 0, and what to do about it."""
    held = list(domain.held_above_zero(output))
    return f"{listed(held)} above 0 only; give {_the_measures(held)} a plausible range"


def open_after(attempts: Sequence[Attempt]) -> str:
    """How far a proof went before it gave up, and what ended it where that was the work set aside."""
    boxes = sum(attempt.boxes for attempt in attempts)
    spent = any(attempt.spent for attempt in attempts)
    looked_at = "1 box" if boxes == 1 else f"{boxes} boxes"
    return f"open after {looked_at}" + (", where the work set aside for proofs was spent" if spent else "")


def open_between(boxes: Sequence[Box], slot: int, measure: Measure) -> str:
    """The stretch of a measure that a proof left open."""
    sides = [box[slot] for box in boxes if slot in box]
    if not sides:
        return ""
    low, high = min(side.low for side in sides), max(side.high for side in sides)
    if math.isinf(low) or math.isinf(high):
        return ""
    return f", between {low:.6g} and {in_unit(f'{high:.6g}', measure.unit)} of {measure.name}"


def _the_measures(names: list[str]) -> str:
    return f"the measure{'s' if len(names) > 1 else ''} {listed(names)}"


def listed(names: list[str]) -> str:
    quoted = [f"`{name}`" for name in names]
    return quoted[0] if len(quoted) == 1 else ", ".join(quoted[:-1]) + f" and {quoted[-1]}"
