"""Notation: a formula as a small tree of what a printer sets, in the order in which it is read.

The builders put brackets where the tree needs them on paper, so that a printer only sets what it is given.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, is_dataclass
from itertools import pairwise


@dataclass(frozen=True, slots=True)
class Number:
    """A number without its sign, as it was written."""

    text: str


@dataclass(frozen=True, slots=True)
class Name:
    """What stands for a quantity (a measure, a rating, a score, a figure of the catalogue), set upright."""

    words: str


@dataclass(frozen=True, slots=True)
class Words:
    """Prose between the signs."""

    text: str


@dataclass(frozen=True, slots=True)
class Minus:
    """The negative of a part; in a sum, a part taken away."""

    part: Notation


@dataclass(frozen=True, slots=True)
class Sum:
    """Parts added up."""

    parts: tuple[Notation, ...]


@dataclass(frozen=True, slots=True)
class Product:
    """Parts multiplied."""

    parts: tuple[Notation, ...]


@dataclass(frozen=True, slots=True)
class Fraction:
    """`above` divided by `below`."""

    above: Notation
    below: Notation


@dataclass(frozen=True, slots=True)
class Power:
    """`of` raised to `exponent`."""

    of: Notation
    exponent: Notation


@dataclass(frozen=True, slots=True)
class Root:
    """The square root."""

    of: Notation


@dataclass(frozen=True, slots=True)
class Fenced:
    """A part in round brackets."""

    part: Notation


@dataclass(frozen=True, slots=True)
class Size:
    """A part without its sign, between bars."""

    of: Notation


@dataclass(frozen=True, slots=True)
class Call:
    """A named function: `min`, `max`, `ln`, `exp` or `count`, and what it works on."""

    name: str
    args: tuple[Notation, ...]


@dataclass(frozen=True, slots=True)
class Relation:
    """Sides with a sign between each two: `<`, `<=`, `>`, `>=`, `=` or `!=`."""

    sides: tuple[Notation, ...]
    signs: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Joined:
    """Conditions joined by a word, `and` or `or`."""

    parts: tuple[Notation, ...]
    word: str


@dataclass(frozen=True, slots=True)
class Denied:
    """The opposite of a condition."""

    part: Notation


@dataclass(frozen=True, slots=True)
class Cases:
    """A table of values, each with the condition under which it holds; the last condition may be None: otherwise."""

    rows: tuple[tuple[Notation, Notation | None], ...]


@dataclass(frozen=True, slots=True)
class Remarked:
    """A part, then what is done to it in words: `rounded half-up to`, and a number."""

    part: Notation
    words: str
    amount: Notation


Notation = (
    Number
    | Name
    | Words
    | Minus
    | Sum
    | Product
    | Fraction
    | Power
    | Root
    | Fenced
    | Size
    | Call
    | Relation
    | Joined
    | Denied
    | Cases
    | Remarked
)
#: What stands by itself wherever it is put.
WHOLE = Number | Name | Root | Fenced | Size | Call
#: What reaches as far as it can, and is put in brackets beside anything else.
LOOSE = Words | Relation | Joined | Denied | Cases | Remarked
#: A sum or product longer than this, in letters, is set on several lines.
LONGEST_LINE = 84
#: Of fewer parts than this nothing is broken: it is their inside that is long.
FEWEST_BROKEN = 5


def add(*parts: Notation) -> Notation:
    """The parts added up in this order; a `Minus` among them is taken away."""
    if len(parts) == 1:
        return parts[0]
    return Sum(tuple(_in_sum(part, first=index == 0) for index, part in enumerate(parts)))


def _in_sum(part: Notation, *, first: bool) -> Notation:
    if isinstance(part, Minus):
        return Minus(fence(part.part, Sum | Minus | LOOSE))
    return fence(part, LOOSE if first else Sum | LOOSE)


def subtract(whole: Notation, part: Notation) -> Notation:
    """`whole` less `part`."""
    taken = fence(part, Sum | Minus | LOOSE)
    return Sum((fence(whole, LOOSE), Minus(taken)))


def multiply(*parts: Notation) -> Notation:
    """The parts multiplied in this order."""
    if len(parts) == 1:
        return parts[0]
    return Product(tuple(fence(part, Sum | Minus | LOOSE) for part in parts))


def divide(above: Notation, below: Notation) -> Notation:
    """`above` over `below`."""
    return Fraction(fence(above, LOOSE), fence(below, LOOSE))


def power(of: Notation, exponent: Notation) -> Notation:
    """`of` raised to `exponent`."""
    return Power(of if isinstance(of, WHOLE) else Fenced(of), exponent)


def call(name: str, *args: Notation) -> Notation:
    """The named function of the parts; beside others, a part that has a comma or no right end of its own is in brackets."""
    return Call(name, args if len(args) == 1 else tuple(fence(arg, Remarked | Cases) for arg in args))


def negative(part: Notation) -> Notation:
    """The part with its sign turned round."""
    return Minus(fence(part, Sum | Minus | LOOSE))


def relate(sides: Sequence[Notation], signs: Sequence[str]) -> Notation:
    """The sides with a sign between each two."""
    return Relation(tuple(fence(side, LOOSE) for side in sides), tuple(signs))


def remark(part: Notation, words: str, amount: Notation) -> Notation:
    """The part, and what is done to it in words."""
    return Remarked(fence(part, LOOSE), words, amount)


def stretches(part: Notation, edges: Sequence[Notation], signs: tuple[str, str]) -> list[Notation]:
    """Below the first edge, between each two, above the last, as conditions; the signs are those on either side of `part`.

    With (`<`, `<=`) an edge belongs to the stretch below it, with (`<=`, `<`) to the one above.
    """
    inner = [relate((low, part, high), signs) for low, high in pairwise(edges)]
    turned = {"<": ">", "<=": ">="}[signs[0]]
    return [relate((part, edges[0]), signs[1:]), *inner, relate((part, edges[-1]), (turned,))]


def fence(part: Notation, kinds: object) -> Notation:
    """The part, in brackets where it is one of `kinds`."""
    return Fenced(part) if isinstance(part, kinds) else part  # type: ignore[arg-type]


def lines_of(whole: Sum | Product) -> tuple[tuple[Notation, ...], ...]:
    """The parts of a sum or product line by line, each as full as fits; one line where they fit into it."""
    if len(whole.parts) < FEWEST_BROKEN:
        return (whole.parts,)
    lines: list[list[Notation]] = [[]]
    length = 0
    for part in whole.parts:
        width = length_of(part) + 3
        if lines[-1] and length + width > LONGEST_LINE:
            lines.append([])
            length = 0
        lines[-1].append(part)
        length += width
    return tuple(tuple(line) for line in lines)


def length_of(part: object) -> int:
    """About how many letters wide a part is; a fraction and a table of cases as wide as their widest line."""
    match part:
        case str():
            return len(part)
        case Fraction(above, below):
            return max(length_of(above), length_of(below))
        case Sum() | Product() if len(lines_of(part)) > 1:
            return LONGEST_LINE
        case Cases(rows):
            return max(length_of(row) for row in rows) + 3
        case tuple():
            return sum(length_of(inner) + 2 for inner in part)
        case _ if is_dataclass(part):
            return sum(length_of(getattr(part, field.name)) for field in fields(part)) + 1
    return 0
