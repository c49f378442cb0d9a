"""Items about scores and ratings: their weights, anchors, blends and limits, and parts that are left out."""

from __future__ import annotations

from collections.abc import Iterator

from analysis.study.building import anchor_moves, leave_out_move, limits_move, weights_move, weights_of
from analysis.study.items.address import CHANCES, CHOOSE, chosen
from analysis.study.items.item import OUTPUTS, ItemKind, Items
from analysis.study.keys import Amount, Listed, OneWord
from analysis.study.study import Move
from analysis.study.weight_rules import WEIGHT_RULES, Weighed
from scoring.declaration import Key
from scoring.form import Output
from scoring.reader.fields import Fields
from scoring.units.role import UnitRole

WITHIN = Amount(UnitRole.SHARE, above=0, most=1, percent=True)
ON_OFF = {"on": "limits as stated", "off": "no limits"}


def _weights(items: Items, item: Fields) -> Iterator[Move]:
    rules = [key for key in WEIGHT_RULES if key in item]
    if len(rules) != 1:
        found = " and ".join(f"`{key}`" for key in rules) or "no rule"
        expected = "one of " + ", ".join(f"`{key}`" for key in WEIGHT_RULES)
        items.reader.fault(item.place, f"{found} beside `weights`", expected, f"At {item.address}.")
        return
    way = WEIGHT_RULES[rules[0]]
    items.only(item, "weights", rules[0], *way.beside)
    for output in items.weighed(item, "weights"):
        stated = tuple(weight.value for weight in weights_of(output))
        rule = way.read(item, Weighed(output.name, part_names(output), stated))
        if rule is not None:
            yield weights_move(output, rule, items.wording(item))


def part_names(output: Output) -> tuple[str, ...]:
    """What the parts are called in addresses: by their source, and where that comes twice with a number."""
    return tuple(part.address.rsplit(".", 1)[-1] for part in output.parts)


def _anchors(items: Items, item: Fields) -> Iterator[Move]:
    items.only(item, "anchors", "within")
    share = WITHIN.read(item, "within")
    if share is None:
        return
    for output in items.outputs(item, "anchors"):
        moves = list(anchor_moves(items.form, output, share.value, items.wording(item)))
        if not moves:
            found = f"`{output.name}`, which has no anchors along a measure"
            items.lacking(item, "anchors", found, "a rating or score with such a curve")
        yield from moves


def _blend(items: Items, item: Fields) -> Iterator[Move]:
    items.only(item, "blend", "choose", "chances")
    for output in items.outputs(item, "blend"):
        if output.blend is None:
            items.reader.fault(item.place, f"`{output.name}`, which has no blend", "a rating or score with one")
        else:
            yield from chosen(items, item, output.blend)


def _limits(items: Items, item: Fields) -> Iterator[Move]:
    items.only(item, "limits", "choose")
    options = item.words("choose") if "choose" in item else tuple(ON_OFF)
    if sorted(options) != sorted(ON_OFF):
        items.reader.fault(item.place, f"`choose: [{', '.join(options)}]` beside `limits`", "[on, off]")
    for output in items.outputs(item, "limits"):
        if any(limit.apply.value == "always" for limit in output.limits):
            yield limits_move(output, items.wording(item))
        else:
            found = f"`{output.name}`, which has no limits that apply"
            items.lacking(item, "limits", found, "a rating or score with limits")


def _leave_out(items: Items, item: Fields) -> Iterator[Move]:
    items.only(item, "leave_out")
    for output in items.weighed(item, "leave_out"):
        if sum(weight.value > 0 for weight in weights_of(output)) > 1:
            yield leave_out_move(output, items.wording(item))
        else:
            found = f"`{output.name}`, of which one part has all the weight"
            items.reader.fault(item.place, found, "two or more parts with a weight above 0")


WEIGHTS = ItemKind(
    Key(OUTPUTS, "The weights of scores, or of the parts of a mix, by a rule.", "{weights: edge, plus_minus: 0.15}"),
    _weights,
    ways=WEIGHT_RULES,
    ways_title="Rules for weights",
)
ANCHORS = ItemKind(
    Key(OUTPUTS, "Where curves stand along their measures.", "{anchors: every rating, within: 8%}"),
    _anchors,
    beside={
        "within": Key(
            WITHIN,
            "How far each anchor moves, up and down alike, as a share of its curve's stretch (of the stretch's logarithm, where "
            "the curve counts ratios).",
            "{anchors: [edge, quiet], within: 0.05}",
            required=True,
        )
    },
)
BLEND = ItemKind(
    Key(OUTPUTS, "How parts are combined.", "{blend: every score, choose: [stated, geometric mean]}"),
    _blend,
    beside={
        "choose": Key(
            CHOOSE.kind,
            "The ways of combining them; the stated one is among them.",
            "{blend: every score, choose: [stated, geometric mean]}",
            required=True,
        ),
        "chances": CHANCES,
    },
)
LIMITS = ItemKind(
    Key(OUTPUTS, "All limits of a score or rating as stated, or none of them, alike.", "{limits: every score}"),
    _limits,
    beside={
        "choose": Key(
            Listed(OneWord(ON_OFF), "`[on, off]`", fewest=2, most=2, once=True),
            "May be written out, and says no more.",
            "{limits: two_abed, choose: [on, off]}",
        )
    },
)
LEAVE_OUT = ItemKind(
    Key(OUTPUTS, "None, or one of the parts at a time, at weight 0, all alike.", "{leave_out: two_abed}"),
    _leave_out,
)
