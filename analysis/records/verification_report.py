"""Whether a record holds, as a report: the verdict first, then what was found in the file, within it, and against today."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from analysis.records.document import RecordError, read_record
from analysis.records.drift import as_shown, differences, in_class_plain, plain, same_standing, shortened
from analysis.records.finding_lists import MOST_LISTED, finding_list
from analysis.records.record import TOLERANCE, Finding, Record, State, near
from analysis.records.verification import (
    Verification,
    against,
    causes,
    is_readable,
    recorded_names,
    verification_document,
    verify_alone,
)
from analysis.report.given import Given, Readings, catalogue_of, formula_of
from analysis.report.report import Block, Report, Section
from analysis.report.source import InWords
from analysis.report.tables import Column, OnScreen, Table, words
from analysis.wording import counted, listed
from scoring.catalogue import Catalogue, ProductNames
from scoring.door.formula import Formula
from scoring.errors import AddressError, Place, Problem
from scoring.form import Form
from scoring.program.program import compile_form

if TYPE_CHECKING:
    import pandas as pd

#: How many findings that do not follow a terminal lists, where the figures of today do.
FEW = 8
#: The width of a table of drift that goes into a pipe.
WIDTH = 118
#: Kinds of drift, and how their lists are headed.
HEADINGS = {
    "formula": "The formula differs:",
    "product": "Products came or went:",
    "name": "Products are called otherwise, and no figure rests on that:",
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


def verify(record: str | Path, formula: Given | None = None, catalogue: Readings | None = None) -> Report:
    """Whether a record is whole and follows from itself, and whether formula and catalogue still give what it records.

    Parameters
    ----------
    record : the path of a file that `steelyard record` wrote
    formula : today's, read or the path of its file; the values that were tried when it was recorded are tried again
    catalogue : today's, read, a pandas frame, or the path of its file; both or neither

    Returns
    -------
    Report : `found` is a `Verification`, whose `holds` says whether nothing was found

    Raises
    ------
    RecordError : a record that cannot be read, or a formula without a catalogue
    SteelyardError : a fault of today's formula or catalogue
    """
    path = Path(record)
    if (formula is None) is not (catalogue is None):
        found = "a formula without a catalogue" if catalogue is None else "a catalogue without a formula"
        raise RecordError([Problem(Place("verify"), found, "a record alone, or a record, a formula and a catalogue")])
    alone = verify_alone(read_record(path), path)
    if formula is None or catalogue is None or not is_readable(alone):
        return verification_report(alone, asked=formula is not None)
    tried = dict(one.split("=", 1) for one in settings_of(alone.record))
    today = as_recorded(alone, lambda: formula_of(formula).set(tried).form)
    return verification_report(against(alone, today, partial(_read, catalogue)), asked=True)


def _read(catalogue: Readings, form: Form) -> Catalogue:
    """Today's catalogue as a formula reads it; one that is read already stays as it is."""
    return catalogue_of(catalogue, Formula(form, compile_form(form)))


def settings_of(record: Record) -> Sequence[str]:
    """What was tried on the formula when it was recorded, as "ADDRESS=VALUE"."""
    settings: Sequence[str] = record.latest.sections["formula"]["settings"]
    return settings


def as_recorded(found: Verification, read: Callable[[], Form]) -> Form:
    """Today's formula, with the values that were tried when it was recorded.

    Raises
    ------
    AddressError : one of them cannot be tried on it any more
    """
    try:
        return read()
    except AddressError as fault:
        edited = ", which was edited after it was recorded" if found.fingerprints else ""
        place = Place(f"the record's `set`{edited}")
        raise AddressError(Problem(place, one.found, one.expected, one.hint) for one in fault.problems) from None


def verification_report(found: Verification, *, asked: bool) -> Report:
    """The report on what was found. asked: whether formula and catalogue were given."""
    return Report(
        command="verify",
        title=f"{_title(found)}: does the record hold?",
        heading=_heading(found),
        source=_source(found),
        sections=(Section("", "The record", tuple(_verdict(found, asked=asked)), tuple(_blocks(found)), in_full=True),),
        body=lambda: verification_document(found),
        whole=lambda: _frame(found),
        found=found,
        closing=found.notes,
    )


def _source(found: Verification) -> InWords:
    """The record that was looked at, by its fingerprint, and its states."""
    record, sections = found.record, found.record.latest.sections
    formula: Any = sections.get("formula") if is_readable(found) else None
    columns = {"record_fingerprint": record.fingerprint}
    columns["formula_sha256"] = formula["sha256"] if formula else ""
    states = tuple(_state(state) for state in record.states)
    cautions = tuple(sections["cautions"]) if is_readable(found) else ()
    names = recorded_names(sections) if is_readable(found) else ProductNames()
    return InWords(_title(found), (*states, f"Fingerprint {record.fingerprint}."), cautions, columns, names)


def _state(state: State) -> str:
    cause = f": {state.cause}" if state.cause else ""
    return f"{'Corrected' if state.number else 'Published'} {state.date}{cause}"


def _title(found: Verification) -> str:
    if not is_readable(found):
        return "A record"
    formula = found.record.latest.sections["formula"]
    return f"{formula['title']} ({formula['name']} {formula['version']}".strip() + ")"


def _heading(found: Verification) -> str:
    """Which formula, what was tried, and how many products."""
    if not is_readable(found):
        return _title(found)
    sections = found.record.latest.sections
    tried = f", with {', '.join(settings_of(found.record))}" if settings_of(found.record) else ""
    return f"{_title(found)}{tried}: {counted(len(sections['figures']), 'product')}."


def _verdict(found: Verification, *, asked: bool) -> Iterator[str]:
    """Whether all of it holds; then the file, the record within, and formula and catalogue of today."""
    yield _whole(found)
    fingerprint = f" ({found.record.fingerprint})"
    if found.fingerprints:
        yield "Fingerprints DO NOT HOLD: the file was edited after it was recorded."
    else:
        yield f"Fingerprints hold{fingerprint}."
    yield from _within(found)
    if found.drift is None:
        if asked:
            yield "Not compared with formula and catalogue: the record cannot be read."
    elif names_alone(found.drift):
        called = counted(len(dict.fromkeys(one.product for one in found.drift)), "product")
        yield f"Against formula and catalogue: no figure drifted; {called} called otherwise than was published."
    elif not found.drift:
        yield f"Against formula and catalogue: nothing drifted (shown figures exactly, values within {TOLERANCE:g})."
    else:
        because = listed([BECAUSE[cause] for cause in causes(found)])
        yield f"Against formula and catalogue: {counted_figures(found.drift)}{f'; {because}' if because else ''}."


def _whole(found: Verification) -> str:
    if found.fingerprints or any(one.kind != "recomputed" for one in found.within):
        return "The record is not sound."
    if found.within:
        return "This version does not give what was recorded."
    if found.drift is None:
        return "The record is sound. (Nothing was compared: give FORMULA and CATALOGUE for that.)"
    if names_alone(found.drift):
        return "What was published holds, but for what products are called."
    return "What was published has drifted." if found.drift else "What was published holds."


def names_alone(drift: Sequence[Finding]) -> bool:
    """Whether nothing drifted but what products are called."""
    return bool(drift) and all(one.kind == "name" for one in drift)


def _within(found: Verification) -> Iterator[str]:
    """What the record's own rules, formula and readings do not give, counted."""
    rules, anew = _by_rule(found)
    if not found.within:
        yield (
            "Within: every shown figure and place follows by the record's own rules, and every figure from its own formula and"
            " readings."
        )
    if rules:
        yield f"Within: {counted(len(rules), 'thing')} the record's own rules do not give:"
    if anew:
        tool = " Edited and fingerprinted anew, or recorded by a tool that works otherwise."
        told = "" if found.fingerprints else tool
        yield f"Within: {counted(len(anew), 'thing')} the record's own formula and readings do not give.{told}"


def _by_rule(found: Verification) -> tuple[list[Finding], list[Finding]]:
    """What was found within by the record's own rules, and by working everything out again."""
    named = named_states(found)
    return [one for one in named if one.kind != "recomputed"], [one for one in named if one.kind == "recomputed"]


def named_states(found: Verification) -> list[Finding]:
    """What was found within, each led by its state where there are several."""
    if len(found.record.states) == 1:
        return list(found.within)
    return [
        one if one.says.startswith(one.state) else replace(one, says=f"{one.state}: {one.says}") for one in found.within
    ]


def _blocks(found: Verification) -> Iterator[Block]:
    """What was found, layer by layer."""
    rules, anew = _by_rule(found)
    yield from finding_list("fingerprints", "The file", found.fingerprints)
    yield from finding_list("rules", "Within, by the record's own rules", rules)
    yield from finding_list("recomputed", "Within, worked out again", anew, MOST_LISTED if found.drift is None else FEW)
    if found.drift:
        rule = found.record.latest.sections["rules"]["outputs"]
        yield from drift_blocks(found.drift, rule, rule)


def counted_figures(drift: Sequence[Finding]) -> str:
    """How many figures drifted, and how many of them in more than their place."""
    figures = [one for one in drift if one.kind == "figure"]
    printed = sum(not _by_place_alone(one) for one in figures)
    return f"{counted(len(figures), 'figure')} drifted, {printed} of them in more than their place"


def _by_place_alone(one: Finding) -> bool:
    anywhere = {"rank": None, "within": None}
    return same_standing(one.before | anywhere, one.after | anywhere)


def drift_blocks(drift: Sequence[Finding], rules: Mapping[str, Any], rules_now: Mapping[str, Any]) -> Iterator[Block]:
    """What drifted, kind by kind, then the figures in a table; `rules` say how each output is shown, then and now."""
    for kind, heading in HEADINGS.items():
        yield from finding_list(kind, heading, [one for one in drift if one.kind == kind])
    figures = sorted((one for one in drift if one.kind == "figure"), key=_by_place_alone)
    if not figures:
        return
    ends = [_ends(one, rules, rules_now) for one in figures]
    more = f"{len(figures) - MOST_LISTED} more figures: `--json` lists all."
    yield Table(
        "figures",
        "Figures, as recorded -> now",
        (
            Column("product", {"product": [one.product for one in figures]}, shortened, kind="name"),
            words("figure", "figure", [one.output for one in figures], kind="code", unbroken=True),
            words("shown", "shown", [end.shown for end in ends], unbroken=True),
            words("value", "value", [end.value for end in ends], unbroken=True),
            words("place", "place", [end.place for end in ends], unbroken=True),
            *_in_class(ends),
            words("band_or_status", "band or status", [end.standing for end in ends]),
            words("remarks", "remarks", [end.remarks for end in ends]),
        ),
        on_screen=OnScreen(
            most=MOST_LISTED, width=WIDTH, tight=True, notes=(more,) if len(figures) > MOST_LISTED else ()
        ),
    )


@dataclass(frozen=True, slots=True)
class _Ends:
    """A figure as recorded and now, in words."""

    shown: str
    value: str
    place: str
    in_class: str
    standing: str
    remarks: str


def _in_class(ends: Sequence[_Ends]) -> list[Column]:
    """The places within classes, where they are counted."""
    said = [end.in_class for end in ends]
    return [words("in_class", "in class", said, unbroken=True)] if any(said) else []


def _ends(one: Finding, rules: Mapping[str, Any], rules_now: Mapping[str, Any]) -> _Ends:
    old, new = one.before, one.after
    steps = [(rule.get(one.output) or rules[one.output])["step"] for rule in (rules, rules_now)]
    differ = differences(old, new, *steps)
    return _Ends(
        differ.get("shown", as_shown(old["shown"], steps[0])),
        _value(old["value"], new["value"]),
        differ.get("place", plain(old["rank"])),
        differ.get("in class", in_class_plain(old["within"]) if "within" in old else ""),
        ", ".join(differ[what] for what in ("band", "status") if what in differ),
        differ.get("remarks", ""),
    )


def _value(old: float | None, new: float | None) -> str:
    """Unrounded values to as many decimals as tell them apart."""
    texts = [plain(value) if value is None else f"{value:.4f}" for value in (old, new)]
    if near(old, new):
        return texts[0]
    return f"{texts[0]} -> {texts[1]}" if texts[0] != texts[1] else f"{plain(old)} -> {plain(new)}"


def _frame(found: Verification) -> pd.DataFrame:
    """One row for everything that was found."""
    import pandas as pd

    rows = [
        ("fingerprint", found.fingerprints),
        ("within", found.within),
        ("drift", found.drift or ()),
    ]
    columns = ("layer", "kind", "says", "state", "product", "output", "measure")
    held = [
        (layer, one.kind, one.says, one.state, one.product, one.output, one.measure)
        for layer, findings in rows
        for one in findings
    ]
    return pd.DataFrame(held, columns=list(columns))
