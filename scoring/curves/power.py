"""A power of the way from worst to best: bends the line, keeps its ends."""

from __future__ import annotations

from collections.abc import Iterator

from sympy import Expr, Integer

from scoring.curves.kind import (
    BEST,
    ERROR,
    HELD,
    WORST,
    CurveInputs,
    CurveKind,
    Keep,
    above_zero,
    between,
    differing,
    number,
    positive,
    two_differ,
)
from scoring.errors import Problem
from scoring.form import Curve
from scoring.symbolic.functions import Clamp
from scoring.units.role import UnitRole


def _build(inputs: CurveInputs) -> Expr:
    worst, best = inputs.number("worst"), inputs.number("best")
    way = Clamp((inputs.x - worst) / (best - worst), Integer(0), Integer(1))
    return inputs.low + (inputs.high - inputs.low) * way ** inputs.number("exponent")


def _faults(curve: Curve) -> Iterator[Problem]:
    yield from two_differ(curve, "worst", "best")
    yield from above_zero(curve, "exponent")


def _keeps(curve: Curve) -> tuple[Keep, ...]:
    return (differing(curve, "worst", "best"), positive(curve, "exponent"))


POWER = CurveKind(
    name="power",
    says="the way from `worst` to `best`, as a share from 0 to 1, raised to `exponent`",
    example="power: {worst: 0, best: 60, exponent: 0.7}",
    keys=(
        number("worst", WORST, UnitRole.ALONG),
        number("best", BEST, UnitRole.ALONG),
        number(
            "exponent",
            "1 is a straight line; below 1 rises fast at first, above 1 fast at the end",
            UnitRole.EXPONENT,
        ),
    ),
    outside=(HELD, ERROR),
    build=_build,
    faults=_faults,
    keeps=_keeps,
    ends=between("worst", "best"),
)
