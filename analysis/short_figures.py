"""A figure with few digits that does what a longer one does, and that its reader can type in."""

from __future__ import annotations

import math
from collections.abc import Callable
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from typing import TypeVar

Kind = TypeVar("Kind")
#: Digits of a printed change: so many at first, and so many more at most.
DIGITS, MOST_DIGITS = 3, 14


def outward(
    stated: float, needed: float, end: float, certify: Callable[[float], Kind | None]
) -> tuple[str, Kind] | None:
    """A short figure at the needed one or just beyond it, that turns the order round itself, with its certificate.

    The change has three digits, or as many more as it takes; a figure beyond the end of its room is not tried.
    """
    change = needed - stated
    if change == 0:
        return None
    low, high = sorted((stated, end))
    place = math.floor(math.log10(abs(change)))
    rounding = ROUND_CEILING if change > 0 else ROUND_FLOOR
    for digits in range(DIGITS, MOST_DIGITS):
        step = Decimal(1).scaleb(place - digits + 1)
        units = (Decimal(repr(float(needed))) / step).to_integral_value(rounding=rounding)
        text = format((units * step).quantize(min(step, Decimal(1))), "f")
        if not low <= float(text) <= high:
            continue
        certificate = certify(float(text))
        if certificate is not None:
            return text, certificate
    text = format(Decimal(repr(float(needed))), "f")
    certificate = certify(needed)
    return (text, certificate) if certificate is not None else None
