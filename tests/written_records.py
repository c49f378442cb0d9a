"""A publication and two corrections of it, as they are recorded, and edits of such a record."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from copy import deepcopy
from pathlib import Path
from typing import Any

from analysis.records.corrections import corrected, first_publication
from analysis.records.document import states_of
from analysis.records.record import Record
from analysis.records.sections import sections_of
from scoring.catalogue import read_catalogue
from scoring.program.program import compile_form
from scoring.reader import read_sources
from scoring.table.table import score_catalogue
from scoring.texts.source import Source

FORMULA = """\
formula: beds
version: 1.0.0
bands: {strong: 7, fair: 4, weak: 1}
attributes: {maker: {}}
measures:
  noise: {unit: dB, better: lower, repeatability: 1.2, reporting_limit: 22}
  drop: {unit: mm, better: lower}
ratings:
  quiet: {measure: noise, curve: {minmax: {better: lower}, reference: live}}
  edge: {measure: drop, curve: {points: {40: 10, 80: 6, 135: 1}}}
scores:
  reading: {weights: {edge: 3, quiet: 1}, missing: {needs: [edge], absent_above: 0.3}}
gates: [{name: loud, when: noise > 32, guard: 1.645 u, remark: loud, near: near loud}]
"""
READINGS = """\
product,maker,noise #1,noise #2,drop
A-01,Vorrlin,31,33,60
A-02,Dapquist,22,<22,120
A-03,Plumvane,missing: probe failed,,80
"""


def sections(readings: str = READINGS) -> dict[str, Any]:
    """The sections of a state, from the formula and the text of a catalogue."""
    form = read_sources([Source("beds.yaml", FORMULA)])
    program = compile_form(form)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "beds.csv"
        path.write_text(readings, encoding="utf-8")
        return sections_of(score_catalogue(form, read_catalogue(path, form), program), program, [])


PUBLISHED = sections()
MENDED = sections(READINGS.replace("60", "64"))
AGAIN = sections(READINGS.replace("60", "64").replace("Vorrlin", "Vorrlinn"))


def whole(document: dict[str, Any]) -> Record:
    """A document as a record that was read."""
    return Record(document, states_of([document["publication"], *document["corrections"]]))


def chain() -> dict[str, Any]:
    """A publication and two corrections."""
    first = first_publication(PUBLISHED, "2025-03-01")
    second = corrected(whole(first), MENDED, "2025-04-01", "read from the wrong side", "r.json")
    return corrected(whole(second), AGAIN, "2025-04-01", "the maker's name", "r.json")


CHAIN = chain()


def leaves(content: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """The path of every leaf of a document."""
    items = content.items() if isinstance(content, dict) else enumerate(content) if isinstance(content, list) else ()
    if not items and not isinstance(content, dict | list):
        yield path
    for key, item in items:
        yield from leaves(item, (*path, key))


LEAVES = list(leaves(CHAIN))


def put(document: Any, path: tuple[Any, ...], value: Any, *, new: bool = False) -> Any:
    """A copy of a document with another value at a path, or at a `new` key; what stood there."""
    copy = deepcopy(document)
    inner = copy
    for key in path[:-1]:
        inner = inner[key]
    before, inner[path[-1]] = None if new else inner[path[-1]], value
    return copy, before
