"""Publishing and correcting: a new record, or one with a state more. Nothing that was published leaves the file."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from analysis.days import day_problem
from analysis.records.document import RecordError
from analysis.records.drift import same_standing, standings
from analysis.records.fingerprints import fingerprint_findings, fingerprint_record, fingerprint_state
from analysis.records.record import Record, Sections
from scoring.catalogue.cells import text_fault
from scoring.errors import Place, Problem

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
