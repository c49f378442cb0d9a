"""A straight line between a worst and a best anchor."""

from __future__ import annotations

from collections.abc import Iterator

from sympy import Expr

from scoring.curves.kind import (
    BEST,
    ERROR,
    EXTENDED,
    HELD,
    WORST,
    CurveInputs,
    CurveKind,
    Keep,
    between,
    differing,
    number,
    share_of_span,
    two_differ,
)
from scoring.errors import Problem
from scoring.form import Curve
from scoring.symbolic.functions import Clamp
from scoring.units.role import UnitRole


def _build(inputs: CurveInputs) -> Expr:
    worst, best = inputs.number("worst"), inputs.number("best")
    line = share_of_span(inputs, worst, best, inputs.held_at(inputs.x, (worst, best)))
    return line if any(inputs.carried_on) else Clamp(line, inputs.low, inputs.high)


def _faults(curve: Curve) -> Iterator[Problem]:
    yield from two_differ(curve, "worst", "best")


def _keeps(curve: Curve) -> tuple[Keep, ...]:
    return (differing(curve, "worst", "best"),)


LINE = CurveKind(
    name="line",
    says="straight from the scale's low end at `worst` to its high end at `best`",
    example="line: {worst: 46, best: 22}",
    keys=(number("worst", WORST, UnitRole.ALONG), number("best", BEST, UnitRole.ALONG)),
    outside=(HELD, EXTENDED, ERROR),
    build=_build,
    faults=_faults,
    keeps=_keeps,
    ends=between("worst", "best"),
)
