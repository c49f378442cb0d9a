"""Blends: how a rating or score combines its parts. Presence is part of each: a missing part carries no weight.

Each blend is a symbolic function of triples (weight, here, value). `here` is 1 where the part is present, else 0. With
W = sum of w*here, the reweighted weighted mean is sum(w*here*r) / W, and so on. A sum is the weighted mean times the sum of
all weights, and a product the geometric mean to that power, so that a missing part shifts neither towards 0.
Sources: OECD/JRC, Handbook on Constructing Composite Indicators, 2008, step 6 (linear and geometric aggregation); Hardy,
Littlewood and Polya, Inequalities, 1934, ch. 2 (power means; from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import Enum

from sympy import Add, Expr, Piecewise

from scoring.blends.intervals import mean_within, share_of, there, triples_of
from scoring.declaration import NumberKey
from scoring.numbers.intervals import EVERYWHERE, ONE, ZERO, Interval, hull_of
from scoring.symbolic.branches import Counted
from scoring.symbolic.functions import CodePrinter, OwnFunction, Tracer, Typesetter, sum_code
from scoring.symbolic.notation import Notation, Number, add, divide, multiply


class Weights(Enum):
    """What the weights of a blend are: what becomes of it where all are multiplied by the same factor, or one is changed."""

    SHARES = "only what each is of their sum counts"
    MULTIPLIERS = "their sum counts, too"
    MARKS = "above 0 a part counts, at 0 it does not, and nothing else of them counts"


class Blend(OwnFunction):
    """A blend of triples (weight, here, value); its own numbers come before them, in the order in which they are declared.

    What a blend is stands in its traits, and nothing outside this folder knows it otherwise. name, says: what it is called in
    a formula, and a sentence; numbers: those that it has of its own; least_value: the least that a part may be; weights: what
    its weights are; additive: whether it is a sum of its parts, each times its weight or share; alone: whether it is one part
    alone, whatever the others are; internal: whether it lies between its least and its greatest part, and so is that of a
    single one; equivariant: whether it never falls with a part, and goes up by what is added to all of them; rival: the blend
    that a study sets beside it where none is named, "" for none.
    """

    name = ""
    says = ""
    numbers: tuple[NumberKey, ...] = ()
    least_value = -float("inf")
    weights = Weights.SHARES
    additive = False
    alone = False
    internal = True
    equivariant = False
    rival = ""

    @property
    def lead(self) -> int:
        """How many arguments come before the triples."""
        return len(self.numbers)

    def own(self, name: str) -> Expr:
        """The blend's own number called `name`."""
        return self.args[[number.name for number in self.numbers].index(name)]

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

    def code(self, printer: CodePrinter) -> str:
        return self.back(self._mean_code(printer), printer)

    def _mean_code(self, printer: CodePrinter) -> str:
        """The weighted mean of the terms.

        Numbers are not worked together beforehand: the same operations in the same order give a product the same last digit
        whether or not another product has gaps.
        """
        return f"({self._terms_code(printer)})/({self._present_code(printer)})"

    def _terms_code(self, printer: CodePrinter) -> str:
        """Each term that is there times its weight, added up."""
        return self._sum_code(printer, self._weight_codes(printer))

    def _present_code(self, printer: CodePrinter) -> str:
        """The weight that is there."""
        weights = zip(self._weight_codes(printer), self.triples, strict=True)
        return sum_code([w if here == 1 else f"{w}*{printer.doprint(here)}" for w, (_, here, _) in weights])

    def _weight_codes(self, printer: CodePrinter) -> list[str]:
        return [printer.doprint(weight) for weight, _, _ in self.triples]

    def _made_up_code(self, printer: CodePrinter) -> str:
        """The terms that are there, made up for the weight that is not: by exactly 1 where all is there."""
        if all(here == 1 for _, here, _ in self.triples):
            return self._terms_code(printer)
        whole = sum_code(self._weight_codes(printer))
        return f"({self._terms_code(printer)})*(({whole})/({self._present_code(printer)}))"

    def _sum_code(self, printer: CodePrinter, weights: Sequence[str]) -> str:
        terms = []
        for weight, (share, here, value) in zip(weights, self.triples, strict=True):
            if share.is_zero:  # 0 times the logarithm of 0 is no number; a part without weight says nothing
                continue
            term = self.term(printer.doprint(value), printer)
            if not share.is_number:
                term = f"where({weight}, {term}, 0.0)"
            terms.append(f"{weight}*{term}" if here == 1 else f"{weight}*where({printer.doprint(here)}, {term}, 0.0)")
        return sum_code(terms)

    def lack(self, values: Sequence[float]) -> str:
        triples = zip(*(values[self.lead + offset :: 3] for offset in range(3)), strict=True)
        lost = [value for weight, here, value in triples if weight > 0 and here > 0 and value < self.least_value]
        return f"a part at {lost[0]:g} in a {self.name}, which takes none below 0" if lost else ""

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

    def typeset(self, setter: Typesetter) -> Notation:
        """The mean of all parts that carry weight, then the way back."""
        parts = self.set_parts(setter)
        terms = add(*(weighted(weight, self.typeset_term(value, setter)) for weight, value in parts))
        return self.typeset_back(divide(terms, whole_weight(parts)), setter)

    def set_parts(self, setter: Typesetter) -> list[tuple[Notation | None, Notation]]:
        """The weight (None: 1, as no weights are written) and value of each part that carries weight."""
        parts = [(_written(w), v) for w, _, v in self.triples if setter.value(w) != 0]
        return [(None if w == 1 or setter.is_unsaid(w) else setter.set(w), setter.set(v)) for w, v in parts]

    def typeset_term(self, value: Notation, setter: Typesetter) -> Notation:  # noqa: ARG002
        """What is averaged."""
        return value

    def typeset_back(self, mean: Notation, setter: Typesetter) -> Notation:  # noqa: ARG002
        """The blend from the mean of the terms."""
        return mean

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


def _written(weight: Expr) -> Expr:
    """A weight as it is written, whatever it counts where its part does not apply."""
    return weight.args[1] if isinstance(weight, Counted) else weight


def weighted(weight: Notation | None, value: Notation) -> Notation:
    """A part times its weight; the part alone where none is written."""
    return value if weight is None else multiply(weight, value)


def whole_weight(parts: Sequence[tuple[Notation | None, Notation]]) -> Notation:
    """The weights added up; the number of parts where none is written."""
    if all(weight is None for weight, _ in parts):
        return Number(str(len(parts)))
    return add(*(Number("1") if weight is None else weight for weight, _ in parts))
