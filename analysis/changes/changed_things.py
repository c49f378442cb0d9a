"""Changes of one thing that two forms share: of its values, and of its fields that have no address."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from analysis.changes.change_words import who
from analysis.changes.changed_outputs import output_changes
from analysis.changes.changed_values import Both, Change, value_changes
from analysis.changes.renamed_nouns import readdressed
from analysis.changes.written_things import address_of, words
from scoring.declaration import Declaration, kinds
from scoring.form import ATTRIBUTE, ERROR_CORRELATION, GATE, MEASURE, Output
from scoring.reader.wording import clip

NAMED: tuple[Declaration[Any], ...] = (MEASURE, ATTRIBUTE, ERROR_CORRELATION, GATE)
#: Fields of words that are published, or that say what a number means; those that must be written first. A note is told apart.
REWIRED = {
    found.noun: sorted(
        (name for name in found.fields_of(kinds.Text, kinds.Column) if name != "note"),
        key=lambda name: not found.fields[name].required,
    )
    for found in NAMED
}
#: Fields that are lists of names, in any order.
LISTED = {found.noun: found.fields_of(kinds.Several) for found in NAMED}


def thing_changes(both: Both, section: str, old: Any, new: Any) -> list[Change]:
    """Every change of one thing but that of its name and label.

    Parameters
    ----------
    section : the section of the form that it stands in
    old, new : the thing in either form, under whatever name
    """
    at = address_of(new)
    old = readdressed(old, address_of(old), at)
    if isinstance(new, Output):
        found = output_changes(both, section, old, new)
    else:
        found = [*_fields(section, at, old, new)]
        found += value_changes(both, section, old, new, base=at, who=who(section, new))
    return [*found, *_note(section, at, old, new)]


def _fields(section: str, at: str, old: Any, new: Any) -> Iterator[Change]:
    for name in REWIRED.get(type(new), ()):
        before, after = getattr(old, name), getattr(new, name)
        if before != after:
            says = f"{who(section, new)}: {name} {clip(before) or 'nothing'} -> {clip(after) or 'nothing'}"
            yield Change("rewired", at, says, before, after)
    for name in LISTED.get(type(new), ()):
        if set(getattr(old, name)) != set(getattr(new, name)):
            before, after = (words(getattr(thing, name)) for thing in (old, new))
            says = f"{who(section, new)}: {name} {_or_all(before)} -> {_or_all(after)}"
            yield Change("rewired", at, says, *("" if text == "[]" else text for text in (before, after)))


def _or_all(text: str) -> str:
    return "any" if text == "[]" else text


def _note(section: str, at: str, old: Any, new: Any) -> Iterator[Change]:
    before, after = getattr(old, "note", ""), getattr(new, "note", "")
    if before != after:
        said = [f'"{clip(text)}"' if text else "nothing" for text in (before, after)]
        yield Change("said", at, f"{who(section, new)}: note {said[0]} -> {said[1]}", before, after)
