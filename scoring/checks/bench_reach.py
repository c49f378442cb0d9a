"""Warnings about what the bench cannot carry: weights closer, and shown steps finer, than repeatability tells apart."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from itertools import combinations
from statistics import NormalDist

import numpy as np

from scoring.blends import Weights
from scoring.checks.findings import NO_REPEATABILITY, SHOWN_STEP, WEIGHTS, Warning
from scoring.form import Number, Output
from scoring.measurement_error import ErrorModel, noise_known
from scoring.numbers.array_types import Array
from scoring.program.program import Program
from scoring.table.evaluate import Inputs, evaluate, kernel_for
from scoring.table.uncertainty import TELLS_APART, stepped, uncertainty, uncertainty_of_difference

#: The share of catalogues in which no move of noise alone is taken for one.
COVERAGE = 0.95
#: A move of less than this share of the score is the dust of binary arithmetic.
DUST = 1e-12


def unknown_noise_warnings(program: Program, errors: ErrorModel) -> Iterator[Warning]:
    """One warning where nothing is known of the errors of some measures that ratings and scores stand on.

    Its place and address are those of the first of these measures.
    """
    noise = noise_known(errors, program.measures_under(*program.outputs))
    if not noise.unknown:
        return
    first = program.form.measure(noise.unknown[0])
    leans = "nothing is said of what the bench can tell apart"
    if noise.moving:
        leans = "what is said of places leans on the others alone"
    says = f"no repeatability: {noise.counted} ({noise.named}); {leans}"
    yield Warning(first.place, first.address, says, NO_REPEATABILITY, noise.unknown)


def reach_warnings(program: Program, inputs: Inputs, errors: ErrorModel) -> Iterator[Warning]:
    """All warnings of this module; `errors` are those of the readings."""
    found = uncertainty(program, inputs, errors)
    for output in program.form.outputs:
        u = found[output.name]
        if np.any(np.nan_to_num(u) > 0):
            noise = noise_known(errors, program.measures_under(output.name))
            for warning in (*_fine_steps(output, u), *_close_weights(program, inputs, output, errors)):
                yield replace(warning, says=noise.at_best(warning.says))


def _fine_steps(output: Output, u: Array) -> Iterator[Warning]:
    """Where the shown step is finer than the bench can tell; u : shape (products,), of the output."""
    step, median = output.scale.show.step, float(np.nanmedian(u))
    apart = TELLS_APART * median
    if apart > step.value:
        says = (
            f"shown in steps of {step.text}, but the bench tells two products apart only from {apart:.2g} points on "
            f"(1.96 sqrt 2 times the median standard uncertainty, {median:.2g})"
        )
        figures = (step.text, f"{apart:.2g}", f"{median:.2g}")
        yield Warning(output.place, output.address, says, SHOWN_STEP, figures)


def _close_weights(program: Program, inputs: Inputs, output: Output, errors: ErrorModel) -> Iterator[Warning]:
    """Two weights that differ although making both their mean moves no product by more than noise makes of that move.

    The same readings go into the score under both settings, so that only their parts' difference errs.
    """
    weights = [(part.source, part.weight) for part in output.parts if part.weight is not None and part.weight.value > 0]
    pairs = [(one, other) for one, other in combinations(weights, 2) if one[1].value != other[1].value]
    blend = output.blending
    if not pairs or blend is None or blend.weights is Weights.MARKS:
        return
    kernel = kernel_for(program, inputs, [output.name], [weight.address for _, weight in weights])
    steps = stepped(program, inputs, errors)
    stated = {weight.address: weight.value for _, weight in weights}

    def scores(settings: Mapping[str, float]) -> tuple[Array, Array]:
        """The score of the readings as they stand, shape (products,), and moved by steps."""
        numbers = {address: np.array([value]) for address, value in settings.items()}
        as_read, in_rows = (evaluate(kernel, own, numbers, reference=steps.held) for own in (steps.held, steps.moved))
        return as_read.values[output.name][0], in_rows.values[output.name]

    before, before_moved = scores(stated)
    for one, other in pairs:
        mean = (one[1].value + other[1].value) / 2
        after, after_moved = scores({**stated, one[1].address: mean, other[1].address: mean})
        if not np.array_equal(np.isnan(after), np.isnan(before)):
            continue  # a product gains or loses its score: that is no small move
        there = np.isfinite(before)
        moves = np.abs(after - before)[there]
        u = np.nan_to_num(uncertainty_of_difference(before_moved, after_moved, steps))[there]
        if (u > 0).any() and np.all(moves <= joint_factor(int((u > 0).sum())) * u + DUST * np.abs(before[there])):
            yield _close(one, other, float(moves.max()), float(u[moves.argmax()]))


def joint_factor(products: int) -> float:
    """How many standard uncertainties the largest of some independent moves of noise alone stays within, at 95 %.

    Examples
    --------
    >>> round(joint_factor(1), 2), round(joint_factor(53), 2)
    (1.96, 3.3)
    """
    return NormalDist().inv_cdf((1 + COVERAGE ** (1 / products)) / 2)


def _close(one: tuple[str, Number], other: tuple[str, Number], move: float, u: float) -> Warning:
    says = (
        f"{one[1].text} for `{one[0]}` and {other[1].text} for `{other[0]}` differ less than the bench can tell: made equal, no "
        f"product moves by more than noise makes of that move, all products judged at once, at 95 % (at most {move:.2g} "
        f"points, known to {u:.2g}: the same readings err alike under both)"
    )
    figures = (f"{one[0]} {one[1].text}", f"{other[0]} {other[1].text}", f"{move:.2g}", f"{u:.2g}")
    return Warning(one[1].place, one[1].address, says, WEIGHTS, figures)
