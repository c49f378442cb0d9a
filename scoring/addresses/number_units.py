"""The role and the unit of every number of a formula, by its address, from what the owner of each declares."""

from __future__ import annotations

import functools
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, is_dataclass
from typing import Any

from scoring.blends import NUMBERS
from scoring.curves import KINDS
from scoring.errors import Place
from scoring.form import (
    REFERENCE,
    Choice,
    Curve,
    ErrorComponent,
    Expression,
    Form,
    Limit,
    Measure,
    Number,
    Output,
    Part,
    Term,
)
from scoring.texts.source import Source, Spot
from scoring.units.role import POINTS_UNIT, UnitRole

COMPARED = frozenset({"<", "<=", ">", ">=", "==", "!="})


@dataclass(frozen=True, slots=True)
class NumberUnit:
    """What a number is a number of, and its unit as it is printed ("" for a plain number)."""

    role: UnitRole
    unit: str


Found = Iterator[tuple[str, NumberUnit]]


def number_units(form: Form) -> dict[str, NumberUnit]:
    """Every number of a form by its address."""
    measured = {output.name: POINTS_UNIT for output in form.outputs}
    return dict(_Walk(measured | dict(form.units)).of(form, POINTS_UNIT))


@dataclass(frozen=True, slots=True)
class _Walk:
    """`measured`: the unit of every measure, rating and score."""

    measured: Mapping[str, str]

    def of(self, noun: object, measured: str, role: UnitRole = UnitRole.PLAIN) -> Found:
        """Every number in a noun: `measured` is the unit of what its owner measures, `role` what the field says."""
        match noun:
            case Number():
                yield noun.address, NumberUnit(role, role.unit(measured))
            case Expression():
                yield from self.in_expression(noun)
            case Curve():
                yield from self.in_curve(noun, measured)
            case Output():
                yield from self.in_output(noun)
            case ErrorComponent() if "relative" in noun.kind.value:
                yield from self.of(noun.amount, measured, UnitRole.SHARE)
                yield from self.of(noun.freedom, measured, UnitRole.COUNT)
            case tuple():
                for one in noun:
                    yield from self.of(one, measured, role)
            case _ if is_dataclass(noun) and not isinstance(noun, type):
                for name, says in _fields(type(noun)):
                    yield from self.of(getattr(noun, name), self.inside(noun, name, measured), says or role)

    def inside(self, noun: object, field: str, measured: str) -> str:
        """The unit of what is measured in one field of a noun."""
        match noun:
            case Measure():
                return noun.unit
            case Part() if field == "curve":
                return self.measured.get(noun.source, "")
            case Limit() if field == "curve":
                return self.measured.get(noun.on or "", "")
        return measured

    def in_output(self, output: Output) -> Found:
        """What a rating or score holds, which is in points; the numbers of its blend by what that declares of them."""
        for name, says in _fields(Output):
            if name == "numbers":
                for own, number in output.numbers:
                    key = NUMBERS.get(own)
                    yield from self.of(number, POINTS_UNIT, (key and key.kind.role) or UnitRole.PLAIN)
            else:
                yield from self.of(getattr(output, name), POINTS_UNIT, says or UnitRole.PLAIN)

    def in_curve(self, curve: Curve, measured: str) -> Found:
        """A curve's own numbers by its kind; its anchors; its reference."""
        for name, number in curve.numbers:
            yield from self.of(number, measured, KINDS[curve.kind].role_of(name))
        for at, gives in curve.anchors:
            yield from self.of(at, measured, UnitRole.ALONG)
            yield from self.of(gives, measured, UnitRole.POINTS)
        if curve.reference is not None:
            for name, number in curve.reference.figures:
                yield from self.of(number, measured, REFERENCE.more[name].kind.role or UnitRole.PLAIN)
            yield from self.of(curve.reference.values, measured, UnitRole.ALONG)

    def in_expression(self, expression: Expression) -> Found:
        """A number that is compared with a name and nothing else is a value of it; of others nobody says the unit."""
        beside = compared_with(expression)
        for number in expression.numbers:
            measured = self.measured.get(beside.get(number.address, ""))
            yield from self.of(number, measured or "", UnitRole.ALONG if measured else UnitRole.PLAIN)


@functools.cache
def _fields(noun: type[Any]) -> tuple[tuple[str, UnitRole | None], ...]:
    """The fields of a noun and the roles they state; of what says where a noun stands, none."""
    if issubclass(noun, Place | Spot | Source | Term | Choice):
        return ()
    return tuple((field.name, field.metadata.get("unit_role")) for field in fields(noun))


def compared_with(expression: Expression) -> dict[str, str]:
    """The name that each number is compared with, by the number's address; of those that stand alone beside a name."""
    return {expression.numbers[index].address: name for index, name in _compared(expression.term)}


def _compared(term: Term) -> Iterator[tuple[int, str]]:
    if term.op in COMPARED:
        for one, other in (term.args, term.args[::-1]):
            if isinstance(one, Term) and isinstance(other, Term) and (one.op, other.op) == ("number", "name"):
                yield int(str(one.args[0])), str(other.args[0])
    for arg in term.args:
        if isinstance(arg, Term):
            yield from _compared(arg)
