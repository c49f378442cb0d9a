"""Markdown that reads well raw: lines of at most 110 columns, code never broken over two."""

from __future__ import annotations

import re
from collections.abc import Iterable

WIDTH = 110
_WORD = re.compile(r"(?:`[^`]*`|\[[^\]]*\]\([^)]*\)|\S)+")


def wrapped(text: str, indent: str = "", first: str | None = None) -> str:
    """A paragraph broken into lines; each begins with `indent`, the first with `first` where that is given."""
    lines, line = [], indent if first is None else first
    empty = True
    for word in _WORD.findall(text):
        if not empty and len(line) + 1 + len(word) > WIDTH:
            lines.append(line)
            line, empty = indent, True
        line += word if empty else f" {word}"
        empty = False
    return "\n".join([*lines, line])


def bullet(text: str, depth: int = 0) -> str:
    """An item of a list."""
    indent = "  " * depth
    return wrapped(text, indent + "  ", indent + "- ")


def code(text: str) -> str:
    """Text as it is typed."""
    return f"`{text}`"


def anchor(title: str) -> str:
    """Where a heading can be found: its words in lower case with hyphens."""
    return re.sub(r"[^a-z0-9 -]", "", title.lower()).replace(" ", "-")


def listed(words: Iterable[str], last: str = "and") -> str:
    """One, two and three."""
    *before, end = words
    return f"{', '.join(before)} {last} {end}" if before else end


def sentence(text: str) -> str:
    """Text with a capital in front and a stop behind."""
    return text[:1].upper() + text[1:] + ("" if text.endswith((".", ":")) else ".")
