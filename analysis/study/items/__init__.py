"""The items under `vary` of a study file: every kind by its subject, and the moves that one item stands for."""

from __future__ import annotations

from collections.abc import Iterator

from analysis.study.items.address import ADDRESS
from analysis.study.items.item import GROUP, ItemKind, Items
from analysis.study.items.outputs import ANCHORS, BLEND, LEAVE_OUT, LIMITS, WEIGHTS
from analysis.study.items.readings import READINGS, UNREAD
from analysis.study.study import Move
from scoring.reader.fields import Fields

ITEMS: dict[str, ItemKind] = {
    "weights": WEIGHTS,
    "anchors": ANCHORS,
    "address": ADDRESS,
    "blend": BLEND,
    "limits": LIMITS,
    "leave_out": LEAVE_OUT,
    "readings": READINGS,
    "unread": UNREAD,
}


def item_keys() -> tuple[str, ...]:
    """Every key that an item may have: subjects, the ways in which they vary, what stands beside either."""
    found = list(ITEMS)
    for kind in ITEMS.values():
        found += kind.ways
    for kind in ITEMS.values():
        for way in kind.ways.values():
            found += way.beside
        found += kind.beside
    return tuple(dict.fromkeys([*found, "group"]))


def moves_of(items: Items, item: Fields) -> Iterator[Move]:
    """The moves that an item stands for."""
    subjects = [key for key in ITEMS if key in item]
    if len(subjects) != 1:
        found = " and ".join(f"`{key}`" for key in subjects) or "nothing"
        expected = "one of " + ", ".join(f"`{key}`" for key in ITEMS)
        items.reader.fault(item.place, f"{found} in {item.address}", expected)
        return
    yield from ITEMS[subjects[0]].moves(items, item)


__all__ = ["GROUP", "ITEMS", "ItemKind", "Items", "item_keys", "moves_of"]
