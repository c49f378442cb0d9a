"""Notation as presentation MathML, within what MathML Core lists."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from html import escape

from analysis.languages.plain import SIGNS, isolated, one_line
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

NAMESPACE = "http://www.w3.org/1998/Math/MathML"
LEFT = ' style="text-align: left"'


def mathml(notation: Notation, display: str = "block") -> str:
    """A whole `<math>` element, well-formed by itself and inside HTML; display: "block" or "inline"."""
    return f'<math xmlns="{NAMESPACE}" display="{display}">{_set(notation)}</math>'


def _set(notation: Notation) -> str:
    return _RULES[type(notation)](notation)


def _row(*elements: str) -> str:
    return f"<mrow>{''.join(elements)}</mrow>"


def _sign(sign: str, attributes: str = "") -> str:
    return f"<mo{attributes}>{escape(sign)}</mo>"


def _text(words: str) -> str:
    return f"<mtext>{escape(isolated(one_line(words)))}</mtext>"


def _word(word: str) -> str:
    """A word between two parts, with its spaces."""
    return f"<mtext>\u00a0{escape(word)}\u00a0</mtext>"


def _fenced(*inner: str, bars: bool = False) -> str:
    left, right = ("|", "|") if bars else ("(", ")")
    return _row(_sign(left, ' form="prefix" fence="true"'), *inner, _sign(right, ' form="postfix" fence="true"'))


def _sum(whole: Sum) -> str:
    lines = []
    for index, line in enumerate(lines_of(whole)):
        elements: list[str] = []
        for place, part in enumerate(line):
            if index or place:
                elements.append(_sign("−" if isinstance(part, Minus) else "+", ' form="infix"'))
            elements.append(_set(part.part) if isinstance(part, Minus) and (index or place) else _set(part))
        lines.append(_row(*elements))
    return _stacked(lines)


def _product(whole: Product) -> str:
    lines = []
    for index, line in enumerate(lines_of(whole)):
        elements = [element for part in line for element in (_sign("⋅", ' form="infix"'), _set(part))]
        lines.append(_row(*(elements if index else elements[1:])))
    return _stacked(lines)


def _stacked(lines: Sequence[str]) -> str:
    """One line, or several below each other."""
    if len(lines) == 1:
        return lines[0]
    return f"<mtable>{''.join(f'<mtr><mtd{LEFT}>{line}</mtd></mtr>' for line in lines)}</mtable>"


def _call(call: Call) -> str:
    elements = [element for arg in call.args for element in (_sign(","), _set(arg))]
    return _row(f"<mi>{call.name}</mi>", _sign("\u2061"), _fenced(*elements[1:]))


def _relation(relation: Relation) -> str:
    first, *rest = relation.sides
    pairs = zip(relation.signs, rest, strict=True)
    return _row(_set(first), *(element for sign, side in pairs for element in (_sign(SIGNS[sign]), _set(side))))


def _joined(joined: Joined) -> str:
    parts = [_fenced(_set(part)) if isinstance(part, Joined) else _set(part) for part in joined.parts]
    return _row(*[element for part in parts for element in (_word(joined.word), part)][1:])


def _cases(cases: Cases) -> str:
    rows = []
    for value, test in cases.rows:
        condition = "<mtext>otherwise</mtext>" if test is None else _row("<mtext>if\u00a0</mtext>", _set(test))
        rows.append(
            f'<mtr><mtd{LEFT}><mstyle displaystyle="true">{_set(value)}</mstyle></mtd><mtd{LEFT}>{condition}</mtd></mtr>'
        )
    brace = _sign("{", ' form="prefix" fence="true" stretchy="true" symmetric="true"')
    return _row(brace, f"<mtable>{''.join(rows)}</mtable>")


_RULES: dict[type, Callable[..., str]] = {
    Number: lambda number: f"<mn>{escape(number.text)}</mn>",
    Name: lambda name: _text(name.words),
    Words: lambda words: _text(words.text),
    Minus: lambda minus: _row(_sign("−", ' form="prefix"'), _set(minus.part)),
    Sum: _sum,
    Product: _product,
    Fraction: lambda over: f"<mfrac>{_set(over.above)}{_set(over.below)}</mfrac>",
    Power: lambda raised: f"<msup>{_set(raised.of)}{_set(raised.exponent)}</msup>",
    Root: lambda root: f"<msqrt>{_set(root.of)}</msqrt>",
    Fenced: lambda fenced: _fenced(_set(fenced.part)),
    Size: lambda size: _fenced(_set(size.of), bars=True),
    Call: _call,
    Relation: _relation,
    Joined: _joined,
    Denied: lambda denied: _row("<mtext>not\u00a0</mtext>", _fenced(_set(denied.part))),
    Cases: _cases,
    Remarked: lambda said: _row(_set(said.part), _sign(","), _word(said.words), _set(said.amount)),
}
