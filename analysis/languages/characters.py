"""Text of a formula's own (labels, names, words) before it goes into any language: one line, nothing that is no letter."""

from __future__ import annotations

import re
import unicodedata

#: Where a line of code may end: after an operator, and after a point or a dash beside a letter, so that no number is cut.
_ENDS = re.compile(
    r"(?<=\*)(?![*\s])|(?<=[/,=+])(?!\s)|(?<=\s)(?![-+*/=<>]+\s)|(?<=[^\W\d][._])(?!\s)|(?<=[._-])(?=[^\W\d])|(?<=\])(?=\[)"
)
#: A power of ten's sign is no operator; a stretch without any that is longer than this, such as a hash, is cut by eights.
_POWER = re.compile(r"\de[+-]?$")
LONGEST, CUT = 32, 8
FIRST_ISOLATE, END_ISOLATE = "\u2068", "\u2069"


def spaced(text: str) -> str:
    """The text with every stretch of white space as one space, and what no document may hold as a stand-in."""
    return "".join(stand_in(letter) if _is_no_letter(letter) else letter for letter in re.sub(r"\s+", " ", text))


def one_line(text: str) -> str:
    """As `spaced`, without spaces at its ends."""
    return spaced(text).strip()


def stand_in(letter: str) -> str:
    """What is shown for a character that cannot be set: its number, `[U+1F600]`."""
    return f"[U+{ord(letter):04X}]"


def pieces(text: str) -> tuple[str, ...]:
    """Code in pieces that no line cuts: joined, they are the text, which may go on in the next line between any two."""
    found: list[str] = []
    for piece in _ENDS.split(text):
        if found and _POWER.search(found[-1]):
            found[-1] += piece
        elif len(piece) > LONGEST:
            found += [piece[i : i + CUT] for i in range(0, len(piece), CUT)]
        elif piece:
            found.append(piece)
    return tuple(found)


def isolated(text: str) -> str:
    """The text so that letters written from right to left, and marks of direction, turn nothing round beside it."""
    if any(unicodedata.bidirectional(letter) not in _LEFT_TO_RIGHT for letter in text):
        return f"{FIRST_ISOLATE}{text}{END_ISOLATE}"
    return text


_LEFT_TO_RIGHT = frozenset({"L", "EN", "ES", "ET", "CS", "NSM", "BN", "B", "S", "WS", "ON", ""})


def _is_no_letter(letter: str) -> bool:
    """Controls, halves of pairs, and the two ends of a plane: no valid XML, and nothing to see."""
    return unicodedata.category(letter) in {"Cc", "Cs"} or ord(letter) & 0xFFFE == 0xFFFE
