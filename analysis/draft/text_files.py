"""How a text file is written: in which encoding, and with what between its cells. Guesses, which the recipe marks."""

from __future__ import annotations

import codecs
from dataclasses import dataclass

#: Encodings by the mark that begins the file.
_MARKS = ((codecs.BOM_UTF8, ""), (codecs.BOM_UTF16_LE, "utf-16"), (codecs.BOM_UTF16_BE, "utf-16"))
#: What may stand between cells: those that hardly ever stand in a cell come first.
_SEPARATORS = ("\t", ";", "|", ",")
_LINES = 60


@dataclass(frozen=True, slots=True)
class Written:
    """How a text file is written; "" where the format takes it so without being told."""

    encoding: str = ""
    separator: str = ""
    because: str = ""


def how_written(content: bytes, usual: str = ",") -> Written:
    """Guess encoding and separator from the bytes of a file.

    Parameters
    ----------
    usual : the separator that goes with the file's ending

    Examples
    --------
    >>> how_written("Bed;Größe\\nA;1,5\\n".encode("windows-1252"))
    Written(encoding='windows-1252', separator=';', because='a byte that is not UTF-8; semicolons stand in every line')
    >>> how_written(b"product,noise\\nA,1\\n")
    Written(encoding='', separator='', because='')
    """
    encoding, why = _encoding(content)
    text = content.decode(encoding or "utf-8-sig", errors="replace")
    lines = [line for line in text.splitlines()[:_LINES] if line.strip()]
    separator = next((sign for sign in _SEPARATORS if _stands_in_most(sign, lines)), usual)
    called = {"\t": "tabs", ";": "semicolons", "|": "bars", ",": "commas"}[separator]
    reasons = [why] if why else []
    if separator == usual:
        return Written(encoding, "", "; ".join(reasons))
    return Written(encoding, separator, "; ".join([*reasons, f"{called} stand in every line"]))


def _encoding(content: bytes) -> tuple[str, str]:
    """The encoding and why; "" for UTF-8, and for what its own mark says."""
    for mark, _ in _MARKS:
        if content.startswith(mark):
            return ("", "") if mark == codecs.BOM_UTF8 else ("utf-16", "")
    if content[:200].count(0) > len(content[:200]) // 4:
        return ("utf-16-be" if content[:1] == b"\0" else "utf-16-le"), "noughts in every other byte"
    try:
        content.decode("utf-8")
    except UnicodeDecodeError:
        return "windows-1252", "a byte that is not UTF-8"
    return "", ""


def _stands_in_most(sign: str, lines: list[str]) -> bool:
    """Whether a sign stands in hardly fewer than all lines, outside double quotes."""
    within = [line for line in lines if sign in _unquoted(line)]
    return bool(lines) and len(within) >= 0.8 * len(lines)


def _unquoted(line: str) -> str:
    return "".join(line.split('"')[::2])
