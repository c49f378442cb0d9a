"""What is proved of a formula, as a report: the study itself, and what is said and shown of it."""

from __future__ import annotations

import math
from collections.abc import Sequence

from analysis.claims.document import claims_body, claims_frame, finding_fields
from analysis.claims.study import Claims, claims_study
from analysis.claims.verdict import (
    ONE_PLACE,
    claims_verdict,
    in_short,
    jump_lines,
    jump_texts,
    open_lines,
    settled_lines,
)
from analysis.claims.wild_readings import wild_readings_in_words
from analysis.partial.partial_place import first_places_section
from analysis.published_reasons import reasons_in_words
from analysis.report.given import Given, Readings, catalogue_of, formula_of
from analysis.report.report import Block, Report, Said, Section
from analysis.report.source import Edition, Source
from analysis.report.tables import Column, OnScreen, Table, computed, counts, words
from scoring.catalogue import Catalogue
from scoring.checks.findings import REFUTED, SHOWN_STEP, WEIGHTS, Finding, Warning
from scoring.checks.wording import as_typed
from scoring.form import Form
from scoring.table.selection import Where

CLOSE_WEIGHTS = (
    "Weights that differ less than the bench can tell: made equal, no product moves by more than noise makes of that move"
    " (the same readings under both; all products at once, 95 %)."
)
OF_FIRST_PLACES = (
    "What is said of first places is of the selected; claims are of the formula, warnings of it and of all readings."
)
FINE_STEPS = "Shown steps finer than the bench tells two products apart (1.96 sqrt 2 u): show coarser, or repeat more."


def check(formula: Given, catalogue: Readings | None = None, *, where: Where = None, seed: int = 0) -> Report:
    """What is proved of a formula, what is refuted, with counter-examples, and what its author may not have meant.

    Parameters
    ----------
    formula : read, or the path of its file
    catalogue : read, a pandas frame, or the path of its file; without one nothing is said of how the formula fits readings
    where : the products whose first places are looked at, as `score` takes them
    seed : of the search for counter-examples; a proof does not depend on it

    Returns
    -------
    Report : `found` is a `Claims`; `found.checked.refuted` says whether any claim is refuted, `found.guesses` how many guesses of
    a draft stand, and `found.is_unsettled` whether the command would end with 1

    Raises
    ------
    SteelyardError : a fault of the formula or the catalogue
    """
    made = formula_of(formula)
    return check_report(made.form, None if catalogue is None else catalogue_of(catalogue, made), where=where, seed=seed)


def check_report(
    form: Form, catalogue: Catalogue | None, settings: Sequence[str] = (), *, where: Where = None, seed: int
) -> Report:
    """The same of a form, and of a catalogue that was read for it."""
    found = claims_study(form, catalogue, where=where, seed=seed)
    source = Source({"": Edition(form, catalogue)}, tuple(settings), seed, selected=found.selected)
    return Report(
        command="check",
        title=f"{form.title}: what is proved of the formula",
        heading=f"{form.title} ({source.without_draft}): {in_short(found)}",
        source=source,
        sections=(
            Section("", "In short", claims_verdict(found), on_screen=False),
            *_outputs(found),
            *_to_look_at(found),
            *_wild_readings(found),
            *first_places_section(found.firsts),
        ),
        body=lambda: claims_body(found),
        whole=lambda: claims_frame(found),
        found=found,
        closing=(*(() if found.selected is None else (OF_FIRST_PLACES,)), *reasons_in_words(form, catalogue)),
    )


def _outputs(found: Claims) -> list[Section]:
    """A section for each rating and score, and one for what is claimed of the whole formula."""
    labels = {output.name: output.label for output in found.form.outputs}
    by_output: dict[str, list[Finding]] = {}
    for finding in found.checked.findings:
        by_output.setdefault(finding.output, []).append(finding)
    sections = []
    for name, findings in by_output.items():
        label = labels.get(name)
        # what is claimed of the whole formula names no output, and no output has such a name as this
        key, title = ("the-formula", "The formula") if label is None else (name, label)
        shown = title if label is None else f"{label} ({name})"
        blocks = (findings_table(findings, shown), cases_table(findings), jumps_table(findings))
        sections.append(Section(key, title, (), blocks, close=True))
    if any(len(finding.jumps) > 1 for finding in found.checked.findings):
        sections.append(Section("of-jumps", "How jumps are told", (ONE_PLACE,)))
    return sections


def findings_table(findings: Sequence[Finding], shown: str) -> Table:
    """Every claim of one output with its verdict; a terminal says claims together that come to the same, under a title."""
    fields = finding_fields(findings)
    return Table(
        "findings",
        "Claims, and what became of them",
        (
            words("claim", "claim", fields.pop("claim")),
            words("verdict", "verdict", fields.pop("verdict")),
            words("detail", "why", fields.pop("detail")),
            counts("samples", "points tried", fields.pop("samples")),
        ),
        hidden=fields,
        on_screen=OnScreen(lines=(shown, *open_lines(findings), *settled_lines(findings))),
    )


def cases_table(findings: Sequence[Finding]) -> Table:
    """The counter-examples to what is refuted: readings to type in, and what the formula makes of them."""
    refuted = [finding for finding in findings if finding.verdict == REFUTED]
    rows = [(finding.claim, case) for finding in refuted for case in finding.counterexample]
    return Table(
        "counterexamples",
        "Counter-examples, to be typed in again",
        (
            words("claim", "claim", [claim for claim, _ in rows]),
            Column("with", {"inputs": [case.inputs for _, case in rows]}, _inputs, kind="name"),
            computed("it is", {"value": [case.value for _, case in rows]}, _value),
        ),
        on_screen=OnScreen(lines=()),  # they stand under the claims there
    )


def _inputs(inputs: Sequence[tuple[str, str, str]]) -> str:
    return ", ".join(f"{name} = {as_typed(text, unit)}" for name, text, unit in inputs)


def _value(value: float) -> str:
    return "without a value" if math.isnan(value) else f"{value:.7g}"


def jumps_table(findings: Sequence[Finding]) -> Table:
    """Where an output jumps, and by how much at most."""
    jumps = [jump for finding in findings for jump in finding.jumps]
    return Table(
        "jumps",
        "Jumps",
        (
            words("jump", "where, and by how much", jump_texts(jumps)),
            words("kind", "kind", [jump.kind for jump in jumps]),
            words("address", "address", [jump.address for jump in jumps], kind="code"),
            Column("declared", {"declared": [jump.declared for jump in jumps]}, lambda there: "yes" if there else "no"),
        ),
        hidden={
            "where": [jump.where for jump in jumps],
            "at_most": [jump.at_most for jump in jumps],
            "exact": [jump.exact for jump in jumps],
            "met": [jump.met for jump in jumps],
        },
        on_screen=OnScreen(lines=tuple(jump_lines(jumps))),
    )


def _to_look_at(found: Claims) -> tuple[Section, ...]:
    """What the author may not have meant: single warnings first, then weights and shown steps as tables."""
    warnings = found.checked.warnings
    if not warnings:
        return ()
    weights, steps = ([one for one in warnings if one.topic == topic] for topic in (WEIGHTS, SHOWN_STEP))
    others = [one for one in warnings if one.topic not in (WEIGHTS, SHOWN_STEP)]
    blocks: list[Block] = [
        Said((f"TO LOOK AT ({len(warnings)})",), screen_only=True),
        warnings_table(others),
    ]
    if weights:
        close = found.noise.at_best(CLOSE_WEIGHTS)
        blocks += [Said(("", close), screen_only=True), weights_table(weights, close)]
    if steps:
        fine = found.noise.at_best(FINE_STEPS)
        blocks += [Said((fine,), screen_only=True), steps_table(steps, fine)]
    return (Section("to-look-at", "To look at", (), tuple(blocks), close=True),)


def warnings_table(warnings: Sequence[Warning]) -> Table:
    """What to look at, one by one."""
    return Table(
        "warnings",
        "What the author may not have meant",
        (
            words("address", "address", [one.address for one in warnings], kind="code"),
            words("says", "what to look at", [one.says for one in warnings]),
        ),
        hidden={"topic": [one.topic for one in warnings]},
        on_screen=OnScreen(lines=tuple(f"- {one.address}: {one.says}" for one in warnings)),
    )


def _wild_readings(found: Claims) -> tuple[Section, ...]:
    """Readings that stand out from their repeats; no section where none does."""
    wild = found.wild
    if not wild:
        return ()
    table = Table(
        "wild_readings",
        "Readings that stand out from the repeats beside them",
        (
            words("measure", "measure", [one.measure for one in wild], kind="name"),
            words("product", "product", [one.product for one in wild], kind="name"),
            counts("repeat", "repeat", [one.repeat for one in wild]),
            computed("value", {"value": [one.value for one in wild]}, lambda value: f"{value:.6g}"),
            words("unit", "unit", [one.unit for one in wild]),
            words("as_read", "as read", [one.as_read for one in wild], kind="name"),
            words("tests", "by", ["; ".join(one.tests) for one in wild]),
        ),
        on_screen=OnScreen(most=0),
    )
    return (Section("wild-readings", table.title, (wild_readings_in_words(wild),), (table,)),)


def weights_table(warnings: Sequence[Warning], title: str) -> Table:
    """Pairs of weights that differ less than the bench can tell."""
    first, second, move, u = zip(*(one.figures for one in warnings), strict=True)
    return Table(
        "close_weights",
        title,
        (
            words("in", "in", [_output_at(one.address) for one in warnings], kind="name"),
            words("weight", "weight", first, kind="name"),
            words("and_weight", "and weight", second, kind="name"),
            computed("largest move", {"largest_move": [float(text) for text in move]}, _two_figures, unit="points"),
            computed("its u", {"u": [float(text) for text in u]}, _two_figures, unit="points"),
        ),
        hidden={"address": [one.address for one in warnings]},
        on_screen=OnScreen(title=""),
    )


def steps_table(warnings: Sequence[Warning], title: str) -> Table:
    """Shown steps that are finer than the bench tells two products apart."""
    step, apart, median = zip(*(one.figures for one in warnings), strict=True)
    return Table(
        "shown_steps",
        title,
        (
            words("output", "rating or score", [_output_at(one.address) for one in warnings], kind="name"),
            computed("shown step", {"shown_step": step}, str, unit="points"),
            computed(
                "told apart from", {"told_apart_from": [float(text) for text in apart]}, _two_figures, unit="points"
            ),
            computed("median u", {"median_u": [float(text) for text in median]}, _two_figures, unit="points"),
        ),
        hidden={"address": [one.address for one in warnings]},
        on_screen=OnScreen(title=""),
    )


def _two_figures(value: float) -> str:
    return f"{value:.2g}"


def _output_at(address: str) -> str:
    """The rating or score that an address lies in."""
    return address.split(".")[1]
