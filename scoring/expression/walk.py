"""An allow-listed walk from a syntax tree of private names to a tree of terms."""

from __future__ import annotations

import ast
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from itertools import pairwise

from scoring.errors import FormulaError, Place, nearest
from scoring.expression.slips import FOREIGN, SIGNATURES
from scoring.expression.tokens import DEEPEST, LARGEST_NUMBER, LONGEST_NUMBER, Token, fault_at
from scoring.expression.vocabulary import (
    CONDITIONS,
    FUNCTIONS,
    KNOWN_FUNCTIONS,
    LARGEST_EXPONENT,
    NONE,
    SIGNS,
    STATISTICS,
)
from scoring.form import Number, Term
from scoring.texts.source import Spot

#: What a statistic of the catalogue is taken of.
HAVE_POPULATIONS = ("measure", "rating", "score")


@dataclass
class Walk:
    """What one walk knows and gathers."""

    text: str
    kinds: Mapping[str, str]
    words: Mapping[str, tuple[str, ...]]
    tokens: list[Token]
    starts: dict[int, int]
    place: Place
    spot: Spot
    address: str
    condition: bool
    numbers: list[Number] = field(default_factory=list)
    names: dict[str, None] = field(default_factory=dict)
    nones: list[ast.Name] = field(default_factory=list)

    def fault(self, node: ast.AST | int, found: str, expected: str, hint: str = "") -> FormulaError:
        token = node if isinstance(node, int) else self.starts.get(getattr(node, "col_offset", 0), 0)
        return fault_at(self.place, self.tokens[token].offset if self.tokens else 0, found, expected, hint)

    def token_of(self, node: ast.expr) -> Token:
        return self.tokens[self.starts[node.col_offset]]


def walk_term(node: ast.expr, walk: Walk, depth: int) -> Term:
    """The term that a node of the syntax tree stands for; a fault where it is not on the allow-list."""
    if depth > DEEPEST:
        raise walk.fault(node, f"nesting deeper than {DEEPEST}", "a flatter expression")
    match node:
        case ast.Constant(value=int() | float()):
            return _number(node, walk)
        case ast.Constant(value=str()):
            raise walk.fault(node, "a quoted word", 'a word only beside an attribute, as in fire == "none"')
        case ast.Name():
            return _name(node, walk)
        case ast.UnaryOp(op=ast.USub() | ast.UAdd() as sign, operand=operand):
            inner = _of_kind(operand, walk, depth, condition=False)
            return Term("negative", (inner,)) if isinstance(sign, ast.USub) else inner
        case ast.UnaryOp(op=ast.Not(), operand=operand):
            return Term("not", (_of_kind(operand, walk, depth, condition=True),))
        case ast.BinOp():
            return _arithmetic(node, walk, depth)
        case ast.BoolOp(op=op, values=values):
            terms = tuple(_of_kind(value, walk, depth, condition=True) for value in values)
            return Term("and" if isinstance(op, ast.And) else "or", terms)
        case ast.Compare():
            return _comparison(node, walk, depth)
        case ast.Call():
            return _call(node, walk, depth)
        case ast.Tuple():
            raise walk.fault(node, "a comma between two values", "one value", "Write a decimal point, not a comma.")
    raise walk.fault(node, f"`{walk.token_of(node).text}`", "numbers, names, operators and the known functions")


def check_nones(term: Term, walk: Walk) -> None:
    """`none` is a whole branch of the `where` that is the whole expression, or of one that is such a branch.

    Anywhere else a number would have to be made of what has none.
    """
    if walk.nones and (walk.condition or _stray(term) or not gives_something(term)):
        hint = "As in where(x < 30, none, 12 - x / 15); a rating that takes it goes by its own `missing`."
        expected = "a branch of the `where` that is the whole expression, beside one that gives a value"
        raise walk.fault(walk.nones[0], "`none` where a number is needed", expected, hint)


def _stray(term: Term, *, is_tail: bool = True) -> bool:
    if term.op == NONE:
        return not is_tail
    branches = term.args[1:] if term.op == "where" and is_tail else ()
    others = [arg for arg in term.args if isinstance(arg, Term) and not any(arg is branch for branch in branches)]
    return any(_stray(arg) for arg in branches if isinstance(arg, Term)) or any(
        _stray(arg, is_tail=False) for arg in others
    )


def gives_something(term: Term) -> bool:
    """Whether a term has a value under some condition; every `where` in it has one in one of its branches at least."""
    if term.op != "where":
        return term.op != NONE
    return any(gives_something(arg) for arg in term.args[1:] if isinstance(arg, Term))


def _of_kind(node: ast.expr, walk: Walk, depth: int, *, condition: bool) -> Term:
    term = walk_term(node, walk, depth + 1)
    if is_condition(term) != condition:
        found = "a condition" if is_condition(term) else "a number"
        raise walk.fault(node, found, "a condition" if condition else "a number")
    return term


def is_condition(term: Term) -> bool:
    """Whether a term is true or false, and no number."""
    return term.op in CONDITIONS


def _number(node: ast.Constant, walk: Walk) -> Term:
    token = walk.token_of(node)
    if re.match(r"0\d", token.text):
        raise walk.fault(node, f"`{token.text}`", "a number without leading zeros")
    value = float(token.text)
    if len(token.text) > LONGEST_NUMBER or not abs(value) <= LARGEST_NUMBER:
        raise walk.fault(node, f"`{token.text[:40]}`", f"a number of at most {LARGEST_NUMBER:g}")
    index = len(walk.numbers)
    end = token.offset + len(token.text)
    spot = replace(
        walk.spot,
        before=walk.spot.before + walk.text[: token.offset],
        after=walk.text[end:] + walk.spot.after,
    )
    place = replace(walk.place, column=walk.place.column + token.offset if walk.place.column else 0)
    walk.numbers.append(Number(value, token.text, f"{walk.address}.{index + 1}", place, spot))
    return Term("number", (index,))


def _name(node: ast.Name, walk: Walk) -> Term:
    name = walk.token_of(node).text
    if name == NONE and name not in walk.kinds:
        walk.nones.append(node)
        return Term(NONE, ())
    if name in walk.words:
        raise walk.fault(node, f"the attribute `{name}` as a number", f'a comparison, as in {name} == "word"')
    if name not in walk.kinds:
        raise walk.fault(node, f"`{name}`, which names nothing here", "a known name", nearest(name, walk.kinds))
    walk.names[name] = None
    return Term("name", (name,))


def _arithmetic(node: ast.BinOp, walk: Walk, depth: int) -> Term:
    spine: list[ast.BinOp] = [node]
    while isinstance(spine[-1].left, ast.BinOp):
        spine.append(spine[-1].left)
    term = _of_kind(spine[-1].left, walk, depth, condition=False)
    for step in reversed(spine):
        sign = SIGNS.get(type(step.op))
        if sign is None:
            raise walk.fault(step, "an operator that is not allowed", "+ - * / **")
        right = _of_kind(step.right, walk, depth, condition=False)
        if sign == "**":
            _check_exponent(step.right, right, walk)
        term = Term(sign, (term, right))
    return term


def _check_exponent(node: ast.expr, term: Term, walk: Walk) -> None:
    if any(isinstance(inner, ast.Pow) for inner in ast.walk(node)):
        raise walk.fault(node, "a power in an exponent", "a plain exponent", "Set brackets: (a**b)**c.")
    inner = term.args[0] if term.op == "negative" else term
    if isinstance(inner, Term) and inner.op == "number":
        index = inner.args[0]
        assert isinstance(index, int)
        if walk.numbers[index].value > LARGEST_EXPONENT:
            found = f"the exponent {walk.numbers[index].text}"
            raise walk.fault(node, found, f"an exponent of at most {LARGEST_EXPONENT}")


def _comparison(node: ast.Compare, walk: Walk, depth: int) -> Term:
    sides = [node.left, *node.comparators]
    attributes = [s for s in sides if isinstance(s, ast.Name) and walk.token_of(s).text in walk.words]
    if attributes:
        return _word_comparison(node, attributes[0], walk)
    terms = [_of_kind(side, walk, depth, condition=False) for side in sides]
    links = []
    for op, left, right in zip(node.ops, terms, terms[1:], strict=False):
        sign = SIGNS.get(type(op))
        if sign is None:
            raise walk.fault(node, "a comparison that is not allowed", "< <= > >= == !=")
        links.append(Term(sign, (left, right)))
    return links[0] if len(links) == 1 else Term("and", tuple(links))


def _word_comparison(node: ast.Compare, attribute: ast.Name, walk: Walk) -> Term:
    name = walk.token_of(attribute).text
    others = [side for side in (node.left, *node.comparators) if side is not attribute]
    sign = SIGNS.get(type(node.ops[0]))
    if len(others) != 1 or sign not in {"==", "!="}:
        raise walk.fault(node, f"a comparison of the attribute `{name}`", f'{name} == "word" or {name} != "word"')
    other = others[0]
    if not isinstance(other, ast.Name | ast.Constant):
        raise walk.fault(other, "something that is not a word", f'a word, as in {name} == "word"')
    token = walk.token_of(other)
    word = token.text[1:-1] if token.kind == "text" else token.text
    known = walk.words[name]
    if known and word not in known:
        raise walk.fault(other, f"`{word}`", f"one of the words of `{name}`", nearest(word, known))
    walk.names[name] = None
    equal = Term("text==", (name, word))
    return equal if sign == "==" else Term("not", (equal,))


def _call(node: ast.Call, walk: Walk, depth: int) -> Term:
    if not isinstance(node.func, ast.Name) or node.keywords:
        hint = "Write * between two factors."
        raise walk.fault(node, "a call of something that is no function", "a known function", hint)
    name = walk.token_of(node.func).text
    count = len(node.args)
    if name in STATISTICS:
        return _statistic(node, name, walk, depth)
    if name not in FUNCTIONS:
        hint = FOREIGN.get(name.lower()) or nearest(name, KNOWN_FUNCTIONS)
        raise walk.fault(node, f"the function `{name}`", "a known function", hint)
    fewest, most = FUNCTIONS[name]
    if count < fewest or (most is not None and count > most):
        bound = f"{fewest} or more" if most is None else f"{fewest} to {most}"
        if most == fewest:
            bound = f"{fewest}"
        comma = re.search(r"[0-9],[0-9]", walk.text)
        hint = " Is one of the commas a decimal comma? Write a point." if comma else ""
        raise walk.fault(node, f"`{name}` with {count} arguments", bound, f"As in {SIGNATURES[name]}.{hint}")
    if name == "interp" and count % 2 == 0:
        raise walk.fault(node, f"`interp` with {count} arguments", "a value, then pairs: interp(x, x1, y1, x2, y2)")
    wants = [name == "where" and index == 0 for index in range(count)]
    args = tuple(_of_kind(a, walk, depth, condition=w) for a, w in zip(node.args, wants, strict=True))
    if name == "interp":
        _check_interp(node, args, walk)
    if name == "round" and count == 2:
        _check_step(node, args[1], walk)
    return Term(name, args)


def _literal(term: Term, walk: Walk) -> float | None:
    """The value of a written number, with its minus sign; None for anything else."""
    if term.op == "negative":
        assert isinstance(term.args[0], Term)
        inner = _literal(term.args[0], walk)
        return None if inner is None else -inner
    if term.op != "number":
        return None
    assert isinstance(term.args[0], int)
    return walk.numbers[term.args[0]].value


def _check_interp(node: ast.Call, args: tuple[Term, ...], walk: Walk) -> None:
    literal = [_literal(term, walk) for term in args[1:]]
    anchors = [value for value in literal if value is not None]
    if len(anchors) != len(literal):
        raise walk.fault(node, "an anchor of `interp` that is not a written number", "numbers")
    xs = anchors[::2]
    if any(b <= a for a, b in pairwise(xs)):
        raise walk.fault(node, "anchors of `interp` out of order", "each x greater than the one before")


def _check_step(node: ast.Call, step: Term, walk: Walk) -> None:
    value = _literal(step, walk)
    if value is None or value <= 0:
        raise walk.fault(node, "a step of `round` that is not a written number above 0", "as in round(x, 0.1)")


def _statistic(node: ast.Call, name: str, walk: Walk, depth: int) -> Term:
    if len(node.args) != STATISTICS[name]:
        hint = (
            "It is taken over the catalogue, as in mean(NAME); of two values write (a + b) / 2."
            if name == "mean"
            else ""
        )
        raise walk.fault(node, f"`{name}` with {len(node.args)} arguments", f"{STATISTICS[name]}", hint)
    of = walk_term(node.args[0], walk, depth + 1)
    if of.op != "name" or walk.kinds.get(str(of.args[0])) not in HAVE_POPULATIONS:
        expected = f"the name of a {' or '.join(HAVE_POPULATIONS)}"
        hint = "A rating of what stands there has a population, too: give it a name." if of.op != "name" else ""
        raise walk.fault(node.args[0], f"`{name}` of something that has no population", expected, hint)
    if name != "percentile":
        return Term(name, of.args)
    share = _of_kind(node.args[1], walk, depth, condition=False)
    value = _literal(share, walk)
    if value is None or not 0 <= value <= 100:
        raise walk.fault(node.args[1], "a percentile that is not a number from 0 to 100", "as in percentile(m, 90)")
    return Term(name, (*of.args, share))
