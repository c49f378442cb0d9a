"""Publishing and correcting: a new record, or one with a state more, and the fingerprints of all that was published.

Nothing that was published leaves the file. Fingerprints are a hash for each section, one for each state, one for the whole.
They find careless edits; they sign nothing: whoever edits a record and works out every hash anew gets a record whose
fingerprints hold. Against that helps a copy of the fingerprint kept elsewhere, and recomputing (`verification`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from typing import Any

from analysis.asked import day_problem, is_day
from analysis.json_text import digest_of
from analysis.outputs.guard import RECORD
from analysis.records.document import RecordError
from analysis.records.drift import same_standing, standings
from analysis.records.record import SECTIONS, Finding, Record, Sections, State
from analysis.records.schema import FINGERPRINT_KEYS, FORMAT
from scoring.catalogue.cells import text_fault
from scoring.errors import Place, Problem

NOT_HASHED = ("sections", "fingerprint")
TAKEN_OFF = (
    ", and yet that of each state in it does: a correction may be missing at its end, or this fingerprint itself was"
    " edited"
)


def fingerprint_state(sections: Sections, before: State | None, about: Mapping[str, Any]) -> dict[str, Any]:
    """A state as it is written: what it is about, its sections, their hashes, its fingerprint.

    A section that is the same as in the state `before` is not written again; its hash is.
    """
    hashes = {name: digest_of(sections[name]) for name in SECTIONS}
    kept = before.entry["hashes"] if before is not None else {}
    entry: dict[str, Any] = {**about, "hashes": hashes}
    entry["fingerprint"] = digest_of(entry)
    entry["sections"] = {name: sections[name] for name in SECTIONS if hashes[name] != kept.get(name)}
    return entry


def fingerprint_record(entries: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """The whole document of a publication and its corrections."""
    publication, *corrections = entries
    document: dict[str, Any] = {"record": RECORD, "format": FORMAT, "fingerprint": ""}
    document |= {"publication": publication, "corrections": corrections}
    return document | {"fingerprint": _whole_fingerprint(document)}


def _whole_fingerprint(document: Mapping[str, Any]) -> str:
    about = {key: value for key, value in document.items() if key not in ("publication", "corrections", "fingerprint")}
    fingerprints = [entry["fingerprint"] for entry in (document["publication"], *document["corrections"])]
    return digest_of({**about, f"{FINGERPRINT_KEYS[document['format']]}s": fingerprints})


def fingerprint_findings(record: Record) -> tuple[Finding, ...]:
    """Every fingerprint that does not hold, each section by name; then the chain of corrections."""
    found = [finding for state in record.states for finding in _state_findings(record, state)]
    chain = tuple(_chain_findings(record.states))
    if _whole_fingerprint(record.document) != record.fingerprint:
        alone = "" if found or chain else TAKEN_OFF
        found.append(Finding("fingerprint", f"the record: its fingerprint does not hold{alone}"))
    return (*found, *chain)


def _state_findings(record: Record, state: State) -> Iterator[Finding]:
    hashes, sections = state.entry["hashes"], state.entry["sections"]
    kept = record.states[state.number - 1].entry["hashes"] if state.number else {}
    for name in dict.fromkeys((*SECTIONS, *hashes, *sections)):
        if name not in SECTIONS:
            yield Finding("fingerprint", f"{state.name}, section {name}: no section of a record", state.name)
        elif name not in hashes or (name not in sections and name not in kept):
            what = "hash" if name not in hashes else "content"
            yield Finding("fingerprint", f"{state.name}, section {name}: its {what} is not there", state.name)
        elif name in sections and digest_of(sections[name]) != hashes[name]:
            yield Finding("fingerprint", f"{state.name}, section {name}: not what was recorded", state.name)
        elif name not in sections and hashes[name] != kept[name]:
            yield Finding("fingerprint", f"{state.name}, section {name}: not the one kept from before", state.name)
    if digest_of({key: value for key, value in state.entry.items() if key not in NOT_HASHED}) != state.fingerprint:
        yield Finding(
            "fingerprint", f"{state.name}: its date, cause, changes or hashes are not what was recorded", state.name
        )


def _chain_findings(states: Sequence[State]) -> Iterator[Finding]:
    for before, state in pairwise(states):
        if state.entry["previous"] != before.fingerprint:
            says = f"{state.name} does not follow on the {before.name} before it"
            hint = "a correction between them may be missing, or their order is another"
            yield Finding("chain", f"{says}: {hint}", state.name)
        if is_day(before.date) and is_day(state.date) and state.date < before.date:
            says = f"{state.name} is dated {state.date}, before the {before.name} ({before.date})"
            yield Finding("chain", says, state.name, before=before.date, after=state.date)
    for state in states:
        if not is_day(state.date):
            says = f"{state.name}: the date `{state.date[:40]}` is no day written as year-month-day"
            yield Finding("chain", says, state.name)


#: What may differ without anything published being corrected.
NOT_PUBLISHED = ("tool",)
LONGEST_CAUSE = 2_000
#: Letters by their class that show nothing.
FILLERS = frozenset("\u115f\u1160\u3164\uffa0")


NO_CAUSE = Problem(
    Place("--cause"),
    "a correction without a cause",
    "a few words",
    'Write --cause "what was wrong": it stands beside every changed figure.',
)


def says_something(cause: str) -> bool:
    """Whether a cause holds a letter or a digit that can be seen; blanks, marks and dots are none."""
    return any(character.isalnum() and character not in FILLERS for character in cause)


def first_publication(sections: Sections, date: str) -> dict[str, Any]:
    """The document of a first publication."""
    return fingerprint_record([fingerprint_state(sections, None, {"date": date})])


def corrected(record: Record, sections: Sections, date: str, cause: str, source: str) -> dict[str, Any]:
    """The record with one correction more: the same document, and what is published from `date` on.

    Raises
    ------
    RecordError : the record is not as it was recorded, the date lies before its last state, the cause says nothing, or
        there is nothing to correct
    """
    latest, place = record.latest, Place(source)
    if fingerprint_findings(record):
        hint = f"`steelyard verify {source}` says what does not hold; take the record from where it was kept."
        raise RecordError([Problem(place, "a record that is not as it was recorded", "a sound record", hint)])
    problems = [] if says_something(cause) else [NO_CAUSE]
    if date < latest.date:
        found = f"{date}, before the {latest.name} of {latest.date}"
        problems.append(Problem(Place("--date"), found, "that day or a later one"))
    if all(sections[name] == latest.sections[name] for name in sections if name not in NOT_PUBLISHED):
        found = "the same formula, readings and figures as it records already"
        problems.append(Problem(place, found, "something to correct"))
    if problems:
        raise RecordError(problems)
    about: dict[str, Any] = {"date": date, "cause": cause, "previous": latest.fingerprint}
    about |= {"changed": changed_figures(latest.sections, sections)}
    return fingerprint_record([*(state.entry for state in record.states), fingerprint_state(sections, latest, about)])


def changed_figures(old: Sections, new: Sections) -> list[dict[str, Any]]:
    """Every figure that a correction changes, old and new; null where a product or an output is in one of them only."""
    sides = standings(old), standings(new)
    pairs = {key: (sides[0].get(key), sides[1].get(key)) for side in sides for key in side}
    return [
        {"product": product, "output": output, "old": before, "new": after}
        for (product, output), (before, after) in pairs.items()
        if not _same(before, after)
    ]


def _same(old: Mapping[str, Any] | None, new: Mapping[str, Any] | None) -> bool:
    return old is not None and new is not None and same_standing(old, new)


def check_words(date: str, cause: str | None, *, correcting: bool) -> None:
    """The date and the cause as they were given.

    Raises
    ------
    RecordError : a date that is no day, a correction without a cause, a cause without a correction, or an unfit text
    """
    day = day_problem(date, "--date", "the day of publication, as 2025-03-01")
    problems = [day] if day is not None else []
    if correcting and not says_something(cause or ""):
        problems.append(NO_CAUSE)
    if cause is not None and not correcting:
        expected = "--corrects RECORD beside it: a first publication has no cause"
        problems.append(Problem(Place("--cause"), "a cause, and nothing that is corrected", expected))
    if cause and len(cause) > LONGEST_CAUSE:
        problems.append(Problem(Place("--cause"), f"{len(cause)} characters", f"at most {LONGEST_CAUSE}"))
    fault = text_fault(cause or "")
    if fault is not None:
        problems.append(Problem(Place("--cause"), fault.found, fault.expected))
    if problems:
        raise RecordError(problems)
