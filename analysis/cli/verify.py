"""`steelyard verify`: whether a record is whole, follows from itself, and still is what formula and catalogue give."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from analysis.cli.inputs import check_order, is_yaml, load_form, readings_in_words
from analysis.cli.terminal import console, print_json, print_table, say, visible
from analysis.outputs.folder_verification import CHANGED, MISSING, folder_document, verify_folder
from analysis.outputs.manifest import NAME as MANIFEST
from analysis.outputs.manifest import has_manifest
from analysis.records.document import RecordError, read_record
from analysis.records.drift import differences, same_standing
from analysis.records.record import TOLERANCE, Finding, near
from analysis.records.verification import (
    Verification,
    against,
    causes,
    is_readable,
    verification_document,
    verify_alone,
)
from analysis.records.words import as_shown, plain, shortened
from analysis.wording import counted, listed
from scoring.errors import AddressError, FileError, Place, Problem
from scoring.form import Form

#: The width of the printed lines, and how many findings of one kind are listed.
WIDTH, MOST_LISTED = 118, 200
#: How many of those that do not follow are listed where the figures of today follow in a table.
FEW = 8
#: Kinds of drift, and how their lists are headed.
HEADINGS = {
    "formula": "The formula differs:",
    "product": "Products came or went:",
    "data": "The data differ:",
    "reference": "What live references lean on differs:",
    "output": "Ratings and scores came or went:",
    "caution": "The cautions differ:",
}
BECAUSE = {
    "formula": "the formula changed",
    "data": "the data changed",
    "tool": "the tool gives another figure for the same formula and readings",
}


def run(record: Path, formula: Path | None, catalogue: Path | None, *, as_json: bool) -> bool:
    """Verify and show; whether the record, or the folder of output, holds."""
    if has_manifest(folder_of(record)):
        return run_folder(folder_of(record), formula, as_json=as_json)
    check_record_first(record)
    if formula is not None and catalogue is not None:
        check_order(formula, catalogue)
    if formula is not None and catalogue is None:
        found = "a formula without a catalogue"
        raise RecordError([Problem(Place("steelyard verify"), found, "RECORD alone, or RECORD FORMULA CATALOGUE")])
    read = read_record(record)
    found_alone = verify_alone(read, record)
    asked = formula is not None and catalogue is not None
    if formula is None or catalogue is None or not is_readable(found_alone):
        verified = found_alone
    else:
        verified = against(found_alone, _form(formula, found_alone), catalogue)
    if as_json:
        print_json(verification_document(verified))
    else:
        show(verified, asked=asked)
    return verified.holds


def folder_of(path: Path) -> Path:
    """The folder that is meant: by itself, or by the manifest in it."""
    return path.parent if path.name == MANIFEST else path


def run_folder(folder: Path, formula: Path | None, *, as_json: bool) -> bool:
    """Hold a folder of output against its manifest, and show it; whether every file is as it was written."""
    if formula is not None:
        hint = "Write steelyard verify FOLDER: what was written is compared with its manifest alone."
        raise FileError([Problem(Place(str(formula)), "a formula beside a folder of output", "the folder alone", hint)])
    found = verify_folder(folder)
    if as_json:
        print_json(folder_document(found))
        return found.holds
    commands = listed(list(dict.fromkeys(one.by for one in found.files)))
    wrapped(f"{folder}: {counted(len(found.files), 'file')}, written by {commands or 'no command'}.")
    wrapped(f"Fingerprint of the manifest: {found.fingerprint}", "")
    for state, says in ((CHANGED, "was changed since it was written"), (MISSING, "is not there")):
        names = [one.name for one, is_now in zip(found.files, found.states, strict=True) if is_now == state]
        wrapped(*(f"{name} {says}" for name in names[:MOST_LISTED]), indent="  ")
        if len(names) > MOST_LISTED:
            say(f"  and {len(names) - MOST_LISTED} more: `--json` lists all.")
    if found.not_listed:
        others = ", ".join(shortened(name) for name in found.not_listed[:FEW])
        rest = f" and {len(found.not_listed) - FEW} more" if len(found.not_listed) > FEW else ""
        wrapped(f"Beside them, and not steelyard's: {others}{rest}.")
    whole = "Every file is as it was written." if found.holds else "The folder is not as it was written."
    say(whole)
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


def _form(formula: Path, found: Verification) -> Form:
    """The formula, with the values that were tried when it was recorded.

    Raises
    ------
    AddressError : one of them cannot be tried on it any more
    """
    settings = found.record.latest.sections["formula"]["settings"]
    try:
        return load_form(formula, settings)
    except AddressError as fault:
        place = Place(
            "the record's `set`"
            if not found.fingerprints
            else "the record's `set`, which was edited after it was recorded"
        )
        raise AddressError(Problem(place, one.found, one.expected, one.hint) for one in fault.problems) from None


def show(found: Verification, *, asked: bool) -> None:
    """Print the verdict on each layer, and what was found there."""
    record, latest = found.record, found.record.latest
    if is_readable(found):
        formula = latest.sections["formula"]
        title = f"{formula['title']} ({formula['name']} {formula['version']}".strip() + ")"
        settings = f", with {', '.join(formula['settings'])}" if formula["settings"] else ""
        wrapped(f"{title}{settings}: {counted(len(latest.sections['figures']), 'product')}.")
    for state in record.states:
        wrapped(
            f"{'Corrected' if state.number else 'Published'} {state.date}{f': {state.cause}' if state.cause else ''}"
        )
    say("")
    verdict = "hold" if not found.fingerprints else "DO NOT HOLD: the file was edited after it was recorded."
    wrapped(f"Fingerprints {verdict}{f' ({record.fingerprint})' if not found.fingerprints else ''}")
    _list(found.fingerprints)
    _show_within(found)
    if found.drift is not None:
        _show_against(found)
    elif asked:
        say("Not compared with formula and catalogue: the record cannot be read.")
    wrapped(*found.notes)
    say("", _verdict(found))
    if is_readable(found):
        wrapped(*(f"! {caution}" for caution in latest.sections["cautions"]))


def named_states(found: Verification) -> list[Finding]:
    """What was found within, each led by its state where there are several."""
    if len(found.record.states) == 1:
        return list(found.within)
    return [
        one if one.says.startswith(one.state) else replace(one, says=f"{one.state}: {one.says}") for one in found.within
    ]


def _verdict(found: Verification) -> str:
    if found.fingerprints or any(one.kind != "recomputed" for one in found.within):
        return "The record is not sound."
    if found.within:
        return "This version does not give what was recorded."
    if found.drift is None:
        return "The record is sound. (Nothing was compared: give FORMULA and CATALOGUE for that.)"
    return "What was published has drifted." if found.drift else "What was published holds."


def _show_within(found: Verification) -> None:
    rules, anew = ([one for one in named_states(found) if (one.kind == "recomputed") is late] for late in (False, True))
    if not found.within:
        wrapped(
            "Within: every shown figure and place follows by the record's own rules, and every figure from its own"
            " formula and readings."
        )
        return
    if rules:
        say(f"Within: {counted(len(rules), 'thing')} the record's own rules do not give:")
        _list(rules)
    if anew:
        tool = (
            "" if found.fingerprints else " Edited and fingerprinted anew, or recorded by a tool that works otherwise."
        )
        wrapped(f"Within: {counted(len(anew), 'thing')} the record's own formula and readings do not give.{tool}")
        _list(anew, MOST_LISTED if found.drift is None else FEW)


def _show_against(found: Verification) -> None:
    drift = found.drift or ()
    if not drift:
        wrapped(f"Against formula and catalogue: nothing drifted (shown figures exactly, values within {TOLERANCE:g}).")
        return
    because = listed([BECAUSE[cause] for cause in causes(found)])
    wrapped(f"Against formula and catalogue: {counted_figures(drift)}{f'; {because}' if because else ''}.", "")
    rules = found.record.latest.sections["rules"]["outputs"]
    show_drift(drift, rules, rules)


def counted_figures(drift: Sequence[Finding]) -> str:
    """How many figures drifted, and how many of them in more than their place."""
    figures = [one for one in drift if one.kind == "figure"]
    printed = sum(not _by_place_alone(one) for one in figures)
    return f"{counted(len(figures), 'figure')} drifted, {printed} of them in more than their place"


def _by_place_alone(one: Finding) -> bool:
    return same_standing(one.before | {"rank": None}, one.after | {"rank": None})


def show_drift(drift: Sequence[Finding], rules: Mapping[str, Any], rules_now: Mapping[str, Any]) -> None:
    """Print what drifted, kind by kind, then the figures in a table; `rules` say how each output is shown."""
    for kind, heading in HEADINGS.items():
        of_kind = [one for one in drift if one.kind == kind]
        if of_kind:
            say(heading)
            _list(of_kind)
            say("")
    figures = sorted((one for one in drift if one.kind == "figure"), key=_by_place_alone)
    if not figures:
        return
    rows = [_row(one, rules, rules_now) for one in figures[:MOST_LISTED]]
    headers = ["product", "figure", "shown", "value", "place", "band or status", "remarks"]
    print_table(headers, rows, unbroken=(1, 2, 3, 4), title="Figures, as recorded -> now", piped=WIDTH, tight=True)
    if len(figures) > MOST_LISTED:
        say(f"{len(figures) - MOST_LISTED} more figures: `--json` lists all.")


def _row(one: Finding, rules: Mapping[str, Any], rules_now: Mapping[str, Any]) -> list[str]:
    old, new = one.before, one.after
    steps = [(rule.get(one.output) or rules[one.output])["step"] for rule in (rules, rules_now)]
    differ = differences(old, new, *steps)
    return [
        shortened(one.product),
        one.output,
        differ.get("shown", as_shown(old["shown"], steps[0])),
        _value(old["value"], new["value"]),
        differ.get("place", plain(old["rank"])),
        ", ".join(differ[what] for what in ("band", "status") if what in differ),
        differ.get("remarks", ""),
    ]


def _value(old: float | None, new: float | None) -> str:
    """Unrounded values to as many decimals as tell them apart."""
    texts = [plain(value) if value is None else f"{value:.4f}" for value in (old, new)]
    if near(old, new):
        return texts[0]
    return f"{texts[0]} -> {texts[1]}" if texts[0] != texts[1] else f"{plain(old)} -> {plain(new)}"


def _list(findings: Sequence[Finding], most: int = MOST_LISTED) -> None:
    for one in findings[:most]:
        wrapped(one.says, indent="  ")
    if len(findings) > most:
        say(f"  and {len(findings) - most} more: `--json` lists all.")


def wrapped(*lines: str, indent: str = "") -> None:
    """Print lines in the width of the page, or of a narrower terminal; what goes on is indented further."""
    width = min(WIDTH, console().width)
    for line in lines:
        text = visible(" ".join(line.split()))
        say(*(textwrap.wrap(text, width, initial_indent=indent, subsequent_indent=indent + "  ") or [""]))
