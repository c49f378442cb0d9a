"""`steelyard record`: freeze a publication in one file, or add a correction to it."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

from analysis.cli.inputs import draft_lines, not_given, refuse_where, scored, set_aside, with_comments
from analysis.cli.reports import show_section
from analysis.cli.terminal import say
from analysis.outputs.guard import check_folder, check_writable
from analysis.published_reasons import reasons_in_words
from analysis.records.corrections import check_words
from analysis.records.document import NEW_NAME, RecordError, keep_corrected, keep_new, read_record
from analysis.records.drift import data_drift, figure_drift, formula_drift, names_apart, reference_drift, standings
from analysis.records.record import Record
from analysis.records.report import recorded
from analysis.records.verification import format_notes, recorded_form
from analysis.records.verification_report import drift_blocks
from analysis.report.report import Section
from analysis.wording import counted
from scoring.errors import FileError, Place, Problem
from scoring.form import Form

#: Why no part of a catalogue is recorded.
WHOLE = (
    "the whole publication: places among a part are others under the same name, and `verify` could not tell them apart; with"
    " `ranks: {within: ATTRIBUTE}` the formula counts places within each class too, and they are recorded beside the others"
)


def run(
    formula: Path,
    catalogue: Path,
    settings: Sequence[str],
    *,
    where: Sequence[str] = (),
    out: Path | None,
    date: str | None,
    corrects: Path | None,
    cause: str | None,
) -> None:
    """Record and say what."""
    refuse_where(where, "a record", WHOLE)
    if out is None or date is None:
        raise RecordError(options_not_given(out, date, corrects))
    check_words(date, cause, correcting=corrects is not None)
    check_out(out, corrects)
    before = read_record(corrects) if corrects is not None else None
    table = scored(formula, catalogue, settings)
    record = recorded(table, date, before, cause or "", Place(str(corrects if corrects is not None else out)))
    if before is not None and os.path.lexists(out):
        keep_corrected(out, dict(record.document), before)
    else:
        keep_new(out, dict(record.document))
    show(record, out, table.form)
    say(*draft_lines(table, "The record"), *reasons_in_words(table.form, table.catalogue, "the record holds them"))
    say(*set_aside(table.catalogue), *with_comments(table.form, "The record"))
    say(*(format_notes(before) if before is not None else ()))


def options_not_given(out: Path | None, date: str | None, corrects: Path | None) -> list[Problem]:
    """What must be said of every record: the file and the day."""
    file = not_given("--out", "the file to write the record to", str(corrects or "record.json"))
    day = not_given("--date", "the day of publication", "and the day, as 2025-03-01")
    return [problem for problem, value in ((file, out), (day, date)) if value is None]


def check_out(out: Path, corrects: Path | None) -> None:
    """Refuse a file that is there: only the record that is corrected may take its own correction.

    Raises
    ------
    FileError : an ending that is not .json, a folder that is not there, a file that is there already or is read-only
    """
    place = Place(str(out))
    if out.suffix.lower() != ".json":
        raise FileError([Problem(place, f"the ending `{out.suffix}`" if out.suffix else "no ending", "one in .json")])
    check_folder(out)
    if os.path.lexists(out) and not (corrects is not None and corrects.exists() and os.path.samefile(out, corrects)):
        expected = "a new one: no record is written over"
        raise FileError([Problem(place, "a file that is there already", expected, NEW_NAME)])
    if os.path.exists(out):
        check_writable(out)


def show(record: Record, out: Path, form: Form) -> None:
    """Print what was recorded; of a correction, what it changes."""
    latest = record.latest
    count = len(latest.sections["figures"])
    shown = sum(one["shown"] is not None for one in standings(latest.sections).values())
    titled = f"{form.title} ({form.name} {form.version}".strip() + ")"
    say(f"{titled}: {counted(count, 'product')}, {counted(shown, 'published figure')}.")
    if latest.number:
        before = record.states[-2].sections
        say(f"Correction {latest.number} of {latest.date}: {latest.cause}")
        drift = (
            *formula_drift(recorded_form(before), form),
            *names_apart(data_drift(before, latest.sections, form.units), form),
            *reference_drift(before, latest.sections),
            *figure_drift(before, latest.sections),
        )
        blocks = drift_blocks(drift, before["rules"]["outputs"], latest.sections["rules"]["outputs"])
        show_section(Section("", "What the correction changes", (), tuple(blocks), in_full=True))
    else:
        say(f"Published {latest.date}.")
    say(f"Written to {out}.", f"Fingerprint: {record.fingerprint}")
    say(
        "The fingerprint finds an edit of the file, careless or accidental; it is no signature. Keep a copy of it elsewhere,"
        " and `steelyard verify` the file with formula and catalogue before anything is printed again."
    )
    say(*(f"! {caution}" for caution in latest.sections["cautions"]))
