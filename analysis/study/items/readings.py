"""Items about readings: the bench's noise on them, and what was not read."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from analysis.study.building import bootstrap_move, noise_move, unread_move
from analysis.study.items.item import ItemKind, Items
from analysis.study.keys import OneWord
from analysis.study.study import Move
from scoring.declaration import Key
from scoring.reader.fields import Fields

HOW = OneWord(
    {
        "repeatability": "the bench's noise on every reading, by the declared components of its error",
        "bootstrap": "each product's repeats drawn again from themselves; a single reading cannot move",
    }
)
DRAWN = OneWord(
    {
        "drawn": "missing readings by what the product's other readings say of them over the catalogue, those below a "
        "reporting limit below it",
    }
)


def _readings(items: Items, item: Fields) -> Iterator[Move]:
    items.only(item, "readings")
    how = HOW.read(item, "readings")
    if how is None:
        return
    wording = items.wording(item)
    move: Move | None
    if how.value == "bootstrap":
        move, notes = bootstrap_move(items.form, items.catalogue, wording)
    else:
        move, notes = noise_move(items.form, items.catalogue, wording)
    items.notes.extend(notes)
    if move is not None:
        yield move
    else:
        expected = "a measure with a repeatability, stated or pooled from repeats"
        items.reader.fault(item.place, "no repeatability of any measure", expected)


def _unread(items: Items, item: Fields) -> Iterator[Move]:
    items.only(item, "unread")
    if DRAWN.read(item, "unread") is None:
        return
    everything = np.ones(len(items.catalogue.products), bool)
    move, notes = unread_move(items.form, items.catalogue, everything, items.wording(item))
    items.notes.extend(notes)
    if move is not None:
        yield move


READINGS = ItemKind(Key(HOW, "Every reading at once.", "{readings: repeatability}"), _readings)
UNREAD = ItemKind(Key(DRAWN, "What was not read.", "{unread: drawn}"), _unread)
