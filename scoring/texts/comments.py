"""Comments of a text: what somebody wrote beside it, which goes wherever the text is published."""

from __future__ import annotations

import re
from collections.abc import Iterator

from scoring.texts.document import Mapping, Node, Scalar

#: A `#` at the beginning of a line or behind a blank begins a comment (YAML 1.2.2, section 6.6), where it stands in no word.
_MARK = re.compile(r"(?:^|(?<=[ \t]))#", re.MULTILINE)


def comments(text: str, root: Node) -> int:
    """How many lines of a text hold a comment; `root` is what it was read as.

    Examples
    --------
    >>> from scoring.texts.document import read_document
    >>> text = "# ours\\na: '1 # 2'  # a guess\\n"
    >>> comments(text, read_document(text, "beds.yaml"))
    2
    """
    words = sorted((scalar.start, scalar.end) for scalar in _scalars(root))
    found: set[int] = set()
    for mark in _MARK.finditer(text):
        if not any(start <= mark.start() < end for start, end in words):
            found.add(text.count("\n", 0, mark.start()))
    return len(found)


def _scalars(node: Node) -> Iterator[Scalar]:
    """Every word of a document, keys too."""
    if isinstance(node, Scalar):
        yield node
    elif isinstance(node, Mapping):
        for key, value in node.entries:
            yield key
            yield from _scalars(value)
    else:
        for item in node.items:
            yield from _scalars(item)
