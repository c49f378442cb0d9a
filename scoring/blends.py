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

from scoring.functions import CodePrinter, OwnFunction, are_numbers
from scoring.intervals import EVERYWHERE, RISING, UNIT, ZERO, Interval


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
        return f"({self._sum_code(printer, weights)})/({' + '.join(present)})"

    def _sum_code(self, printer: CodePrinter, weights: Sequence[str]) -> str:
        terms = []
        for weight, (_, here, value) in zip(weights, self.triples, strict=True):
            term = self.term(printer.doprint(value), printer)
            terms.append(f"{weight}*{term}" if here == 1 else f"{weight}*where({printer.doprint(here)}, {term}, 0.0)")
        return " + ".join(terms)

    def elementary(self) -> Expr:
        triples = self.triples
        terms = [
            weight
            * (self.term_exactly(value) if here == 1 else Piecewise((self.term_exactly(value), here > 0), (0, True)))
            for weight, here, value in triples
        ]
        return self.back_exactly(Add(*terms) / Add(*(weight * here for weight, here, _ in triples)))

    def enclose(self, args: Sequence[Interval]) -> Interval:
        """A mean lies between the least and greatest of the parts that may be present."""
        held = None
        for _, here, value in _triples(args, self.lead):
            if here.high > 0:
                value = value if value.low >= self.least_value else EVERYWHERE
                held = value if held is None else held.hull(value)
        return held if held is not None else EVERYWHERE

    def slopes(self, args: Sequence[Interval]) -> tuple[Interval, ...]:
        """A mean never falls as one of its parts rises."""
        known = all(value.low >= self.least_value for _, _, value in _triples(args, self.lead))
        rise = RISING if known else EVERYWHERE
        return (*(EVERYWHERE,) * self.lead, *(EVERYWHERE, EVERYWHERE, rise) * ((len(args) - self.lead) // 3))


def _triples(args: Sequence[Interval], lead: int) -> list[tuple[Interval, Interval, Interval]]:
    rest = args[lead:]
    return list(zip(rest[::3], rest[1::3], rest[2::3], strict=True))


def _total(blend: Blend) -> Expr:
    return Add(*(weight for weight, _, _ in blend.triples))


class WeightedMean(Blend):
    """sum(w r) / sum(w)."""

    name = "weighted mean"
    says = "strength in one part pays for weakness in another, in proportion to the weights"

    def slopes(self, args: Sequence[Interval]) -> tuple[Interval, ...]:
        """Each part's slope is its share of the weight."""
        triples = _triples(args, 0)
        total = _sum([weight * here for weight, here, _ in triples])
        slopes = []
        for weight, here, _ in triples:
            share = (weight * here) / total
            slopes += [EVERYWHERE, EVERYWHERE, share if here.low > 0 else share.hull(ZERO).greater_of(ZERO)]
        return tuple(slopes)


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
        held = codes[0]
        for code in codes[1:]:
            held = f"{self.word}({held}, {code})"
        return held

    def elementary(self) -> Expr:
        blank = S.Infinity if self.blank == "inf" else S.NegativeInfinity
        values = [
            value
            if here == 1 and weight.is_number and weight > 0
            else Piecewise((value, weight * here > 0), (blank, True))
            for weight, here, value in self.triples
        ]
        return Min(*values) if self.blank == "inf" else Max(*values)

    def slopes(self, args: Sequence[Interval]) -> tuple[Interval, ...]:
        return (EVERYWHERE, EVERYWHERE, UNIT) * (len(args) // 3)


class Maximum(Minimum):
    """The greatest of the parts that are present."""

    name = "maximum"
    says = "the strongest part alone decides"
    word, blank = "maximum", "(-inf)"


class Sum(WeightedMean):
    """sum(w r), each weight a multiplier."""

    name = "sum"
    says = "the parts times their weights, added up; weights are multipliers here, not shares"

    def numpy(self, printer: CodePrinter) -> str:
        if all(here == 1 for _, here, _ in self.triples):
            return self._sum_code(printer, [printer.doprint(weight) for weight, _, _ in self.triples])
        return f"({printer.doprint(_total(self))})*({self._mean_code(printer)})"

    def back_exactly(self, mean: Expr) -> Expr:
        return mean * _total(self)

    def enclose(self, args: Sequence[Interval]) -> Interval:
        triples = _triples(args, 0)
        if all(here.low > 0 for _, here, _ in triples):
            return _sum([weight * value for weight, _, value in triples])
        return _sum([weight for weight, _, _ in triples]) * super().enclose(args)

    def slopes(self, args: Sequence[Interval]) -> tuple[Interval, ...]:
        triples = _triples(args, 0)
        if all(here.low > 0 for _, here, _ in triples):
            return tuple(s for weight, _, _ in triples for s in (EVERYWHERE, EVERYWHERE, weight))
        return (EVERYWHERE, EVERYWHERE, RISING) * len(triples)


class Product(GeometricMean):
    """product(r ** w)."""

    name = "product"
    says = "the parts, each to the power of its weight, multiplied"

    def back(self, mean: str, printer: CodePrinter) -> str:
        return f"exp(({mean})*({printer.doprint(_total(self))}))"

    def back_exactly(self, mean: Expr) -> Expr:
        return exp(mean * _total(self))

    def enclose(self, args: Sequence[Interval]) -> Interval:
        total = _sum([weight for weight, _, _ in _triples(args, 0)])
        return (super().enclose(args).greater_of(ZERO).log() * total).exp()


def _sum(intervals: Sequence[Interval]) -> Interval:
    total = ZERO
    for interval in intervals:
        total = total + interval
    return total


BLENDS: dict[str, type[Blend]] = {
    blend.name: blend
    for blend in (
        WeightedMean,
        GeometricMean,
        HarmonicMean,
        PowerMean,
        Minimum,
        Maximum,
        Sum,
        Product,
    )
}


def blend(name: str, parts: Sequence[tuple[Expr, Expr, Expr]], exponent: Expr | None) -> Expr:
    """The named blend of triples (weight, here, value); a mean of one part is that part."""
    kind = BLENDS[name]
    if len(parts) == 1 and not issubclass(kind, Sum | Product):
        return parts[0][2]
    lead = (exponent,) if kind is PowerMean else ()
    flat = [symbol for triple in parts for symbol in triple]
    return kind(*lead, *flat)


__all__ = ["BLENDS", "Blend", "blend"]
