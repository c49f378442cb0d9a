"""The claim that an output is continuous in the readings, but for the jumps that the form declares."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from scoring.checks.breaks import Break
from scoring.checks.cases import cases, retyped_jump
from scoring.checks.domain import Domain
from scoring.checks.findings import NOT_DECIDED, PROVED, REFUTED, Case, Finding, Jump
from scoring.checks.given import gone_on_without, turned_by_none
from scoring.checks.jumps import REAL_JUMP, Met, Seen
from scoring.checks.nodes import UNDEFINED, Enclosure
from scoring.checks.proving import Box, prove
from scoring.checks.sizes import Line, Sizes
from scoring.checks.survey import Survey
from scoring.checks.wording import advice, at_inputs, give_a_range
from scoring.form import Output

QUICK = 400


def continuity_finding(survey: Survey, output: Output, sizes: Sizes, seen: Seen) -> Finding:
    """The finding on one output; every jump that it can make is listed with its size."""
    bench, domain, name = survey.bench, survey.bench.domain, output.name
    lines = sizes.of(name)
    turned = turned_by_none(domain.program.form, name)
    jumps = tuple(_jump(line, seen.of_lines.get((line, name))) for line in lines)
    if turned:
        jumps = (*(_widened(jump, output) for jump in jumps), _where_a_part_goes(output, turned))
    samples = survey.samples(name, domain.leans_on(name))
    declared = [jump for jump in jumps if jump.declared]
    claim = domain.with_premise(name, "is continuous" + (f" but for {_counted(len(declared))}" if declared else ""))

    def finding(verdict: str, detail: str, shown: tuple[Case, ...] = ()) -> Finding:
        return Finding(name, "continuity", "", claim, verdict, detail, shown, jumps, samples, output.place)

    hidden = sizes.hidden(name)
    met = [seen.of_breaks[each.name, name] for each in hidden if (each.name, name) in seen.of_breaks]
    worst = max(met, key=lambda one: one.size, default=None)
    if worst is not None and worst.size > REAL_JUMP:
        shown = cases(bench, name, retyped_jump(bench, name, worst))
        broken = next(each for each in hidden if seen.of_breaks.get((each.name, name)) is worst)
        detail = f"jumps from {shown[0].value:.6g} to {shown[1].value:.6g} between two near readings of "
        detail += f"{worst.crossing.pair.measure}, at {broken.address}, and the form declares no jump there"
        if broken.is_threshold:
            detail += (
                f"; if that is meant, write `jumps: stated` under {domain.program.form.output(broken.output).address}"
            )
        return finding(REFUTED, detail, shown)
    lost = survey.without.get(name)
    if lost is not None and not domain.bare & set(domain.leans_on(name)):
        there, setting = bench.as_scored(lost.setting)
        shown = cases(there, name, [setting])
        if not math.isfinite(shown[0].value):
            return finding(REFUTED, "has no value" + at_inputs(shown[0]), shown)
    undeclared = [line for line in lines if not line.declared]
    if hidden:
        places = ", ".join(dict.fromkeys(each.address for each in hidden))
        told = any((line, name) in seen.of_lines and seen.of_lines[line, name].size > REAL_JUMP for line in undeclared)
        search = "met none but where a declared jump turns as well" if told else "met no jump"
        return finding(NOT_DECIDED, f"open at {places}, though the search {search}" + advice(domain, name))
    if name in sizes.unmeasured:
        return finding(NOT_DECIDED, "open: the work set aside for jumps ended before every place was looked at")
    if domain.room(name).root.hazards[domain.outputs[name]] & UNDEFINED:
        return finding(NOT_DECIDED, "it may have no value somewhere" + advice(domain, name))
    if turned:
        return finding(NOT_DECIDED, gone_on_without(turned))
    detail = "every other step of it is continuous" if declared else "every step of it is continuous"
    if domain.held_above_zero(name):
        return finding(NOT_DECIDED, f"{detail}, for {give_a_range(domain, name)}")
    return finding(PROVED, detail)


def _counted(count: int) -> str:
    return "1 declared jump" if count == 1 else f"{count} declared jumps"


def _jump(line: Line, met: Met | None) -> Jump:
    """A line as it is told, with the largest jump that the search met there."""
    size = met.size if met is not None else None
    return Jump(line.kind, line.address, line.where, line.at_most, line.exact, size, line.declared)


def _widened(jump: Jump, output: Output) -> Jump:
    """A line as it is told where a part may go at the same place: nothing bounds the whole change but the scale."""
    return replace(jump, at_most=max(jump.at_most, _whole(output)), exact=False)


def _where_a_part_goes(output: Output, turned: Sequence[str]) -> Jump:
    """The line of what goes on without a part whose expression gives no value."""
    where = f"where a part of {', '.join(turned)} gives no value"
    return Jump("none", output.address, where, _whole(output), exact=False, met=None, declared=True)


def _whole(output: Output) -> float:
    """The width of the scale, which no published change passes; infinite where it is open."""
    scale = output.scale
    return math.inf if scale.high is None else scale.high.value - scale.low.value


def without_false_poles(domain: Domain, breaks: Sequence[Break]) -> tuple[Break, ...]:
    """The breaks without the divisions that are proved never to be by 0."""
    return tuple(each for each in breaks if not _is_no_pole(domain, each))


def _is_no_pole(domain: Domain, each: Break) -> bool:
    """Whether a division that might be by 0 never is: proved by subdivision."""
    if each.kind != "division":
        return False
    base = each.mover

    def holds(box: Box, at: Enclosure) -> bool:
        del box
        return not at.values[base].contains(0) and not at.hazards[base] & UNDEFINED

    return prove(domain.field([base], each.output), holds, QUICK).closed
