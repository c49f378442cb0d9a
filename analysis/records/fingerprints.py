"""Fingerprints: a hash for each section, one for each state, one for the whole. They find careless edits; they sign nothing.

Whoever edits a record and works out every hash anew gets a record whose fingerprints hold. Against that helps a copy of
the fingerprint kept elsewhere, and recomputing (`within`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from typing import Any

from analysis.days import is_day
from analysis.json_text import digest_of
from analysis.outputs.marks import RECORD
from analysis.records.record import FINGERPRINT_KEYS, FORMAT, SECTIONS, Finding, Record, Sections, State

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
