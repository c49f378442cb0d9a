"""Notation as one line of text: what a screen reader says, and what stands where no formula can be set."""

from __future__ import annotations

from collections.abc import Callable

from analysis.languages.characters import isolated, one_line
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
