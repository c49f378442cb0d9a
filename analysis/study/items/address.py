"""An item about one address: a number by a distribution, or any value by `choose`, each option with its chance."""

from __future__ import annotations

import re
from collections.abc import Iterator

from analysis.study.building import choice_move, number_move
from analysis.study.distributions import AT, DISTRIBUTIONS, Pick, fits
from analysis.study.items.item import ItemKind, Items
from analysis.study.keys import Address, Amount, Anything, Listed, Way
from analysis.study.study import Move
from scoring.addresses.addresses import Addressed, addresses, written
from scoring.addresses.addresses import set_address as try_address
from scoring.addresses.publication import is_of_publication
from scoring.declaration import Key
from scoring.errors import SteelyardError, nearest
from scoring.expression import NUMBER
from scoring.form import Choice, Curve, Number
from scoring.reader.fields import Fields
from scoring.reader.wording import clip
from scoring.renamed import address_today
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


#: Choices about readings that can be made anew for every draw; other numbers of a measure have no part in a score.
OF_READINGS = ("repeats", "trim", "reporting_limit", "below_limit", "round.step", "round.rule")
HOWS: dict[str, Way] = {**DISTRIBUTIONS, "choose": Way(CHOOSE, {"chances": CHANCES})}


def _address(items: Items, item: Fields) -> Iterator[Move]:
    known = addresses(items.form)
    address = address_today(item.text("address"))
    hows = [key for key in HOWS if key in item]
    if address not in known:
        hint = nearest(address, known)
        items.reader.fault(item.place, f"the address `{clip(address)}`", "an address of the formula", hint)
    elif len(hows) != 1:
        found = " and ".join(f"`{key}`" for key in hows) or "nothing to say how it varies"
        expected = "one of " + ", ".join(f"`{key}`" for key in HOWS)
        items.reader.fault(item.place, f"{found} at {address}", expected)
    elif not _may_vary(items, item, address, hows[0]):
        return
    elif hows[0] == "choose":
        items.only(item, "address", "choose", *HOWS["choose"].beside)
        yield from chosen(items, item, known[address])
    else:
        items.only(item, "address", hows[0])
        yield from _number(items, item, known[address], hows[0])


def _may_vary(items: Items, item: Fields, address: str, how: str) -> bool:
    """Whether an address has a part in a score, and can be varied in this way."""
    section, _, rest = address.partition(".")
    if section == "measures" and (rest.partition(".")[2] not in OF_READINGS or how != "choose"):
        expected = "`choose` at " + ", ".join(OF_READINGS) + " of a measure"
        items.reader.fault(item.place, f"`{how}` at {address}", expected, "`readings: repeatability` is the noise.")
        return False
    if section == "measures" and rest.partition(".")[0] not in items.catalogue.readings:
        items.reader.fault(item.place, f"the address {address}", "a measure that the catalogue has readings of")
        return False
    if section in ("gates", "error_correlations") or is_of_publication(address):
        items.reader.fault(item.place, f"the address {address}", "something that a score is made of")
        return False
    return True


def _number(items: Items, item: Fields, noun: Addressed, how: str) -> Iterator[Move]:
    if not isinstance(noun, Number):
        expected = "`choose`, with values to choose among"
        items.reader.fault(item.place, f"`{how}` at {noun.address}, which is no number", expected)
        return
    distribution = DISTRIBUTIONS[how].read(item, noun)
    if distribution is not None and fits(item, items.form, noun, distribution):
        yield number_move(items.form, noun, distribution, items.wording(item))


ADDRESS = ItemKind(
    Key(
        Address(),
        "One number by a distribution, or any one value (`choose`); `check FORMULA --addresses` lists what has an address.",
        f"{{{AT}, uniform: [4, 6]}}",
    ),
    _address,
    ways=HOWS,
    ways_title="How one address varies",
)
