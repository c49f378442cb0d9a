"""Text to allowed tokens, and tokens to text with private names."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from scoring.errors import FormulaError, Place, Problem
from scoring.expression.slips import strange_sign

MOST_CHARACTERS = 2_000
MOST_TOKENS = 400
DEEPEST = 30
LONGEST_NUMBER = 30
LARGEST_NUMBER = 1e15
NUMBER = r"(?:[0-9]+\.[0-9]*|\.[0-9]+|[0-9]+)(?:[eE][+-]?[0-9]+)?"
TOKEN = re.compile(
    rf"""(?P<number>{NUMBER})(?![A-Za-z0-9_.])
       | (?P<name>[A-Za-z_][A-Za-z0-9_]*)
       | (?P<text>"[^"\\]*"|'[^'\\]*')
       | (?P<sign>\*\*|<=|>=|==|!=|[-+*/<>(),])
       | (?P<space>[ \t\n]+)""",
    re.VERBOSE,
)


@dataclass(frozen=True, slots=True)
class Token:
    kind: str
    text: str
    offset: int


def fault_at(place: Place, offset: int, found: str, expected: str, hint: str = "") -> FormulaError:
    column = place.column + offset if place.column else 0
    return FormulaError([Problem(replace(place, column=column), found, expected, hint)])


def cut_tokens(text: str, place: Place) -> list[Token]:
    tokens: list[Token] = []
    at = depth = 0
    while at < len(text):
        match = TOKEN.match(text, at)
        if match is None:
            raise fault_at(place, at, *_strange(text, at))
        kind = match.lastgroup or ""
        if kind == "text" and tokens and tokens[-1].kind == "text":
            raise fault_at(place, at, "two quoted words in a row", "one word beside == or !=")
        if kind != "space":
            tokens.append(Token(kind, match.group(), at))
        depth += {"(": 1, ")": -1}.get(match.group(), 0)
        if depth > DEEPEST:
            raise fault_at(place, at, f"brackets deeper than {DEEPEST}", "a flatter expression")
        at = match.end()
    if not tokens:
        raise fault_at(place, 0, "an empty expression", "an expression")
    if len(tokens) > MOST_TOKENS:
        raise fault_at(place, 0, f"{len(tokens)} words and signs", f"at most {MOST_TOKENS}")
    return tokens


def _strange(text: str, at: int) -> tuple[str, str, str]:
    word = re.match(r"[\w.]+", text[at:])
    if word and text[at] in "0123456789":
        glued = re.fullmatch(r"([0-9.]+)([A-Za-z_]\w*)", word.group()[:80])
        hint = f"Write {glued[1]} * {glued[2]}?" if glued else "Digits, a point, digits; no underscores."
        if glued and re.fullmatch(r"[xobej]\w*|_\w*", glued[2], re.IGNORECASE):
            hint = "Digits, a point, digits; no underscores."
        return f"`{word.group()[:40]}`", "a plain decimal number", hint
    sign, hint = strange_sign(text, at)
    return f"`{sign}`", "+ - * / ** < <= > >= == != and or not, names and numbers", hint


def with_private_names(tokens: list[Token]) -> tuple[str, dict[int, int]]:
    """The tokens as text with private names, and which token starts at which column of it."""
    pieces: list[str] = []
    starts: dict[int, int] = {}
    column = 0
    for index, token in enumerate(tokens):
        keep = token.kind in {"sign", "number"} or token.text in {"and", "or", "not"}
        piece = token.text if keep else f"n{index}"
        if token.kind == "text":
            piece = f"'{index}'"  # ASCII, so that a column of the syntax tree, which counts bytes, counts characters
        if token.kind == "number" and re.match(r"0\d", piece):
            piece = f"0x{index}"  # caught as a badly written number in the walk
        starts[column] = index
        pieces.append(piece)
        column += len(piece) + 1
    return " ".join(pieces), starts


def unclosed_bracket(tokens: list[Token]) -> int | None:
    """The last bracket that is opened and never closed."""
    opened: list[int] = []
    for index, token in enumerate(tokens):
        if token.text == "(":
            opened.append(index)
        elif token.text == ")" and opened:
            opened.pop()
    return opened[-1] if opened else None
