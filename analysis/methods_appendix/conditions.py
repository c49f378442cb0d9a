"""Conditions of limits and gates in words, with labels for names."""

from __future__ import annotations

from collections.abc import Mapping

from analysis.languages.facts import Run, Runs
from analysis.languages.writing import code, labels, name, with_unit
from scoring.addresses.number_units import NumberUnit, number_units
from scoring.form import Expression, Form, Term

COMPARISONS = {
    "<": "is below",
    "<=": "is at most",
    ">": "is above",
    ">=": "is at least",
    "==": "is",
    "!=": "is not",
    "text==": "is",
}
JOINED = {"and": " and ", "or": " or "}


def condition_in_words(condition: Expression, form: Form) -> Runs:
    """A condition as a sentence says it: "Stillness is below 3.0 points"; one with arithmetic in it as it is written."""
    said = _said(condition.term, condition, form, number_units(form))
    return said if said is not None else (code(condition.text),)


def _said(term: Term, condition: Expression, form: Form, units: Mapping[str, NumberUnit]) -> Runs | None:
    if term.op in JOINED:
        terms = [arg for arg in term.args if isinstance(arg, Term)]
        found: list[Run] = []
        for index, inner in enumerate(terms):
            part = _said(inner, condition, form, units)
            if part is None or (inner.op in JOINED and inner.op != term.op):
                return None
            found += [Run(JOINED[term.op]), *part] if index else part
        return tuple(found)
    if term.op in COMPARISONS and len(term.args) == 2:
        left, right = (_operand(arg, condition, form, units) for arg in term.args)
        if left is not None and right is not None:
            return (*left, Run(f" {COMPARISONS[term.op]} "), *right)
    return None


def _operand(arg: Term | str | int, condition: Expression, form: Form, units: Mapping[str, NumberUnit]) -> Runs | None:
    if not isinstance(arg, Term):
        return (name(labels(form).get(arg, arg)),) if isinstance(arg, str) else None
    if arg.op == "name":
        return (name(labels(form).get(str(arg.args[0]), str(arg.args[0]))),)
    if arg.op == "number":
        return with_unit(condition.numbers[int(str(arg.args[0]))], units)
    return (name(str(arg.args[0])),) if arg.op == "text" else None
