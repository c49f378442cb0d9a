"""Verifying: a record's fingerprints, the record against itself, and the record against a formula and a catalogue of today.

Against itself: shown figures and places by its own rules, and everything anew from its own formula and readings.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from importlib.metadata import version
from itertools import islice
from pathlib import Path
from typing import Any

import numpy as np

from analysis.json_shapes import MOST_NAMED
from analysis.json_text import digest_of
from analysis.records.corrections import changed_figures, fingerprint_findings, says_something
from analysis.records.document import first_odd_line, misfit_fault
from analysis.records.drift import (
    address_drift,
    as_shown,
    caution_drift,
    data_drift,
    figure_drift,
    formula_drift,
    names_apart,
    plain,
    reference_drift,
    standings,
)
from analysis.records.record import TOLERANCE, Finding, Record, Sections, State, near
from analysis.records.schema import FINGERPRINT_KEYS, FORMAT, section_misfits
from analysis.records.sections import TOOLS, catalogue_from, has_reasons, readings_section, sections_of
from scoring.catalogue import Catalogue, ProductNames, roles_of
from scoring.errors import CatalogueError, FormulaError, Place, Problem, SteelyardError
from scoring.form import Form
from scoring.numbers.ranks import rank
from scoring.numbers.rounding import round_to
from scoring.program.program import Program, compile_form
from scoring.reader import read_sources
from scoring.table.classes import Classes, places_within
from scoring.table.evaluate import inputs_of
from scoring.table.table import score_catalogue
from scoring.texts.source import Source


def recorded_form(sections: Sections) -> Form:
    """The formula as it was recorded; reasons for missing readings are published again where the record holds them.

    Raises
    ------
    FormulaError : this version does not read it as a formula, or its text is gone
    """
    if not sections["formula"]["texts"]:
        raise FormulaError([Problem(Place("the record's formula"), "no text", "the text that was recorded")])
    form = read_sources([Source(one["name"], one["text"]) for one in sections["formula"]["texts"]])
    return with_reasons_of(sections, form)


def with_reasons_of(sections: Sections, form: Form) -> Form:
    """The formula as it publishes the laboratory's reasons where a record has them: all did, before a formula could say so."""
    return replace(form, publish_reasons=form.publish_reasons or has_reasons(sections))


def recorded_names(sections: Sections) -> ProductNames:
    """What the products were called when they were recorded; nothing where this version does not read the formula."""
    try:
        roles = roles_of(recorded_form(sections))
    except FormulaError:
        return ProductNames()
    words = (
        {one["id"]: one["attributes"].get(role) for one in sections["readings"]} for role in (roles.name, roles.maker)
    )
    names, makers = ({id: word for id, word in of.items() if word} or None for of in words)
    return ProductNames(names, makers)


def misfit_findings(record: Record) -> tuple[Finding, ...]:
    """Where sections of a state are not of the shape that they must have; nothing more can be said of such a state."""
    return tuple(
        Finding("layout", f"{state.name}, at {one.where}: {one.found}; expected {one.expected}", state.name)
        for state in record.states
        for one in islice(section_misfits(dict(state.sections)), MOST_NAMED)
    )


def rule_findings(record: Record) -> tuple[Finding, ...]:
    """Shown figures that are not the rounding of their values, places that do not follow, digests and changes that do not fit.

    By the rules that the record states, and nothing else.
    """
    found: list[Finding] = []
    for state in record.states:
        found += _product_findings(state)
        complete = {one["id"] for one in state.sections["readings"]} <= {one["id"] for one in state.sections["figures"]}
        for name, rule in state.sections["rules"]["outputs"].items():
            found += _shown_findings(state, name, rule)
            if complete:  # else every place after the product that is not there would be named
                found += _rank_findings(state, name)
                found += _class_findings(state, name)
        found += _digest_findings(state)
        if state.number and not says_something(state.cause):
            found.append(Finding("rule", f"{state.name}: its cause says nothing", state.name))
        if state.number:
            fitting = changed_figures(record.states[state.number - 1].sections, state.sections)
            if digest_of(fitting) != digest_of(state.entry["changed"]):
                says = "its list of changed figures is not what differs from the state before"
                found.append(Finding("rule", f"{state.name}: {says}", state.name))
    return tuple(found)


def _product_findings(state: State) -> Iterator[Finding]:
    """Products that are not once in the readings and once in the figures, in one order."""
    ids = {section: [one["id"] for one in state.sections[section]] for section in ("readings", "figures")}
    for section, products in ids.items():
        other = "figures" if section == "readings" else "readings"
        for product, count in Counter(products).items():
            if count > 1:
                yield Finding("rule", f"{product}: {count} times in section {section}", state.name, product)
            if product not in ids[other]:
                says = f"{product}: in section {section}, and not in section {other}"
                yield Finding("rule", says, state.name, product)
    if Counter(ids["readings"]) == Counter(ids["figures"]):
        for there, due in zip(ids["figures"], ids["readings"], strict=True):
            if there != due:
                says = f"{there}: in section figures in the place of {due}, by the order of section readings"
                yield Finding("rule", says, state.name, there)


def _column(state: State, output: str) -> dict[str, Mapping[str, Any]]:
    return {product: one for (product, name), one in standings(state.sections).items() if name == output}


def _numbers(standing: Mapping[str, Mapping[str, Any]], noun: str) -> np.ndarray[Any, np.dtype[np.float64]]:
    return np.array([np.nan if one[noun] is None else one[noun] for one in standing.values()], dtype=np.float64)


def _shown_findings(state: State, output: str, rule: Mapping[str, Any]) -> Iterator[Finding]:
    column = _column(state, output)
    due = round_to(_numbers(column, "value"), rule["step"], rule["rule"])
    for (product, standing), figure in zip(column.items(), due.tolist(), strict=True):
        fitting = None if np.isnan(figure) else figure
        if standing["shown"] != fitting:
            texts = as_shown(standing["shown"], rule["step"]), as_shown(fitting, rule["step"])
            says = f"{product}, {output}: shown {texts[0]}, but its value {plain(standing['value'])} is shown as {texts[1]}"
            yield Finding("rule", says, state.name, product, output, before=standing["shown"], after=fitting)


def _rank_findings(state: State, output: str) -> Iterator[Finding]:
    column, rules = _column(state, output), _ranks_of(state, output)
    on = "shown" if rules["on"] == "shown" else "value"
    due = rank(_numbers(column, on), rules["best"], rules["ties"])
    for (product, standing), place in zip(column.items(), due.tolist(), strict=True):
        fitting = None if np.isnan(place) else place
        if standing["rank"] != fitting:
            says = f"{product}, {output}: place {plain(standing['rank'])}, but by the {on}s it is {_place(fitting)}"
            yield Finding("rule", says, state.name, product, output, before=standing["rank"], after=fitting)


def _class_findings(state: State, output: str) -> Iterator[Finding]:
    """Places within classes that do not follow from the figures and the words beside them."""
    column, rules = _column(state, output), _ranks_of(state, output)
    words = tuple((one.get("within") or {}).get("word") or "" for one in column.values())
    values = _numbers(column, "shown" if rules["on"] == "shown" else "value")
    classes = Classes(rules.get("within", ""), "", words)
    due = places_within(classes, values, lambda some: rank(some, rules["best"], rules["ties"]))
    for row, (product, standing) in enumerate(column.items()):
        own = standing.get("within") or {"attribute": "", "rank": None, "of": None}
        fitting = [None if np.isnan(figure) else figure for figure in (due.place[row], due.of[row])]
        if own["attribute"] != classes.attribute or [own["rank"], own["of"]] != fitting:
            found = f"{plain(own['rank'])} of {plain(own['of'])}"
            says = f"{product}, {output}: place in its class {found}, but it is {_place(fitting[0])} of {_place(fitting[1])}"
            yield Finding("rule", says, state.name, product, output, before=own["rank"], after=fitting[0])


def _ranks_of(state: State, output: str) -> Mapping[str, Any]:
    """The rules of an output's places: its own, or those of all."""
    rules = state.sections["rules"]
    found: Mapping[str, Any] = rules["outputs"].get(output, {}).get("ranks", rules["ranks"])
    return found


def _place(place: float | None) -> str:
    return plain(None) if place is None else f"{place:g}"


def _digest_findings(state: State) -> Iterator[Finding]:
    for one in state.sections["readings"]:
        if one["digest"] != digest_of({"attributes": one["attributes"], "measures": one["measures"]}):
            says = f"{one['id']}: its digest is not that of its readings"
            yield Finding("rule", says, state.name, one["id"])


def recomputed_findings(states: Sequence[State]) -> tuple[Finding, ...]:
    """Every figure that this version does not get from the formula and the readings in a state itself."""
    programs: dict[str, Program] = {}
    return tuple(
        replace(finding, kind="recomputed", state=state.name)
        for state in states
        for finding in _recomputed(state, programs)
    )


def _recomputed(state: State, programs: dict[str, Program]) -> Sequence[Finding]:
    sections = state.sections
    try:
        with np.errstate(all="ignore"):  # an edited reading may be any number at all
            form = recorded_form(sections)
            if form.sha256 not in programs:
                programs[form.sha256] = compile_form(form)
            program = programs[form.sha256]
            table = score_catalogue(program.form, catalogue_from(sections, form), program)
            now = sections_of(table, program, sections["formula"]["settings"])
    except SteelyardError as fault:
        return [
            Finding("recomputed", f"nothing can be recomputed: {problem}") for problem in fault.problems[:MOST_NAMED]
        ]
    found = list(address_drift(sections["addresses"], now["addresses"]))
    for name in ("name", "version", "title", "sha256"):
        if sections["formula"][name] != now["formula"][name]:
            found.append(Finding("formula", f"the formula's {name} is not that of its text"))
    if sections["rules"] != now["rules"]:
        found.append(Finding("formula", "the rules of rounding, ranks and bands are not those of the formula's text"))
    if sections["catalogue"] != now["catalogue"]:
        counts = sections["catalogue"]["products"], now["catalogue"]["products"]
        says = f"the number of products, {counts[0]}, is not that of the readings, {counts[1]}"
        found.append(Finding("data", says))
    return [
        *found,
        *_summaries(sections, now),
        *reference_drift(sections, now),
        *figure_drift(sections, now),
        *caution_drift(sections, now),
    ]


def _summaries(old: Sections, new: Sections) -> Iterator[Finding]:
    """Readings whose repeats give another value than is recorded."""
    for before, after in zip(old["readings"], new["readings"], strict=True):
        for name, reading in before["measures"].items():
            now = after["measures"].get(name)
            if now is None or not near(reading["value"], now["value"]) or reading["state"] != now["state"]:
                says = f"{before['id']}, {name}: its repeats do not give the recorded {plain(reading['value'])}"
                yield Finding("data", says, product=before["id"], measure=name, before=reading, after=now)


@dataclass(frozen=True, slots=True)
class Verification:
    """What was found: in the file, within the record, and (None: not asked) against a formula and a catalogue."""

    record: Record
    fingerprints: tuple[Finding, ...]
    within: tuple[Finding, ...]
    drift: tuple[Finding, ...] | None
    notes: tuple[str, ...]

    @property
    def holds(self) -> bool:
        """Whether nothing was found."""
        return not (self.fingerprints or self.within or self.drift)


def verify_alone(record: Record, path: Path) -> Verification:
    """A record by itself.

    Raises
    ------
    RecordError : its fingerprints hold, and yet it is not of the shape that a record has
    """
    fingerprints = fingerprint_findings(record)
    line = first_odd_line(path, record.document)
    if line:
        fingerprints = (
            Finding("layout", f"line {line} is not written as steelyard writes it: the file was edited"),
            *fingerprints,
        )
    shapes = misfit_findings(record)
    if shapes and not fingerprints:
        every = (one for state in record.states for one in section_misfits(dict(state.sections)))
        raise misfit_fault(str(path), islice(every, MOST_NAMED))
    within = shapes or (*rule_findings(record), *recomputed_findings(record.states))
    notes = format_notes(record) + tool_notes(record.latest.sections)
    return Verification(record, fingerprints, within, None, notes)


def format_notes(record: Record) -> tuple[str, ...]:
    """That the record stands in an older format, where it does."""
    if record.format == FORMAT:
        return ()
    word = FINGERPRINT_KEYS[record.format]
    return (
        f"The file is a record of format {record.format}, whose key `{word}` is now `{FINGERPRINT_KEYS[FORMAT]}`. It holds"
        " as it is; a correction writes the new key.",
    )


def is_readable(found: Verification) -> bool:
    """Whether the record can be compared with anything: not where its sections are of another shape."""
    return not any(one.kind == "layout" for one in found.within)


def tool_notes(sections: Sections) -> tuple[str, ...]:
    """The tools that recorded, where today's are others."""
    now = {name: version(name) for name in TOOLS}
    then = sections.get("tool")
    if not isinstance(then, dict) or then == now:
        return ()
    return (f"Recorded with {tools_in_words(then)}; this is {tools_in_words(now)}.",)


def tools_in_words(tool: dict[str, str]) -> str:
    """Names and versions in a row."""
    return ", ".join(f"{name} {number}" for name, number in tool.items())


def against(found: Verification, form: Form, read: Callable[[Form], Catalogue]) -> Verification:
    """The verification with what drifted from today's formula and catalogue.

    Parameters
    ----------
    read : reads today's catalogue for a formula: today's, and the one that was recorded

    Raises
    ------
    SteelyardError : today's catalogue cannot be read, or not be scored
    """
    recorded = found.record.latest.sections
    form = with_reasons_of(recorded, form)
    program = compile_form(form)
    table = score_catalogue(form, read(form), program)
    now = sections_of(table, program, recorded["formula"]["settings"])
    notes = list(found.notes)
    readings = now
    formula: tuple[Finding, ...] = ()
    if recorded["formula"]["sha256"] != form.sha256:
        try:
            before = recorded_form(recorded)
            formula = formula_drift(before, form)
            readings = {"readings": _readings_by(before, read(before))}
        except FormulaError as fault:
            formula = tuple(Finding("formula", f"the recorded text is no formula now: {one}") for one in fault.problems)
        except CatalogueError:
            notes.append(
                "The recorded formula does not take today's readings: they are compared as today's formula reads them."
            )
    formula = formula or address_drift(recorded["addresses"], now["addresses"])
    data = names_apart(data_drift(recorded, readings, form.units), form)
    drift = [*formula, *data, *reference_drift(recorded, now), *figure_drift(recorded, now)]
    if not any(one.says.startswith("caution") for one in formula):
        drift += caution_drift(recorded, now)
    notes += _same_in_another_text(recorded, now, formula, data)
    return Verification(found.record, found.fingerprints, found.within, tuple(drift), tuple(notes))


def _readings_by(form: Form, catalogue: Catalogue) -> list[dict[str, Any]]:
    """Today's readings as the recorded formula reads them: a unit or a limit that it changed is then no change of data."""
    return readings_section(catalogue, inputs_of(form, catalogue), form)


def _same_in_another_text(
    recorded: Sections, now: Sections, formula: tuple[Finding, ...], data: tuple[Finding, ...]
) -> list[str]:
    notes = []
    if not formula and recorded["formula"]["sha256"] != now["formula"]["sha256"]:
        notes.append("The formula's text is another one, by comments, layout or spelling of numbers alone.")
    if not data and recorded["catalogue"]["sha256"] != now["catalogue"]["sha256"]:
        notes.append("The catalogue's files have other bytes; no reading and no attribute differs.")
    return notes


def verification_document(found: Verification) -> dict[str, Any]:
    """Everything found, ready for JSON."""
    record, recorded = found.record, found.record.latest.sections
    formula = recorded.get("formula", {}) if isinstance(recorded.get("formula"), dict) else {}
    return {
        "holds": found.holds,
        "record": {
            "formula": {key: formula.get(key) for key in ("name", "version", "sha256")},
            "set": formula.get("settings"),
            "fingerprint": record.fingerprint,
            "states": [
                {"name": state.name, "date": state.date, "cause": state.cause, "fingerprint": state.fingerprint}
                for state in record.states
            ],
        },
        "tolerance": TOLERANCE,
        "fingerprints": [asdict(one) for one in found.fingerprints],
        "within": [asdict(one) for one in found.within],
        "drift": None if found.drift is None else [asdict(one) for one in found.drift],
        "causes": causes(found),
        "tool": {"recorded": recorded.get("tool"), "now": {name: version(name) for name in TOOLS}},
        "notes": list(found.notes),
        "cautions": recorded.get("cautions"),
    }


def causes(found: Verification) -> list[str]:
    """What the drifted figures come of: "formula", "data", "tool" (same formula and readings, another figure)."""
    kinds = {one.kind for one in found.drift or ()}
    named = [name for name, of in (("formula", {"formula"}), ("data", {"data", "product"})) if kinds & of]
    recomputed = any(one.kind == "recomputed" for one in found.within)
    moved = kinds & {"figure", "reference", "caution", "output"}
    return [*named, "tool"] if (recomputed and not found.fingerprints) or (moved and not named) else named
