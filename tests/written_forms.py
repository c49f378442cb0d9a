"""Formulas written in a test: read from text, and scored on readings given by name."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import ArrayLike

from scoring.blends import BLENDS
from scoring.catalogue import State, from_arrays
from scoring.errors import FormulaError
from scoring.form import Form
from scoring.reader import read_sources
from scoring.table.evaluate import Inputs
from scoring.table.table import ScoreTable, score_catalogue
from scoring.texts.source import Source

NAN = float("nan")
#: Three measures and a scale from 1 to 10; a test adds what it is about.
HEAD = """\
formula: trial
scale: {from: 1, to: 10}
measures:
  x: {unit: "1"}
  y: {unit: "1"}
  z: {unit: "1"}
"""


def own_numbers(blend: str, **figures: str) -> str:
    """What is written behind a blend for the numbers that it has of its own: a figure given by name, or its example."""
    written = (f"{n.name}: {figures[n.name]}" if n.name in figures else n.example for n in BLENDS[blend].numbers)
    return "".join(f", {text}" for text in written)


def form_of(text: str, *neighbours: str) -> Form:
    """The form written in a text (and its neighbour)."""
    return read_sources(
        [Source(f"{name}.yaml", one) for name, one in zip(("form", "beside"), (text, *neighbours), strict=False)]
    )


def faults_of(text: str, *neighbours: str) -> list[str]:
    """Every fault of a text, as it is said."""
    try:
        form_of(text, *neighbours)
    except FormulaError as fault:
        return [str(problem) for problem in fault.problems]
    return []


def score(text: str, readings: Mapping[str, ArrayLike], words: Mapping[str, Sequence[str]] | None = None) -> ScoreTable:
    """The table of products p1, p2, ... under a formula; a measure that is not given is missing."""
    counts = [len(np.asarray(values)) for values in (*readings.values(), *(words or {}).values())]
    products = [f"p{index + 1}" for index in range(max(counts, default=1))]
    return score_catalogue(form_of(text), from_arrays(products, readings, words))


def values_of(text: str, name: str, **readings: ArrayLike) -> list[float]:
    """The values of one rating or score, product by product."""
    return [float(value) for value in score(text, readings).column(name).value]


def statuses_of(table: ScoreTable, name: str) -> list[str]:
    """The statuses of one rating or score, product by product."""
    column = table.column(name)
    return [column.status_text(product) for product in range(len(column.value))]


def curve_form(curve: str, scale: str = "{from: 1, to: 10}") -> str:
    """A form of one rating `r` of the measure x through one curve, written inside the braces."""
    measures = 'measures: {x: {unit: "1"}}'
    return f"formula: trial\nscale: {scale}\n{measures}\nratings:\n  r: {{measure: x, curve: {{{curve}}}}}\n"


def inputs_of_arrays(readings: Mapping[str, ArrayLike], absent: Mapping[str, ArrayLike] | None = None) -> Inputs:
    """Inputs for a kernel: NaN is missing, and where `absent` says so the measure does not apply."""
    arrays = {name: np.asarray(values, float) for name, values in readings.items()}
    states = {name: np.where(np.isnan(a), State.MISSING, State.VALUE).astype(np.uint8) for name, a in arrays.items()}
    for name, where in (absent or {}).items():
        states[name][np.asarray(where, bool)] = State.NOT_APPLICABLE
    count = len(next(iter(arrays.values())))
    return Inputs(tuple(f"p{i + 1}" for i in range(count)), {n: a[None, :] for n, a in arrays.items()}, states, {})
