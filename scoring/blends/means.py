"""Means: weighted arithmetic, geometric, harmonic, power."""

from __future__ import annotations

from collections.abc import Sequence

from sympy import Expr, exp, log

from scoring.blends.blend import Blend, whole_weight
from scoring.declaration import NumberKey, kinds
from scoring.numbers.intervals import ONE, Interval
from scoring.symbolic.functions import CodePrinter, Tracer, Typesetter
from scoring.symbolic.notation import Notation, Number, add, divide, multiply, power
from scoring.units.role import UnitRole


class WeightedMean(Blend):
    """sum(w r) / sum(w)."""

    name = "weighted mean"
    says = "strength in one part pays for weakness in another, in proportion to the weights"
    additive = True
    equivariant = True
    rival = "geometric mean"


class GeometricMean(Blend):
    """exp(sum(w ln r) / sum(w)); 0 where a part is 0."""

    name = "geometric mean"
    says = "weakness costs more than strength gains; a part at 0 takes the whole to 0"
    least_value = 0.0
    rival = "weighted mean"

    def term(self, value: str, printer: CodePrinter) -> str:  # noqa: ARG002
        return f"log({value})"

    def term_exactly(self, value: Expr) -> Expr:
        return log(value)

    def back(self, mean: str, printer: CodePrinter) -> str:  # noqa: ARG002
        return f"exp({mean})"

    def back_exactly(self, mean: Expr) -> Expr:
        return exp(mean)

    def forth_within(self, value: Interval, lead: Sequence[Interval]) -> Interval:  # noqa: ARG002
        return value.log()

    def back_within(self, mean: Interval, lead: Sequence[Interval]) -> Interval:  # noqa: ARG002
        return mean.exp()

    def rise_within(self, whole: Interval, value: Interval, lead: Sequence[Interval]) -> Interval:  # noqa: ARG002
        return whole / value

    def typeset(self, setter: Typesetter) -> Notation:
        """The product of the parts, each to the power of its weight, to the power of 1 over the whole weight."""
        parts = self.set_parts(setter)
        product = multiply(*(value if weight is None else power(value, weight) for weight, value in parts))
        return power(product, divide(Number("1"), whole_weight(parts)))

    def trace_term(self, value: str, tracer: Tracer) -> str:  # noqa: ARG002
        return f"log({value})"

    def trace_back(self, mean: str, tracer: Tracer) -> str:  # noqa: ARG002
        return f"(exp({mean}))"


class HarmonicMean(Blend):
    """sum(w) / sum(w / r); 0 where a part is 0."""

    name = "harmonic mean"
    says = "weakness costs more still: the mean of the reciprocals, turned back"
    least_value = 0.0
    rival = "weighted mean"

    def term(self, value: str, printer: CodePrinter) -> str:  # noqa: ARG002
        return f"(1.0/nonnegative({value}))"

    def term_exactly(self, value: Expr) -> Expr:
        return 1 / value

    def back(self, mean: str, printer: CodePrinter) -> str:  # noqa: ARG002
        return f"1.0/({mean})"

    def back_exactly(self, mean: Expr) -> Expr:
        return 1 / mean

    def forth_within(self, value: Interval, lead: Sequence[Interval]) -> Interval:  # noqa: ARG002
        return ONE / value

    def back_within(self, mean: Interval, lead: Sequence[Interval]) -> Interval:  # noqa: ARG002
        return ONE / mean

    def rise_within(self, whole: Interval, value: Interval, lead: Sequence[Interval]) -> Interval:  # noqa: ARG002
        return (whole / value).power(2)

    def typeset(self, setter: Typesetter) -> Notation:
        parts = self.set_parts(setter)
        reciprocals = add(*(divide(Number("1") if weight is None else weight, value) for weight, value in parts))
        return divide(whole_weight(parts), reciprocals)

    def trace(self, tracer: Tracer) -> str:
        there = [(tracer.text(w), tracer.text(v)) for w, here, v in self.triples if tracer.value(here) > 0]
        total = " + ".join(weight for weight, _ in there)
        return f"(({total})/({' + '.join(f'{weight}/{value}' for weight, value in there)}))"


class PowerMean(Blend):
    """(sum(w r**e) / sum(w)) ** (1/e)."""

    name = "power mean"
    says = "the mean of the parts raised to `exponent`, turned back; below 1 it punishes weakness, above 1 rewards strength"
    least_value = 0.0
    rival = "weighted mean"
    numbers = (
        NumberKey(
            kinds.Number(
                UnitRole.EXPONENT,
                least=-64,
                most=64,
                never=0,
                instead="`blend: geometric mean`, which is what exponent 0 means",
            ),
            "The exponent of `blend: power mean`, which needs one: any number but 0 (1 is the weighted mean, -1 the harmonic).",
            "exponent: 0.5",
            name="exponent",
        ),
    )

    def term(self, value: str, printer: CodePrinter) -> str:
        return f"nonnegative({value})**({printer.doprint(self.own('exponent'))})"

    def term_exactly(self, value: Expr) -> Expr:
        return value ** self.own("exponent")

    def back(self, mean: str, printer: CodePrinter) -> str:
        return f"({mean})**(1.0/({printer.doprint(self.own('exponent'))}))"

    def back_exactly(self, mean: Expr) -> Expr:
        return mean ** (1 / self.own("exponent"))

    def forth_within(self, value: Interval, lead: Sequence[Interval]) -> Interval:
        return value.raised(lead[0])

    def back_within(self, mean: Interval, lead: Sequence[Interval]) -> Interval:
        return mean.raised(ONE / lead[0])

    def rise_within(self, whole: Interval, value: Interval, lead: Sequence[Interval]) -> Interval:
        return (whole / value).raised(ONE - lead[0])

    def typeset_term(self, value: Notation, setter: Typesetter) -> Notation:
        return power(value, setter.set(self.own("exponent")))

    def typeset_back(self, mean: Notation, setter: Typesetter) -> Notation:
        return power(mean, divide(Number("1"), setter.set(self.own("exponent"))))

    def trace_term(self, value: str, tracer: Tracer) -> str:
        return f"({value})**({tracer.text(self.own('exponent'))})"

    def trace_back(self, mean: str, tracer: Tracer) -> str:
        return f"(({mean})**(1/({tracer.text(self.own('exponent'))})))"
