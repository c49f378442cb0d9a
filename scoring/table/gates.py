"""Gates: conditions outside the arithmetic that withhold a score or attach a remark, with a guard band where stated."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from scoring.errors import CatalogueError, Problem
from scoring.form import Gate
from scoring.numbers.array_types import Array, Flags
from scoring.program.program import Program
from scoring.table.evaluate import Evaluation, Inputs, evaluate, kernel_for


@dataclass(frozen=True, slots=True, eq=False)
class Passage:
    """What one gate says of each product: withheld or not, and a remark or "". Arrays of shape (products,)."""

    gate: Gate
    withheld: Flags
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
    """What one gate does to each product; uncertainty : measure -> shape (products,)."""
    answer = evaluation.values[f"gate {gate.name}"][0]
    known = _known(gate, inputs, evaluation)
    met = answer > 0.5
    near = known & False
    if gate.guard is not None:
        near = _near(gate, program, inputs, uncertainty) & known & ~met
    remarks = np.full(len(known), "", dtype=object)
    remarks[near] = gate.near
    remarks[met] = gate.withhold or gate.remark
    remarks[~known] = gate.missing or not_known(gate)
    remarks[known & np.isnan(answer)] = gate.missing or without_value(gate)
    withheld = met & bool(gate.withhold)
    if gate.unknown.value == "withhold":
        withheld = withheld | ~known | np.isnan(answer)
    return Passage(gate, withheld, tuple(remarks.tolist()))


def not_known(gate: Gate) -> str:
    """The remark where something that the gate asks for is missing, if the form gives none."""
    return f"{', '.join(gate.when.names)} not known: gate {gate.name} not assessed"


def without_value(gate: Gate) -> str:
    """The remark where all is there and the condition has no value all the same, by a division by 0, say."""
    return f"`{gate.when.text}` has no value: gate {gate.name} not assessed"


def _known(gate: Gate, inputs: Inputs, evaluation: Evaluation) -> Flags:
    """Whether everything that the gate names is there, shape (products,)."""
    known = np.ones(len(inputs.products), bool)
    for name in gate.when.names:
        known &= evaluation.presence.here[name][0]
    return known


def _near(gate: Gate, program: Program, inputs: Inputs, uncertainty: Mapping[str, Array]) -> Flags:
    """Whether the gate would close if the measure lay the guard band further on, to either side; shape (products,).

    uncertainty : measure -> shape (products,)
    """
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
