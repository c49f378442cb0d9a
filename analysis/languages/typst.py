"""Notation as Typst's mathematics, for between two `$`, and any text as a string of Typst's, set with the fonts that it carries.

What these fonts lack is shown by its number.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from analysis.languages.plain import pieces, spaced, stand_in
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
    lines_of,
)

#: Stretches of Unicode that the serif font of Typst covers well enough for running text.
COVERED = (
    (0x0020, 0x02AF),  # Latin, and the letters of phonetics
    (0x0300, 0x0314),  # the common accents
    (0x0386, 0x03CE),  # Greek
    (0x0400, 0x045F),  # Cyrillic
    (0x05D0, 0x05EA),  # Hebrew
    (0x1E00, 0x1FFF),  # more Latin and Greek
    (0x2010, 0x2027),  # dashes, quotation marks, dots
    (0x2030, 0x203A),
    (0x2070, 0x209C),  # raised and lowered figures
    (0x20A0, 0x20BF),  # currencies
    (0x2190, 0x2193),  # arrows
    (0x2200, 0x22FF),  # signs of mathematics
)


def typst_string(text: str) -> str:
    """The text as a string literal, `"..."`; nothing in it is a command."""
    shown = typst_letters(text).replace("\\", "\\\\").replace('"', '\\"')
    return f'"{shown}"'


def typst_code(text: str) -> str:
    """Code as string literals, `"a.", "b"`: a line may end between two, and nothing is added to say so."""
    return ", ".join(typst_string(piece) for piece in pieces(spaced(text)))


def typst_letters(text: str) -> str:
    """The text with a stand-in for each character that the fonts lack, as data for a document that escapes it itself."""
    return "".join(letter if _is_covered(letter) else stand_in(letter) for letter in spaced(text))


def _is_covered(letter: str) -> bool:
    return any(first <= ord(letter) <= last for first, last in COVERED)


SIGNS = {"<": "lt", "<=": "lt.eq", ">": "gt", ">=": "gt.eq", "=": "=", "!=": "eq.not"}


def typst(notation: Notation) -> str:
    """What stands between `$ ` and ` $`: every text of the formula is a string, so nothing in it is a command."""
    return _RULES[type(notation)](notation)


def _number(number: Number) -> str:
    return number.text if re.fullmatch(r"\d+(\.\d+)?", number.text) else typst_string(number.text)


def _sum(whole: Sum) -> str:
    lines = []
    for index, line in enumerate(lines_of(whole)):
        signed = [f"- {typst(part.part)}" if isinstance(part, Minus) else f"+ {typst(part)}" for part in line]
        lines.append(" ".join(signed) if index else " ".join([typst(line[0]), *signed[1:]]))
    return _stacked(lines)


def _product(whole: Product) -> str:
    lines = [" dot.op ".join(typst(part) for part in line) for line in lines_of(whole)]
    return _stacked([lines[0], *(f"dot.op {line}" for line in lines[1:])])


def _stacked(lines: Sequence[str]) -> str:
    """One line, or several below each other."""
    return (
        lines[0]
        if len(lines) == 1
        else f"vec(delim: #none, align: #left, gap: #0.5em, {', '.join(f'display({line})' for line in lines)})"
    )


def _call(call: Call) -> str:
    return f'op("{call.name}") {_fenced(" comma ".join(typst(arg) for arg in call.args))}'


def _fenced(inner: str) -> str:
    return f"lr(( {inner} ))"


def _relation(relation: Relation) -> str:
    first, *rest = relation.sides
    return typst(first) + "".join(f" {SIGNS[s]} {typst(side)}" for s, side in zip(relation.signs, rest, strict=True))


def _joined(joined: Joined) -> str:
    parts = [_fenced(typst(part)) if isinstance(part, Joined) else typst(part) for part in joined.parts]
    return f' " {joined.word} " '.join(parts)


def _cases(cases: Cases) -> str:
    rows = []
    for value, test in cases.rows:
        condition = '"otherwise"' if test is None else f'"if " {typst(test)}'
        rows.append(f"display({typst(value)}) & quad {condition}")
    return f"cases(gap: #0.6em, {', '.join(rows)})"


_RULES: dict[type, Callable[..., str]] = {
    Number: _number,
    Name: lambda name: typst_string(name.words.strip()),
    Words: lambda words: typst_string(words.text),
    Minus: lambda minus: f"-{typst(minus.part)}",
    Sum: _sum,
    Product: _product,
    Fraction: lambda over: f"frac({typst(over.above)}, {typst(over.below)})",
    Power: lambda raised: f"attach({typst(raised.of)}, t: {typst(raised.exponent)})",
    Root: lambda root: f"sqrt({typst(root.of)})",
    Fenced: lambda fenced: _fenced(typst(fenced.part)),
    Size: lambda size: f"abs({typst(size.of)})",
    Call: _call,
    Relation: _relation,
    Joined: _joined,
    Denied: lambda denied: f'"not " {_fenced(typst(denied.part))}',
    Cases: _cases,
    Remarked: lambda said: f'{typst(said.part)} comma " {said.words} " {typst(said.amount)}',
}
