"""Sums and products: weights are multipliers and powers here, not shares."""

from __future__ import annotations

from collections.abc import Sequence

from sympy import Add, Expr, exp

from scoring.blends.blend import Blend, Weights, weighted
from scoring.blends.intervals import sum_of, triples_of
from scoring.blends.means import GeometricMean, WeightedMean
from scoring.numbers.intervals import EVERYWHERE, Interval
from scoring.symbolic.branches import Counted
from scoring.symbolic.functions import CodePrinter, Tracer, Typesetter
from scoring.symbolic.notation import Notation, add, multiply, power


def _total(blend: Blend) -> Expr:
    return Add(*(weight for weight, _, _ in blend.triples))


class WeightedSum(WeightedMean):
    """sum(w r), each weight a multiplier."""

    name = "sum"
    says = "the parts times their weights, added up; weights are multipliers here, not shares"
    weights = Weights.MULTIPLIERS
    internal = False
    equivariant = False

    def code(self, printer: CodePrinter) -> str:
        return self._made_up_code(printer)

    def back_exactly(self, mean: Expr) -> Expr:
        return mean * _total(self)

    def typeset(self, setter: Typesetter) -> Notation:
        return add(*(weighted(weight, value) for weight, value in self.set_parts(setter)))

    def trace(self, tracer: Tracer) -> str:
        counted = [
            triple for triple in self.triples if not isinstance(triple[0], Counted) or tracer.value(triple[0]) > 0
        ]
        there = [(w, v) for w, here, v in counted if tracer.value(here) > 0]
        terms = " + ".join(
            v if w == "1" else f"{w}*{v}" for w, v in ((tracer.text(w), tracer.text(v)) for w, v in there)
        )
        if len(there) == len(counted):
            return f"({terms})"
        total = " + ".join(tracer.text(weight) for weight, _, _ in counted)
        present = " + ".join(tracer.text(weight) for weight, _ in there)
        return f"(({total})*({terms})/({present}))"

    def enclose(self, args: Sequence[Interval]) -> Interval:
        """Weights times values, or, where parts may be missing, their mean times the sum of all weights."""
        triples = triples_of(args)
        if all(here.low > 0 for _, here, _ in triples):
            return sum_of([weight * value for weight, _, value in triples])
        return sum_of([weight for weight, _, _ in triples]) * super().enclose(args)

    def slopes(self, args: Sequence[Interval]) -> tuple[Interval, ...]:
        """A part's weight, or, where parts may be missing, its share times the sum of all weights."""
        triples = triples_of(args)
        if all(here.low > 0 for _, here, _ in triples):
            return tuple(s for weight, _, _ in triples for s in (EVERYWHERE, EVERYWHERE, weight))
        total = sum_of([weight for weight, _, _ in triples])
        shares = super().slopes(args)[2::3]
        return tuple(s for share in shares for s in (EVERYWHERE, EVERYWHERE, share * total))


class WeightedProduct(GeometricMean):
    """product(r ** w)."""

    name = "product"
    says = "the parts, each to the power of its weight, multiplied"
    weights = Weights.MULTIPLIERS
    internal = False

    def code(self, printer: CodePrinter) -> str:
        return f"exp({self._made_up_code(printer)})"

    def back_exactly(self, mean: Expr) -> Expr:
        return exp(mean * _total(self))

    def typeset(self, setter: Typesetter) -> Notation:
        parts = self.set_parts(setter)
        return multiply(*(value if weight is None else power(value, weight) for weight, value in parts))

    def trace_back(self, mean: str, tracer: Tracer) -> str:
        total = " + ".join(tracer.text(weight) for weight, _, _ in self.triples)
        return f"(exp(({total})*{mean}))"

    def enclose(self, args: Sequence[Interval]) -> Interval:
        """The geometric mean to the power of the sum of all weights."""
        mean = super().enclose(args)
        total = sum_of([weight for weight, _, _ in triples_of(args)])
        return EVERYWHERE if mean.low < 0 else (mean.log() * total).exp()

    def slopes(self, args: Sequence[Interval]) -> tuple[Interval, ...]:
        """The slope of a geometric mean of this value, times the sum of all weights."""
        total = sum_of([weight for weight, _, _ in triples_of(args)])
        return tuple(slope * total for slope in super().slopes(args))
