"""Notation as Typst's mathematics, for between two `$`."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from analysis.languages.typst_letters import typst_string
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
