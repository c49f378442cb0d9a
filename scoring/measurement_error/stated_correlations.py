"""Coefficients of correlation between the errors of measures read in one run: stated, or pooled from the readings."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import combinations

import numpy as np

from scoring.catalogue import Catalogue, State
from scoring.catalogue.conditions_of_reading import conditions_of
from scoring.errors import Problem
from scoring.form import ErrorCorrelation, Form, Measure
from scoring.measurement_error.correlations import Runs, correlation_matrix

Pairs = dict[tuple[str, str], float]


def coefficients(
    form: Form, catalogue: Catalogue, component: str, measures: Mapping[str, Measure], problems: list[Problem]
) -> Pairs:
    """The coefficient of every pair of `measures` that the form correlates in one component.

    One that is to be pooled, and that no two readings of one run tell, is a problem.
    """
    found: Pairs = {}
    for stated in form.error_correlations:
        if stated.component.value != component:
            continue
        pairs = [pair for pair in combinations(stated.measures, 2) if set(pair) <= measures.keys()]
        if stated.coefficient is not None:
            found |= dict.fromkeys(pairs, stated.coefficient.value)
        elif pairs:
            found |= _pooled(stated, pairs, catalogue, problems)
    return found


def _pooled(
    stated: ErrorCorrelation, pairs: list[tuple[str, str]], catalogue: Catalogue, problems: list[Problem]
) -> Pairs:
    names = list(dict.fromkeys(name for pair in pairs for name in pair))
    matrix = correlation_matrix([_runs(catalogue, name) for name in names])
    places = {pair: (names.index(pair[0]), names.index(pair[1])) for pair in pairs}
    for pair, place in places.items():
        if not matrix.freedom[place]:
            found = f"the coefficient of {' and '.join(pair)} pooled, and no product has two runs of both"
            hint = "State a coefficient in place of `pooled`, or give the repeats that tell it."
            problems.append(Problem(stated.place, found, "readings of both in two runs of a product", hint))
    return {pair: float(matrix.coefficients[place]) for pair, place in places.items()}


def _runs(catalogue: Catalogue, name: str) -> Runs:
    """The readings of a measure, and the session and specimen of each."""
    readings, conditions = catalogue.readings[name], conditions_of(catalogue, name)
    values = np.where(readings.states == State.VALUE, readings.values, np.nan)
    return Runs(values, np.asarray(conditions.sessions + "\x1e" + conditions.specimens, dtype=object))
