"""How a node, a number or a bound is put into words for a fault."""

from __future__ import annotations

import re

from scoring.document import Mapping, Node, Scalar, Sequence, write_scalar


def clip(text: str) -> str:
    """`text` cut to 60 characters, on one line."""
    line = " ".join(text.split())
    return line if len(line) <= 60 else line[:57] + "..."


def describe(node: Node) -> str:
    """What a node is, in a word or two."""
    if isinstance(node, Mapping):
        return "a mapping of keys"
    if isinstance(node, Sequence):
        return "a list"
    if node.text == "" and not node.quoted:
        return "nothing"
    return f"the quoted text {write_scalar(clip(node.text), plain=False)}" if node.quoted else f"`{clip(node.text)}`"


def number_hint(node: Node) -> str:
    if not isinstance(node, Scalar):
        return ""
    text = node.text.strip()
    if node.quoted:
        return "Write it without quotes."
    if re.fullmatch(r"[+-]?\d+,\d+", text):
        return "Write a decimal point, not a comma."
    if re.match(r"[+-]?0\d", text):
        return "Drop the leading zeros."
    if "_" in text:
        return "Write the digits without underscores."
    if ":" in text:
        return "Write times and ratios as plain numbers, in seconds or as a decimal."
    return ""


def within(value: float, least: float | None, above: float | None, most: float | None) -> bool:
    return not (
        (least is not None and value < least)
        or (above is not None and value <= above)
        or (most is not None and value > most)
    )


def bounds(least: float | None, above: float | None, most: float | None) -> str:
    said = [
        f"{word} {bound:g}"
        for word, bound in (("at least", least), ("above", above), ("at most", most))
        if bound is not None
    ]
    return "a number " + " and ".join(said)
