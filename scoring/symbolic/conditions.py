"""Conditions joined: symbolic functions of three values, true, false and undefined.

sympy's own `And`, `Or` and `Not` have two values only, and drop a part that they take for implied, also where that part has no
value. A condition that is sure decides, whatever stands beside it: `b > 0 and a / b < 5` is false where b is 0.
Source: Kleene, Introduction to Metamathematics, 1952, section 64, the strong three-valued tables (from memory).
"""

from __future__ import annotations

import sympy
from sympy import Expr

from scoring.symbolic.functions import CodePrinter, OwnFunction, Tracer, Typesetter, call
from scoring.symbolic.notation import Denied as Denial
from scoring.symbolic.notation import Joined, Notation, Relation, Words

OPPOSITE = {"<": ">=", "<=": ">", ">": "<=", ">=": "<", "=": "!=", "!=": "="}


class Both(OwnFunction):
    """Both(a, b, ...): whether all of some conditions hold."""

    name, word = "both", "and"

    def code(self, printer: CodePrinter) -> str:
        return call(printer, self.name, *self.args)

    def elementary(self) -> Expr:
        return sympy.And(*map(plain_condition, self.args))

    def trace(self, tracer: Tracer) -> str:
        tests = [arg for arg in self.args if not tracer.is_presence(arg)]
        return f" {self.word} ".join(tracer.text(arg) for arg in tests or self.args)

    def typeset(self, setter: Typesetter) -> Notation:
        parts = tuple(setter.set(test) for test in self.args if not setter.is_there(test))
        if len(parts) == 1:
            return parts[0]
        return Joined(parts, self.word) if parts else Words("always")


class Either(Both):
    """Either(a, b, ...): whether one of some conditions holds."""

    name, word = "either", "or"

    def elementary(self) -> Expr:
        return sympy.Or(*map(plain_condition, self.args))


class Denied(OwnFunction):
    """Denied(a): whether a condition does not hold."""

    def code(self, printer: CodePrinter) -> str:
        return call(printer, "denied", *self.args)

    def elementary(self) -> Expr:
        return sympy.Not(plain_condition(self.args[0]))

    def trace(self, tracer: Tracer) -> str:
        return f"not ({tracer.text(self.args[0])})"

    def typeset(self, setter: Typesetter) -> Notation:
        inner = setter.set(self.args[0])
        if isinstance(inner, Relation) and len(inner.signs) == 1:
            return Relation(inner.sides, (OPPOSITE[inner.signs[0]],))
        return Denial(inner)


def plain_condition(condition: Expr) -> Expr:
    """A condition in plain sympy."""
    return condition.elementary() if isinstance(condition, OwnFunction) else condition
