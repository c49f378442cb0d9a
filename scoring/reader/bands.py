"""Reading bands: those of the formula and those of one rating or score, and the limits of the latter."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

from scoring.errors import nearest
from scoring.form import BAND_LIMIT, BANDS_OF, NO_BAND, OWN_BANDS, Band, BandLimit, Bands, Choice
from scoring.reader.declared import made
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


def read_band_limits(fields: Fields, bands: Bands) -> Iterator[BandLimit]:
    """The limits of the bands of one rating or score."""
    taken: set[str] = set()
    address, node = fields.path("band_limits"), fields.node_of("band_limits")
    if node is not None and not bands.edges:
        fields.reader.fault(node.place, f"`band_limits` in {fields.address}, which has no bands", "bands to limit")
        return
    for index, written in enumerate(fields.reader.items(node, address, "limits of bands"), start=1):
        item = fields.reader.noun(written, f"{address}.{index}", BAND_LIMIT)
        if item is None:
            continue
        item.address = f"{address}.{fields.reader.label(item, index, taken)}"
        best = _best_band(item, bands)
        limit = made(BAND_LIMIT, item, no_better_than=best)
        if limit is not None and best is not None:
            yield limit


def _best_band(item: Fields, bands: Bands) -> Choice | None:
    """The band that a limit names."""
    node, reader = item.required("no_better_than"), item.reader
    if node is None:
        return None
    names = [band.name for band in bands.edges]
    if NO_BAND in names:
        found = f"a band called `{NO_BAND}` beside {item.address}, where the word says that there is no band"
        reader.fault(node.place, found, "another name for that band")
        return None
    path = item.path("no_better_than")
    text = reader.text(node, path)
    if text and text not in (*names, NO_BAND):
        reader.fault(node.place, f"`{clip(text)}` for {path}", f"a band of its own, or {NO_BAND}", nearest(text, names))
    if text not in (*names, NO_BAND):
        return None
    spot = Spot(reader.source, node.start, node.end)
    return Choice(text, (*names, NO_BAND), path, node.place, spot)
