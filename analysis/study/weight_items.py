"""The rules for whole weight vectors in a study file, each declared once: its key, what stands there, what is made of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.study.keys import NAME, Amount, Figures, Law, Listed, OneWord
from analysis.study.weight_rules import ByFactor, Dirichlet, Intervals, PlusMinus, Simplex, WeightRule
from scoring.declaration import Key
from scoring.declaration.kinds import Either, Just, Kind, Named, Schema, list_of
from scoring.reader.fields import Fields
from scoring.texts.document import Scalar, Sequence
from scoring.units.role import UnitRole

STATED = "stated"


@dataclass(frozen=True, slots=True)
class Weighed:
    """What a rule is made for: a rating or score, its parts as addresses call them, and their stated weights."""

    name: str
    parts: tuple[str, ...]
    stated: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class ShareInterval(Kind):
    """The lowest and the highest share of a part, each as `10%` or 0.1."""

    def schema(self) -> Schema:
        title = "`[lowest, highest]` share, as `[10%, 30%]`"
        return list_of(SHARE_END.schema(), title) | {"minItems": 2, "maxItems": 2}

    def read(self, fields: Fields, part: str) -> tuple[float, float] | None:
        """The ends of one part, 0 and 1 where none are written; None, and a fault, where they are none."""
        node = fields.node_of(part)
        if node is None:
            return 0.0, 1.0
        path = fields.path(part)
        nodes = fields.reader.items(node, path, "a lowest and a highest share")
        ends = [fields.reader.number(one, path, least=0, most=1, percent=True) for one in nodes]
        values = [number.value for number in ends if number is not None]
        if len(values) < len(ends) or not isinstance(node, Sequence):
            return None
        if len(values) != 2 or not values[0] < values[1]:
            found = f"{', '.join(f'{value:g}' for value in values) or 'nothing'} for {path}"
            fields.reader.fault(node.place, found, "two shares that rise, as [10%, 30%]")
            return None
        return values[0], values[1]


FACTOR = Figures(("low", "high"), UnitRole.PLAIN, least=0)
PLUS_MINUS = Amount(UnitRole.SHARE, above=0, most=1, percent=True)
CONCENTRATION = Amount(UnitRole.PLAIN, above=0)
SIMPLEX = OneWord({"uniform": "every weight vector alike"})
ORDER = Either(
    (Just(STATED), Listed(NAME, "a list of parts", fewest=2, once=True)),
    "`stated`, or a list of every part, heaviest first",
)
SHARE_END = Amount(UnitRole.SHARE, least=0, most=1, percent=True)
INTERVAL = ShareInterval()
BETWEEN = Named(INTERVAL, "`[lowest, highest]` shares by part, as `{edge: [10%, 30%]}`", any_text=True)


def _factor(item: Fields, about: Weighed) -> WeightRule | None:
    ends = FACTOR.read(item, "factor")
    return ByFactor(about.stated, *ends) if ends is not None else None


def _plus_minus(item: Fields, about: Weighed) -> WeightRule | None:
    share = PLUS_MINUS.read(item, "plus_minus")
    return PlusMinus(about.stated, share.value) if share is not None else None


def _dirichlet(item: Fields, about: Weighed) -> WeightRule | None:
    concentration = CONCENTRATION.read(item, "dirichlet")
    return Dirichlet(about.stated, concentration.value) if concentration is not None else None


def _simplex(item: Fields, about: Weighed) -> WeightRule | None:
    order = _order(item, about) if "order" in item else ()
    if SIMPLEX.read(item, "simplex") is None or order is None:
        return None
    return Simplex(sum(about.stated), len(about.stated), order)


def _order(item: Fields, about: Weighed) -> tuple[int, ...] | None:
    """Parts from the heaviest: as their stated weights go, or as listed."""
    node = item.node_of("order")
    if isinstance(node, Scalar) and node.text == STATED:
        return tuple(sorted(range(len(about.parts)), key=lambda part: -about.stated[part]))
    names = item.words("order")
    if sorted(names) != sorted(about.parts):
        place = node.place if node is not None else item.place
        found = f"the order {', '.join(names) or 'of nothing'}"
        expected = f"`stated`, or every part of {about.name} once, heaviest first"
        item.reader.fault(place, found, expected, f"They are {', '.join(about.parts)}.")
        return None
    return tuple(about.parts.index(name) for name in names)


def _between(item: Fields, about: Weighed) -> WeightRule | None:
    node = item.node_of("between")
    fields = item.reader.fields(node, item.path("between"), about.parts, "shares by part")
    if fields is None or node is None:
        return None
    ends = [INTERVAL.read(fields, part) for part in about.parts]
    if None in ends:
        return None
    low, high = (tuple(pair[end] for pair in ends if pair is not None) for end in (0, 1))
    rule = Intervals(sum(about.stated), low, high)
    if not sum(low) < 1 < sum(high):
        found = f"lowest shares that add to {sum(low):g}, highest to {sum(high):g}"
        item.reader.fault(node.place, found, "room for shares that add to 1")
        return None
    try:
        rule.draw(1, np.random.default_rng(0))
    except ValueError as fault:
        item.reader.fault(node.place, str(fault), "wider intervals")
        return None
    return rule


#: Every rule by its key. What one draws must be in `weight_rules`, or in a file of its own.
WEIGHT_RULES: dict[str, Law[Weighed, WeightRule]] = {
    "factor": Law(
        Key(
            FACTOR,
            "Each weight times a factor of its own, uniform between the two; then all are rescaled to the stated sum.",
            "{weights: every score, factor: [0.7, 1.3]}",
        ),
        read=_factor,
    ),
    "plus_minus": Law(
        Key(
            PLUS_MINUS,
            "Each share moved by up to so much, uniformly and not below 0; then all are rescaled.",
            "{weights: edge, plus_minus: 0.15}",
        ),
        read=_plus_minus,
    ),
    "dirichlet": Law(
        Key(
            CONCENTRATION,
            "Whole weight vectors about the stated one, by a Dirichlet distribution: the larger the figure, the nearer.",
            "{weights: two_abed, dirichlet: 60}",
        ),
        read=_dirichlet,
    ),
    "simplex": Law(
        Key(SIMPLEX, "Weight vectors that do not lean on the stated one.", "{weights: two_abed, simplex: uniform}"),
        {
            "order": Key(
                ORDER,
                "Keeps only vectors in which the parts stand in this order of weight.",
                "{weights: two_abed, simplex: uniform, order: stated}",
            )
        },
        read=_simplex,
    ),
    "between": Law(
        Key(
            BETWEEN,
            "Every weight vector alike whose shares lie within these intervals; a part that is not named may have any.",
            "{weights: two_abed, between: {edge: [10%, 30%], quiet: [5%, 25%]}}",
        ),
        read=_between,
    ),
}
