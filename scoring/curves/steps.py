"""A table of steps: each rating holds from its edge up to the next."""

from __future__ import annotations

from sympy import Expr, Piecewise

from scoring.curves.kind import ERROR, HELD, CurveInputs, CurveKind, anchor_ends
from scoring.symbolic.functions import CodePrinter, Tracer, Typesetter, anchor_code, are_numbers
from scoring.symbolic.notation import Cases, Notation, stretches
from scoring.symbolic.stairs import StairTable


class Steps(StairTable):
    """Steps(x, x1, y1, x2, y2, ...): y1 below x2, y2 from x2 up to x3, and so on."""

    jumps_as = "steps"

    def code(self, printer: CodePrinter) -> str:
        name = "steps" if are_numbers(self.args[1:]) else "varying_steps"
        return f"{name}({printer.doprint(self.args[0])}, {anchor_code(printer, self.args[1:])})"

    def elementary(self) -> Expr:
        x, xs, ys = self.args[0], self.args[1::2], self.args[2::2]
        pieces = [(y, x < end) for y, end in zip(ys, xs[1:], strict=False)]
        return Piecewise(*pieces, (ys[-1], True))

    def trace(self, tracer: Tracer) -> str:
        x, xs, ys = self.args[0], self.args[1::2], self.args[2::2]
        index = max((i for i, edge in enumerate(xs) if tracer.value(edge) <= tracer.value(x)), default=0)
        return f"({tracer.text(ys[index])} [the step from {tracer.text(xs[index])} on, for {tracer.text(x)}])"

    def typeset(self, setter: Typesetter) -> Notation:
        x, edges = setter.set(self.args[0]), [setter.set(edge) for edge in self.args[3::2]]
        values = [setter.set(value) for value in self.args[2::2]]
        return Cases(tuple(zip(values, stretches(x, edges, ("<=", "<")), strict=True)))


def _build(inputs: CurveInputs) -> Expr:
    return Steps(inputs.x, *inputs.anchors)


STEPS = CurveKind(
    name="steps",
    says="a table `measure: rating`: each rating holds from its edge up to the next",
    example="steps: {0: 10, 30: 7, 40: 3}",
    anchored=True,
    outside=(HELD, ERROR),
    stepped=True,
    needs_top=False,
    build=_build,
    ends=anchor_ends,
)
