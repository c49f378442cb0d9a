"""A broken line through anchors."""

from __future__ import annotations

from sympy import Expr

from scoring.curves.kind import ERROR, EXTENDED, HELD, CurveInputs, CurveKind, anchor_ends
from scoring.symbolic.broken_line import Beyond, Points


def _build(inputs: CurveInputs) -> Expr:
    line = Points(inputs.x, *inputs.anchors)
    if not any(inputs.carried_on):
        return line
    places = inputs.anchors[::2]
    return line + Beyond(inputs.held_at(inputs.x, (places[0], places[-1])), *inputs.anchors)


POINTS = CurveKind(
    name="points",
    says="a broken line through anchors, each written `measure: rating`",
    example="points: {40: 10, 80: 6, 135: 1}",
    anchored=True,
    outside=(HELD, EXTENDED, ERROR),
    needs_top=False,
    build=_build,
    ends=anchor_ends,
)
