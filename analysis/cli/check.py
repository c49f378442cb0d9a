"""`steelyard check`: what is proved of a formula, what is refuted, and what to look at; addresses; a reference to freeze."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from analysis.cli.inputs import load_form
from analysis.cli.score import headed
from analysis.cli.terminal import print_json, print_table, say
from analysis.report_document import report_document
from scoring.addresses import addresses, written
from scoring.catalogue import read_catalogue
from scoring.checks import check
from scoring.checks.findings import NOT_CLAIMED, NOT_DECIDED, PROVED, REFUTED, SHOWN_STEP, Case, Finding, Jump, Report
from scoring.curves import KINDS
from scoring.errors import CatalogueError, Place, Problem
from scoring.evaluate import inputs_of
from scoring.form import Curve, Expression, Form
from scoring.program import compile_form
from scoring.reference import statistic_of
from scoring.table import uncertainties

ORDER = (REFUTED, NOT_DECIDED, PROVED, NOT_CLAIMED)


def run(
    formula: Path,
    catalogue: Path | None,
    settings: Sequence[str],
    *,
    addresses: bool,
    reference: bool,
    as_json: bool,
    seed: int,
) -> bool:
    """Check and show; whether a claim is refuted."""
    form = load_form(formula, settings)
    if addresses:
        show_addresses(form, as_json)
        return False
    if reference:
        show_reference(form, catalogue)
        return False
    report = report_on(form, catalogue, seed)
    if as_json:
        print_json(report_document(form, report, seed))
    else:
        show(form, report, settings, catalogue is not None)
    return report.refuted


def report_on(form: Form, catalogue: Path | None, seed: int) -> Report:
    """Every finding and warning."""
    program = compile_form(form)
    if catalogue is None:
        return check(program, None, None, seed=seed)
    readings = read_catalogue(catalogue, form)
    return check(program, inputs_of(form, readings), uncertainties(form, readings), seed=seed)


def show(form: Form, report: Report, settings: Sequence[str], with_catalogue: bool) -> None:
    """Print the findings of each rating and score together, then the warnings."""
    counts = {v: sum(f.verdict == v for f in report.findings) for v in ORDER}
    said = ", ".join(f"{count} {verdict}" for verdict, count in counts.items() if count)
    say(f"{form.title} ({headed(form, settings)}): {len(report.findings)} claims: {said}", "")
    labels = {output.name: f"{output.label} ({output.name})" for output in form.outputs}
    for name in dict.fromkeys(finding.output for finding in report.findings):
        say(labels.get(name, "The formula"))
        found = [finding for finding in report.findings if finding.output == name]
        for verdict, lines in by_verdict(found).items():
            label = verdict.upper() if verdict in (REFUTED, NOT_DECIDED) else verdict
            say(*(f"  {label:<12} {line}" for line in lines))
        for finding in found:
            show_evidence(finding)
    show_warnings(report)
    if not with_catalogue:
        say(
            "",
            "Give a catalogue as well for the warnings that need readings (saturation, what the bench can tell apart).",
        )


def by_verdict(findings: Sequence[Finding]) -> dict[str, list[str]]:
    """The findings of one output as lines under their verdicts; measures that it answers alike share a line."""
    lines: dict[str, list[str]] = {}
    alike: dict[tuple[str, str], list[str]] = {}
    for finding in findings:
        if finding.kind == "direction" and finding.verdict == PROVED:
            way = finding.detail if finding.claim.startswith("no claim") else f"{finding.detail}, as it should"
            alike.setdefault((PROVED, way), []).append(finding.measure)
        else:
            jumps = "".join(f"; {jump_text(jump)}" for jump in finding.jumps)
            lines.setdefault(finding.verdict, []).append(f"{finding.claim}: {finding.detail}{jumps}")
    for (verdict, way), measures in alike.items():
        lines.setdefault(verdict, []).append(f"{way.replace(' with it', '')}, with {', '.join(measures)}")
    return {verdict: lines[verdict] for verdict in ORDER if verdict in lines}


def jump_text(jump: Jump) -> str:
    """Where a jump is and how large."""
    size = f"by {jump.at_most:.4g}" if jump.exact else f"by {jump.at_most:.4g} at most"
    met = f" ({jump.met:.4g} met in the search)" if jump.met and not jump.exact else ""
    return f"{jump.where} {size}{met}"


def show_warnings(report: Report) -> None:
    """Print the warnings by topic; those on shown steps as one table."""
    steps = [warning for warning in report.warnings if warning.topic == SHOWN_STEP]
    others = [warning for warning in report.warnings if warning.topic != SHOWN_STEP]
    if report.warnings:
        say("", f"TO LOOK AT ({len(report.warnings)})")
    say(*(f"- {warning.address}: {warning.says}" for warning in others))
    say(*(f"- {warning.address}: {warning.says}" for warning in steps))


def show_evidence(finding: Finding) -> None:
    """The counter-example of a refuted claim, to be typed in again."""
    if finding.verdict != REFUTED:
        return
    for case in finding.counterexample:
        say(f"{'':<15} {case_text(case)}")


def case_text(case: Case) -> str:
    """One setting of the inputs and its value."""
    inputs = ", ".join(f"{name} = {text} {unit}".rstrip() for name, text, unit in case.inputs)
    return f"with {inputs} it is {case.value:.7g}" if inputs else f"it is {case.value:.7g}"


def show_addresses(form: Form, as_json: bool) -> None:
    """Every address, what stands there, and what else could."""
    known = addresses(form)
    if as_json:
        document: list[dict[str, Any]] = [
            {"address": address, "value": written(form, noun), "options": list(getattr(noun, "options", ()))}
            for address, noun in known.items()
        ]
        print_json(document)
        return
    rows = []
    for address, noun in known.items():
        others = ", ".join(getattr(noun, "options", ()))
        kind = "curve" if isinstance(noun, Curve) else "expression" if isinstance(noun, Expression) else others
        rows.append([address, written(form, noun), kind])
    print_table(["address", "value", "options"], rows)
    say(f"{len(rows)} addresses. Try one: --set ADDRESS=VALUE")


def show_reference(form: Form, catalogue: Path | None) -> None:
    """The statistics that live references take from the catalogue, as lines to paste beside each curve."""
    if catalogue is None:
        problem = Problem(Place("--reference"), "no catalogue", "a catalogue whose statistics are to be frozen")
        raise CatalogueError([problem])
    inputs = inputs_of(form, read_catalogue(catalogue, form))
    leaning = [
        (part.curve, inputs.values[part.source][0])
        for output in form.outputs
        for part in output.parts
        if part.curve is not None and part.curve.reference is not None and part.curve.reference.live
    ]
    for curve, values in leaning:
        say(f"# {curve.address}", f"reference: {frozen(KINDS[curve.kind].figures, values)}")
    if not leaning:
        say("No curve leans on a live reference.")


def frozen(figures: Sequence[str], values: np.ndarray[Any, Any]) -> str:
    """The figures as a YAML mapping, at full precision."""
    if "population" in figures:
        members = ", ".join(f"{value!r}" for value in np.sort(values[~np.isnan(values)]).tolist())
        return f"{{values: [{members}]}}"
    return "{" + ", ".join(f"{name}: {float(statistic_of(name, values)[0])!r}" for name in figures) + "}"
