"""`steelyard verify`: whether a record is whole, follows from itself, and still is what formula and catalogue give."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from analysis.cli.inputs import check_order, guard_of, is_yaml, load_form, readings_in_words, refuse_where
from analysis.cli.reports import deliver
from analysis.cli.terminal import print_json, say
from analysis.outputs.manifest import CHANGED, MISSING, folder_document, has_manifest, verify_folder
from analysis.outputs.manifest import NAME as MANIFEST
from analysis.records.document import RecordError, read_record
from analysis.records.drift import shortened
from analysis.records.finding_lists import MOST_LISTED
from analysis.records.verification import against, is_readable, verify_alone
from analysis.records.verification_report import as_recorded, settings_of, verification_report
from analysis.report.endings import check_output
from analysis.wording import counted, listed, some
from scoring.catalogue import read_catalogue
from scoring.errors import FileError, Place, Problem

#: Files beside those of a manifest that a line names.
FEW = 8


def run(
    record: Path,
    formula: Path | None,
    catalogue: Path | None,
    *,
    where: Sequence[str] = (),
    as_json: bool,
    out: Path | None = None,
    force: bool = False,
) -> bool:
    """Verify and show; whether the record, or the folder of output, holds."""
    refuse_where(where, "a record", "the whole of what was published: a record holds, or does not, as a whole")
    if has_manifest(folder_of(record)):
        return run_folder(folder_of(record), formula, out, as_json=as_json)
    check_record_first(record)
    if formula is not None and catalogue is not None:
        check_order(formula, catalogue)
    if formula is not None and catalogue is None:
        found = "a formula without a catalogue"
        raise RecordError([Problem(Place("steelyard verify"), found, "RECORD alone, or RECORD FORMULA CATALOGUE")])
    guard = guard_of([], [one for one in (catalogue,) if one is not None], [record, formula], force=force)
    if out is not None:
        check_output(out, guard, by="verify")
    verified = verify_alone(read_record(record), record)
    asked = formula is not None and catalogue is not None
    if formula is not None and catalogue is not None and is_readable(verified):
        today = as_recorded(verified, lambda: load_form(formula, settings_of(verified.record)))
        verified = against(verified, today, lambda form: read_catalogue(catalogue, form))
    deliver(verification_report(verified, asked=asked), out=out, as_json=as_json, guard=guard)
    return verified.holds


def folder_of(path: Path) -> Path:
    """The folder that is meant: by itself, or by the manifest in it."""
    return path.parent if path.name == MANIFEST else path


def run_folder(folder: Path, formula: Path | None, out: Path | None, *, as_json: bool) -> bool:
    """Hold a folder of output against its manifest, and show it; whether every file is as it was written."""
    if formula is not None:
        hint = "Write steelyard verify FOLDER: what was written is compared with its manifest alone."
        raise FileError([Problem(Place(str(formula)), "a formula beside a folder of output", "the folder alone", hint)])
    if out is not None:
        hint = "`--json` says it as a document."
        raise FileError([Problem(Place("--out"), "a folder of output", "a record, which has a report", hint)])
    found = verify_folder(folder)
    if as_json:
        print_json(folder_document(found))
        return found.holds
    commands = listed(list(dict.fromkeys(one.by for one in found.files)))
    say(f"{folder}: {counted(len(found.files), 'file')}, written by {commands or 'no command'}.")
    say(f"Fingerprint of the manifest: {found.fingerprint}", "")
    for state, says in ((CHANGED, "was changed since it was written"), (MISSING, "is not there")):
        names = [one.name for one, is_now in zip(found.files, found.states, strict=True) if is_now == state]
        say(*(f"  {name} {says}" for name in names[:MOST_LISTED]))
        if len(names) > MOST_LISTED:
            say(f"  and {len(names) - MOST_LISTED} more: `--json` lists all.")
    if found.not_listed:
        say(f"Beside them, and not steelyard's: {some([shortened(name) for name in found.not_listed], FEW)}.")
    say("Every file is as it was written." if found.holds else "The folder is not as it was written.")
    return found.holds


def check_record_first(record: Path) -> None:
    """Refuse a formula or a catalogue where the record belongs, by what the path is.

    Raises
    ------
    RecordError : either of them
    """
    found = "a YAML file" if is_yaml(record) else readings_in_words(record)
    if found is not None:
        expected = (
            "a RECORD first, the .json file that `steelyard record` wrote, or a folder of output with its manifest"
        )
        hint = "Write steelyard verify RECORD, or steelyard verify RECORD FORMULA CATALOGUE."
        raise RecordError([Problem(Place(str(record)), f"{found}, where the record belongs", expected, hint)])
