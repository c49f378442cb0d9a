"""How a node, a number or a bound is put into words for a fault."""

from __future__ import annotations

import re

from scoring.texts.document import Mapping, Node, Scalar, Sequence, write_scalar


def clip(text: str) -> str:
    """`text` cut to 60 characters, on one line, with what does not show spelt out."""
    line = " ".join(re.split(r"[ \t\r\n]+", text.strip(" \t\r\n")))
    shown = "".join(sign if sign.isprintable() else f"\\u{ord(sign):04x}" for sign in line[:61])
    return shown if len(shown) <= 60 else shown[:57] + "..."


def describe(node: Node) -> str:
    """What a node is, in a word or two."""
    if isinstance(node, Mapping):
        return "a mapping of keys"
    if isinstance(node, Sequence):
        return "a list"
    if node.text == "" and not node.quoted:
        return "nothing"
    return f"the quoted text {write_scalar(clip(node.text), plain=False)}" if node.quoted else f"`{clip(node.text)}`"


def list_hint(node: Node) -> str:
    """How to make a list of what stands where one belongs."""
    if isinstance(node, Mapping):
        return "Set it in [ ]." if node.flow else "Begin it with a `-`."
    if not isinstance(node, Scalar) or not node.text.strip():
        return ""
    span = re.fullmatch(r"([0-9.]+)\s*(?:-|–|to|\.\.)\s*([0-9.]+)", node.text.strip())
    if span:
        return f"Write `[{span[1]}, {span[2]}]`."
    return f"Write `[{clip(node.text)}]`." if re.fullmatch(r"[A-Za-z_]\w*", node.text.strip()) else ""


def number_hint(node: Node, *, percent: bool = False) -> str:
    """How to write the number that a node seems to mean; `percent` where `5%` may stand."""
    if not isinstance(node, Scalar):
        return ""
    text = node.text.strip()
    if node.quoted:
        inner = number_hint(Scalar(text, False, node.place, node.start, node.end), percent=percent)
        return f"Write it without quotes. {inner}".strip()
    if re.fullmatch(r"[+-]?\d+,\d+", text):
        return "Write a decimal point, not a comma."
    share = re.fullmatch(r"([0-9.]+)\s*per ?cent", text)
    if share:
        return f"Write `{share[1]}%`."
    share = re.fullmatch(r"([0-9.]+)\s*%", text)
    if share and not percent:
        return f"Write {share[1]} where it is a weight, and a share as a decimal: 30 % is 0.3."
    if re.match(r"[\u2010-\u2015\u2212]", text):
        return "The minus sign is a typographic one; write `-`."
    if text[:1] in set("“”„‘’‚«»") and text:
        return "Leave out the typographic quotes."
    if re.fullmatch(r"[+-]?\d{1,3}(?:[ '\u00a0\u2009\u202f]\d{3})+(?:\.\d*)?", text):
        return "Write nothing between thousands."
    if re.fullmatch(r"[+-]?[\d.]+\s*[^\W\d_]+[\w./]*", text) and not re.match(r"0[xob]|[\d.]+e\d", text):
        return "Write the number alone, without a unit."
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
