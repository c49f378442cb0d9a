"""Places that stand on a missing part, as a JSON document."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from analysis.json_text import number_or_none
from analysis.partial.bounds import End
from analysis.partial.filling import Axis
from analysis.partial.partial_place import PartialPlace
from analysis.partial.stretches import Stretch


def partial_document(found: Iterable[PartialPlace], products: Sequence[str]) -> list[dict[str, Any]]:
    """Each place with what is missing, its bounds, and the place along each missing reading.

    Parameters
    ----------
    products : the ids of the catalogue
    """
    return [_place(one, products) for one in found]


def _place(one: PartialPlace, products: Sequence[str]) -> dict[str, Any]:
    bounds = one.bounds
    return {
        "score": one.name,
        "product": one.product,
        "place": one.place,
        "says": one.says,
        "missing": list(bounds.lacks.measures),
        "share_of_weight": bounds.lacks.share,
        "worst": _end(bounds.worst, bounds.axes, products),
        "best": _end(bounds.best, bounds.axes, products),
        "may_have_no_score": bounds.may_be_withheld,
        "unbounded": list(bounds.unbounded),
        "along": [_along(axis, stretches) for axis, stretches in one.stretches],
    }


def _end(end: End | None, axes: Sequence[Axis], products: Sequence[str]) -> dict[str, Any] | None:
    if end is None:
        return None
    return {
        "at": {axis.name: reading for axis, reading in zip(axes, end.readings, strict=True)},
        "value": end.value,
        "place": end.place,
        "others": {products[product]: place for product, place in end.others},
    }


def _along(axis: Axis, stretches: Sequence[Stretch]) -> dict[str, Any]:
    return {
        "what": axis.name,
        "unit": axis.unit,
        "is_rating": axis.measure is None,
        "stretches": [{"from": s.start, "to": s.stop, "place": number_or_none(s.place)} for s in stretches],
    }
