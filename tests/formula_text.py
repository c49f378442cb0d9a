"""Reads a printed formula back, as plain text, LaTeX or MathML, and works it out: the second method for what is printed."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Mapping
from decimal import ROUND_CEILING, ROUND_DOWN, ROUND_FLOOR, ROUND_HALF_EVEN, ROUND_HALF_UP, ROUND_UP, Decimal
from xml.etree import ElementTree

import numpy as np

Values = Mapping[str, object]
Worked = Callable[[Values], object]
Token = tuple[str, str]
FUNCTIONS: dict[str, Callable[..., object]] = {
    "min": min,
    "max": max,
    "ln": lambda x: math.log(x) if x > 0 else -math.inf,
    "exp": lambda x: math.exp(min(x, 700)),
    "sqrt": math.sqrt,
    "abs": abs,
    "count": lambda members: int(np.sum(members)) if np.asarray(members).dtype == bool else len(members),
}
KEYWORDS = {"if", "otherwise", "and", "or", "not", "with", "always", "never"}
SIGNS = {"<", "≤", ">", "≥", "=", "≠"}
RULES = {
    "rounded half-up to": ROUND_HALF_UP,
    "rounded half-even to": ROUND_HALF_EVEN,
    "rounded towards 0 to": ROUND_DOWN,
    "rounded away from 0 to": ROUND_UP,
    "rounded down to": ROUND_FLOOR,
    "rounded up to": ROUND_CEILING,
}


def work_out(tokens: Iterator[Token], values: Values) -> float:
    """The value of a formula for quantities given by their names."""
    reader = _Reader(list(tokens))
    worked = reader.formula()
    assert reader.at == len(reader.tokens), reader.tokens[reader.at :]
    return float(worked(values))


def plain_tokens(text: str) -> Iterator[Token]:
    """The tokens of a line of plain text."""
    rules = "|".join(RULES)
    for match in re.finditer(rf"“([^”]*)”|(\d+\.?\d*|\.\d+)(%?)|({rules})|([A-Za-z]+)|(\S)", text):
        name, number, share, rule, word, sign = match.groups()
        if name is not None:
            yield "name", name.strip("\u2068\u2069")
        elif number is not None:
            yield "number", f"{number}{share}"
        elif rule or word:
            yield _word(rule or word)
        else:
            yield "sign", sign


def _word(word: str) -> Token:
    return ("sign", word) if word in KEYWORDS or word in FUNCTIONS or word in RULES else ("name", word)


def latex_tokens(text: str) -> Iterator[Token]:
    r"""The tokens of LaTeX: \frac{A}{B} is (A)/(B), and texts without escapes are names, words or rules."""
    text = text.replace(r"\left|", r"\abs (").replace(r"\right|", ")")
    text = text.replace(r"\left", "").replace(r"\right", "").replace(r"\displaystyle", "").replace("{}", "")
    text = re.sub(r"\\begin\{array\}\{@l@\}", "(", text).replace(r"\end{array}", ")")
    text = text.replace(r"\begin{cases}", r"\{").replace(r"\end{cases}", r"\}")
    text = text.replace(r"\\[8pt]", ";").replace(r"\\[2pt]", " ")
    return _latex(text)


_LATEX = {r"\cdot": "×", r"\le": "≤", r"\ge": "≥", r"\ne": "≠", "-": "−", r"\{": "{", r"\}": "}"}


def _latex(text: str) -> Iterator[Token]:
    at = 0
    while at < len(text):
        if match := re.compile(r"\\frac|\\sqrt").match(text, at):
            first, at = _group(text, match.end())
            if match.group() == r"\sqrt":
                yield "sign", "sqrt"
                yield from [("sign", "("), *_latex(first), ("sign", ")")]
                continue
            second, at = _group(text, at)
            yield from [("sign", "("), *_latex(first), ("sign", ")"), ("sign", "/")]
            yield from [("sign", "("), *_latex(second), ("sign", ")")]
        elif match := re.compile(r"\\text(?=\{)").match(text, at):
            inner, at = _group(text, match.end())
            words = re.sub(r"\\_|\$|\\", "", inner).replace(r"-", "-").strip()
            yield _word(words)
        elif match := re.compile(r"\\operatorname").match(text, at):
            inner, at = _group(text, match.end())
            yield "sign", inner
        elif text[at] == "{":
            inner, at = _group(text, at)
            yield from [("sign", "("), *_latex(inner), ("sign", ")")]
        elif match := re.compile(r"(\d+\.?\d*|\.\d+)(\\,\\%)?").match(text, at):
            yield "number", match.group(1) + ("%" if match.group(2) else "")
            at = match.end()
        else:
            match = re.compile(r"\\[A-Za-z]+|\\[{}]|\S|\s+").match(text, at)
            at = match.end()
            sign = match.group().strip()
            if sign and sign != "&":
                yield "sign", _LATEX.get(sign, sign.removeprefix("\\"))


def _group(text: str, at: int) -> tuple[str, int]:
    """What stands in the braces that open at `at`, and where they end."""
    assert text[at] == "{", text[at:]
    depth = 0
    for index in range(at, len(text)):
        if text[index] in "{}" and text[index - 1] != "\\":
            depth += 1 if text[index] == "{" else -1
            if depth == 0:
                return text[at + 1 : index], index + 1
    raise AssertionError(text[at:])


def mathml_tokens(text: str) -> Iterator[Token]:
    """The tokens of a `<math>` element."""
    return _element(ElementTree.fromstring(text))


def _element(element: ElementTree.Element) -> Iterator[Token]:
    tag, children = element.tag.split("}")[1], list(element)
    opened, closed = ("sign", "("), ("sign", ")")
    if tag == "mn":
        yield "number", element.text
    elif tag in {"mtext", "mi"}:
        yield _word(element.text.replace("\u00a0", " ").strip().strip("\u2068\u2069"))
    elif tag == "mo":
        sign = {"⋅": "×", "\u2061": ""}.get(element.text, element.text)
        yield from [("sign", sign)] if sign else []
    elif tag in {"mfrac", "msup"}:
        above, below = (list(_element(child)) for child in children)
        yield from [opened, *above, closed, ("sign", "/" if tag == "mfrac" else "^"), opened, *below, closed]
    elif tag == "msqrt":
        yield from [("sign", "sqrt"), opened, *(token for child in children for token in _element(child)), closed]
    elif tag == "mrow" and children and children[0].text == "{":
        rows = [[token for cell in row for token in _element(cell)] for row in children[1]]
        yield from [("sign", "{"), *rows[0], *(t for row in rows[1:] for t in [("sign", ";"), *row]), ("sign", "}")]
    elif tag == "mrow" and children and children[0].text == "|":
        inner = [token for child in children[1:-1] for token in _element(child)]
        yield from [("sign", "abs"), opened, *inner, closed]
    else:
        inner = [token for child in children for token in _element(child)]
        yield from [opened, *inner, closed] if tag == "mtable" else inner


class _Reader:
    """A recursive descent over the tokens; every rule gives what works its part out."""

    def __init__(self, tokens: list[Token]) -> None:
        self.tokens, self.at = tokens, 0

    def next_is(self, *signs: str) -> bool:
        return self.at < len(self.tokens) and self.tokens[self.at] in {("sign", sign) for sign in signs}

    def take(self, *signs: str) -> str:
        assert not signs or self.next_is(*signs), (signs, self.tokens[self.at :])
        self.at += 1
        return self.tokens[self.at - 1][1]

    def formula(self) -> Worked:
        part = self.sum()
        if self.next_is(",") and self.at + 1 < len(self.tokens) and self.tokens[self.at + 1][1] in RULES:
            self.take(",")
            rule, step = self.take(), self.factor()
            return lambda values: _rounded(part(values), step(values), RULES[rule])
        return part

    def sum(self) -> Worked:
        parts = [self.product()]
        while self.next_is("+", "−"):
            sign, part = self.take(), self.product()
            parts.append(part if sign == "+" else lambda values, part=part: -part(values))
        return parts[0] if len(parts) == 1 else lambda values: sum(part(values) for part in parts)

    def product(self) -> Worked:
        whole = self.factor()
        while self.next_is("×", "/"):
            sign, part = self.take(), self.factor()
            whole = _times(whole, part) if sign == "×" else _over(whole, part)
        return whole

    def factor(self) -> Worked:
        if self.next_is("−"):
            self.take()
            part = self.factor()
            return lambda values: -part(values)
        base = self.atom()
        if self.next_is("^"):
            self.take()
            exponent = self.atom()
            return lambda values: _power(base(values), exponent(values))
        return base

    def atom(self) -> Worked:
        kind, text = self.tokens[self.at]
        self.at += 1
        if kind == "number":
            return lambda _: float(text.removesuffix("%")) / (100 if text.endswith("%") else 1)
        if kind == "name":
            return lambda values: values[text]
        if text == "(":
            part = self.formula()
            self.take(")")
            return part
        if text == "{":
            return self.cases()
        assert text in FUNCTIONS, self.tokens[self.at - 1 :]
        self.take("(")
        args = [self.condition() if text == "count" else self.formula()]
        while self.next_is(","):
            self.take()
            args.append(self.formula())
        self.take(")")
        return lambda values: FUNCTIONS[text](*(arg(values) for arg in args))

    def cases(self) -> Worked:
        rows = []
        while True:
            value, test, names = self.formula(), lambda _: True, {}
            if self.take("if", "otherwise") == "if":
                test = self.condition()
                if self.next_is("with"):
                    self.take()
                    name = self.take()
                    self.take("=")
                    names[name] = self.sum()
            rows.append((value, test, names))
            if self.take(";", "}") == "}":
                break

        def worked(values: Values) -> object:
            for value, test, names in rows:
                if test(values):
                    return value({**values, **{name: of(values) for name, of in names.items()}})
            raise AssertionError(f"no row of the cases holds for {values}")

        return worked

    def condition(self) -> Worked:
        parts, words = [self.test()], set()
        while self.next_is("and", "or"):
            words.add(self.take())
            parts.append(self.test())
        assert len(words) < 2, "and beside or without brackets"
        if len(parts) == 1:
            return parts[0]
        return lambda values: (all if words == {"and"} else any)(part(values) for part in parts)

    def test(self) -> Worked:
        if self.next_is("not"):
            self.take()
            inner = self.test()
            return lambda values: not inner(values)
        if self.next_is("always", "never"):
            word = self.take()
            return lambda _: word == "always"
        start = self.at
        if self.next_is("("):  # of a condition, or of a side
            self.take()
            try:
                inner = self.condition()
                self.take(")")
                if not self.next_is(*SIGNS, "+", "−", "×", "/", "^"):
                    return inner
            except AssertionError:
                pass
            self.at = start
        return self.relation()

    def relation(self) -> Worked:
        sides, signs = [self.sum()], []
        while self.next_is(*SIGNS):
            signs.append(self.take())
            sides.append(self.sum())
        if not signs:
            return sides[0]
        compare = {"<": np.less, "≤": np.less_equal, ">": np.greater, "≥": np.greater_equal, "=": np.equal}
        compare["≠"] = np.not_equal

        def holds(values: Values) -> object:
            found = [side(values) for side in sides]
            return np.logical_and.reduce([compare[s](a, b) for s, a, b in zip(signs, found, found[1:], strict=False)])

        return holds


def _times(a: Worked, b: Worked) -> Worked:
    return lambda values: a(values) * b(values)


def _over(a: Worked, b: Worked) -> Worked:
    return lambda values: float(np.divide(a(values), b(values)))


def _power(base: float, exponent: float) -> float:
    return math.inf if base == 0 and exponent < 0 else base**exponent


def _rounded(value: float, step: float, rule: str) -> float:
    """The decimal of 13 digits that a value stands for, rounded as a person would."""
    unit = Decimal(repr(step))
    return float((Decimal(f"{value:.12e}") / unit).quantize(Decimal(1), rounding=rule) * unit)
