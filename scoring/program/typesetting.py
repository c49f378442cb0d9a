"""From a sympy expression to notation: what a formula looks like on paper, with names and numbers in place of symbols.

Sums, products and conditions keep the order of their arguments, which is the order in which they are written.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import sympy
from sympy import Expr, Integer, Rational, Symbol

from scoring.symbolic.arithmetic import Over, divided_by
from scoring.symbolic.functions import OwnFunction
from scoring.symbolic.notation import (
    Cases,
    Minus,
    Name,
    Notation,
    Number,
    Product,
    Relation,
    Root,
    Size,
    Words,
    add,
    call,
    divide,
    multiply,
    negative,
    power,
    relate,
)

#: Digits of a number that is worked out and not written in the form.
SIGNIFICANT = 10
_CALLS = {
    sympy.log: "ln",
    sympy.exp: "exp",
    sympy.Min: "min",
    sympy.Max: "max",
    sympy.floor: "floor",
    sympy.ceiling: "ceil",
}
_SIGNS: dict[object, str] = {
    sympy.StrictLessThan: "<",
    sympy.LessThan: "<=",
    sympy.StrictGreaterThan: ">",
    sympy.GreaterThan: ">=",
    sympy.Equality: "=",
    sympy.Unequality: "!=",
}


def number(text: str) -> Notation:
    """A number as it was written: its sign, its digits, and a power of ten where it has one."""
    match = re.fullmatch(r"([+-]?)([\d.]+)(?:[eE]([+-]?)0*(\d+))?\s*(%?)", text.strip())
    if match is None:
        return Name(text)
    sign, digits, ten_sign, ten, share = match.groups()
    size: Notation = Number(digits + share)
    if ten is not None:
        exponent: Notation = Minus(Number(ten)) if ten_sign == "-" else Number(ten)
        tens = (Number(digits), power(Number("10"), exponent))
        size = Product((*tens, Number("1%")) if share else tens)
    return Minus(size) if sign == "-" else size


def figure(value: float) -> Notation:
    """A number that was worked out, to `SIGNIFICANT` digits."""
    return number(f"{value:.{SIGNIFICANT}g}")


@dataclass(frozen=True, slots=True)
class Setter:
    """Turns expressions of one program into notation.

    names: what each symbol is called; values: the value of each that is a number of the form; there: symbols that say
    whether something is there or applies, which here it does; words: an attribute's name and the word it may be;
    unsaid: numbers that are not written in the form.
    """

    names: Mapping[Symbol, Notation]
    values: Mapping[Symbol, float]
    there: frozenset[Symbol] = frozenset()
    words: Mapping[Symbol, tuple[str, str]] | None = None
    unsaid: frozenset[Symbol] = frozenset()

    def set(self, expression: Expr) -> Notation:
        """The notation of an expression or condition."""
        if isinstance(expression, OwnFunction):
            return expression.typeset(self)
        if isinstance(expression, Symbol):
            return self.names.get(expression, Name(expression.name))
        for kinds, rule in _RULES:
            if isinstance(expression, kinds):
                return rule(self, expression)
        if expression.func in _CALLS:
            return call(_CALLS[expression.func], *(self.set(arg) for arg in expression.args))
        raise NotImplementedError(type(expression).__name__)

    def value(self, expression: Expr) -> float:
        """The value of a number of the form."""
        return float(expression.xreplace({symbol: sympy.Float(value) for symbol, value in self.values.items()}))

    def is_there(self, expression: Expr) -> bool:
        """Whether an expression says no more than that something is there."""
        symbols: set[Symbol] = getattr(expression, "free_symbols", set())
        return bool(symbols) and symbols <= self.there

    def is_unsaid(self, expression: Expr) -> bool:
        """Whether an expression is a number that nobody wrote."""
        return expression in self.unsaid

    def figure(self, value: float) -> Notation:
        """A number that was worked out."""
        return figure(value)


def _constant(setter: Setter, expression: Expr) -> Notation:  # noqa: ARG001
    if expression in (sympy.true, sympy.false):
        return Words("always" if expression == sympy.true else "never")
    if expression.is_infinite:
        return Minus(Name("∞")) if expression.is_negative else Name("∞")
    if isinstance(expression, Rational) and not isinstance(expression, Integer):
        fraction = divide(Number(str(abs(expression.p))), Number(str(expression.q)))
        return Minus(fraction) if expression.p < 0 else fraction
    return number(str(expression) if isinstance(expression, Integer) else f"{float(expression):.{SIGNIFICANT}g}")


def _sum(setter: Setter, expression: Expr) -> Notation:
    terms = [term for term in _flat(expression, sympy.Add) if not _is_nothing(setter, term)]
    for term in terms:
        if isinstance(term, OwnFunction):
            others = [other for other in terms if other is not term]
            whole = term.typeset_with(others, setter)
            if whole is not None:
                return whole
    return add(*(setter.set(term) for term in terms))


def _is_nothing(setter: Setter, term: Expr) -> bool:
    """Whether a term is a 0 that nobody wrote, added or taken away."""
    size = term.args[-1] if term.is_Mul and len(term.args) == 2 and term.args[0] == -1 else term
    return setter.is_unsaid(size) and setter.value(size) == 0


def _product(setter: Setter, expression: Expr) -> Notation:
    is_negative, above, below = False, list[Notation](), list[Notation]()
    for factor in _flat(expression, sympy.Mul):
        if factor in (1, -1):
            is_negative ^= factor == -1
        else:
            part, divides = divided_by(factor)
            (below if divides else above).append(setter.set(part))
    whole = multiply(*above) if above else Number("1")
    if below:
        whole = divide(whole, multiply(*below))
    return negative(whole) if is_negative else whole


def _flat(expression: Expr, kind: type) -> list[Expr]:
    """The parts of a sum of sums (or product of products), where the first part is one itself: brackets change nothing."""
    first, *rest = expression.args
    if kind is sympy.Mul and isinstance(first, Over):
        first = first.elementary()
    return [*(_flat(first, kind) if isinstance(first, kind) else [first]), *rest]


def _power(setter: Setter, expression: Expr) -> Notation:
    base, exponent = setter.set(expression.base), expression.exp
    if exponent == -1:
        return divide(Number("1"), base)
    return Root(base) if exponent == Rational(1, 2) else power(base, setter.set(exponent))


def _absolute(setter: Setter, expression: Expr) -> Notation:
    return Size(setter.set(expression.args[0]))


def _pieces(setter: Setter, expression: Expr) -> Notation:
    rows = [(setter.set(value), None if test == sympy.true else setter.set(test)) for value, test in expression.args]
    return Cases(tuple(rows))


def _relation(setter: Setter, expression: Expr) -> Notation:
    sign = _SIGNS[expression.func]
    if setter.words and expression.lhs in setter.words:
        attribute, word = setter.words[expression.lhs]
        return Relation((Name(attribute), Name(word)), ("=" if sign == ">" else "!=",))
    return relate((setter.set(expression.lhs), setter.set(expression.rhs)), (sign,))


_RULES: Sequence[tuple[type | tuple[type, ...], Callable[[Setter, Expr], Notation]]] = (
    ((sympy.Number, sympy.logic.boolalg.BooleanAtom), _constant),
    (sympy.Add, _sum),
    (sympy.Mul, _product),
    (sympy.Pow, _power),
    (sympy.Abs, _absolute),
    (sympy.Piecewise, _pieces),
    (sympy.core.relational.Relational, _relation),
)
