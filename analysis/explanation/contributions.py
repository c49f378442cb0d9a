"""What each part contributes to a rating or score: shares that sum to it exactly.

A blend that is a sum of its parts splits into its terms, from 0. For any other, and for expressions, the split is Shapley's: the
mean, over every order in which the parts could be put in, of what each adds when it replaces the baseline's value by the
product's. The baseline is the catalogue's median of each part, and the shares sum to the difference from the baseline's score.
Source: L. S. Shapley, A value for n-person games, Contributions to the Theory of Games II, 1953 (from memory).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from sympy import Symbol

from analysis.shapley import every_coalition, shapley_shares
from scoring.blends import Weights
from scoring.form import Output
from scoring.numbers.array_types import Array, Flags
from scoring.program.kernel import kernel_of
from scoring.program.program import Program
from scoring.table.evaluate import Evaluation, Inputs, symbols_at

MOST_PARTS = 12


@dataclass(frozen=True, slots=True)
class Contributions:
    """How a value comes about: `start`, plus the parts' shares, plus what limits and rounding add, is the value.

    against: what the shares are measured from, in words; parts: source name and points, in the order of the formula.
    """

    start: float
    against: str
    parts: tuple[tuple[str, float], ...]
    limits: float
    rounding: float
    value: float


def contributions(
    program: Program, output: Output, inputs: Inputs, evaluation: Evaluation, worked: Mapping[str, Array], product: int
) -> Contributions | None:
    """The contributions to one product's value; None where there is no value, or more than 12 parts of a blend that
    does not split into terms.

    Parameters
    ----------
    worked : every step's values by symbol name, from `scoring.table.evaluate.stages`
    """
    value = float(evaluation.values[output.name][0, product])
    if np.isnan(value):
        return None
    blend = output.blending
    if output.value is None and (blend is None or blend.additive):
        return _terms(program, output, evaluation, worked, product, value)
    return _shapley(program, output, inputs, evaluation, product, value)


def _terms(
    program: Program, output: Output, evaluation: Evaluation, worked: Mapping[str, Array], product: int, value: float
) -> Contributions:
    steps = [step for step in program.steps if step.output == output.name]
    curves = {step.address: float(worked[str(step.symbol)][0, product]) for step in steps if step.kind == "curve"}
    weights, values = [], []
    whole = 0.0
    for part in output.parts:
        here = np.broadcast_to(evaluation.presence.here[part.source][0], len(worked[str(steps[0].symbol)][0]))[product]
        applies = np.broadcast_to(evaluation.presence.applies[part.source][0], len(worked[str(steps[0].symbol)][0]))[
            product
        ]
        weight = part.weight.value if part.weight is not None else 1.0
        whole += weight if applies or not output.missing.leaves_out else 0.0
        found = curves.get(part.address)
        if found is None:
            found = float(evaluation.values[part.source][0, product])
        if not here:
            lowest = output.missing.otherwise.value == "lowest" and applies
            weight, found = (weight, output.scale.low.value) if lowest else (0.0, 0.0)
        weights.append(weight)
        values.append(found)
    total = sum(weights)
    factor, blend = 1.0, output.blending
    if blend is not None and blend.weights is Weights.MULTIPLIERS:
        factor = whole
    shares = [factor * weight * found / total for weight, found in zip(weights, values, strict=True)]
    limited = _after(steps, worked, product, "limit")
    blended = sum(shares)
    limits = limited - blended if limited is not None else 0.0
    parts = tuple((part.source, share) for part, share in zip(output.parts, shares, strict=True))
    return Contributions(0.0, "0", parts, limits, value - blended - limits, value)


def _after(steps: list, worked: Mapping[str, Array], product: int, kind: str) -> float | None:  # type: ignore[type-arg]
    """The value after the last step of a kind."""
    found = [float(worked[str(step.symbol)][0, product]) for step in steps if step.kind == kind]
    return found[-1] if found else None


def _shapley(
    program: Program, output: Output, inputs: Inputs, evaluation: Evaluation, product: int, value: float
) -> Contributions | None:
    sources = [s for s in output.sources if _can_be_exchanged(program, s, inputs, evaluation, product)]
    if not sources or len(sources) > MOST_PARTS:
        return None
    coalitions = every_coalition(len(sources))
    values = _coalition_values(program, output, inputs, evaluation, product, sources, coalitions)
    if not np.all(np.isfinite(values)):
        return None
    shares = shapley_shares(values, len(sources))
    parts = tuple(zip(sources, (float(share) for share in shares), strict=True))
    start = float(values[0])
    against = "the same output with each part at the catalogue's median"
    return Contributions(start, against, parts, 0.0, value - start - float(shares.sum()), value)


def _can_be_exchanged(program: Program, source: str, inputs: Inputs, evaluation: Evaluation, product: int) -> bool:
    """Whether a source varies by product and is there for this one."""
    if source not in program.outputs and source not in program.measures:
        return False
    here = evaluation.presence.here[source][0]
    return bool(np.broadcast_to(here, len(inputs.products))[product])


def _coalition_values(
    program: Program,
    output: Output,
    inputs: Inputs,
    evaluation: Evaluation,
    product: int,
    sources: list[str],
    coalitions: Flags,
) -> Array:
    """The output's value for each coalition: its members at the product's values, the others at the medians."""
    given = [source for source in output.sources if source in program.outputs]
    kernel = kernel_of(program, [output.name], given=given)
    symbols: dict[Symbol, Array | float] = dict(symbols_at(program, inputs, product))
    symbols |= {symbol: np.array([values]) for symbol, values in program.populations.values()}
    for name in given:
        symbols[program.outputs[name]] = float(evaluation.values[name][0, product])
    for index, source in enumerate(sources):
        column = evaluation.values[source][0] if source in program.outputs else inputs.values[source][0]
        exchanged = np.where(coalitions[:, index], column[product], np.nanmedian(column))
        symbol = program.outputs[source] if source in program.outputs else program.measures[source]
        symbols[symbol] = exchanged[:, None]
    return kernel(symbols, (len(coalitions), 1))[output.name][:, 0]
