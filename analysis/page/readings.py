"""The catalogue's readings as a page holds them: each measure under the choices about it that a page can make."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import product as combinations
from typing import Any

import numpy as np

from scoring.addresses.addresses import addressed
from scoring.catalogue import Catalogue, State
from scoring.catalogue.repeats import Summary, summarise
from scoring.catalogue.reporting_limit import recount
from scoring.form import Choice, Curve, Form, Measure
from scoring.measurement_error import value_uncertainty
from scoring.numbers.array_types import Array
from scoring.program.javascript import Registers
from scoring.program.program import Figure
from scoring.program.reference import statistic_of


def measure_documents(form: Form, catalogue: Catalogue, registers: Registers) -> list[dict[str, Any]]:
    """Each measure that the program takes, in the order of `x.m`, with its readings under each combination of choices."""
    return [_measure_document(form.measure(str(name)), catalogue, registers) for name in registers.of("m")]


def _measure_document(measure: Measure, catalogue: Catalogue, registers: Registers) -> dict[str, Any]:
    choices = _choices_that_count(measure, catalogue)
    variants = [_variant(made, catalogue, registers) for made in _made(measure, choices)]
    return {
        "name": measure.name,
        "label": measure.label,
        "unit": "" if measure.unit == "1" else measure.unit,
        "here": registers.at("h", measure.name),
        "plausible": [bound.value for bound in measure.plausible] if measure.plausible else None,
        "choices": [choice.address for choice in choices],
        "options": {choice.address: list(_stated_first(choice)) for choice in choices},
        "variants": variants,
    }


def _choices_that_count(measure: Measure, catalogue: Catalogue) -> list[Choice]:
    """The choices about repeats and about readings below the limit that change a value here."""
    if measure.name not in catalogue.readings:
        return []
    stated = _summary(measure, catalogue).values
    changed = {
        measure.repeats: [replace(measure, repeats=option) for option in _others(measure.repeats)],
        measure.below_limit: [replace(measure, below_limit=option) for option in _others(measure.below_limit)],
    }
    return [
        choice
        for choice, made in changed.items()
        if any(not np.array_equal(_summary(one, catalogue).values, stated, equal_nan=True) for one in made)
    ]


def _others(choice: Choice) -> list[Choice]:
    return [replace(choice, value=option) for option in choice.options]


def _stated_first(choice: Choice) -> tuple[str, ...]:
    return (choice.value, *(option for option in choice.options if option != choice.value))


def _made(measure: Measure, choices: Sequence[Choice]) -> list[Measure]:
    """The measure under each combination of choices, the last turning fastest."""
    made = []
    for options in combinations(*(_stated_first(choice) for choice in choices)):
        set_to = {choice.address: replace(choice, value=o) for choice, o in zip(choices, options, strict=True)}
        made.append(
            replace(
                measure,
                repeats=set_to.get(measure.repeats.address, measure.repeats),
                below_limit=set_to.get(measure.below_limit.address, measure.below_limit),
            )
        )
    return made


def _summary(measure: Measure, catalogue: Catalogue) -> Summary:
    return summarise(measure, recount(measure, catalogue.readings[measure.name]))


def _variant(measure: Measure, catalogue: Catalogue, registers: Registers) -> dict[str, Any]:
    """Values, states and standard uncertainties of one measure, and the figures of the catalogue that are about it."""
    if measure.name not in catalogue.readings:
        n_products = len(catalogue.products)
        return {
            "values": [None] * n_products,
            "here": [0] * n_products,
            "applies": [1] * n_products,
            "u": [],
            "figures": [],
        }
    readings = recount(measure, catalogue.readings[measure.name])
    recounted = replace(catalogue, readings={**catalogue.readings, measure.name: readings})
    summary = summarise(measure, readings)
    return {
        "values": plain(summary.values),
        "here": [int(state <= State.BELOW) for state in summary.states.tolist()],
        "applies": [int(state != State.NOT_APPLICABLE) for state in summary.states.tolist()],
        "u": plain(value_uncertainty(measure, recounted)),
        "figures": [
            [place, _figure(figure, summary.values)]
            for place, figure in enumerate(registers.of("f"))
            if isinstance(figure, Figure) and figure.measure == measure.name
        ],
    }


def _figure(figure: Figure, values: Array) -> float | list[float | None] | None:
    """A statistic of values, shape (n_products,), as a number, or a whole population."""
    found = statistic_of(figure.statistic, values[None, :], figure.share)[0]
    return plain(found) if figure.statistic == "population" else plain(found)[0]


def plain(values: Array) -> list[float | None]:
    """Numbers, shape (n,), for JSON; null for what is no number."""
    return [None if np.isnan(value) else value for value in np.asarray(values, float).tolist()]


def word_documents(catalogue: Catalogue, registers: Registers) -> list[dict[str, Any]]:
    """For each test whether an attribute is a word, in the order of `x.w`: which products have it, and which state any."""
    return [
        {
            "here": registers.at("h", name),
            "is": [int(found == word) for found in catalogue.attributes[name]],
            "stated": [int(found != "") for found in catalogue.attributes[name]],
        }
        for name, word in _pairs(registers)
    ]


def _pairs(registers: Registers) -> list[tuple[str, str]]:
    return [pair for pair in registers.of("w") if isinstance(pair, tuple)]


def population_documents(form: Form, registers: Registers) -> list[Any]:
    """Each frozen population in the order of `x.r`: its members, or, where it is one statistic, that number.

    A choice that the page can make may ask for another statistic than the form as it is stated does.
    """
    curves = [noun for noun in addressed(form) if isinstance(noun, Curve)]
    members = {
        curve.reference.address: [number.value for number in curve.reference.values]
        for curve in curves
        if curve.reference is not None
    }
    keys = [str(key).rpartition(".") for key in registers.of("r")]
    return [_figure(Figure("", statistic), np.array(members[address])) for address, _, statistic in keys]
