"""Written expressions by the words of the form's page: numbers, undefined, and conditions of three values."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction

from exact.curves import broken_line
from exact.reals import (
    Real,
    Truth,
    Undecided,
    Undefined,
    Value,
    compare,
    denied,
    exponential,
    greatest,
    held,
    holds_all,
    holds_any,
    leaf,
    least,
    logarithm,
    loose,
    magnitude,
    minus,
    negative,
    over,
    plus,
    power,
    root,
    rounded,
    times,
)

from scoring.form import Expression, Number, Term

COMPARED: dict[str, Callable[[int], bool]] = {
    "<": lambda side: side < 0,
    "<=": lambda side: side <= 0,
    ">": lambda side: side > 0,
    ">=": lambda side: side >= 0,
    "==": lambda side: side == 0,
    "!=": lambda side: side != 0,
}
OF_TWO: dict[str, Callable[[Value, Value], Value]] = {"+": plus, "-": minus, "*": times, "/": over, "**": power}
OF_ONE: dict[str, Callable[[Value], Value]] = {
    "negative": negative,
    "abs": magnitude,
    "sqrt": root,
    "exp": exponential,
    "log": logarithm,
    "log10": lambda a: loose(over(logarithm(a), logarithm(leaf(10))), 0.0),
    "floor": lambda a: rounded(a, Fraction(1), "floor"),
    "ceil": lambda a: rounded(a, Fraction(1), "ceiling"),
}
STATISTICS = ("mean", "sd", "median", "minimum", "maximum", "percentile")


class GivesNone(Exception):
    """The branch that is taken says `none`."""


class Reading:
    """What an expression reads from: values by name, words of attributes, and statistics of the catalogue."""

    def __init__(
        self,
        value: Callable[[str], Value],
        word: Callable[[str], str | Undefined],
        statistic: Callable[[str, str, Fraction], Value],
    ) -> None:
        self.value, self.word, self.statistic = value, word, statistic


def value_of(expression: Expression, reading: Reading) -> Value:
    """The number that an expression gives."""
    return _Work(expression.numbers, reading).number(expression.term)


def truth_of(expression: Expression, reading: Reading) -> Truth:
    """Whether a condition holds; None where it has no value."""
    return _Work(expression.numbers, reading).truth(expression.term)


class _Work:
    def __init__(self, numbers: Sequence[Number], reading: Reading) -> None:
        self.numbers, self.reading = numbers, reading

    def number(self, term: Term) -> Value:
        op, args = term.op, term.args
        if op == "number":
            return leaf(self.numbers[int(str(args[0]))].text)
        if op == "none":
            raise GivesNone
        if op == "name":
            return self.reading.value(str(args[0]))
        if op in STATISTICS:
            share = self.literal(args[1]) if op == "percentile" else Fraction(0)
            return self.reading.statistic(str(args[0]), op, share)
        if op == "where":
            return self.branch(term)
        if op == "interp":
            written = [self.literal(arg) for arg in args[1:]]
            return broken_line(list(zip(written[::2], written[1::2], strict=True)), self.number(_term(args[0])))
        if op == "round":
            step = self.literal(args[1]) if len(args) == 2 else Fraction(1)
            return rounded(self.number(_term(args[0])), step, "half-up")
        found = [self.number(_term(arg)) for arg in args]
        if op in OF_TWO:
            return OF_TWO[op](*found)
        if op in OF_ONE:
            return OF_ONE[op](*found)
        return {"min": least, "max": greatest, "clamp": lambda three: held(*three)}[op](found)

    def branch(self, term: Term) -> Value:
        """Only the branch that is taken counts."""
        truth = self.truth(_term(term.args[0]))
        if truth is None:
            return Undefined("a condition without a value")
        return self.number(_term(term.args[1 if truth else 2]))

    def truth(self, term: Term) -> Truth:
        op, args = term.op, term.args
        if op == "text==":
            word = self.reading.word(str(args[0]))
            return None if isinstance(word, Undefined) else word == str(args[1])
        if op == "not":
            return denied(self.truth(_term(args[0])))
        if op in ("and", "or"):
            return self.joined(op, [_term(arg) for arg in args])
        a, b = (self.number(_term(arg)) for arg in args)
        if isinstance(a, Undefined) or isinstance(b, Undefined):
            return None
        return COMPARED[op](compare(a, b))

    def joined(self, op: str, terms: Sequence[Term]) -> Truth:
        """What decides does so, also beside a part that doubles cannot tell."""
        truths: list[Truth] = []
        unsure: Undecided | None = None
        for term in terms:
            try:
                truths.append(self.truth(term))
            except Undecided as fault:
                unsure = fault
        joined = (holds_all if op == "and" else holds_any)(truths)
        if unsure is not None and joined is not (op == "or"):
            raise unsure
        return joined

    def literal(self, arg: object) -> Fraction:
        term = _term(arg)
        if term.op == "negative":
            return -self.literal(term.args[0])
        return Fraction(self.numbers[int(str(term.args[0]))].text)


def _term(arg: object) -> Term:
    assert isinstance(arg, Term)
    return arg


__all__ = ["GivesNone", "Reading", "Real", "truth_of", "value_of"]
