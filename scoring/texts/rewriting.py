"""Values written into a text at their spots, and its nodes as they would be read from the new text, without reading it all.

What is written is a scalar, a value in braces, or keys that were not there: each is read by itself and put in its place, and what
comes after it moves. Where that is not sure to give what reading gives, the whole text is read.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import accumulate, pairwise

from scoring.errors import FormulaError, Place
from scoring.texts.document import Mapping, Node, Scalar, read_document, write_scalar
from scoring.texts.document import Sequence as Items
from scoring.texts.file_limits import FORMULA_CHARACTERS
from scoring.texts.source import Source, Spot

#: Ends of lines that YAML knows besides the line feed.
OTHER_LINE_ENDS = re.compile("[\r\x85\u2028\u2029]")
#: What would be the end of a document at the start of a line.
DOCUMENT_ENDS = ("---", "...")
#: Deeper values are read where they stand, since the depth of a whole document has a limit.
MOST_BRACES = 8


def written_at(spot: Spot, value: str) -> str:
    """What stands at a spot once a value is written there."""
    if spot.raw:
        inner = value if value.startswith("{") else write_scalar(value, plain=True)
        return spot.before + inner + spot.after
    return write_scalar(_content(spot, value), plain=True)


def _content(spot: Spot, value: str) -> str:
    """The scalar that a value is part of, or all of; a sign of percent stands there once."""
    after = "" if spot.after.strip() == "%" and value.rstrip().endswith("%") else spot.after
    return spot.before + value + after


def write_value(sources: Sequence[Source], spot: Spot, value: str) -> tuple[Source, ...]:
    """The texts with `value` written at a spot; everything else, comments included, stays as it is."""
    source = sources[spot.source]
    text = source.text[: spot.start] + written_at(spot, value) + source.text[spot.end :]
    return tuple(replace(source, text=text) if s is source else s for s in sources)


def rewrite(
    sources: Sequence[Source], documents: Sequence[Node], writings: Sequence[tuple[Spot, str]]
) -> tuple[tuple[Source, ...], tuple[Node | None, ...]]:
    """The texts with values written at several spots, and the document of each; None for one that has to be read.

    Parameters
    ----------
    documents : what the texts were read as
    writings : spots that do not overlap, each with its value
    """
    texts, found = list(sources), list[Node | None](documents)
    for number, source in enumerate(sources):
        own = sorted((pair for pair in writings if pair[0].source == number), key=lambda pair: pair[0].start)
        for spot, value in reversed(own):
            new = written_at(spot, value)
            texts[number] = replace(
                source, text=texts[number].text[: spot.start] + new + texts[number].text[spot.end :]
            )
        if own:
            found[number] = _rewritten(source, documents[number], own, texts[number].text)
    return tuple(texts), tuple(found)


def _rewritten(source: Source, root: Node, writings: Sequence[tuple[Spot, str]], new: str) -> Node | None:
    apart = all(one.end <= other.start and one.start < other.start for (one, _), (other, _) in pairwise(writings))
    if not apart or OTHER_LINE_ENDS.search(source.text) or len(new) > FORMULA_CHARACTERS:
        return None
    try:
        edits = [_edit(spot, value, source.name) for spot, value in writings]
        rebuilt = _Rebuilt(edits, new, source.name)
        node = rebuilt.node(root)
    except (_ReadWhole, FormulaError):
        return None
    return node if rebuilt.placed == len(edits) else None


class _ReadWhole(Exception):
    """The text has to be read as a whole."""


@dataclass(frozen=True, slots=True)
class _Edit:
    """A stretch of the text that is written anew: what it is read as, its spans counted from the start of what is written.

    node: what stands in the place of the node that stood there; None where `entries` come before those of a mapping.
    """

    start: int
    end: int
    written: str
    node: Node | None
    entries: tuple[tuple[Scalar, Node], ...] = ()


def _edit(spot: Spot, value: str, name: str) -> _Edit:
    written = written_at(spot, value)
    if not spot.raw:
        return _Edit(spot.start, spot.end, written, _scalar(_content(spot, value), written, name))
    if spot.start == spot.end:
        return _Edit(spot.start, spot.end, written, None, _entries(written, name))
    if spot.before or spot.after:
        raise _ReadWhole  # another key stands in the place of a whole entry
    if not value.startswith("{"):
        return _Edit(spot.start, spot.end, written, _scalar(value, written, name))
    if value.count("{") + value.count("[") > MOST_BRACES or not value.isprintable():
        raise _ReadWhole
    return _Edit(spot.start, spot.end, written, read_document(value, name))


def _scalar(content: str, written: str, name: str) -> Scalar:
    """A scalar that was written by `write_scalar`, which reads back as itself."""
    if not content.isprintable() or content.startswith(DOCUMENT_ENDS):
        raise _ReadWhole
    return Scalar(content, written != content, Place(name), 0, len(written))


@lru_cache(maxsize=1024)
def _entries(written: str, name: str) -> tuple[tuple[Scalar, Node], ...]:
    """Keys that were not written yet, with what follows them but the comma or line feed."""
    body = written.rstrip().removesuffix(",")
    if not body.isprintable() or body.count("{") + body.count("[") > MOST_BRACES:
        raise _ReadWhole
    braces = read_document("{" + body + "}", name)
    if not isinstance(braces, Mapping) or braces.end != len(body) + 2:
        raise _ReadWhole
    return tuple((_shifted(key, -1), _shifted(value, -1)) for key, value in braces.entries)  # type: ignore[misc]


def _shifted(node: Node, by: int) -> Node:
    """A node whose spans are counted from elsewhere; its places are not looked at."""
    return _moved(node, lambda offset: offset + by, lambda _: node.place)


class _Rebuilt:
    """The nodes of a new text, from those of the old one and what is written anew.

    placed: how many edits found their place.
    """

    def __init__(self, edits: Sequence[_Edit], text: str, name: str) -> None:
        self.placed = 0
        self._first = edits[0].start
        self._nodes = {(edit.start, edit.end): edit for edit in edits if edit.node is not None}
        self._entries = {edit.start: edit for edit in edits if edit.node is None}
        self._ends = [edit.end for edit in edits]
        self._shifts = [0, *accumulate(len(edit.written) - (edit.end - edit.start) for edit in edits)]
        self._lines = [0, *(at.end() for at in re.finditer("\n", text))]
        self._name = name

    def node(self, node: Node) -> Node:
        """A node of the old text as the new one has it."""
        if node.end < self._first:
            return node
        edit = self._nodes.get((node.start, node.end))
        if edit is not None and edit.node is not None:
            self.placed += 1
            start = self._start(node.start)
            return _moved(edit.node, lambda offset: start + offset, self._place)
        if isinstance(node, Scalar):
            start = self._at(node.start)
            return Scalar(node.text, node.quoted, self._place(start), start, self._at(node.end))
        start = self._start(node.start)
        if isinstance(node, Items):
            items = tuple(self.node(item) for item in node.items)
            return Items(items, node.flow, self._place(start), start, self._end(node, items, start))
        entries = (*self._before(node), *((self._key(key), self.node(value)) for key, value in node.entries))
        names = [key.text for key, _ in entries]
        if len(set(names)) < len(names):
            raise _ReadWhole  # a key that stands there already, which is a fault
        nodes = [part for entry in entries for part in entry]
        return Mapping(entries, node.flow, self._place(start), start, self._end(node, nodes, start))

    def _key(self, key: Scalar) -> Scalar:
        found = self.node(key)
        if not isinstance(found, Scalar):
            raise _ReadWhole
        return found

    def _before(self, node: Mapping) -> tuple[tuple[Scalar, Node], ...]:
        """The entries that are written before a mapping's own."""
        first = node.entries[0][0].start if node.entries else node.start + 1
        edit = self._entries.get(first)
        if edit is None or not (node.entries or node.flow):
            return ()
        self.placed += 1
        start = self._start(edit.start)
        moved = [_moved(part, lambda offset: start + offset, self._place) for entry in edit.entries for part in entry]
        return tuple(zip(moved[::2], moved[1::2], strict=True))  # type: ignore[arg-type]

    def _end(self, node: Node, inside: Iterable[Node], start: int) -> int:
        """Where a container ends: a block with the last of what is in it."""
        if isinstance(node, Scalar) or node.flow:
            return self._at(node.end)
        return max((one.end for one in inside), default=start)

    def _at(self, offset: int) -> int:
        """Where an offset lies in the new text: what is written right before it moves it."""
        return offset + self._shifts[bisect_right(self._ends, offset)]

    def _start(self, offset: int) -> int:
        """The same for the start of what holds an edit: keys that are written at it are part of it."""
        return offset + self._shifts[bisect_right(self._ends, offset - 1)]

    def _place(self, offset: int) -> Place:
        line = bisect_right(self._lines, offset)
        return Place(self._name, line, offset - self._lines[line - 1] + 1)


def _moved(node: Node, at: Callable[[int], int], place: Callable[[int], Place]) -> Node:
    """A node with other spans: `at` gives where an offset lies now, `place` the line and column there."""
    start, end = at(node.start), at(node.end)
    if isinstance(node, Scalar):
        return Scalar(node.text, node.quoted, place(start), start, end)
    if isinstance(node, Items):
        return Items(tuple(_moved(item, at, place) for item in node.items), node.flow, place(start), start, end)
    entries = [(_moved(key, at, place), _moved(value, at, place)) for key, value in node.entries]
    return Mapping(tuple(entries), node.flow, place(start), start, end)  # type: ignore[arg-type]
