"""Gates: conditions outside the arithmetic that withhold a score or attach a remark, with a guard band where stated."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from scoring.errors import CatalogueError, Problem
from scoring.evaluate import Evaluation, Inputs, evaluate, kernel_for
from scoring.form import Gate
from scoring.program import Program

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Passage:
    """What one gate says of each product: withheld or not, and a remark or "". Arrays of shape (products,)."""

    gate: Gate
    withheld: NDArray[np.bool_]
    remarks: tuple[str, ...]


def pass_gates(
    program: Program, inputs: Inputs, evaluation: Evaluation, uncertainty: Mapping[str, Array]
) -> tuple[Passage, ...]:
    """Every gate's word on every product.

    Parameters
    ----------
    uncertainty : mapping of measure name to array, shape (products,)
        The standard uncertainty of each summarised reading, in its unit; needed by gates with a guard band.

    Raises
    ------
    CatalogueError
        A guard band on a measure whose repeatability is not known.
    """
    return tuple(_pass(gate, program, inputs, evaluation, uncertainty) for gate in program.form.gates)


def _pass(
    gate: Gate, program: Program, inputs: Inputs, evaluation: Evaluation, uncertainty: Mapping[str, Array]
) -> Passage:
    met = evaluation.values[f"gate {gate.name}"][0] > 0.5
    known = _known(gate, inputs, evaluation)
    near = _near(gate, program, inputs, uncertainty) & known & ~met if gate.guard is not None else ~known & False
    missing = gate.missing or f"{', '.join(gate.when.names)} not known: gate {gate.name} not assessed"
    remarks = []
    for is_known, is_met, is_near in zip(known, met, near, strict=True):
        remark = missing if not is_known else gate.withhold or gate.remark if is_met else gate.near if is_near else ""
        remarks.append(remark)
    withheld = known & met if gate.withhold else known & False
    return Passage(gate, withheld, tuple(remarks))


def _known(gate: Gate, inputs: Inputs, evaluation: Evaluation) -> NDArray[np.bool_]:
    """Whether everything that the gate names is there."""
    known = np.ones(len(inputs.products), bool)
    for name in gate.when.names:
        known &= evaluation.presence.here[name][0]
    return known


def _near(gate: Gate, program: Program, inputs: Inputs, uncertainty: Mapping[str, Array]) -> NDArray[np.bool_]:
    """Whether the gate would close if the measure lay the guard band further on, to either side."""
    assert gate.guard is not None  # only asked of gates that have one
    (measure,) = gate.when.names
    values = inputs.values[measure]
    u = uncertainty.get(measure, np.full(len(inputs.products), np.nan))
    if np.any(np.isnan(u) & ~np.isnan(values)):
        found = f"the guard band of gate `{gate.name}` without a known repeatability of {measure}"
        hint = f"State `repeatability` for {measure}, or give repeats to pool."
        raise CatalogueError([Problem(gate.guard.place, found, "a standard uncertainty", hint)])
    reach = gate.guard.value * u
    shifted = replace(inputs, values={**inputs.values, measure: np.vstack([values - reach, values + reach])})
    name = f"gate {gate.name}"
    met = evaluate(kernel_for(program, shifted, [name]), shifted).values[name] > 0.5
    return np.asarray(met.any(axis=0))
