"""An item about one address: a number by a distribution, or any value by `choose`."""

from __future__ import annotations

from collections.abc import Iterator

from analysis.study.building import number_move
from analysis.study.items.item import ItemKind, Items
from analysis.study.items.options import CHANCES, CHOOSE, chosen
from analysis.study.keys import Address, Way
from analysis.study.number_items import AT, DISTRIBUTIONS, fits
from analysis.study.study import Move
from scoring.addresses.addresses import Addressed, addresses
from scoring.declaration import Key
from scoring.errors import nearest
from scoring.form import Number
from scoring.reader.fields import Fields
from scoring.reader.wording import clip
from scoring.renamed import address_today

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
    if section in ("ranks", "bands", "bands_on", "gates", "error_correlations") or "scale.show." in address:
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
