"""Every difference between two forms, in words and by address, including what has no address."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from analysis.changes.change_words import NOUNS, who
from analysis.changes.changed_outputs import output_changes
from analysis.changes.changed_values import SECTIONS, Both, Change, value_changes
from analysis.changes.matched_things import Pairs, matched, readdressed, refer
from analysis.changes.written_things import Texts, address_of, name_of, words
from scoring.addresses.addresses import addresses
from scoring.declaration import Declaration, kinds
from scoring.form import ATTRIBUTE, ERROR_CORRELATION, FORM, GATE, MEASURE, Form, Output, Waiver
from scoring.reader.wording import clip

__all__ = ["Change", "changes"]

#: Sections whose things are referred to by name.
REFERRED = ("constants", "attributes", "measures", "ratings", "scores")
KINDS = ("added", "removed", "renamed", "rewired", "value", "said")
WORDS = FORM.fields_of(kinds.Text)
NAMED: tuple[Declaration[Any], ...] = (MEASURE, ATTRIBUTE, ERROR_CORRELATION, GATE)
#: Fields of words that are published, or that say what a number means; those that must be written first. A note is told apart.
REWIRED = {
    found.noun: sorted(
        (name for name in found.fields_of(kinds.Text, kinds.Column, kinds.Role) if name != "note"),
        key=lambda name: not found.fields[name].required,
    )
    for found in NAMED
}
#: Fields that are lists of names, in any order.
LISTED = {found.noun: found.fields_of(kinds.Several) for found in NAMED}
#: Fields that are a yes or a no.
ANSWERED = {found.noun: found.fields_of(kinds.YesOrNo) for found in (FORM, *NAMED)}


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


def form_changes(both: Both) -> list[Change]:
    """Every change of a form outside its bands, constants, attributes, measures, ratings, scores and gates."""
    return [
        *_takes(both),
        *value_changes(both, "", None, None, base="", who=""),
        *_product_column(both),
        *_words(both),
        *_answers("", "", both.old, both.new),
        *_cautions(both.old.cautions, both.new.cautions),
        *_waivers(both.old.checklist, both.new.checklist),
    ]


def _takes(both: Both) -> Iterator[Change]:
    before, after = both.old_texts.takes(), both.new_texts.takes()
    if before[1:] != after[1:]:
        says = f"takes {before[0] or 'nothing'} -> {after[0] or 'nothing'}"
        yield Change("rewired", "takes", says, before[0], after[0])


def _product_column(both: Both) -> Iterator[Change]:
    before, after = both.old.product_column, both.new.product_column
    if before != after:
        says = f"products stand in the column {before or 'product or id'} -> {after or 'product or id'}"
        yield Change("rewired", "product_column", says, before, after)


def _words(both: Both) -> Iterator[Change]:
    for name in WORDS:
        before, after = getattr(both.old, name), getattr(both.new, name)
        untitled = name == "title" and before == both.old.name and after == both.new.name
        if before != after and not untitled:
            key = FORM.fields[name].name
            said = [f'"{clip(text)}"' if text else "nothing" for text in (before, after)]
            yield Change("said", key, f"{key} {said[0]} -> {said[1]}", before, after)


def _cautions(old: tuple[str, ...], new: tuple[str, ...]) -> Iterator[Change]:
    for text in (Counter(new) - Counter(old)).elements():
        yield Change("said", "cautions", f'caution added: "{clip(text)}"', "", text)
    for text in (Counter(old) - Counter(new)).elements():
        yield Change("said", "cautions", f'caution removed: "{clip(text)}"', text, "")
    if old != new and Counter(old) == Counter(new):
        yield Change("said", "cautions", "cautions in another order", words(old), words(new))


def _waivers(old: tuple[Waiver, ...], new: tuple[Waiver, ...]) -> Iterator[Change]:
    """Steps of the methods checklist that are waived, waived no longer, or for another reason."""
    before, after = ({waiver.step: waiver.reason for waiver in waivers} for waivers in (old, new))
    for step in dict.fromkeys([*before, *after]):
        first, second = before.get(step, ""), after.get(step, "")
        if first != second:
            said = [f'waived: "{clip(reason)}"' if reason else "not waived" for reason in (first, second)]
            yield Change("said", f"checklist.{step}", f"checklist step {step}: {said[0]} -> {said[1]}", first, second)


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
    yield from _answers(f"{who(section, new)}: ", at, old, new)


def _answers(leads: str, at: str, old: Any, new: Any) -> Iterator[Change]:
    """Fields that are a yes or a no; at: the address of the thing, "" for the form itself."""
    for name in ANSWERED.get(type(new), ()):
        before, after = ("yes" if getattr(thing, name) else "no" for thing in (old, new))
        if before != after:
            yield Change("rewired", at or name, f"{leads}{name} {before} -> {after}", before, after)


def _or_all(text: str) -> str:
    return "any" if text == "[]" else text


def _note(section: str, at: str, old: Any, new: Any) -> Iterator[Change]:
    before, after = getattr(old, "note", ""), getattr(new, "note", "")
    if before != after:
        said = [f'"{clip(text)}"' if text else "nothing" for text in (before, after)]
        yield Change("said", at, f"{who(section, new)}: note {said[0]} -> {said[1]}", before, after)
