"""What was found of a formula's claims, in sentences and lines."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from analysis.claims.study import Claims
from analysis.wording import counted
from scoring.checks.breaks import NO_JUMP
from scoring.checks.findings import NOT_CLAIMED, NOT_DECIDED, PROVED, REFUTED, Case, Finding, Jump

#: How jumps that turn at one reading are told.
ONE_PLACE = (
    "A jump is the whole change at one reading; where several of those listed turn there, it is told under the first."
)
BOUND_DUST = 1e-8
ORDER = (REFUTED, NOT_DECIDED, PROVED, NOT_CLAIMED)
#: How wide the verdict is that stands before a line.
WIDE = 12


def claims_counted(found: Claims) -> str:
    """How many claims there are, and how many of them come to what."""
    findings = found.checked.findings
    counts = {verdict: sum(one.verdict == verdict for one in findings) for verdict in ORDER}
    said = ", ".join(f"{count} {verdict}" for verdict, count in counts.items() if count)
    return f"{len(findings)} claims: {said}"


def claims_verdict(found: Claims) -> tuple[str, ...]:
    """The counts, then each claim that is refuted or not decided; how much there is to look at."""
    still_open = [one for one in found.checked.findings if one.verdict in (REFUTED, NOT_DECIDED)]
    warnings = len(found.checked.warnings)
    to_look_at = (f"{counted(warnings, 'thing')} to look at.",) if warnings else ()
    return (f"{claims_counted(found)}.", *(_open_sentence(found, one) for one in still_open), *to_look_at)


def _open_sentence(found: Claims, finding: Finding) -> str:
    labels = {output.name: output.label for output in found.form.outputs}
    of = labels.get(finding.output, "The formula")
    return f"{of}: “{finding.claim}” is {finding.verdict}: {finding.detail}."


def open_lines(findings: Sequence[Finding]) -> Iterator[str]:
    """The claims that are refuted, each with its counter-example to type in again, and those that are not decided."""
    for finding in findings:
        if finding.verdict not in (REFUTED, NOT_DECIDED):
            continue
        tried = f" ({finding.samples} points tried)" if finding.verdict == NOT_DECIDED else ""
        yield f"  {finding.verdict.upper():<{WIDE}} {finding.claim}: {finding.detail}{tried}"
        if finding.verdict == REFUTED:
            yield from (f"  {'':<{WIDE}} {case_text(case)}" for case in finding.counterexample)


def settled_lines(findings: Sequence[Finding]) -> Iterator[str]:
    """The claims that are proved, and what is not claimed, in a line each."""
    for verdict in (PROVED, NOT_CLAIMED):
        lines = settled(findings, verdict)
        if lines:
            yield f"  {verdict:<{WIDE}} {'; '.join(lines)}"


def settled(findings: Sequence[Finding], verdict: str) -> list[str]:
    """The claims of one output under one verdict; measures that it answers alike are named together."""
    lines: list[str] = []
    alike: dict[str, list[str]] = {}
    for finding in findings:
        if finding.verdict != verdict:
            continue
        if finding.kind == "direction":
            claimed = "" if finding.claim.startswith("no claim") else ", as it should,"
            alike.setdefault(finding.detail.replace(" with it", "") + claimed, []).append(finding.measure)
        else:
            lines.append(finding.claim)
    return lines + [f"{way} with {', '.join(measures)}" for way, measures in alike.items()]


def jump_text(jump: Jump) -> str:
    """Where a jump is and how large; a bound is rounded upwards, so that what is printed is one too.

    What the search met below a billionth of a point is binary dust and left out.
    """
    if jump.exact:
        return f"{jump.where} by {jump.at_most:.4g} points"
    met = f" ({jump.met:.4g} met in the search)" if (jump.met or 0) >= NO_JUMP else ""
    bound = f" by {rounded_up(jump.at_most)} points at most" if math.isfinite(jump.at_most) else ", without a bound"
    return f"{jump.where}{bound}{met}"


def rounded_up(bound: float) -> str:
    """A bound to four digits, rounded upwards but for a share of 10^-8, which is the dust of binary arithmetic."""
    if bound == 0:
        return "0"
    unit = 10.0 ** (math.floor(math.log10(bound)) - 3)
    return f"{math.ceil(bound / unit * (1 - BOUND_DUST)) * unit:.4g}"


def case_text(case: Case) -> str:
    """One setting of the inputs and its value."""
    inputs = ", ".join(f"{name} = {text} {unit}".rstrip() for name, text, unit in case.inputs)
    value = "has no value" if case.value != case.value else f"is {case.value:.7g}"
    return f"with {inputs} it {value}" if inputs else f"it {value}"
