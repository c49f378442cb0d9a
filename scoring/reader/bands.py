"""Reading bands: names for stretches of a scale, those of the formula and those of one rating or score."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

from scoring.form import BANDS_OF, OWN_BANDS, Band, Bands, Choice
from scoring.reader.fields import Fields, Reader, Shape
from scoring.reader.wording import clip
from scoring.texts.document import Mapping, Node
from scoring.texts.source import Spot

#: How bands are written.
AS_IN = "{strong: 7, fair: 4, weak: 1}"


def read_edges(reader: Reader, node: Node | None, address: str) -> tuple[Band, ...]:
    """The bands written in a mapping from names to lower edges, the lowest first."""
    return tuple(_edges(reader, node, address))


def _edges(reader: Reader, node: Node | None, address: str) -> Iterator[Band]:
    written = [key.text for key, _ in getattr(node, "entries", ())]
    own = reader.noun(node, address, Shape("bands", written, AS_IN))
    bands = []
    for key, value in own.node.entries if own is not None else ():
        if not key.text.strip() or "=" in key.text:
            reader.fault(key.place, f"the name `{clip(key.text)}` of a band", "a name without `=`")
        edge = reader.number(value, f"{address}.{key.text}")
        if edge is not None:
            bands.append(Band(key.text.strip(), edge))
    bands.sort(key=lambda band: band.edge.value)
    for below, above in pairwise(bands):
        if below.edge.value == above.edge.value:
            found = f"the bands `{below.name}` and `{above.name}` both from {above.edge.text}"
            reader.fault(above.edge.place, found, "a different lower edge for each band")
    yield from bands


def read_bands(fields: Fields, inherited: tuple[Band, ...]) -> Bands:
    """The bands of one rating or score: its own, none, or the formula's where nothing else is said."""
    node = fields.node_of("bands")
    if node is None:
        return Bands(None, inherited)
    address, reader, words = fields.path("bands"), fields.reader, tuple(BANDS_OF)
    whole = Spot(reader.source, node.start, node.end, raw=True)  # bands in braces may be written there, too
    if isinstance(node, Mapping):
        chosen = Choice(OWN_BANDS, (OWN_BANDS, *words), address, node.place, whole)
        edges = read_edges(reader, node, address)
        if not node.entries:
            reader.fault(node.place, f"no band in {address}", f"bands, as in `{AS_IN}`", "Or `none`.")
        return Bands(chosen, edges)
    said = reader.choice(node, address, words)
    if said is None:
        return Bands(None, inherited)
    return Bands(replace(said, spot=whole), inherited if said.value == "formula" else ())
