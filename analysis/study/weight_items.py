"""The rules for whole weight vectors in a study file, and the figures that items are read from."""

from __future__ import annotations

import numpy as np

from analysis.study.building import weights_of
from analysis.study.weight_rules import ByFactor, Dirichlet, Intervals, PlusMinus, Simplex, WeightRule
from scoring.document import Scalar, Sequence
from scoring.form import Output
from scoring.reader.fields import Fields


def share_of(item: Fields, key: str) -> float | None:
    """A share above 0, as 8% or 0.08."""
    number = item.reader.number(item.required(key), item.path(key), above=0, most=1, percent=True)
    return number.value if number is not None else None


def figures(item: Fields, key: str, count: int) -> tuple[float, ...] | None:
    """`count` plain numbers in a list."""
    nodes = item.reader.items(item.node_of(key), item.path(key), "numbers")
    numbers = [item.reader.number(node, item.path(key)) for node in nodes]
    values = tuple(number.value for number in numbers if number is not None)
    if len(values) == len(numbers) == count:
        return values
    node = item.node_of(key)
    if node is not None and len(values) == len(numbers) and isinstance(node, Sequence):
        item.reader.fault(node.place, f"{len(numbers)} numbers for {item.path(key)}", f"{count} in a list")
    return None


def weight_rule(item: Fields, key: str, output: Output) -> WeightRule | None:
    """The rule under `key` for an output's weights; None, and a fault, where it makes none."""
    stated = tuple(weight.value for weight in weights_of(output))
    if key == "factor":
        ends = figures(item, key, 2)
        if ends is not None and not 0 <= ends[0] < ends[1]:
            item.reader.fault(item.place, f"`factor: [{ends[0]:g}, {ends[1]:g}]`", "0 <= low < high")
            return None
        return ByFactor(stated, *ends) if ends is not None else None
    if key == "plus_minus":
        share = share_of(item, key)
        return PlusMinus(stated, share) if share is not None else None
    if key == "dirichlet":
        number = item.number(key, above=0)
        return Dirichlet(stated, number.value) if number is not None else None
    if key == "simplex":
        order = _order(item, output) if "order" in item else ()
        item.choice("simplex", ("uniform",))
        return Simplex(sum(stated), len(stated), order) if order is not None else None
    return _intervals(item, output, sum(stated))


def _order(item: Fields, output: Output) -> tuple[int, ...] | None:
    """Parts from the heaviest: as their stated weights go, or as listed."""
    parts = part_names(output)
    node = item.node_of("order")
    if isinstance(node, Scalar) and node.text == "stated":
        weights = [weight.value for weight in weights_of(output)]
        return tuple(sorted(range(len(parts)), key=lambda part: -weights[part]))
    names = item.words("order")
    if sorted(names) != sorted(parts):
        place = node.place if node is not None else item.place
        expected = f"`stated`, or every part of {output.name} once, heaviest first"
        item.reader.fault(
            place, f"the order {', '.join(names) or 'of nothing'}", expected, f"They are {', '.join(parts)}."
        )
        return None
    return tuple(parts.index(name) for name in names)


def part_names(output: Output) -> list[str]:
    """What the parts are called in addresses: by their source, and where that comes twice with a number."""
    return [part.address.rsplit(".", 1)[-1] for part in output.parts]


def _intervals(item: Fields, output: Output, total: float) -> WeightRule | None:
    parts = part_names(output)
    node = item.node_of("between")
    fields = item.reader.fields(node, item.path("between"), parts, "shares by part")
    if fields is None or node is None:
        return None
    ends = [_share_ends(fields, part) for part in parts]
    if None in ends:
        return None
    low, high = (tuple(pair[end] for pair in ends if pair is not None) for end in (0, 1))
    rule = Intervals(total, low, high)
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


def _share_ends(fields: Fields, part: str) -> tuple[float, float] | None:
    """The lowest and highest share of one part, 0 and 1 where none is written; None, and a fault, where they are none."""
    node = fields.node_of(part)
    if node is None:
        return 0.0, 1.0
    address = fields.path(part)
    nodes = fields.reader.items(node, address, "a lowest and a highest share")
    ends = [fields.reader.number(end, address, least=0, most=1, percent=True) for end in nodes]
    values = [number.value for number in ends if number is not None]
    if len(values) < len(ends):
        return None
    if len(values) != 2 or not values[0] < values[1]:
        found = f"{', '.join(f'{value:g}' for value in values) or 'nothing'} for {address}"
        fields.reader.fault(node.place, found, "two shares that rise, as [10%, 30%]")
        return None
    return values[0], values[1]
