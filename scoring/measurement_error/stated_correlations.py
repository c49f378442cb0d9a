"""Coefficients of correlation between the errors of measures read in one run: stated, or pooled from the readings."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import combinations

from scoring.catalogue import Catalogue
from scoring.form import Form, Measure


def coefficients(
    form: Form, catalogue: Catalogue, component: str, measures: Mapping[str, Measure]
) -> dict[tuple[str, str], float]:
    """The coefficient of every pair of `measures` that the form correlates in one component."""
    found: dict[tuple[str, str], float] = {}
    for stated in form.error_correlations:
        if stated.component.value != component:
            continue
        for one, other in combinations(stated.measures, 2):
            if one in measures and other in measures:
                found[one, other] = stated.coefficient.value
    return found
