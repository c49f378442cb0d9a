"""The weakest or the strongest part alone."""

from __future__ import annotations

from collections.abc import Sequence

from sympy import Expr, Max, Min, Piecewise, S

from scoring.blends.blend import Blend, Weights
from scoring.blends.intervals import there, triples_of, turned
from scoring.numbers.intervals import EVERYWHERE, UNIT, ZERO, Interval
from scoring.symbolic.functions import CodePrinter, Tracer, Typesetter, pairwise_code
from scoring.symbolic.notation import Notation, call


class Minimum(Blend):
    """The least of the parts that are present; weights play no part beyond 0 leaving a part out."""

    name = "minimum"
    says = "the weakest part alone decides"
    weights = Weights.MARKS
    alone = True
    equivariant = True
    word, blank = "minimum", "inf"

    def code(self, printer: CodePrinter) -> str:
        codes = []
        for weight, here, value in self.triples:
            code = printer.doprint(value)
            tests = [] if here == 1 else [f"({printer.doprint(here)} > 0)"]
            tests += [] if weight.is_number and weight > 0 else [f"({printer.doprint(weight)} > 0)"]
            codes.append(f"where({'*'.join(tests)}, {code}, {self.blank})" if tests else code)
        return pairwise_code(self.word, codes)

    def elementary(self) -> Expr:
        blank = S.Infinity if self.blank == "inf" else S.NegativeInfinity
        values = [
            value
            if here == 1 and weight.is_number and weight > 0
            else Piecewise((value, weight * here > 0), (blank, True))
            for weight, here, value in self.triples
        ]
        return Min(*values) if self.blank == "inf" else Max(*values)

    def trace(self, tracer: Tracer) -> str:
        there = [value for weight, here, value in self.triples if tracer.value(here) * tracer.value(weight) > 0]
        best = (min if self.word == "minimum" else max)(there, key=tracer.value)
        return f"({tracer.text(best)} [the {self.word} of {', '.join(tracer.text(value) for value in there)}])"

    def typeset(self, setter: Typesetter) -> Notation:
        values = [value for _, value in self.set_parts(setter)]
        return values[0] if len(values) == 1 else call(self.word[:3], *values)

    def enclose(self, args: Sequence[Interval]) -> Interval:
        """The least is at most any part that is surely there; parts that may be missing can only lift it."""
        parts = there(args)
        if not parts:
            return EVERYWHERE
        certain = [value.high for weight, here, value in parts if here.low > 0 and weight.low > 0]
        low = min(value.low for _, _, value in parts)
        return Interval(low, min(certain) if certain else max(value.high for _, _, value in parts))

    def slopes(self, args: Sequence[Interval]) -> tuple[Interval, ...]:
        """0 for a part that is never the least, else between 0 and 1."""
        whole, slopes = self.enclose(args), []
        for weight, here, value in triples_of(args):
            alone = weight.high <= 0 or here.high <= 0 or value.low > whole.high
            slopes += [EVERYWHERE, EVERYWHERE, ZERO if alone else UNIT]
        return tuple(slopes)


class Maximum(Minimum):
    """The greatest of the parts that are present."""

    name = "maximum"
    says = "the strongest part alone decides"
    word, blank = "maximum", "(-inf)"

    def enclose(self, args: Sequence[Interval]) -> Interval:
        """As for the least, with every sign turned round."""
        return -super().enclose(turned(args))

    def slopes(self, args: Sequence[Interval]) -> tuple[Interval, ...]:
        """As for the least, with every sign turned round."""
        whole, slopes = self.enclose(args), []
        for weight, here, value in triples_of(args):
            alone = weight.high <= 0 or here.high <= 0 or value.high < whole.low
            slopes += [EVERYWHERE, EVERYWHERE, ZERO if alone else UNIT]
        return tuple(slopes)
