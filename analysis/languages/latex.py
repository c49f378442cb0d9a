"""Notation as LaTeX, for display mathematics with amsmath."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from analysis.languages.latex_letters import latex_text
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
