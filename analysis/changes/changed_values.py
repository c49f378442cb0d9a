"""Changes at the addresses of one thing of two forms: values, and what has an address in one of them only."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

from analysis.changes.change_words import ERRORS, from_to, subjects, units_of
from analysis.changes.written_things import Texts, nested
from scoring.addresses.addresses import Addressed, Edit, addresses, difference, written
from scoring.form import Expression, Form
from scoring.units.role import in_unit

#: The sections of a form that hold things by name, in its order.
SECTIONS = ("bands", "constants", "attributes", "measures", "error_correlations", "ratings", "scores", "gates")
EMPTY: dict[str, Any] = dict.fromkeys(SECTIONS, ())
KINDS_OF_ERROR = tuple(f".{component}.kind" for component in ERRORS)
#: What several addresses make up together.
TOGETHER = {
    "round": "rounding",
    "scale": "a scale of its own",
    "ranks": "a rule of its own for places",
    "band_limits": "limits of its bands",
    "show": "rounding of what is shown",
    "plausible": "plausible range",
}


@dataclass(frozen=True, slots=True)
class Change:
    """One difference between two forms.

    kind: "added", "removed" or "renamed" (a thing), "rewired" (what is taken from where, or what has an address in
    neither or one of the forms and moves scores or what is published), "value" (at one address of both), "said" (words
    alone); at: the address, or the thing's section and name; says: one line; before, after: as text that could be set,
    "" where there is nothing.
    """

    kind: str
    at: str
    says: str
    before: str
    after: str


@dataclass(frozen=True, eq=False)
class Both:
    """Two forms and their texts; the old form refers to things by their new names."""

    old: Form
    new: Form
    old_texts: Texts
    new_texts: Texts

    @cached_property
    def units(self) -> dict[str, str]:
        """The unit of every number of either form by its address, found once for all things that are compared."""
        return units_of(self.old, self.new)


@dataclass(frozen=True, slots=True)
class _Sides:
    """One thing in two forms: the forms with nothing else in them, what stands where, how it is called, its unit."""

    old: Form
    new: Form
    before: Mapping[str, Addressed]
    after: Mapping[str, Addressed]
    words: Mapping[str, str]
    units: Mapping[str, str]
    base: str
    who: str
    shares: Mapping[str, tuple[float, float]]


def value_changes(
    both: Both,
    section: str,
    old: Any,
    new: Any,
    *,
    base: str,
    who: str,
    shares: Mapping[str, tuple[float, float]] | None = None,
) -> list[Change]:
    """Changes at the addresses of one thing.

    Parameters
    ----------
    section : the thing's section; "" for the form's own scale, ranks and bands_on
    old, new : the thing, at the same address in both
    base : the thing's address; "" for the form itself
    who : the thing, as a line about it begins
    shares : each weight's share of its sum before and after, by address
    """
    alone = [
        replace(form, **(EMPTY | ({section: (thing,)} if section else {})))
        for form, thing in ((both.old, old), (both.new, new))
    ]
    before, after = addresses(alone[0]), addresses(alone[1])
    words = subjects(alone[1], new, both.units) | subjects(alone[0], old, both.units)
    sides = _Sides(alone[0], alone[1], before, after, words, both.units, base, who, shares or {})
    edits = [edit for edit in difference(sides.old, sides.new) if _under(edit.address, base)]
    found = [_value(sides, edit) for edit in edits if _on_both_sides(edit) and not _follows(sides, edit, edits)]
    return found + _one_sided(sides, [edit for edit in edits if not _on_both_sides(edit)])


def _under(address: str, base: str) -> bool:
    return not base or address == base or address.startswith(base + ".")


def _on_both_sides(edit: Edit) -> bool:
    return edit.before is not None and edit.after is not None


def _unwritten(noun: Addressed) -> bool:
    return noun.spot.start == noun.spot.end


def _follows(sides: _Sides, edit: Edit, edits: Iterable[Edit]) -> bool:
    """Whether it is a default that is written in neither form, and differs because of what stands beside it."""
    if not (_unwritten(sides.before[edit.address]) and _unwritten(sides.after[edit.address])):
        return False
    parent = edit.address.rpartition(".")[0]
    return any(other is not edit and other.address.rpartition(".")[0] == parent for other in edits)


def _value(sides: _Sides, edit: Edit) -> Change:
    old, new = sides.before[edit.address], sides.after[edit.address]
    if edit.address.endswith(KINDS_OF_ERROR):  # 5% and 0.05 are one number and two things
        address = edit.address.removesuffix(".kind")
        texts = written(sides.old, sides.before[address]), written(sides.new, sides.after[address])
        return Change("value", address, _says(sides, address, *texts), *texts)
    rewired = isinstance(old, Expression) and isinstance(new, Expression) and set(old.names) != set(new.names)
    before, after = edit.before or "", edit.after or ""
    says = _says(sides, edit.address, before, after)
    return Change("rewired" if rewired else "value", edit.address, says, before, after)


def _says(sides: _Sides, address: str, before: str, after: str) -> str:
    changed = from_to(before, after, sides.units.get(address, ""), sides.shares.get(address))
    return _line(sides.who, sides.words.get(address, address), changed)


def _line(who: str, words: str, rest: str) -> str:
    said = f"{words} {rest}" if words else rest
    if not who:
        return said
    return f"{who}: {said}" if words else f"{who} {said}"


def _one_sided(sides: _Sides, edits: Iterable[Edit]) -> list[Change]:
    """What stands in one form only, each whole that is not in the other form at all as one change."""
    groups: dict[tuple[str, bool], dict[str, str]] = {}
    for edit in edits:
        added = edit.before is None
        here, there = (sides.after, sides.before) if added else (sides.before, sides.after)
        whole = _whole(edit.address, sides.base, there)
        group = groups.setdefault((whole, added), {})
        if edit.address == whole or not _unwritten(here[edit.address]):
            group[edit.address[len(whole) + 1 :]] = (edit.after if added else edit.before) or ""
    return [_came_or_went(sides, whole, added, group) for (whole, added), group in groups.items()]


def _whole(address: str, base: str, others: Iterable[str]) -> str:
    """The widest stretch of an address that begins none of the others."""
    start = len(base) + 1 if base else 0
    ends = [index for index in range(start, len(address)) if address[index] == "."]
    for end in ends:
        if not any(_under(other, address[:end]) for other in others):
            return address[:end]
    return address


def _came_or_went(sides: _Sides, whole: str, added: bool, texts: Mapping[str, str]) -> Change:
    tail = whole.rpartition(".")[2]
    if "" in texts:
        text = texts[""]
    elif tail == "plausible":
        text = f"[{', '.join(texts.values())}]"
    else:
        text = nested(texts)
    words, unit = sides.words.get(whole, TOGETHER.get(tail, whole)), sides.units.get(whole, "")
    said = in_unit(text, unit) if text[-1].isdigit() else text
    says = _line(sides.who, words, f"added, {said}" if added else f"removed, was {said}")
    return Change("rewired", whole, says, *(("", text) if added else (text, "")))
