"""Rounding of shown figures where the rules differ, through a score that states its step and rule; no room at all."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from analysis.selftest.closed_case import EXACT, ClosedCase, scored, written

BY_HAND = "worked out by hand: the value is an exact decimal half"
FAQ = "FAQ on decimal arithmetic, 12.345 to four digits: read in a copy"
AIR = "EPA-454/B-24-002, 2024, worked example of ozone: from memory"
#: Value, step, rule, what must be shown, and where that stands.
ROUNDED = (
    (8.25, "0.1", "half-up", 8.3, BY_HAND),
    (8.25, "0.1", "half-even", 8.2, BY_HAND),
    (12.345, "0.01", "half-even", 12.34, FAQ),
    (0.07853333, "0.001", "down", 0.078, AIR),
)


def shown(value: float, step: str, rule: str) -> float:
    """What a score of this value shows."""
    form = written(
        f"formula: closed-case\nscale: {{from: 0, show: {{step: {step}, rule: {rule}}}}}\n"
        'measures: {reading: {unit: "1"}}\nscores: {y: {value: reading}}\n'
    )
    return float(scored(form, {"reading": [value]}, ["only"]).column("y").shown[0])


def rounded(seed: int) -> Iterator[ClosedCase]:  # noqa: ARG001
    """Halves, and a sum whose binary fractions fall just beside one."""
    case = partial(ClosedCase, "rounding", within=0.0, why=EXACT)
    for value, step, rule, published, source in ROUNDED:
        yield case(
            name=f"{value:g} in steps of {step}, {rule}",
            source=source,
            published=published,
            ours=shown(value, step, rule),
        )
    dusty = 0.2 * 7.5 + 0.35 * 8.1 + 0.45 * 8.7
    source = "worked out by hand: the sum is 8.25"
    name = "20, 35 and 45 % of 7.5, 8.1 and 8.7 in steps of 0.1, half-up"
    yield case(name=name, source=source, published=8.3, ours=shown(dusty, "0.1", "half-up"))


GROUPS = (rounded,)
