"""Things of a form as text in one line: as they are written, or as they could be."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from scoring.blends import NUMBERS
from scoring.errors import Place
from scoring.form import Band, Form, Number
from scoring.texts.document import Mapping as Braces
from scoring.texts.document import Node, Scalar, Sequence, read_document, write_flow, write_scalar

#: The keys that say how an output takes its value.
WAY = ("measure", "curve", "mix", "weights", "parts", "value", "blend", *NUMBERS)


def name_of(thing: Any) -> str:
    """What a thing is called; a constant is a pair of its name and its number."""
    return str(thing[0] if isinstance(thing, tuple) else thing.name)


def address_of(thing: Any) -> str:
    """Where a thing stands."""
    if isinstance(thing, tuple):
        return str(thing[1].address)
    return thing.edge.address if isinstance(thing, Band) else str(thing.address)


class Texts:
    """The texts of a form, parsed once they are asked for."""

    def __init__(self, form: Form) -> None:
        self._form = form
        self._found: dict[Place, Braces] = {}

    def of(self, thing: Any) -> str:
        """A thing as it is written, in one line."""
        if isinstance(thing, tuple | Band):
            number: Number = thing.edge if isinstance(thing, Band) else thing[1]
            return number.text
        return write_flow(self._mappings()[thing.place])

    def way(self, output: Any) -> str:
        """What an output takes its value from, as it is written."""
        node = self._mappings()[output.place]
        return "{" + ", ".join(_entry(key, value) for key, value in node.entries if key.text in WAY) + "}"

    def takes(self) -> tuple[str, str, frozenset[str]]:
        """What is taken from a neighbour: as it is written, its file, and its sections; "" where nothing is."""
        if len(self._form.sources) < 2:
            return "", "", frozenset()
        source = self._form.sources[0]
        root = read_document(source.text, source.name)
        assert isinstance(root, Braces)  # the reader lets nothing else through
        (node,) = (value for key, value in root.entries if key.text == "takes")
        assert isinstance(node, Braces)
        keys = {key.text: value for key, value in node.entries}
        sections = [i.text for i in getattr(keys.get("sections"), "items", ()) if isinstance(i, Scalar)]
        file = keys["file"]
        assert isinstance(file, Scalar)
        return write_flow(node), file.text, frozenset(sections or ("constants", "attributes", "measures"))

    def _mappings(self) -> Mapping[Place, Braces]:
        if not self._found:
            for source in self._form.sources:
                _gather(read_document(source.text, source.name), self._found)
        return self._found


def words(items: Iterable[str]) -> str:
    """Words as a list in one line."""
    return "[" + ", ".join(write_scalar(item, plain=True) for item in items) + "]"


def nested(texts: Mapping[str, str]) -> str:
    """Texts under dotted keys as mappings in braces; members counted from 1, and the two ends of a range, as a list."""
    groups: dict[str, dict[str, str]] = {}
    for key, text in texts.items():
        head, _, rest = key.partition(".")
        groups.setdefault(head, {})[rest] = text
    written = {head: inner[""] if "" in inner else nested(inner) for head, inner in groups.items()}
    if all(head.isdigit() for head in written):
        return "[" + ", ".join(written.values()) + "]"
    return "{" + ", ".join(f"{head}: {text}" for head, text in written.items()) + "}"


def _entry(key: Scalar, value: Node) -> str:
    return f"{write_flow(key)}: {write_flow(value)}"


def _gather(node: Node, found: dict[Place, Braces]) -> None:
    if isinstance(node, Braces):
        found[node.place] = node
        for _, value in node.entries:
            _gather(value, found)
    elif isinstance(node, Sequence):
        for item in node.items:
            _gather(item, found)
