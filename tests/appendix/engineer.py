"""A maker's engineer with a calculator: reads the printed worked example and nothing else, and works every line again.

It shares no code with the tool: its own table reader, its own arithmetic, its own rounding.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from decimal import ROUND_DOWN, ROUND_HALF_EVEN, ROUND_HALF_UP, ROUND_UP, Decimal
from typing import NamedTuple

RULES = {"half-up": ROUND_HALF_UP, "half-even": ROUND_HALF_EVEN, "down": ROUND_DOWN, "up": ROUND_UP}
TOKEN = re.compile(r"\s*(\d+\.?\d*(?:e[+-]?\d+)?|\*\*|[-+*/(),]|[a-z]+[0-9]*)")
FUNCTIONS: dict[str, Callable[..., float]] = {
    "log": math.log,
    "log10": math.log10,
    "exp": math.exp,
    "sqrt": math.sqrt,
    "abs": abs,
    "min": min,
    "max": max,
}


class PrintedLine(NamedTuple):
    """One line as printed."""

    number: int
    what: str
    arithmetic: str
    result: str


def lines_of(markdown: str) -> list[PrintedLine]:
    """The numbered lines of the first table of arithmetic in a page of Markdown."""
    return tables_of(markdown)[0]


def tables_of(markdown: str) -> list[list[PrintedLine]]:
    """The numbered lines of every table of arithmetic in a page of Markdown."""
    found: list[list[PrintedLine]] = []
    inside = False
    for line in markdown.splitlines():
        cells = [cell.strip() for cell in re.split(r"(?<!\\)\|", line)[1:-1]]
        if cells == ["line", "what", "arithmetic", "result"]:
            inside = True
            found.append([])
        elif not cells:
            inside = False
        elif inside and cells[0].isdecimal():
            found[-1].append(PrintedLine(int(cells[0]), cells[1], cells[2].strip("`"), cells[3].strip("`")))
    return found


def split_remarks(text: str) -> tuple[str, list[str]]:
    """The arithmetic without what stands in square brackets, and what stands there."""
    kept, remarks, depth, start = "", [], 0, 0
    for index, letter in enumerate(text):
        if letter == "[":
            start = index + 1 if depth == 0 else start
            depth += 1
        elif letter == "]":
            depth -= 1
            if depth == 0:
                remarks.append(text[start:index])
        elif depth == 0:
            kept += letter
    return kept.strip(), remarks


def value_of(text: str) -> float:
    """What arithmetic comes to, remarks left aside."""
    bare, _ = split_remarks(text)
    tokens, at = [], 0
    while at < len(bare.rstrip()):
        match = TOKEN.match(bare, at)
        assert match is not None, f"cannot be keyed in: {bare[at:]!r} of {text!r}"
        tokens.append(match[1])
        at = match.end()
    value, rest = _sum(tokens)
    assert rest == [], f"left over: {rest} of {text!r}"
    return value


def _sum(tokens: list[str]) -> tuple[float, list[str]]:
    value, tokens = _product(tokens)
    while tokens and tokens[0] in "+-":
        sign = 1 if tokens[0] == "+" else -1
        term, tokens = _product(tokens[1:])
        value += sign * term
    return value, tokens


def _product(tokens: list[str]) -> tuple[float, list[str]]:
    value, tokens = _signed(tokens)
    while tokens and tokens[0] in ("*", "/"):
        sign = tokens[0]
        factor, tokens = _signed(tokens[1:])
        value = value * factor if sign == "*" else value / factor
    return value, tokens


def _signed(tokens: list[str]) -> tuple[float, list[str]]:
    if tokens[0] == "-":
        value, rest = _signed(tokens[1:])
        return -value, rest
    value, rest = _atom(tokens)
    if rest and rest[0] == "**":
        exponent, rest = _signed(rest[1:])
        value **= exponent
    return value, rest


def _atom(tokens: list[str]) -> tuple[float, list[str]]:
    first, rest = tokens[0], tokens[1:]
    if first == "(":
        value, rest = _sum(rest)
        assert rest[0] == ")"
        return value, rest[1:]
    if first in FUNCTIONS:
        assert rest[0] == "("
        arguments = []
        while rest[0] != ")":
            value, rest = _sum(rest[1:])
            arguments.append(value)
        return FUNCTIONS[first](*arguments), rest[1:]
    return float(first), rest


def worked_again(line: PrintedLine) -> float:
    """The line's result from its arithmetic, rounded where its last remark says so."""
    value = value_of(line.arithmetic)
    for remark in split_remarks(line.arithmetic)[1]:
        rounded = re.fullmatch(r"rounded (\S+) to a multiple of (\S+)", remark)
        if rounded:
            value = rounded_to(value, rounded[1], rounded[2])
    return value


def rounded_to(value: float, rule: str, step: str) -> float:
    """A value to a multiple of a step, in decimal."""
    return float(Decimal(f"{value:.10g}").__truediv__(Decimal(step)).to_integral_value(RULES[rule]) * Decimal(step))


def remarks_hold(line: PrintedLine, near: float) -> list[str]:
    """The kinds of remarks on a line that can be checked, each checked."""
    seen = []
    kept = value_of(line.arithmetic)
    for remark in split_remarks(line.arithmetic)[1]:
        held = re.fullmatch(r"held: (.+) = (\S+)", remark)
        limited = re.fullmatch(r"no limit: (.+) < (.+) does not hold", remark)
        capped = re.fullmatch(r"at most (\S+), as (.+) < (.+); it was (.+)", remark)
        if held:
            assert abs(value_of(held[1]) - float(held[2])) <= near * max(1.0, abs(float(held[2])))
            assert (float(held[2]) > kept) == (kept >= 5.5), "held at the end that it lies beyond"
            seen.append("held")
        elif limited:
            assert not value_of(limited[1]) < value_of(limited[2])
            seen.append("no limit")
        elif capped:
            assert value_of(capped[2]) < value_of(capped[3])
            assert kept == min(value_of(capped[1]), value_of(capped[4]))
            seen.append("capped")
    return seen
