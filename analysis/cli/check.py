"""`steelyard check`: what is proved of a formula, what is refuted, and what to look at; addresses; a reference to freeze."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from analysis.cli.inputs import headed, load_form, set_aside
from analysis.cli.terminal import print_json, print_table, say
from analysis.partial.document import partial_document
from analysis.partial.partial_place import PartialPlace, first_places
from analysis.repeatability.document import outlier_table, repeatability_document, repeatability_table
from analysis.repeatability.repeatability import precisions
from analysis.report_document import report_document
from scoring.addresses.addresses import addresses, figures_or_words, written
from scoring.catalogue import Catalogue, read_catalogue
from scoring.checks import check
from scoring.checks.breaks import NO_JUMP
from scoring.checks.findings import (
    NOT_CLAIMED,
    NOT_DECIDED,
    PROVED,
    REFUTED,
    SHOWN_STEP,
    WEIGHTS,
    Case,
    Checked,
    Finding,
    Jump,
)
from scoring.curves import KINDS
from scoring.errors import CatalogueError, Place, Problem, SteelyardError
from scoring.form import Curve, ErrorComponent, Expression, Form
from scoring.measurement_error import error_model
from scoring.program.program import compile_form
from scoring.program.reference import statistic_of
from scoring.table.evaluate import crowd_of, inputs_of
from scoring.table.table import score_catalogue

#: How jumps that turn at one reading are told.
ONE_PLACE = (
    "A jump is the whole change at one reading; where several of those listed turn there, it is told under the first."
)
BOUND_DUST = 1e-8
ORDER = (REFUTED, NOT_DECIDED, PROVED, NOT_CLAIMED)


def run(
    formula: Path,
    catalogue: Path | None,
    settings: Sequence[str],
    *,
    addresses: bool,
    reference: bool,
    repeatability: bool,
    as_json: bool,
    seed: int,
) -> bool:
    """Check and show; whether a claim is refuted."""
    form = load_form(formula, settings)
    if addresses:
        show_addresses(form, as_json)
        return False
    if reference:
        show_reference(form, catalogue, as_json)
        return False
    if repeatability:
        show_repeatability(form, catalogue, as_json)
        return False
    readings = read_catalogue(catalogue, form) if catalogue is not None else None
    report = report_on(form, readings, seed)
    firsts = first_places_of(form, readings) if readings is not None else ()
    if as_json:
        document = report_document(form, report, seed)
        if readings is not None:
            document["first_places"] = partial_document(firsts, readings.products)
        print_json(document)
    else:
        show(form, report, settings, readings)
        say(*(f"- {one.says}" for one in firsts))
    return report.refuted


def first_places_of(form: Form, readings: Catalogue) -> tuple[PartialPlace, ...]:
    """The first places that stand on a missing part; none of a catalogue that cannot be scored, of which `score` says why."""
    try:
        table = score_catalogue(form, readings)
    except SteelyardError:
        return ()
    return first_places(table)


def show_repeatability(form: Form, catalogue: Path | None, as_json: bool) -> None:
    """Print how closely repeats agree, measure by measure, and the readings that stand out; nothing is set aside."""
    if catalogue is None:
        expected = "a CATALOGUE whose repeats are looked at"
        raise CatalogueError([Problem(Place("--repeatability"), "no catalogue", expected)])
    readings = read_catalogue(catalogue, form)
    found = precisions(form, readings)
    if as_json:
        print_json(repeatability_document(form, readings, found))
        return
    tables = ("How closely repeats agree", repeatability_table(found)), ("What stands out", outlier_table(found))
    for title, table in tables:
        if table.rows:
            print_table(table.headers, table.rows, right=table.right, title=title)
        say(*table.notes)


def report_on(form: Form, readings: Catalogue | None, seed: int) -> Checked:
    """Every finding and warning."""
    program = compile_form(form)
    if readings is None:
        return check(program, None, None, seed=seed)
    return check(program, inputs_of(form, readings), error_model(form, readings), seed=seed)


def show(form: Form, report: Checked, settings: Sequence[str], readings: Catalogue | None) -> None:
    """Print the findings of each rating and score together, then the warnings."""
    counts = {v: sum(f.verdict == v for f in report.findings) for v in ORDER}
    said = ", ".join(f"{count} {verdict}" for verdict, count in counts.items() if count)
    say(f"{form.title} ({headed(form, settings)}): {len(report.findings)} claims: {said}", "")
    labels = {output.name: f"{output.label} ({output.name})" for output in form.outputs}
    for name in dict.fromkeys(finding.output for finding in report.findings):
        say(labels.get(name, "The formula"))
        found = [finding for finding in report.findings if finding.output == name]
        for finding in found:
            show_open(finding)
        for verdict in (PROVED, NOT_CLAIMED):
            lines = settled(found, verdict)
            if lines:
                say(f"  {verdict:<12} {'; '.join(lines)}")
        say(*(f"  {'jumps':<12} {jump_text(jump)}" for finding in found for jump in finding.jumps))
    if any(len(finding.jumps) > 1 for finding in report.findings):
        say("", ONE_PLACE)
    show_warnings(report)
    if readings is None:
        say(
            "",
            "Give a catalogue as well for the warnings that need readings (saturation, what the bench can tell apart).",
        )
    else:
        say(*set_aside(readings))


def show_open(finding: Finding) -> None:
    """A claim that is refuted, with its counter-example to type in again, or that is not decided."""
    if finding.verdict not in (REFUTED, NOT_DECIDED):
        return
    tried = f" ({finding.samples} points tried)" if finding.verdict == NOT_DECIDED else ""
    say(f"  {finding.verdict.upper():<12} {finding.claim}: {finding.detail}{tried}")
    if finding.verdict == REFUTED:
        say(*(f"  {'':<12} {case_text(case)}" for case in finding.counterexample))


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


def show_warnings(report: Checked) -> None:
    """Print what to look at: the single ones first, then weights and shown steps as tables."""
    by_topic = {topic: [w for w in report.warnings if w.topic == topic] for topic in (WEIGHTS, SHOWN_STEP)}
    others = [warning for warning in report.warnings if warning.topic not in by_topic]
    if report.warnings:
        say("", f"TO LOOK AT ({len(report.warnings)})")
    say(*(f"- {warning.address}: {warning.says}" for warning in others))
    if by_topic[WEIGHTS]:
        say(
            "",
            "Weights that differ less than the bench can tell: made equal, no product moves by more than noise makes of that move"
            " (the same readings under both; all products at once, 95 %).",
        )
        headers = ["in", "weight", "and weight", "largest move", "its u"]
        rows = [[w.address.split(".")[1], *w.figures] for w in by_topic[WEIGHTS]]
        print_table(headers, rows, right=(3, 4))
    if by_topic[SHOWN_STEP]:
        say("Shown steps finer than the bench tells two products apart (1.96 sqrt 2 u): show coarser, or repeat more.")
        rows = [[w.address.split(".")[1], *w.figures] for w in by_topic[SHOWN_STEP]]
        print_table(["rating or score", "shown step", "told apart from", "median u"], rows, right=(1, 2, 3))


def case_text(case: Case) -> str:
    """One setting of the inputs and its value."""
    inputs = ", ".join(f"{name} = {text} {unit}".rstrip() for name, text, unit in case.inputs)
    value = "has no value" if case.value != case.value else f"is {case.value:.7g}"
    return f"with {inputs} it {value}" if inputs else f"it {value}"


#: What stands at an address that has no options, in a word.
IN_FULL = {Curve: "curve", Expression: "expression", ErrorComponent: "component of error"}


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
    rows, figures = [], figures_or_words(form)
    for address, noun in known.items():
        words = (*getattr(noun, "options", ()), *(("a figure",) if address in figures else ()))
        others = ", ".join(words)
        kind = next((word for noun_type, word in IN_FULL.items() if isinstance(noun, noun_type)), others)
        rows.append([address, written(form, noun), kind])
    print_table(["address", "value", "options"], rows)
    say(f"{len(rows)} addresses. Try one: --set ADDRESS=VALUE")


def show_reference(form: Form, catalogue: Path | None, as_json: bool) -> None:
    """The statistics that live references take from the catalogue, as lines to paste beside each curve."""
    if catalogue is None:
        problem = Problem(Place("--reference"), "no catalogue", "a catalogue whose statistics are to be frozen")
        raise CatalogueError([problem])
    inputs = inputs_of(form, read_catalogue(catalogue, form))
    program = compile_form(form)
    leaning = [
        (part.curve, crowd_of(program, inputs, part.source)[0])
        for output in form.outputs
        for part in output.parts
        if part.curve is not None and part.curve.reference is not None and part.curve.reference.live
    ]
    if as_json:
        print_json(
            [
                {"address": curve.address, "reference": reference_of(KINDS[curve.kind].figures, v)}
                for curve, v in leaning
            ]
        )
        return
    for curve, values in leaning:
        say(f"# {curve.address}", f"reference: {frozen(KINDS[curve.kind].figures, values)}", whole=True)
    if not leaning:
        say("No curve leans on a live reference.")


def frozen(figures: Sequence[str], values: np.ndarray[Any, Any]) -> str:
    """The figures as a YAML mapping, at full precision."""
    return "{" + ", ".join(f"{name}: {value!r}" for name, value in reference_of(figures, values).items()) + "}"


def reference_of(figures: Sequence[str], values: np.ndarray[Any, Any]) -> dict[str, float | list[float]]:
    """What a curve's `reference` would freeze: its population in order, or its statistics by name."""
    if "population" in figures:
        return {"values": np.sort(values[~np.isnan(values)]).tolist()}
    return {name: float(statistic_of(name, values)[0]) for name in figures}
