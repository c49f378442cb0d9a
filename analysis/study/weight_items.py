"""The rules for whole weight vectors in a study file, and the figures that items are read from."""

from __future__ import annotations

from analysis.study.building import weights_of
from analysis.study.weight_rules import ByFactor, Dirichlet, Intervals, PlusMinus, Simplex, WeightRule
from scoring.document import Scalar
from scoring.form import Output
from scoring.reader.fields import Fields


def share_of(item: Fields, key: str) -> float | None:
    """A share above 0, as 8% or 0.08."""
    number = item.reader.number(item.required(key), item.path(key), above=0, percent=True)
    return number.value if number is not None else None


def figures(item: Fields, key: str, count: int) -> tuple[float, ...] | None:
    """`count` plain numbers in a list."""
    nodes = item.reader.items(item.node_of(key), item.path(key), "numbers")
    numbers = [item.reader.number(node, item.path(key)) for node in nodes]
    values = tuple(number.value for number in numbers if number is not None)
    if len(values) == len(numbers) == count:
        return values
    if len(values) == len(numbers):
        item.reader.fault(item.place, f"{len(numbers)} numbers for {item.path(key)}", f"{count} in a list")
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
    sources = [part.source for part in output.parts]
    node = item.node_of("order")
    if isinstance(node, Scalar) and node.text == "stated":
        weights = [weight.value for weight in weights_of(output)]
        return tuple(sorted(range(len(sources)), key=lambda part: -weights[part]))
    names = item.words("order")
    if sorted(names) != sorted(sources):
        expected = f"`stated`, or every part of {output.name} once, heaviest first"
        item.reader.fault(item.place, f"the order {', '.join(names) or 'of nothing'}", expected)
        return None
    return tuple(sources.index(name) for name in names)


def _intervals(item: Fields, output: Output, total: float) -> WeightRule | None:
    sources = [part.source for part in output.parts]
    low, high = [0.0] * len(sources), [1.0] * len(sources)
    fields = item.reader.fields(item.node_of("between"), item.path("between"), sources, "shares by part")
    if fields is None:
        return None
    for place, source in enumerate(sources):
        nodes = item.reader.items(fields.node_of(source), fields.path(source), "a lowest and a highest share")
        ends = [item.reader.number(node, fields.path(source), least=0, most=1, percent=True) for node in nodes]
        values = [number.value for number in ends if number is not None]
        if source in fields and (len(values) != 2 or not values[0] < values[1]):
            item.reader.fault(fields.place, f"`{source}` under between", "two shares, as [10%, 30%]")
        elif values:
            low[place], high[place] = values
    if not sum(low) < 1 < sum(high):
        found = f"lowest shares that add to {sum(low):g}, highest to {sum(high):g}"
        item.reader.fault(fields.place, found, "room for shares that add to 1")
        return None
    return Intervals(total, tuple(low), tuple(high))
