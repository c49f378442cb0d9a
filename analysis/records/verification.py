"""Verifying: a record's fingerprints, the record against itself, and the record against a formula and a catalogue of today."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from importlib.metadata import version
from itertools import islice
from pathlib import Path
from typing import Any

from analysis.misfits import MOST_NAMED
from analysis.records.document import first_odd_line, misfit_fault
from analysis.records.drift import (
    address_drift,
    caution_drift,
    data_drift,
    figure_drift,
    formula_drift,
    reference_drift,
)
from analysis.records.fingerprints import fingerprint_findings
from analysis.records.readings import readings_section
from analysis.records.record import FINGERPRINT_KEYS, FORMAT, TOLERANCE, Finding, Record, Sections
from analysis.records.sections import TOOLS, sections_of
from analysis.records.shapes import section_misfits
from analysis.records.within import (
    misfit_findings,
    recomputed_findings,
    recorded_form,
    rule_findings,
)
from scoring.catalogue import read_catalogue
from scoring.errors import CatalogueError, FormulaError
from scoring.form import Form
from scoring.program.program import compile_form
from scoring.table.evaluate import inputs_of
from scoring.table.table import score_catalogue


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


def against(found: Verification, form: Form, catalogue: Path) -> Verification:
    """The verification with what drifted: `form` and the catalogue in a file or folder are today's.

    Raises
    ------
    SteelyardError : today's catalogue cannot be read, or not be scored
    """
    recorded, program = found.record.latest.sections, compile_form(form)
    table = score_catalogue(form, read_catalogue(catalogue, form), program)
    now = sections_of(table, program, recorded["formula"]["settings"])
    notes = list(found.notes)
    readings = now
    formula: tuple[Finding, ...] = ()
    if recorded["formula"]["sha256"] != form.sha256:
        try:
            before = recorded_form(recorded)
            formula = formula_drift(before, form)
            readings = {"readings": _readings_by(before, catalogue)}
        except FormulaError as fault:
            formula = tuple(Finding("formula", f"the recorded text is no formula now: {one}") for one in fault.problems)
        except CatalogueError:
            notes.append(
                "The recorded formula does not take today's readings: they are compared as today's formula reads them."
            )
    formula = formula or address_drift(recorded["addresses"], now["addresses"])
    data = data_drift(recorded, readings, form.units)
    drift = [*formula, *data, *reference_drift(recorded, now), *figure_drift(recorded, now)]
    if not any(one.says.startswith("caution") for one in formula):
        drift += caution_drift(recorded, now)
    notes += _same_in_another_text(recorded, now, formula, data)
    return Verification(found.record, found.fingerprints, found.within, tuple(drift), tuple(notes))


def _readings_by(form: Form, catalogue: Path) -> list[dict[str, Any]]:
    """Today's readings as the recorded formula reads them: a unit or a limit that it changed is then no change of data."""
    read = read_catalogue(catalogue, form)
    return readings_section(read, inputs_of(form, read), form)


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
