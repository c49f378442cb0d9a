"""Notation as LaTeX, for display mathematics with amsmath, and any text as LaTeX that pdflatex sets with its own fonts.

What these fonts lack is shown by its number, `[U+1F600]`.
"""

from __future__ import annotations

import re
import unicodedata
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

#: Letters that mean something to TeX, join up with their neighbours, or are others in the old text encoding.
_SIGNS = {
    "\\": r"\textbackslash{}",
    "{": r"\{",
    "}": r"\}",
    "$": r"\$",
    "&": r"\&",
    "#": r"\#",
    "%": r"\%",
    "_": r"\_",
    "^": r"\textasciicircum{}",
    "~": r"\textasciitilde{}",
    "<": r"$<$",
    ">": r"$>$",
    "|": r"$|$",
    '"': r"\texttt{\char34}",
    "`": r"\texttt{\char18}",
    "'": r"'{}",
    "-": r"-{}",
    "!": r"!{}",
    "?": r"?{}",
    ",": r",{}",
    "\u00a0": "~",
}
_WORDS = {
    "ß": r"\ss{}", "æ": r"\ae{}", "Æ": r"\AE{}", "œ": r"\oe{}", "Œ": r"\OE{}", "ø": r"\o{}", "Ø": r"\O{}",
    "ł": r"\l{}", "Ł": r"\L{}", "ı": r"\i{}", "å": r"\aa{}", "Å": r"\AA{}", "¡": r"!`{}", "¿": r"?`{}",
    "–": r"\textendash{}", "—": r"\textemdash{}", "‘": r"`{}", "’": r"'{}", "“": r"``{}", "”": r"''{}", "…": r"\dots{}",
    "£": r"\pounds{}", "§": r"\S{}", "¶": r"\P{}", "©": r"\copyright{}", "†": r"\dag{}", "‡": r"\ddag{}",
    "\u2009": r"\,", "\u202f": r"\,", "\u00ad": r"\-", "\u2011": r"\mbox{-}",
}  # fmt: skip
_SMALL = "alpha beta gamma delta epsilon zeta eta theta iota kappa mu nu xi pi rho sigma tau upsilon phi chi psi omega"
_CAPITAL = "Gamma Delta Theta Xi Pi Sigma Upsilon Phi Psi Omega"
_GREEK = {"λ": r"\lambda"} | {
    unicodedata.lookup(f"GREEK {size} LETTER {word.upper()}"): rf"\{word}"
    for size, words in (("SMALL", _SMALL), ("CAPITAL", _CAPITAL))
    for word in words.split()
}
_IN_MATHS = {
    "·": r"\cdot", "×": r"\times", "÷": r"\div", "±": r"\pm", "−": "-", "°": r"{}^{\circ}", "µ": r"\mu", "¬": r"\neg",
    "²": "{}^2", "³": "{}^3", "¹": "{}^1", "½": r"\tfrac12", "¼": r"\tfrac14", "¾": r"\tfrac34", "•": r"\bullet",
    "≤": r"\le", "≥": r"\ge", "≠": r"\ne", "≈": r"\approx", "∞": r"\infty", "√": r"\surd", "∑": r"\sum", "∆": r"\Delta",
    "→": r"\to", "←": r"\leftarrow", "↑": r"\uparrow", "↓": r"\downarrow", "⋅": r"\cdot", "∈": r"\in", "′": r"'",
    "Λ": r"\Lambda", **_GREEK,
}  # fmt: skip
#: Accents that stand over or under one letter, by the mark that Unicode joins to it.
_ACCENTS = {
    "\u0300": "`", "\u0301": "'", "\u0302": "^", "\u0303": "~", "\u0304": "=", "\u0306": "u", "\u0307": ".",
    "\u0308": '"', "\u030a": "r", "\u030b": "H", "\u030c": "v", "\u0323": "d", "\u0327": "c", "\u0331": "b",
}  # fmt: skip


STAND_IN = re.compile(r"\[U\+[0-9A-F]{4,6}\]")
BESIDE_STAND_IN = re.compile(r"(?<=\S)(?=\[U\+[0-9A-F]{4,6}\])|(?<=[0-9A-F]\])(?=\S)")
#: Where a line may end.
MAY_BREAK = r"\allowbreak{}"


def latex_text(text: str) -> str:
    """The text as LaTeX, in ASCII alone; nothing in it is a command, and nothing ends a group.

    Needs no package but amsmath, and no font but those that every TeX has.
    """
    return "".join(_letter(letter) for letter in spaced(unicodedata.normalize("NFC", text)))


def latex_prose(text: str) -> str:
    """The text as LaTeX, in running text: a line may end before and after a stand-in."""
    return BESIDE_STAND_IN.sub(lambda _: MAY_BREAK, latex_text(text))


def latex_code(text: str) -> str:
    """An address, a hash or arithmetic, letter for letter, with places where a line may end."""
    return MAY_BREAK.join(
        latex_text(piece.rstrip()).replace(" ", "~") + " " * piece.endswith(" ") for piece in pieces(spaced(text))
    )


def _letter(letter: str) -> str:
    if letter in _SIGNS:
        return _SIGNS[letter]
    if letter.isascii():
        return letter
    if letter in _WORDS:
        return _WORDS[letter]
    if letter in _IN_MATHS:
        return f"${_IN_MATHS[letter]}$"
    base, marks = unicodedata.normalize("NFD", letter)[:1], unicodedata.normalize("NFD", letter)[1:]
    if marks in _ACCENTS and base.isascii() and base.isalpha():
        base = rf"\{base}{{}}" if base in "ij" and marks not in "\u0323\u0327\u0331" else base
        return rf"\{_ACCENTS[marks]}{{{base}}}"
    return stand_in(letter)


SIGNS = {"<": "<", "<=": r"\le", ">": ">", ">=": r"\ge", "=": "=", "!=": r"\ne"}
CALLS = {name: rf"\{name}" for name in ("min", "max", "ln", "exp")}


def latex(notation: Notation) -> str:
    """What stands between `\\[` and `\\]`, in ASCII alone, with every text of the formula shown as text."""
    return _RULES[type(notation)](notation)


def _text(words: str) -> str:
    return rf"\text{{{latex_text(words.strip())}}}"


def _name(name: Name) -> str:
    return r"\infty" if name.words == "∞" else _text(name.words)


def _sum(whole: Sum) -> str:
    lines = []
    for index, line in enumerate(lines_of(whole)):
        signed = [f"- {latex(part.part)}" if isinstance(part, Minus) else f"+ {latex(part)}" for part in line]
        lines.append(" ".join(signed) if index else " ".join([latex(line[0]), *signed[1:]]))
    return _stacked(lines, "{} ")


def _product(whole: Product) -> str:
    lines = [r" \cdot ".join(latex(part) for part in line) for line in lines_of(whole)]
    return _stacked(lines, r"{} \cdot ")


def _stacked(lines: Sequence[str], before: str) -> str:
    """One line, or several below each other, each after the first with `before` before it."""
    if len(lines) == 1:
        return lines[0]
    rows = [lines[0], *(before + line for line in lines[1:])]
    body = r" \\[2pt] ".join(rows)
    return rf"\begin{{array}}{{@{{}}l@{{}}}} {body} \end{{array}}"


def _call(call: Call) -> str:
    name = CALLS.get(call.name, rf"\operatorname{{{call.name}}}")
    return rf"{name}\left( {', '.join(latex(arg) for arg in call.args)} \right)"


def _relation(relation: Relation) -> str:
    first, *rest = relation.sides
    return latex(first) + "".join(f" {SIGNS[s]} {latex(side)}" for s, side in zip(relation.signs, rest, strict=True))


def _joined(joined: Joined) -> str:
    parts = [rf"\left( {latex(part)} \right)" if isinstance(part, Joined) else latex(part) for part in joined.parts]
    return rf" \text{{ {joined.word} }} ".join(parts)


def _cases(cases: Cases) -> str:
    rows = []
    for value, test in cases.rows:
        condition = r"\text{otherwise}" if test is None else rf"\text{{if }} {latex(test)}"
        rows.append(rf"\displaystyle {latex(value)} & {condition}")
    body = r" \\[8pt] ".join(rows)
    return rf"\begin{{cases}} {body} \end{{cases}}"


_RULES: dict[type, Callable[..., str]] = {
    Number: lambda number: number.text.replace("%", r"\,\%"),
    Name: _name,
    Words: lambda words: _text(words.text),
    Minus: lambda minus: f"-{latex(minus.part)}",
    Sum: _sum,
    Product: _product,
    Fraction: lambda over: rf"\frac{{{latex(over.above)}}}{{{latex(over.below)}}}",
    Power: lambda raised: f"{{{latex(raised.of)}}}^{{{latex(raised.exponent)}}}",
    Root: lambda root: rf"\sqrt{{{latex(root.of)}}}",
    Fenced: lambda fenced: rf"\left( {latex(fenced.part)} \right)",
    Size: lambda size: rf"\left| {latex(size.of)} \right|",
    Call: _call,
    Relation: _relation,
    Joined: _joined,
    Denied: lambda denied: rf"\text{{not }} \left( {latex(denied.part)} \right)",
    Cases: _cases,
    Remarked: lambda said: rf"{latex(said.part)}, \text{{ {said.words} }} {latex(said.amount)}",
}
