"""An S-shaped curve that nears both ends of the scale and reaches neither."""

from __future__ import annotations

from collections.abc import Iterator
from math import log

from sympy import Expr, exp

from scoring.curves.kind import BETTER, CurveInputs, CurveKind, Keep, above_zero, choice, number, positive
from scoring.errors import Problem
from scoring.form import Curve
from scoring.units.role import UnitRole


def _build(inputs: CurveInputs) -> Expr:
    distance = (inputs.x - inputs.number("middle")) / inputs.number("spread")
    if inputs.curve.choice("better") == "higher":
        distance = -1 * distance
    return inputs.low + (inputs.high - inputs.low) / (1 + exp(distance))


def _faults(curve: Curve) -> Iterator[Problem]:
    yield from above_zero(curve, "spread")


def _tenth_to_nine_tenths(curve: Curve) -> tuple[float, float]:
    """Where it is a tenth and nine tenths of the way up."""
    middle, reach = curve.number("middle").value, log(9) * curve.number("spread").value
    return middle - reach, middle + reach


def _keeps(curve: Curve) -> tuple[Keep, ...]:
    return (positive(curve, "spread"),)


LOGISTIC = CurveKind(
    name="logistic",
    says="S-shaped: half way up at `middle`; three quarters of the way 1.0986 `spread` further on",
    example="logistic: {middle: 35, spread: 3, better: lower}",
    keys=(
        number("middle", "the reading that gets the middle of the scale", UnitRole.ALONG),
        number("spread", "how far the S stretches: one spread on, it is at 73 % of the way", UnitRole.LENGTH),
        choice("better", BETTER, ("higher", "lower")),
    ),
    build=_build,
    faults=_faults,
    keeps=_keeps,
    span=_tenth_to_nine_tenths,
)
