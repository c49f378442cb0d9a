"""What the errors of readings are made of, as the formula declares it: the ground that every u and place rests on."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from analysis.languages.facts import Block, Run, Runs, Section, Table
from analysis.languages.writing import ABSENT, code, figure, listed_runs, name, paragraph, runs, table
from analysis.methods_appendix.workings import Workings
from analysis.noise_in_words import WORDS, noise_in_words
from scoring.form import ErrorCorrelation
from scoring.measurement_error.components import Component

SHARED = {
    "repeatability": "each reading its own",
    "between_sessions": "all readings of the measure in one session",
    "between_specimens": "all readings of one specimen",
    "systematic": "all readings of the measure",
}


def error_components(found: Workings) -> Section | None:
    """The components of errors, their sizes and correlations; None where the formula declares none."""
    rows = [row for measure in found.form.measures for row in _rows(found, measure.name)]
    if not rows:
        return None
    says = (
        "A reading errs by the sum of these. Noise is that of "
        f"{noise_in_words(found.form)}. The size is a standard deviation of one reading in the unit of the measure, or its range"
        " over the products where it is a share of the reading; where it is estimated, its degrees of freedom are reckoned with."
    )
    blocks: list[Block] = [paragraph(says), _table(rows), *_correlations(found), *_unread(found)]
    return Section("errors", runs("What the errors of readings are made of"), tuple(blocks))


def _table(rows: list[tuple[str | Run | Runs, ...]]) -> Table:
    heads = ("measure", "component", "shared by", "standard deviation #", "unit", "freedom #", "from")
    return table("errors", runs("Components of the errors of readings."), heads, rows)


def _rows(found: Workings, measure: str) -> Iterator[tuple[str | Run | Runs, ...]]:
    errors = found.table.errors.measures.get(measure)
    noun = found.form.measure(measure)
    for component in errors.components if errors is not None else ():
        yield (
            (name(noun.label),),
            (Run(f"{WORDS[component.name]} "), code(noun.errors[component.name].address)),
            SHARED[component.name],
            _size(component),
            name(noun.unit),
            _freedom(component),
            _origin(component),
        )


def _size(component: Component) -> str:
    known = component.sd[~np.isnan(component.sd)]
    if not len(known):
        return ABSENT
    low, high = figure(float(known.min()), 3), figure(float(known.max()), 3)
    return low if low == high else f"{low} to {high}"


def _freedom(component: Component) -> str:
    low, high = float(component.freedom.min()), float(component.freedom.max())
    if math.isinf(high):
        return "known"
    return f"{low:.3g}" if low == high else f"{low:.3g} to {high:.3g}"


def _origin(component: Component) -> str:
    spread = "" if component.distribution == "normal" else f", {component.distribution}"
    return component.origin + spread


def _correlations(found: Workings) -> Iterator[Block]:
    for stated in found.form.error_correlations:
        labels = [name(m.label) for m in found.form.measures if m.name in stated.measures]
        yield paragraph(
            f"Errors ({WORDS[stated.component.value]}) of ",
            *listed_runs(labels),
            f" are correlated: {_coefficient(stated)} [",
            code(stated.address),
            "].",
        )


def _coefficient(stated: ErrorCorrelation) -> str:
    if stated.coefficient is not None:
        return f"coefficient {stated.coefficient.text}"
    return "each coefficient pooled from this catalogue's runs"


def _unread(found: Workings) -> Iterator[Block]:
    """How what was not read is drawn, where the study draws it."""
    if found.unread:
        yield paragraph(
            "A score with a missing part is published as the missing rule says. For the places that a product may hold, what was"
            " not read is drawn: ",
            "; ".join(found.unread),
            ".",
        )
