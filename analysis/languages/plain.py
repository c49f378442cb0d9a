"""Plain text: notation as one line, and a formula's own text (labels, names, words) before it goes into any language.

Notation in one line is what a screen reader says, and what stands where no formula can be set. A text of the formula's own
becomes one line too, with nothing in it that is no letter.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable

from scoring.symbolic.notation import (
    Call,
    Cases,
    Denied,
    Fenced,
    Fraction,
    Joined,
    Minus,
    Name,
    Notation,
    Number,
    Power,
    Product,
    Relation,
    Remarked,
    Root,
    Size,
    Sum,
    Words,
)

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


SIGNS = {"<": "<", "<=": "≤", ">": ">", ">=": "≥", "=": "=", "!=": "≠"}
#: Words that mean something in a line of text, and so are set apart where a quantity is called so.
TAKEN = frozenset(
    [
        "min",
        "max",
        "ln",
        "exp",
        "count",
        "sqrt",
        "abs",
        "floor",
        "ceil",
        "always",
        "never",
        "if",
        "otherwise",
        "and",
        "or",
        "not",
        "with",
        "rounded",
    ]
)


def plain(notation: Notation) -> str:
    """One line of text, letter for letter what is meant: names of several words in quotation marks, fractions by `/`."""
    return _RULES[type(notation)](notation)


def _name(name: Name) -> str:
    words = one_line(name.words)
    return words if words.isalpha() and words.isascii() and words not in TAKEN else f"“{isolated(words)}”"


def _sum(whole: Sum) -> str:
    first, *rest = whole.parts
    signed = [f" − {plain(part.part)}" if isinstance(part, Minus) else f" + {plain(part)}" for part in rest]
    return plain(first) + "".join(signed)


def _over(fraction: Fraction) -> str:
    above = _bracketed(fraction.above, Number | Name | Fenced | Power | Root | Call | Size | Product)
    return f"{above}/{_bracketed(fraction.below, Number | Name | Fenced | Power | Root | Call | Size)}"


def _power(raised: Power) -> str:
    return f"{plain(raised.of)}^{_bracketed(raised.exponent, Number | Name | Fenced)}"


def _bracketed(part: Notation, bare: object) -> str:
    """The part, in brackets unless it is one of the `bare` kinds."""
    return plain(part) if isinstance(part, bare) else f"({plain(part)})"  # type: ignore[arg-type]


def _relation(relation: Relation) -> str:
    first, *rest = relation.sides
    return plain(first) + "".join(f" {SIGNS[s]} {plain(side)}" for s, side in zip(relation.signs, rest, strict=True))


def _joined(joined: Joined) -> str:
    return f" {joined.word} ".join(_bracketed(p, Relation | Words | Denied | Fenced) for p in joined.parts)


def _cases(cases: Cases) -> str:
    rows = [f"{plain(value)} {'otherwise' if test is None else f'if {plain(test)}'}" for value, test in cases.rows]
    return f"{{{'; '.join(rows)}}}"


_RULES: dict[type, Callable[..., str]] = {
    Number: lambda number: number.text,
    Name: _name,
    Words: lambda words: isolated(one_line(words.text)),
    Minus: lambda minus: f"−{plain(minus.part)}",
    Sum: _sum,
    Product: lambda product: " × ".join(plain(part) for part in product.parts),
    Fraction: _over,
    Power: _power,
    Root: lambda root: f"sqrt({plain(root.of)})",
    Fenced: lambda fenced: f"({plain(fenced.part)})",
    Size: lambda size: f"abs({plain(size.of)})",
    Call: lambda call: f"{call.name}({', '.join(plain(arg) for arg in call.args)})",
    Relation: _relation,
    Joined: _joined,
    Denied: lambda denied: f"not ({plain(denied.part)})",
    Cases: _cases,
    Remarked: lambda said: f"{plain(said.part)}, {said.words} {plain(said.amount)}",
}
