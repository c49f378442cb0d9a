"""A straight line in the logarithm of the measure."""

from __future__ import annotations

from collections.abc import Iterator

from sympy import Expr, log

from scoring.curves.kind import (
    BEST,
    ERROR,
    EXTENDED,
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
    share_of_span,
    two_differ,
)
from scoring.errors import Problem
from scoring.form import Curve
from scoring.symbolic.functions import Clamp
from scoring.units.role import UnitRole


def _build(inputs: CurveInputs) -> Expr:
    worst, best = log(inputs.number("worst")), log(inputs.number("best"))
    line = share_of_span(inputs, worst, best, inputs.held_at(log(inputs.x), (worst, best)))
    return line if any(inputs.carried_on) else Clamp(line, inputs.low, inputs.high)


def _faults(curve: Curve) -> Iterator[Problem]:
    yield from two_differ(curve, "worst", "best")
    yield from above_zero(curve, "worst", "best")


def _keeps(curve: Curve) -> tuple[Keep, ...]:
    return (differing(curve, "worst", "best"), positive(curve, "worst"), positive(curve, "best"))


LOG = CurveKind(
    name="log",
    says="straight in the logarithm of the measure, from `worst` to `best`, both above 0; a reading below 0 has no rating",
    example="log: {worst: 40, best: 0.4}",
    keys=(number("worst", WORST, UnitRole.ALONG), number("best", BEST, UnitRole.ALONG)),
    outside=(HELD, EXTENDED, ERROR),
    ratio_scaled=True,
    build=_build,
    faults=_faults,
    keeps=_keeps,
    ends=between("worst", "best"),
    in_ratios=True,
)
