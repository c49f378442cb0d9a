"""`choose`: an address of the formula at one of several values, each with its chance."""

from __future__ import annotations

import re
from collections.abc import Iterator

from analysis.study.building import choice_move, number_move
from analysis.study.distributions import Pick
from analysis.study.items.item import Items
from analysis.study.keys import Amount, Anything, Listed
from analysis.study.number_items import fits
from analysis.study.study import Move
from scoring.addresses.addresses import Addressed, written
from scoring.addresses.addresses import set_address as try_address
from scoring.declaration import Key
from scoring.errors import SteelyardError
from scoring.expression import NUMBER
from scoring.form import Choice, Curve, Number
from scoring.reader.fields import Fields
from scoring.texts.document import Mapping, Node, Scalar, Sequence, write_flow
from scoring.units.role import UnitRole

MOST_OPTIONS = 100
CHANCE = Amount(UnitRole.SHARE, above=0, percent=True)
CHOOSE = Key(
    Listed(
        Anything(), "a list of two or more values, `stated` for the one that stands there", fewest=2, most=MOST_OPTIONS
    ),
    "One of several values: numbers, words, or whole curves and expressions. What the formula states is one of them.",
    "{address: ratings.quiet.curve, choose: [stated, {points: {22: 10, 34: 7, 46: 1}}]}",
)
CHANCES = Key(
    Listed(CHANCE, "a list of a number above 0 for each value", fewest=2, most=MOST_OPTIONS),
    "How likely each value is; in percent they add up to 100 %. Without it, all are alike.",
    "{blend: two_abed, choose: [stated, geometric mean], chances: [70%, 30%]}",
)


def chosen(items: Items, item: Fields, noun: Addressed) -> Iterator[Move]:
    """The move among the options under `choose`; none, and a fault, where the formula does not take them."""
    listed = item.required("choose")
    nodes = items.reader.items(listed, item.path("choose"), "values to choose among")
    if not isinstance(listed, Sequence):
        return
    if len(nodes) > MOST_OPTIONS:
        items.reader.fault(item.place, f"{len(nodes)} options at {noun.address}", f"at most {MOST_OPTIONS}")
        return
    options = [_option(items, node, noun) for node in nodes]
    if len(set(options)) < max(2, len(options)):
        items.reader.fault(item.place, f"{len(set(options))} different options", "two or more, each once")
        return
    stated = written(items.form, noun)
    if stated not in options:
        expected = f"`stated` among them ({stated} stands there)"
        items.reader.fault(item.place, f"options at {noun.address} that leave out the stated one", expected)
        return
    chances = _chances(item, len(options))
    if chances is None:
        return
    if isinstance(noun, Number) and not noun.address.startswith("measures."):
        yield from _picked_number(items, item, noun, options, chances)
        return
    for node, option in zip(nodes, options, strict=True):
        try:
            try_address(items.form, noun.address, option)
        except SteelyardError as fault:
            for problem in fault.problems:
                items.reader.fault(node.place, problem.found, problem.expected, problem.hint)
            return
    yield choice_move(items.form, noun.address, options, chances, items.wording(item))


def _option(items: Items, node: Node, noun: Addressed) -> str:
    """An option as text that can be set: `stated` is what stands there; a curve is as written."""
    if isinstance(node, Scalar) and node.text == "stated":
        return written(items.form, noun)
    if isinstance(noun, Curve) and isinstance(node, Mapping):
        return write_flow(node)
    if isinstance(noun, Choice | Number) and not isinstance(node, Scalar):
        items.reader.fault(node.place, "more than a word or number", f"a value for {noun.address}")
        return ""
    text = node.text if isinstance(node, Scalar) else ""
    if isinstance(noun, Number) and re.fullmatch(rf"[+-]?{NUMBER}", text) and float(text) == noun.value:
        return written(items.form, noun)  # 5 is 5.0
    return text


def _picked_number(
    items: Items, item: Fields, number: Number, options: list[str], chances: tuple[float, ...]
) -> Iterator[Move]:
    nodes = items.reader.items(item.node_of("choose"), item.path("choose"), "numbers")
    stated = written(items.form, number)
    values = []
    for option, node in zip(options, nodes, strict=True):
        read = number if option == stated else items.reader.number(node, number.address, percent=True)
        if read is not None:
            values.append(read.value)
    if len(values) == len(options):
        pick = Pick(tuple(values), chances)
        if fits(item, items.form, number, pick):
            yield number_move(items.form, number, pick, items.wording(item))


def _chances(item: Fields, count: int) -> tuple[float, ...] | None:
    """The chance of each option, all alike where none are written; None, and a fault, where they do not fit."""
    node = item.node_of("chances")
    if node is None:
        return (1 / count,) * count
    path = item.path("chances")
    nodes = item.reader.items(node, path, "chances")
    numbers = [item.reader.number(one, path, above=CHANCE.above, percent=CHANCE.percent) for one in nodes]
    values = [number.value for number in numbers if number is not None]
    if len(values) < len(numbers):
        return None
    if len(values) != count:
        item.reader.fault(node.place, f"{len(values)} chances for {count} options", "a chance for each")
        return None
    total = sum(values)
    in_percent = any(number is not None and number.text.endswith("%") for number in numbers)
    if in_percent and abs(total - 1) > 0.005 * count:
        hint = "Without the percent signs they are shares, and need not add up."
        item.reader.fault(node.place, f"chances that add up to {100 * total:.4g} %", "100 %", hint)
        return None
    return tuple(value / total for value in values)
