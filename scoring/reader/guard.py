"""Reading the guard band of a gate: a number of standard uncertainties, written `1.645 u`."""

from __future__ import annotations

import re

from scoring.document import Node, Scalar
from scoring.form import Number
from scoring.reader.fields import Fields

GUARD = re.compile(r"(?P<number>[0-9.eE+-]+)(?P<unit>\s*u)")


def read_guard(node: Node, fields: Fields, address: str) -> Number | None:
    """The number in front of the unit."""
    match = GUARD.fullmatch(node.text.strip()) if isinstance(node, Scalar) else None
    if match is None or not isinstance(node, Scalar) or node.quoted:
        expected = "a number of standard uncertainties, as `1.645 u`"
        fields.reader.fault(node.place, "a guard without its unit", expected)
        return None
    inner = Scalar(match["number"], False, node.place, node.start, node.start + len(match["number"]))
    return fields.reader.number(inner, address, above=0)
