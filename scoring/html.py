"""HTML and SVG by hand: text made harmless, tables, and nothing else. Every text of a formula or file passes `text`."""

from __future__ import annotations

import html
import re
import unicodedata
from collections.abc import Sequence

#: Turns the order of letters round beyond its own text.
_DIRECTIONS = re.compile("[\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]")
#: So many products are shown; a frame has them all.
MOST_PRODUCTS = 100
LEFT, RIGHT = "text-align:left", "text-align:right"


class Safe(str):
    """A piece of markup: what is no `Safe` is escaped before it goes into one."""

    __slots__ = ()


def text(words: object) -> Safe:
    """Words as one line of text in HTML, SVG or an attribute: escaped, and without what no document may hold.

    Examples
    --------
    >>> text('<b onclick="x">')
    '&lt;b onclick=&quot;x&quot;&gt;'
    """
    if isinstance(words, Safe):
        return words
    line = re.sub(r"\s+", " ", str(words))
    return Safe(html.escape("".join(_letter(letter) for letter in line), quote=True))


def clipped(words: str, most: int) -> str:
    """Words cut to so many letters, with dots where something is gone."""
    return words if len(words) <= most else words[: most - 1].rstrip() + "…"


def joined(*parts: object) -> Safe:
    """Pieces one after another, those that are no markup escaped."""
    return Safe("".join(text(part) for part in parts))


def tag(name: str, *inner: object, **attributes: object) -> Safe:
    """An element; an attribute's underscores are hyphens."""
    said = "".join(f' {key.replace("_", "-")}="{text(value)}"' for key, value in attributes.items())
    return Safe(f"<{name}{said}>{joined(*inner)}</{name}>")


def table(headers: Sequence[object], rows: Sequence[Sequence[object]], *, right: Sequence[int] = ()) -> Safe:
    """A table; the columns numbered in `right` hold figures, and the first one names the row."""
    aligned = [RIGHT if number in right else LEFT for number in range(len(headers))]
    head = [tag("th", header, scope="col", style=style) for header, style in zip(headers, aligned, strict=True)]
    body = [
        tag("tr", tag("th", row[0], scope="row", style=aligned[0]), *map(_cell, row[1:], aligned[1:])) for row in rows
    ]
    return tag("table", tag("thead", tag("tr", *head)), tag("tbody", *body))


def _cell(inner: object, style: str) -> Safe:
    return tag("td", inner, style=style)


def _letter(letter: str) -> str:
    """The letter, or its number where it is a control, half of a pair, no character, or turns others round."""
    odd = unicodedata.category(letter) in {"Cc", "Cs"} or ord(letter) & 0xFFFE == 0xFFFE
    return f"[U+{ord(letter):04X}]" if odd or _DIRECTIONS.match(letter) else letter


def counted_products(number: int) -> str:
    """How many products there are, in words."""
    return f"{number} product{'s' if number != 1 else ''}"


def more_products(number: int) -> Safe:
    """How many products are not shown."""
    left = number - MOST_PRODUCTS
    return tag("p", f"{left} more: frame() has them all.") if left > 0 else Safe("")
