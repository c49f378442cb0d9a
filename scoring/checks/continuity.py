"""The claim that an output is continuous in the readings, but for the jumps that the form declares."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from scoring.checks.bench import Bench
from scoring.checks.breaks import NO_JUMP, Break
from scoring.checks.cases import cases, retyped_jump
from scoring.checks.domain import Domain, divisor
from scoring.checks.findings import NOT_DECIDED, PROVED, REFUTED, Finding, Jump
from scoring.checks.jumps import Met
from scoring.checks.nodes import UNDEFINED, Enclosure
from scoring.checks.proving import Box, prove
from scoring.checks.survey import Survey
from scoring.checks.wording import advice, give_a_range
from scoring.form import Output
from scoring.intervals import ZERO

#: A jump that is met must be this large, in points, to refute: far above what neighbouring doubles differ by.
REAL_JUMP = 1e-6
QUICK = 400


def felt_by(domain: Domain, breaks: Sequence[Break]) -> dict[str, tuple[str, ...]]:
    """For each break, the outputs that can feel it."""
    felt: dict[str, list[str]] = {each.name: [] for each in breaks}
    for output in domain.program.order:
        cone = domain.tape.cone([domain.outputs[output]])
        for each in breaks:
            if each.slot in cone and any(size > NO_JUMP for _, size, _ in _sizes(domain, each, output)):
                felt[each.name].append(output)
    return {name: tuple(outputs) for name, outputs in felt.items()}


def _sizes(domain: Domain, each: Break, output: str) -> list[tuple[str, float, bool]]:
    """For each place of a break: how far the output can jump there, and whether that is its size wherever it is felt."""
    tape, root, slot = domain.tape, domain.room(output).root, domain.outputs[output]
    cone = tape.cone([slot])
    later = tape.depending([each.slot], cone)
    found: dict[str, tuple[float, bool]] = {}
    for leap in each.leaps:
        at = tape.run(leap.pinned, tape.depending(leap.pinned, cone), root)
        change = tape.differences(at, each.slot, leap.change, later).get(slot, ZERO)
        size, exact = found.get(leap.where, (0.0, True))
        found[leap.where] = max(size, change.size), exact and each.exact and change.width <= NO_JUMP
    return [(where, size, exact) for where, (size, exact) in found.items()]


def continuity_finding(
    domain: Domain,
    bench: Bench,
    survey: Survey,
    output: Output,
    breaks: Sequence[Break],
    felt: Mapping[str, Sequence[str]],
    met: Mapping[tuple[str, str], Met],
) -> Finding:
    """The finding on one output; every jump that it can make is listed with its size."""
    name = output.name
    own = [
        each for each in breaks if name in felt[each.name] and not _is_no_pole(domain, each, (each.name, name) in met)
    ]
    jumps = tuple(jump for each in own for jump in _jumps(domain, each, name, met))
    samples = survey.samples(name, domain.leans_on(name))
    declared = [jump for jump in jumps if jump.declared]
    claim = "is continuous" + (f" but for {_counted(len(declared))}" if declared else "")
    hidden = [each for each in own if not each.declared]
    seen = [met[each.name, name] for each in hidden if (each.name, name) in met]
    worst = max(seen, key=lambda one: one.size, default=None)
    if worst is not None and worst.size > REAL_JUMP:
        shown = cases(bench, name, retyped_jump(bench, name, worst))
        address = next(each.address for each in hidden if each.name == worst.crossing.name)
        detail = f"jumps from {shown[0].value:.6g} to {shown[1].value:.6g} between two near readings of "
        detail += f"{worst.crossing.pair.measure}, at {address}, and the form declares no jump there"
        return Finding(name, "continuity", "", claim, REFUTED, detail, shown, jumps, samples, output.place)
    if hidden:
        places = ", ".join(dict.fromkeys(each.address for each in hidden))
        detail = f"open at {places}, though the search met no jump" + advice(domain, name)
        return Finding(name, "continuity", "", claim, NOT_DECIDED, detail, (), jumps, samples, output.place)
    if domain.room(name).root.hazards[domain.outputs[name]] & UNDEFINED:
        detail = "it may have no value somewhere" + advice(domain, name)
        return Finding(name, "continuity", "", claim, NOT_DECIDED, detail, (), jumps, samples, output.place)
    verdict, detail = (
        PROVED,
        "every step of it is continuous" if not declared else "every other step of it is continuous",
    )
    if domain.held_above_zero(name):
        verdict, detail = NOT_DECIDED, f"{detail}, for {give_a_range(domain, name)}"
    return Finding(name, "continuity", "", claim, verdict, detail, (), jumps, samples, output.place)


def _counted(count: int) -> str:
    return "1 declared jump" if count == 1 else f"{count} declared jumps"


def _jumps(domain: Domain, each: Break, output: str, met: Mapping[tuple[str, str], Met]) -> list[Jump]:
    """The jumps of one break in one output; what the search met is told where the break has one place."""
    sizes = [(where, size, exact) for where, size, exact in _sizes(domain, each, output) if size > NO_JUMP]
    largest = met.get((each.name, output))
    seen = largest.size if largest is not None and len(sizes) == 1 else None
    return [Jump(each.kind, each.address, where, size, exact, seen, each.declared) for where, size, exact in sizes]


def _is_no_pole(domain: Domain, each: Break, crossed: bool) -> bool:
    """Whether a division that might be by 0 never is: proved by subdivision."""
    if each.kind != "division" or crossed:
        return False
    base = divisor(domain.tape, domain.room(each.output).root, each.slot)
    if base is None:
        return False

    def holds(box: Box, at: Enclosure) -> bool:
        del box
        return not at.values[base].contains(0) and not at.hazards[base] & UNDEFINED

    return prove(domain.field([base], each.output), holds, QUICK).closed
