"""Warnings about how a formula fits its catalogue: curves that saturate, and what a live reference lets a newcomer move."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from scoring.catalogue import State
from scoring.checks.domain import Domain
from scoring.checks.findings import REFERENCE, SATURATION, Warning
from scoring.curves import KINDS
from scoring.curves.kind import HELD, HIGH, LOW
from scoring.form import Curve, Expression, Measure, Output, Part
from scoring.numbers.array_types import Array
from scoring.program.operators import STATISTICS
from scoring.program.program import Program
from scoring.table.evaluate import Inputs, evaluate, kernel_for, population_of, stages
from scoring.units.role import in_unit

#: A curve that is held at one end for more than this share of the products saturates.
SATURATED = 0.1
#: How far beyond the catalogue's mean a newcomer is put where a measure has no plausible range, in standard deviations.
FAR = 5.0


def saturation_warnings(program: Program, inputs: Inputs) -> Iterator[Warning]:
    """Curves that hold more than a tenth of the products at one end."""
    outputs = evaluate(kernel_for(program, inputs), inputs).values
    steps = stages(program, inputs)
    symbols = {(step.output, step.address): str(step.symbol) for step in program.steps if step.kind == "curve"}
    for output in program.form.outputs:
        for part in output.parts:
            if part.curve is None:
                continue
            reading = inputs.values.get(part.source, outputs.get(part.source))
            if reading is None:
                continue
            rated = steps[symbols[output.name, part.address]]
            yield from _saturated(program, output, part, part.curve, np.asarray(reading)[0], np.atleast_2d(rated)[0])


def _saturated(
    program: Program, output: Output, part: Part, curve: Curve, reading: Array, rated: Array
) -> Iterator[Warning]:
    """Where a curve is held at an end for most products; reading, rated : shape (products,), before and after the curve."""
    there = int(np.isfinite(reading).sum())
    for end, held in _held(output, curve, reading, rated, program.form.units.get(part.source, "")):
        count = int(held.sum())
        if there and count > SATURATED * there:
            says = (
                f"the curve is held {end} for {count} of {there} products ({100 * count / there:.0f} %): it does not tell "
                "them apart"
            )
            yield Warning(curve.place, curve.address, says, SATURATION)


def _held(
    output: Output, curve: Curve, reading: Array, rated: Array, unit: str
) -> Iterator[tuple[str, np.ndarray[tuple[int, ...], np.dtype[np.bool_]]]]:
    """Each end of a curve, in words, and whether each product is held there; all of shape (products,)."""
    kind = KINDS[curve.kind]
    if kind.ends is not None and not kind.stepped:
        (low, high), (below, above) = kind.ends(curve), curve.outside
        if below.value == HELD:
            yield f"below its low end, {in_unit(low.text, unit)}", reading < low.value
        if above.value == HELD:
            yield f"above its high end, {in_unit(high.text, unit)}", reading > high.value
    bottom, top = output.scale.low, output.scale.high
    if LOW in kind.clamped:
        yield f"at the scale's low end, {bottom.text}", rated <= bottom.value
    if HIGH in kind.clamped and top is not None:
        yield f"at the scale's high end, {top.text}", rated >= top.value


def newcomer_warnings(domain: Domain, inputs: Inputs) -> Iterator[Warning]:
    """What leans on a live reference, and how far one extreme newcomer would move the others."""
    program = domain.program
    base = evaluate(kernel_for(program, inputs), inputs).values
    for measure in program.form.measures:
        leaning = list(_leaning(program, measure.name))
        ends = _extremes(measure, inputs) if leaning else ()
        moved = {end: _with_newcomer(program, inputs, measure.name, end) for end in ends}
        for output, thing in leaning:
            moves = {end: np.abs(found[output.name][0, :-1] - base[output.name][0]) for end, found in moved.items()}
            yield from _moves(inputs, f"readings of {measure.name}", measure.unit, output, thing, moves)
    for rating in program.form.outputs:
        leaning = list(_leaning(program, rating.name))
        moved = {end: _with_newly_rated(program, inputs, rating.name, end) for end in _scale_ends(rating) if leaning}
        for output, thing in leaning:
            moves = {end: np.abs(found[output.name][0] - base[output.name][0]) for end, found in moved.items()}
            yield from _moves(inputs, f"values of {rating.name}", "points", output, thing, moves)


def _leaning(program: Program, measure: str) -> Iterator[tuple[Output, Curve | Expression]]:
    """Curves with a live reference on a measure or rating, and expressions that take its statistics."""
    statistics = {figure.statistic for figure in program.figures if figure.measure == measure}
    if not statistics:
        return
    for output in program.form.outputs:
        for source, curve in output.curves:
            if curve.reference is not None and curve.reference.live and source == measure:
                yield output, curve
        for expression in (output.value, *(limit.when for limit in output.limits)):
            if expression is not None and _takes_statistics(expression.term, measure):
                yield output, expression


def _takes_statistics(term: object, measure: str) -> bool:
    op, args = getattr(term, "op", ""), getattr(term, "args", ())
    taken = op in {"mean", "sd", "median", "percentile", *STATISTICS}
    if taken and any(getattr(arg, "args", ()) == (measure,) or arg == measure for arg in args):
        return True
    return any(_takes_statistics(arg, measure) for arg in args)


def _extremes(measure: Measure, inputs: Inputs) -> tuple[float, ...]:
    if measure.plausible is not None:
        return measure.plausible[0].value, measure.plausible[1].value
    known = inputs.values[measure.name][0]
    known = known[np.isfinite(known)]
    if len(known) < 2:
        return ()
    mean, sd = float(np.mean(known)), float(np.std(known, ddof=1))
    return mean - FAR * sd, mean + FAR * sd


def _with_newcomer(program: Program, inputs: Inputs, measure: str, reading: float) -> dict[str, Array]:
    """The outputs with one more product, at the end, of which this reading alone is known: name -> shape (1, products + 1)."""
    values = {name: np.append(array[:1], [[np.nan]], axis=1) for name, array in inputs.values.items()}
    states = {name: np.append(array, np.uint8(State.MISSING)) for name, array in inputs.states.items()}
    values[measure][0, -1], states[measure][-1] = reading, State.VALUE
    words = {name: (*found, "") for name, found in inputs.words.items()}
    joined = Inputs((*inputs.products, "a newcomer"), values, states, words)
    return dict(evaluate(kernel_for(program, joined), joined).values)


def _scale_ends(rating: Output) -> tuple[float, ...]:
    """Where a newcomer of a rating is put: at the ends of its scale, as far as it has them."""
    high = rating.scale.high
    return (rating.scale.low.value,) if high is None else (rating.scale.low.value, high.value)


def _with_newly_rated(program: Program, inputs: Inputs, rating: str, value: float) -> dict[str, Array]:
    """The outputs where the population of one rating has one more member, name -> shape (1, products)."""
    population = np.append(population_of(program, inputs, rating)[:1], [[value]], axis=1)
    reference = replace(inputs, values={**inputs.values, rating: population})
    return dict(evaluate(kernel_for(program, inputs), inputs, reference=reference).values)


def _moves(
    inputs: Inputs, population: str, unit: str, output: Output, thing: Curve | Expression, moves: dict[float, Array]
) -> Iterator[Warning]:
    """How far a newcomer moves the others at most; moves : end -> shape (products,)."""
    largest = {end: float(np.nanmax(move)) for end, move in moves.items() if np.isfinite(move).any()}
    if not largest:
        return
    end = max(largest, key=lambda each: largest[each])
    product = inputs.products[int(np.nanargmax(moves[end]))]
    says = (
        f"{output.name} leans on the live {population}: one newcomer at {in_unit(f'{end:.6g}', unit)} would move "
        f"another product ({product}) by {largest[end]:.2g} points"
    )
    yield Warning(thing.place, thing.address, says, REFERENCE)
