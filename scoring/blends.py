"""Blends: how a rating or score combines its parts. Presence is part of each: a missing part carries no weight.

Each blend is a symbolic function of triples (weight, here, value). `here` is 1 where the part is present, else 0. With
W = sum of w*here, the reweighted weighted mean is sum(w*here*r) / W, and so on. A sum is the weighted mean times the sum of
all weights, and a product the geometric mean to that power, so that a missing part shifts neither towards 0.
Sources: OECD/JRC, Handbook on Constructing Composite Indicators, 2008, step 6 (linear and geometric aggregation); Hardy,
Littlewood and Polya, Inequalities, 1934, ch. 2 (power means; from memory).
"""

from __future__ import annotations

from collections.abc import Sequence

from sympy import Add, Expr, Max, Min, Piecewise, S, exp, log

from scoring.blend_intervals import mean_within, share_of, sum_of, there, triples_of, turned
from scoring.functions import CodePrinter, OwnFunction, Tracer, are_numbers, pairwise_code, sum_code
from scoring.intervals import EVERYWHERE, ONE, UNIT, ZERO, Interval, hull_of


class Blend(OwnFunction):
    """A blend of triples (weight, here, value); `lead` arguments come before them."""

    lead = 0
    name = ""
    says = ""
    least_value = -float("inf")

    @property
    def triples(self) -> list[tuple[Expr, Expr, Expr]]:
        """(weight, here, value) of each part."""
        rest = self.args[self.lead :]
        return list(zip(rest[::3], rest[1::3], rest[2::3], strict=True))

    def term(self, value: str, printer: CodePrinter) -> str:  # noqa: ARG002
        """What is averaged, as code."""
        return value

    def term_exactly(self, value: Expr) -> Expr:
        """What is averaged, in plain sympy."""
        return value

    def back(self, mean: str, printer: CodePrinter) -> str:  # noqa: ARG002
        """The blend from the mean of the terms, as code."""
        return mean

    def back_exactly(self, mean: Expr) -> Expr:
        """The blend from the mean of the terms, in plain sympy."""
        return mean

    def numpy(self, printer: CodePrinter) -> str:
        return self.back(self._mean_code(printer), printer)

    def _mean_code(self, printer: CodePrinter) -> str:
        """The weighted mean of the terms; weights that are plain numbers with every part present are divided beforehand."""
        triples = self.triples
        certain = all(here == 1 for _, here, _ in triples)
        if certain and are_numbers([weight for weight, _, _ in triples]):
            total = sum(float(weight) for weight, _, _ in triples)
            return self._sum_code(printer, [repr(float(weight) / total) for weight, _, _ in triples])
        weights = [printer.doprint(weight) for weight, _, _ in triples]
        present = [
            weight if here == 1 else f"{weight}*{printer.doprint(here)}"
            for weight, (_, here, _) in zip(weights, triples, strict=True)
        ]
        return f"({self._sum_code(printer, weights)})/({sum_code(present)})"

    def _sum_code(self, printer: CodePrinter, weights: Sequence[str]) -> str:
        terms = []
        for weight, (share, here, value) in zip(weights, self.triples, strict=True):
            if share.is_zero:  # 0 times the logarithm of 0 is no number; a part without weight says nothing
                continue
            term = self.term(printer.doprint(value), printer)
            if not share.is_number and self.least_value == 0:
                term = f"where({weight}, {term}, 0.0)"
            terms.append(f"{weight}*{term}" if here == 1 else f"{weight}*where({printer.doprint(here)}, {term}, 0.0)")
        return sum_code(terms)

    def elementary(self) -> Expr:
        triples = self.triples
        terms = [
            weight
            * (self.term_exactly(value) if here == 1 else Piecewise((self.term_exactly(value), here > 0), (0, True)))
            for weight, here, value in triples
            if not weight.is_zero
        ]
        return self.back_exactly(Add(*terms) / Add(*(weight * here for weight, here, _ in triples)))

    def trace(self, tracer: Tracer) -> str:
        """The mean of the parts that are there, then the way back."""
        there = [(weight, value) for weight, here, value in self.triples if tracer.value(here) > 0]
        terms = " + ".join(f"{tracer.text(w)}*{self.trace_term(tracer.text(v), tracer)}" for w, v in there)
        total = " + ".join(tracer.text(w) for w, _ in there)
        return self.trace_back(f"({terms})/({total})", tracer)

    def trace_term(self, value: str, tracer: Tracer) -> str:  # noqa: ARG002
        """What is averaged, as a person would key it in."""
        return value

    def trace_back(self, mean: str, tracer: Tracer) -> str:  # noqa: ARG002
        """The blend from the mean of the terms, as a person would key it in."""
        return f"({mean})"

    def forth_within(self, value: Interval, lead: Sequence[Interval]) -> Interval:  # noqa: ARG002
        """What is averaged, as an interval."""
        return value

    def back_within(self, mean: Interval, lead: Sequence[Interval]) -> Interval:  # noqa: ARG002
        """The blend from the mean of the terms, as an interval."""
        return mean

    def rise_within(self, whole: Interval, value: Interval, lead: Sequence[Interval]) -> Interval:  # noqa: ARG002
        """The slope in one part, as a multiple of its share of the weight."""
        return ONE

    def enclose(self, args: Sequence[Interval]) -> Interval:
        """The blend of the terms, between the least and greatest of the parts that may be there."""
        lead, parts = args[: self.lead], there(args[self.lead :])
        if not parts or any(value.low < self.least_value for _, _, value in parts):
            return EVERYWHERE
        mean = mean_within([(weight, here, self.forth_within(value, lead)) for weight, here, value in parts])
        return self.back_within(mean, lead).meet(hull_of([value for _, _, value in parts]))

    def slopes(self, args: Sequence[Interval]) -> tuple[Interval, ...]:
        """A part's slope is its share of the weight times a factor that is never below 0."""
        lead, triples = args[: self.lead], triples_of(args[self.lead :])
        parts, whole = there(args[self.lead :]), self.enclose(args)
        slopes = [EVERYWHERE] * self.lead
        known = all(value.low >= self.least_value for _, _, value in parts)
        for index, (_, _, value) in enumerate(triples):
            share = share_of(index, triples)
            rise = self.rise_within(whole, value, lead).greater_of(ZERO) if known and not share.is_zero else EVERYWHERE
            slopes += [EVERYWHERE, EVERYWHERE, share * rise]
        return tuple(slopes)


def _total(blend: Blend) -> Expr:
    return Add(*(weight for weight, _, _ in blend.triples))


class WeightedMean(Blend):
    """sum(w r) / sum(w)."""

    name = "weighted mean"
    says = "strength in one part pays for weakness in another, in proportion to the weights"


class GeometricMean(Blend):
    """exp(sum(w ln r) / sum(w)); 0 where a part is 0."""

    name = "geometric mean"
    says = "weakness costs more than strength gains; a part at 0 takes the whole to 0"
    least_value = 0.0

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

    def trace_term(self, value: str, tracer: Tracer) -> str:  # noqa: ARG002
        return f"log({value})"

    def trace_back(self, mean: str, tracer: Tracer) -> str:  # noqa: ARG002
        return f"(exp({mean}))"


class HarmonicMean(Blend):
    """sum(w) / sum(w / r); 0 where a part is 0."""

    name = "harmonic mean"
    says = "weakness costs more still: the mean of the reciprocals, turned back"
    least_value = 0.0

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

    def trace_term(self, value: str, tracer: Tracer) -> str:  # noqa: ARG002
        return f"1/({value})"

    def trace_back(self, mean: str, tracer: Tracer) -> str:  # noqa: ARG002
        return f"(1/({mean}))"


class PowerMean(Blend):
    """(sum(w r**e) / sum(w)) ** (1/e)."""

    name = "power mean"
    says = "the mean of the parts raised to `exponent`, turned back; below 1 it punishes weakness, above 1 rewards strength"
    least_value = 0.0
    lead = 1

    def term(self, value: str, printer: CodePrinter) -> str:
        return f"nonnegative({value})**({printer.doprint(self.args[0])})"

    def term_exactly(self, value: Expr) -> Expr:
        return value ** self.args[0]

    def back(self, mean: str, printer: CodePrinter) -> str:
        return f"({mean})**(1.0/({printer.doprint(self.args[0])}))"

    def back_exactly(self, mean: Expr) -> Expr:
        return mean ** (1 / self.args[0])

    def forth_within(self, value: Interval, lead: Sequence[Interval]) -> Interval:
        return value.raised(lead[0])

    def back_within(self, mean: Interval, lead: Sequence[Interval]) -> Interval:
        return mean.raised(ONE / lead[0])

    def rise_within(self, whole: Interval, value: Interval, lead: Sequence[Interval]) -> Interval:
        return (whole / value).raised(ONE - lead[0])

    def trace_term(self, value: str, tracer: Tracer) -> str:
        return f"({value})**({tracer.text(self.args[0])})"

    def trace_back(self, mean: str, tracer: Tracer) -> str:
        return f"(({mean})**(1/({tracer.text(self.args[0])})))"


class Minimum(Blend):
    """The least of the parts that are present; weights play no part beyond 0 leaving a part out."""

    name = "minimum"
    says = "the weakest part alone decides"
    word, blank = "minimum", "inf"

    def numpy(self, printer: CodePrinter) -> str:
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


class WeightedSum(WeightedMean):
    """sum(w r), each weight a multiplier."""

    name = "sum"
    says = "the parts times their weights, added up; weights are multipliers here, not shares"

    def numpy(self, printer: CodePrinter) -> str:
        if all(here == 1 for _, here, _ in self.triples):
            return self._sum_code(printer, [printer.doprint(weight) for weight, _, _ in self.triples])
        return f"({printer.doprint(_total(self))})*({self._mean_code(printer)})"

    def back_exactly(self, mean: Expr) -> Expr:
        return mean * _total(self)

    def trace_back(self, mean: str, tracer: Tracer) -> str:
        total = " + ".join(tracer.text(weight) for weight, _, _ in self.triples)
        return f"(({total})*{mean})"

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

    def back(self, mean: str, printer: CodePrinter) -> str:
        return f"exp(({mean})*({printer.doprint(_total(self))}))"

    def back_exactly(self, mean: Expr) -> Expr:
        return exp(mean * _total(self))

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


BLENDS: dict[str, type[Blend]] = {
    blend.name: blend
    for blend in (
        WeightedMean,
        GeometricMean,
        HarmonicMean,
        PowerMean,
        Minimum,
        Maximum,
        WeightedSum,
        WeightedProduct,
    )
}


def blend(name: str, parts: Sequence[tuple[Expr, Expr, Expr]], exponent: Expr | None) -> Expr:
    """The named blend of triples (weight, here, value); a mean of one part is that part."""
    kind = BLENDS[name]
    if len(parts) == 1 and not issubclass(kind, WeightedSum | WeightedProduct):
        return parts[0][2]
    lead = (exponent,) if kind is PowerMean else ()
    flat = [symbol for triple in parts for symbol in triple]
    return kind(*lead, *flat)


__all__ = ["BLENDS", "Blend", "blend"]
