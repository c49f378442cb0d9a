"""Warnings about what the bench cannot carry: weights closer, and shown steps finer, than repeatability tells apart."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import combinations

import numpy as np

from scoring.checks.bench import Array
from scoring.checks.findings import SHOWN_STEP, WEIGHTS, Warning
from scoring.checks.idle import EXTREMES
from scoring.evaluate import Inputs, evaluate, kernel_for
from scoring.form import Number, Output
from scoring.program import Program
from scoring.uncertainty import TELLS_APART


def reach_warnings(program: Program, inputs: Inputs, uncertainties: Mapping[str, Array]) -> Iterator[Warning]:
    """All warnings of this module; `uncertainties` are the standard uncertainties of outputs, by name and product."""
    for output in program.form.outputs:
        u = uncertainties[output.name]
        if np.any(np.nan_to_num(u) > 0):
            yield from _fine_steps(output, u)
            yield from _close_weights(program, inputs, output, u)


def _fine_steps(output: Output, u: Array) -> Iterator[Warning]:
    step, median = output.scale.show.step, float(np.nanmedian(u))
    apart = TELLS_APART * median
    if apart > step.value:
        says = (
            f"shown in steps of {step.text}, but the bench tells two products apart only from {apart:.2g} points on "
            f"(1.96 sqrt 2 times the median standard uncertainty, {median:.2g})"
        )
        figures = (step.text, f"{apart:.2g}", f"{median:.2g}")
        yield Warning(output.place, output.address, says, SHOWN_STEP, figures)


def _close_weights(program: Program, inputs: Inputs, output: Output, u: Array) -> Iterator[Warning]:
    """Two weights that differ although making both their mean moves no product by more than the bench tells apart."""
    weights = [(part.source, part.weight) for part in output.parts if part.weight is not None and part.weight.value > 0]
    pairs = [(one, other) for one, other in combinations(weights, 2) if one[1].value != other[1].value]
    if not pairs or output.blend is None or output.blend.value in EXTREMES:
        return
    addresses = tuple(weight.address for _, weight in weights)
    settings = {weight.address: np.full(len(pairs) + 1, weight.value, float) for _, weight in weights}
    for row, ((_, one), (_, other)) in enumerate(pairs, start=1):
        settings[one.address][row] = settings[other.address][row] = (one.value + other.value) / 2
    kernel = kernel_for(program, inputs, [output.name], addresses)
    values = evaluate(kernel, inputs, settings).values[output.name]
    for row, (one_part, other_part) in enumerate(pairs, start=1):
        moves = np.abs(values[row] - values[0])
        if not np.array_equal(np.isnan(values[row]), np.isnan(values[0])):
            continue  # a product gains or loses its score: that is no small move
        known = np.isfinite(moves) & np.isfinite(u)
        if known.any() and np.all(moves[known] <= TELLS_APART * u[known]):
            yield _close(one_part, other_part, float(moves[known].max()), TELLS_APART * float(np.median(u[known])))


def _close(one: tuple[str, Number], other: tuple[str, Number], move: float, apart: float) -> Warning:
    says = (
        f"{one[1].text} for `{one[0]}` and {other[1].text} for `{other[0]}` differ less than the bench can tell: made equal, "
        f"no product moves by more than {move:.2g}, and two are told apart only from {apart:.2g} on (median)"
    )
    figures = (f"{one[0]} {one[1].text}", f"{other[0]} {other[1].text}", f"{move:.2g}", f"{apart:.2g}")
    return Warning(one[1].place, one[1].address, says, WEIGHTS, figures)
