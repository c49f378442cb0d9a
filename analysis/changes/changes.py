"""Every difference between two forms, in words and by address, including what has no address."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from analysis.changes.change_words import NOUNS, who
from analysis.changes.changed_form import form_changes
from analysis.changes.changed_things import thing_changes
from analysis.changes.changed_values import SECTIONS, Both, Change
from analysis.changes.matched_things import Pairs, matched
from analysis.changes.renamed_nouns import refer
from analysis.changes.written_things import Texts, address_of, name_of
from scoring.addresses.addresses import addresses
from scoring.form import Form

__all__ = ["Change", "changes"]

#: Sections whose things are referred to by name.
REFERRED = ("constants", "attributes", "measures", "ratings", "scores")
KINDS = ("added", "removed", "renamed", "rewired", "value", "said")


def changes(old: Form, new: Form) -> tuple[Change, ...]:
    """Every difference between two forms: what was added, removed, renamed and rewired, then values, then words.

    Parameters
    ----------
    old, new : Form
        Two formulas, or one before and after a setting.

    Returns
    -------
    tuple of Change
        () where the forms say the same. Comments, layout, the spelling of a number and the order of parts and things
        are no change. Within a kind, in the order of the new form.

    Notes
    -----
    A thing of one form that is the only one to hold what a thing of the other holds is the same thing under another
    name; what refers to it is no further change. A part, a limit or a gate that only stands at another place of its
    list is matched by what it holds.

    "value" is at an address of both forms: setting `before` there on the new form, or `after` on the old one, makes
    it undone or done. An expression that uses other names than before is "rewired" at its address. What is at an
    address of one form only is "rewired" with "" for the other.
    """
    both, pairs = _match(old, new)
    found = form_changes(both)
    for section in SECTIONS:
        found += _section_changes(both, section, pairs[section])
    found = [replace(change, says=" ".join(change.says.split())) for change in found]  # labels and texts may have lines
    places = list(addresses(new))
    return tuple(sorted(found, key=lambda change: (KINDS.index(change.kind), _position(change.at, places))))


def _match(old: Form, new: Form) -> tuple[Both, dict[str, Pairs]]:
    """Which thing is which, by section. In turns: a rating is known again only once what it takes is known."""
    names: dict[str, str] = {}
    texts = Texts(old), Texts(new)
    for _ in range(len(old.outputs) + 2):
        both = Both(refer(old, names), new, *texts)
        pairs = {section: _match_section(both, section) for section in SECTIONS}
        found = {
            name_of(getattr(old, section)[i]): name_of(getattr(new, section)[j])
            for section in REFERRED
            for i, j in pairs[section]
        }
        found = {before: after for before, after in found.items() if before != after}
        if found == names:
            break
        names = found
    return both, pairs


def _match_section(both: Both, section: str) -> Pairs:
    old, new = getattr(both.old, section), getattr(both.new, section)

    def same(i: int, j: int) -> bool:
        return not thing_changes(both, section, old[i], new[j])

    by_place = str.isdigit if section == "gates" else lambda _: False
    return matched([name_of(t) for t in old], [name_of(t) for t in new], same, by_place=by_place)


def _section_changes(both: Both, section: str, pairs: Pairs) -> list[Change]:
    old, new = getattr(both.old, section), getattr(both.new, section)
    there, here = {i for i, _ in pairs}, {j for _, j in pairs}
    found = [_came(both.new_texts, section, thing) for j, thing in enumerate(new) if j not in here]
    found += [_went(both.old_texts, section, thing) for i, thing in enumerate(old) if i not in there]
    for i, j in pairs:
        found += _name_changes(section, old[i], new[j])
        found += thing_changes(both, section, old[i], new[j])
    if section == "gates" and [i for i, _ in pairs] != sorted(i for i, _ in pairs):
        listed = [", ".join(thing.name for thing in things) for things in (old, new)]
        found.append(Change("said", "gates", "gates: remarks in another order", *listed))
    return found


def _came(texts: Texts, section: str, thing: Any) -> Change:
    return Change("added", address_of(thing), f"{_named(section, thing)} added", "", texts.of(thing))


def _went(texts: Texts, section: str, thing: Any) -> Change:
    return Change("removed", address_of(thing), f"{_named(section, thing)} removed", texts.of(thing), "")


def _named(section: str, thing: Any) -> str:
    """A thing by what it is, its label where it is shown by one, and its name."""
    if section in ("ratings", "scores"):
        return f"{NOUNS[section]} {thing.label} (`{thing.name}`)"
    return who(section, thing)


def _name_changes(section: str, old: Any, new: Any) -> list[Change]:
    """A new name, or a new label; of a thing that is renamed the label is no change of its own."""
    before, after = name_of(old), name_of(new)
    if before != after:
        if section == "gates" and before.isdigit() and after.isdigit():
            return []
        at = f"{_named(section, old)} is now called"
        says = f"{at} {new.label} (`{after}`)" if section in ("ratings", "scores") else f"{at} `{after}`"
        return [Change("renamed", address_of(new), says, before, after)]
    labels = getattr(old, "label", ""), getattr(new, "label", "")
    if labels[0] == labels[1]:
        return []
    says = f"{NOUNS[section]} {after}: label {labels[0]} -> {labels[1]}"
    return [Change("said", address_of(new), " ".join(says.split()), *labels)]


def _position(at: str, places: list[str]) -> int:
    """Where in the order of a form's addresses something stands: at its first address, or that of what it is part of."""
    while at:
        for index, place in enumerate(places):
            if place == at or place.startswith(at + "."):
                return index
        at = at.rpartition(".")[0]
    return len(places)
