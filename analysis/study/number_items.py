"""How one number of an item varies: its distribution, options and chances, each read and held against the formula."""

from __future__ import annotations

from analysis.study.distributions import Distribution, Lognormal, Normal, Triangular, Uniform
from analysis.study.weight_items import figures
from scoring.addresses import set_address
from scoring.errors import SteelyardError
from scoring.form import Form, Number
from scoring.reader.fields import Fields

#: One standard deviation of a lognormal may be at most this factor.
MOST_FACTOR = 100


def distribution_of(item: Fields, number: Number, how: str) -> Distribution | None:
    """The distribution under `how`, about a number of the formula; None, and a fault, where there is none."""
    if how == "uniform":
        ends = figures(item, how, 2)
        return Uniform(*ends) if ends is not None and _rising(item, how, ends) else None
    if how == "triangular":
        three = figures(item, how, 3)
        return Triangular(*three) if three is not None and _rising(item, how, three) else None
    names = ("mean", "sd") if how == "normal" else ("median", "factor")
    fields = item.reader.fields(item.node_of(how), item.path(how), names, how)
    if fields is None:
        return None
    if how == "normal":
        centre, spread = fields.number("mean", default=number.value), fields.number("sd", above=0)
        return Normal(centre.value, spread.value) if centre is not None and spread is not None else None
    if "median" not in fields and number.value <= 0:
        item.reader.fault(item.place, f"a lognormal about {number.text} at {number.address}", "a `median` above 0")
        return None
    centre = fields.number("median", default=number.value, above=0)
    spread = fields.number("factor", above=1, most=MOST_FACTOR)
    return Lognormal(centre.value, spread.value) if centre is not None and spread is not None else None


def _rising(item: Fields, how: str, values: tuple[float, ...]) -> bool:
    node = item.node_of(how)
    if list(values) == sorted(values) and values[0] < values[-1]:
        return True
    place = node.place if node is not None else item.place
    item.reader.fault(place, f"{item.path(how)} of {', '.join(f'{v:g}' for v in values)}", "rising figures")
    return False


def fits(item: Fields, form: Form, number: Number, distribution: Distribution) -> bool:
    """Whether the formula still reads with the least and the greatest figure that can be drawn."""
    for end in distribution.ends:
        try:
            set_address(form, number.address, f"{end:.12g}")
        except SteelyardError as fault:
            problem = fault.problems[0]
            found = f"{end:.6g} at {number.address}, which {distribution.says} can draw: {problem.found}"
            item.reader.fault(item.place, found, problem.expected, problem.hint)
            return False
    return True


def chances_of(item: Fields, count: int) -> tuple[float, ...] | None:
    """The chance of each option, all alike where none are written; None, and a fault, where they do not fit."""
    node = item.node_of("chances")
    if node is None:
        return (1 / count,) * count
    nodes = item.reader.items(node, item.path("chances"), "chances")
    numbers = [item.reader.number(one, item.path("chances"), above=0, percent=True) for one in nodes]
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
