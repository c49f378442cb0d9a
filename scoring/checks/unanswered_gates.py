"""Warnings about gates that cannot be asked everywhere: their condition may have no value though all that it names is there."""

from __future__ import annotations

from collections.abc import Iterator

from scoring.checks.domain import Domain
from scoring.checks.findings import NO_VALUE, Warning
from scoring.checks.nodes import UNDEFINED, Enclosure
from scoring.checks.proving import Box, Field, Purse, prove
from scoring.form import Gate
from scoring.table.gates import without_value

MOST_BOXES = 400


def unanswered_gate_warnings(domain: Domain) -> Iterator[Warning]:
    """One for each gate of which it is not proved that its condition has a value for all readings in their ranges."""
    steps = {step.output: step for step in domain.program.steps if step.kind == "gate"}
    asked = []
    for gate in domain.program.form.gates:
        condition = steps[f"gate {gate.name}"].expression.args[0].args[0]  # without what must be there
        asked.append((gate, domain.tape.slot(domain.on_tape(condition))))
    root = domain.tape.run(domain.wide.box, range(len(domain.tape.nodes)))
    for gate, slot in asked:
        if not _is_answered(domain, root, slot):
            yield Warning(gate.place, gate.address, _says(gate), NO_VALUE)


def _is_answered(domain: Domain, root: Enclosure, slot: int) -> bool:
    if not root.hazards[slot] & UNDEFINED:
        return True

    def holds(box: Box, at: Enclosure) -> bool:
        del box
        return not at.hazards[slot] & UNDEFINED

    return prove(field_of(domain, root, slot), holds, MOST_BOXES).closed


def field_of(domain: Domain, root: Enclosure, slot: int) -> Field:
    """What a claim about a condition outside the arithmetic is proved over: all readings in their ranges."""
    tape = domain.tape
    cone = tape.cone([slot])
    box = {side: domain.wide.box[side] for side in cone if side in domain.wide.box}
    cuts = {at: domain.hints[name] for name, at in domain.measures.items()}
    return Field(tape, cone, box, root, cuts, frozenset(domain.words.values()), None, Purse())


def _says(gate: Gate) -> str:
    remark = gate.missing or without_value(gate)
    lead = f"`{gate.when.text}` may have no value somewhere (a division by 0, say); "
    if gate.unknown.value == "withhold":
        return f"{lead}the scores are withheld there, with the remark “{remark}”"
    return f"{lead}the scores stand there, with the remark “{remark}”: write `unknown: withhold` if they must not"
