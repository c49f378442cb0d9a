"""What was found of a formula's claims, in sentences and lines."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence

from analysis.claims.study import Claims
from analysis.claims.wild_readings import wild_readings_in_words
from analysis.draft.standing import draft_in_words
from analysis.wording import counted
from scoring.checks.breaks import NO_JUMP
from scoring.checks.findings import NOT_CLAIMED, NOT_DECIDED, PROVED, REFUTED, Case, Finding, Jump
from scoring.checks.wording import as_typed
from scoring.units.role import POINTS_UNIT, in_unit

#: How jumps that turn at one reading are told.
ONE_PLACE = (
    "A jump is the whole change at one reading; where several of those listed turn there, it is told under the first."
)
BOUND_DUST = 1e-8
ORDER = (REFUTED, NOT_DECIDED, PROVED, NOT_CLAIMED)
#: So many jumps of one output are told on a terminal.
MOST_JUMPS = 6
#: How wide the verdict is that stands before a line.
WIDE = 12


def claims_counted(found: Claims) -> str:
    """How many claims there are, and how many of them come to what."""
    findings = found.checked.findings
    counts = {verdict: sum(one.verdict == verdict for one in findings) for verdict in ORDER}
    said = ", ".join(f"{count} {verdict}" for verdict, count in counts.items() if count)
    return f"{len(findings)} claims: {said}"


def in_short(found: Claims) -> str:
    """The counts; of a draft, first that it is one, for what is proved is proved of its guesses."""
    draft = draft_in_words(found.draft)
    return f"{draft}. Of the guesses as they stand, {claims_counted(found)}" if draft else claims_counted(found)


def claims_verdict(found: Claims) -> tuple[str, ...]:
    """The counts, then each claim that is refuted or not decided; how much there is to look at, and which readings."""
    still_open = [one for one in found.checked.findings if one.verdict in (REFUTED, NOT_DECIDED)]
    warnings = len(found.checked.warnings)
    to_look_at = (f"{counted(warnings, 'thing')} to look at.",) if warnings else ()
    short, wild = in_short(found), wild_readings_in_words(found.wild)
    return (
        f"{short[:1].upper()}{short[1:]}.",
        *(_open_sentence(found, one) for one in still_open),
        *to_look_at,
        *([wild] if wild else []),
    )


def _open_sentence(found: Claims, finding: Finding) -> str:
    labels = {output.name: output.label for output in found.form.outputs}
    of = labels.get(finding.output, "The formula")
    return f"{of}: “{finding.claim}” is {finding.verdict}: {finding.detail}."


def open_lines(findings: Sequence[Finding]) -> Iterator[str]:
    """The claims that are refuted, each with its counter-example to type in again, and those that are not decided."""
    for finding in findings:
        if finding.verdict not in (REFUTED, NOT_DECIDED):
            continue
        tried = f" ({counted(finding.samples, 'point')} tried)" if finding.verdict == NOT_DECIDED else ""
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
        return f"{jump.where} by {in_unit(f'{jump.at_most:.4g}', POINTS_UNIT)}"
    met = f" ({jump.met:.4g} met in the search)" if (jump.met or 0) >= NO_JUMP else ""
    bound = f" {_bounded(jump.at_most)}" if math.isfinite(jump.at_most) else f", {_bounded(jump.at_most)}"
    return f"{jump.where}{bound}{met}"


def _bounded(size: float) -> str:
    """How large a jump may be."""
    return f"by {in_unit(rounded_up(size), POINTS_UNIT)} at most" if math.isfinite(size) else "without a bound"


def jump_texts(jumps: Sequence[Jump]) -> list[str]:
    """Every jump in words; those that would read alike say at which address they are."""
    texts = [jump_text(jump) for jump in jumps]
    alike = Counter(texts)
    return [f"{text} [{jump.address}]" if alike[text] > 1 else text for text, jump in zip(texts, jumps, strict=True)]


def jump_lines(jumps: Sequence[Jump]) -> Iterator[str]:
    """The jumps as a terminal has them: the first few, then how many more there are, and the largest of those.

    Where not all are told, those that the form does not declare come first.
    """
    is_folded = len(jumps) > MOST_JUMPS + 1
    ordered = sorted(jumps, key=lambda jump: jump.declared) if is_folded else jumps
    shown = jump_texts(ordered)[: MOST_JUMPS if is_folded else None]
    yield from (f"  {'jumps':<{WIDE}} {text}" for text in shown)
    more = ordered[len(shown) :]
    if more:
        largest = max(jump.at_most for jump in more)
        yield f"  {'':<{WIDE}} and {len(more)} more, the largest {_bounded(largest)}: `--json` and `--out` list all {len(jumps)}"


def rounded_up(bound: float) -> str:
    """A bound to four digits, rounded upwards but for a share of 10^-8, which is the dust of binary arithmetic."""
    if bound == 0:
        return "0"
    unit = 10.0 ** (math.floor(math.log10(bound)) - 3)
    return f"{math.ceil(bound / unit * (1 - BOUND_DUST)) * unit:.4g}"


def case_text(case: Case) -> str:
    """One setting of the inputs and its value."""
    inputs = ", ".join(f"{name} = {as_typed(text, unit)}" for name, text, unit in case.inputs)
    value = "has no value" if case.value != case.value else f"is {case.value:.7g}"
    return f"with {inputs} it {value}" if inputs else f"it {value}"
