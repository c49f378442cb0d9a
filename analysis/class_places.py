"""Places, and places within classes, as every JSON document has them."""

from __future__ import annotations

from typing import Any

from analysis.json_text import number_or_none
from scoring.table.classes import InClass


def whole_place(rank: float) -> float | int | None:
    """A place as JSON, whole where it is."""
    place = number_or_none(rank)
    return int(place) if place is not None and place == int(place) else place


def in_class(within: InClass | None, product: int) -> dict[str, Any]:
    """The place within the product's class, where the formula counts them; null without a place or a class."""
    if within is None:
        return {}
    attribute, word = within.classes.attribute, within.classes.words[product] or None
    place, of = whole_place(within.place[product]), whole_place(within.of[product])
    return {"within": {"attribute": attribute, "word": word, "rank": place, "of": of}}
