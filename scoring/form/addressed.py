"""What stands at an address, and the walk through a noun that finds it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, is_dataclass

from scoring.errors import Place
from scoring.form.atoms import Choice, Expression, Number, Term
from scoring.form.curve import Curve
from scoring.form.errors_of_measures import ErrorComponent
from scoring.texts.source import Source, Spot

#: What stands at an address.
Addressed = Number | Choice | Expression | Curve | ErrorComponent


def addressed(noun: object) -> Iterator[Addressed]:
    """Every number, choice and expression inside `noun`, in the order of its fields."""
    if isinstance(noun, Number | Choice):
        yield noun
    elif isinstance(noun, Expression):
        yield noun
        yield from noun.numbers
    elif isinstance(noun, Curve):
        yield noun
        yield from addressed((noun.numbers, noun.anchors, noun.choices, noun.reference))
    elif isinstance(noun, ErrorComponent):
        if noun.in_braces:
            yield noun
        yield from addressed((noun.kind, noun.amount, noun.freedom))
        if noun.is_half_width:
            yield noun.distribution
    elif isinstance(noun, tuple):
        for item in noun:
            yield from addressed(item)
    elif is_dataclass(noun) and not isinstance(noun, Place | Spot | Source | Term):
        for field in fields(noun):
            yield from addressed(getattr(noun, field.name))
