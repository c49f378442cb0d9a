"""The least change in one measure alone that takes a product's score into the next band."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from scoring.arrays import reaches
from scoring.evaluate import Inputs, evaluate, kernel_for
from scoring.form import Form, Output
from scoring.program import Program
from scoring.rounding import cleaned, round_to

Array = NDArray[np.float64]
GRID = 2001


@dataclass(frozen=True, slots=True)
class BandChange:
    """A measure's least change that reaches the band, or why there is none (`change` None)."""

    measure: str
    change: float | None
    reading: float | None


def next_band(form: Form, shown: float) -> tuple[str, float] | None:
    """The name and edge of the next better band; None where there is none, or nothing is shown."""
    if np.isnan(shown) or not form.bands:
        return None
    edges = np.array([band.edge.value for band in form.bands])
    here = int(np.searchsorted(cleaned(edges), cleaned(shown), side="right")) - 1
    better = here + 1 if form.ranks.best.value == "highest" else here - 1
    if not 0 <= better < len(edges):
        return None
    edge = edges[better] if form.ranks.best.value == "highest" else edges[here]
    return form.bands[better].name, float(edge)


def least_changes(
    program: Program, output: Output, inputs: Inputs, product: int, edge: float
) -> tuple[BandChange, ...]:
    """For each measure that the product has and the output leans on, the least change of it alone that reaches the band.

    Searched on a grid of 2 001 points from the reading to each end of its plausible range (or, without one, as far again
    on both sides), then halved down to the edge between two points. Statistics of a live reference are held as they are.
    """
    measures = {measure.name: measure for measure in program.form.measures}
    found = []
    for name in leans_on(program, output):
        value = float(inputs.values[name][0, product])
        if np.isnan(value):
            continue
        plausible = measures[name].plausible
        span = abs(value) or 1.0
        ends = (plausible[0].value, plausible[1].value) if plausible else (value - span, value + span)
        found.append(_least_change(program, output, inputs, product, name, ends, edge))
    return tuple(found)


def sources_under(program: Program, output: Output) -> tuple[str, ...]:
    """Everything that an output leans on, through other outputs too, each once, the nearest first."""
    seen: dict[str, None] = {}
    waiting = list(output.sources)
    while waiting:
        name = waiting.pop(0)
        if name in program.outputs and name not in seen:
            waiting += program.output(name).sources
        seen[name] = None
    return tuple(seen)


def leans_on(program: Program, output: Output) -> tuple[str, ...]:
    """The measures that an output leans on, through other outputs too."""
    return tuple(name for name in sources_under(program, output) if name in program.measures)


def _least_change(
    program: Program,
    output: Output,
    inputs: Inputs,
    product: int,
    measure: str,
    ends: tuple[float, float],
    edge: float,
) -> BandChange:
    value = float(inputs.values[measure][0, product])
    best: float | None = None
    for end in ends:
        grid = np.linspace(value, end, GRID)
        reached = np.flatnonzero(_reaches(program, output, inputs, product, measure, grid, edge))
        if len(reached) and reached[0] > 0:
            reading = _halve(program, output, inputs, product, measure, grid[reached[0] - 1], grid[reached[0]], edge)
            if best is None or abs(reading - value) < abs(best - value):
                best = reading
    return BandChange(measure, None if best is None else best - value, best)


def _halve(
    program: Program,
    output: Output,
    inputs: Inputs,
    product: int,
    measure: str,
    short: float,
    there: float,
    edge: float,
) -> float:
    """The reading nearest to `short` that reaches the band, by a grid within the grid, twice."""
    for _ in range(3):
        grid = np.linspace(short, there, GRID)
        reached = np.flatnonzero(_reaches(program, output, inputs, product, measure, grid, edge))
        first = int(reached[0])
        if first == 0:
            return float(cleaned(grid[0]))
        short, there = float(grid[first - 1]), float(grid[first])
    return float(cleaned(there))


def _reaches(
    program: Program, output: Output, inputs: Inputs, product: int, measure: str, readings: Array, edge: float
) -> NDArray[np.bool_]:
    """Whether the shown (or unrounded) value reaches the edge for each reading, read as a decimal of 13 digits."""
    form = program.form
    one = alone(inputs, product)
    one = replace(one, values={**one.values, measure: cleaned(readings[:, None])})
    kernel = kernel_for(program, one, [output.name])
    figures = inputs if program.figures else one
    values = evaluate(kernel, one, reference=figures).values[output.name][:, 0]
    rule = output.scale.show
    judged = round_to(values, rule.step.value, rule.rule.value) if form.bands_on.value == "shown" else values
    reached = reaches(judged, edge)
    return reached if form.ranks.best.value == "highest" else ~reached & ~np.isnan(judged)


def alone(inputs: Inputs, product: int) -> Inputs:
    """The inputs of one product."""
    at = slice(product, product + 1)
    return Inputs(
        products=(inputs.products[product],),
        values={name: values[:, at] for name, values in inputs.values.items()},
        states={name: states[at] for name, states in inputs.states.items()},
        words={name: words[at] for name, words in inputs.words.items()},
    )
