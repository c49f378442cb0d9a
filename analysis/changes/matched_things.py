"""Which thing of one form is which of another, and a noun under the names of the other.

Things are matched by name, by what they hold where a name is only a place, or as renamed; then what one form calls them is put
in place of what the other does.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import fields, is_dataclass, replace
from itertools import count, product
from typing import Any, TypeVar

from scoring.errors import Place
from scoring.expression.tokens import Token, cut_tokens
from scoring.form import ErrorCorrelation, Expression, Form, Gate, Limit, MissingRule, Output, Part, Term
from scoring.texts.source import Source, Spot

Pairs = list[tuple[int, int]]
Same = Callable[[int, int], bool]
Noun = TypeVar("Noun")
Names = Mapping[str, str]


def matched(
    old: Sequence[str],
    new: Sequence[str],
    same: Same,
    *,
    by_place: Callable[[str], bool] = lambda _: False,
    may_be_renamed: bool = True,
) -> Pairs:
    """Pairs of indices (old, new), in the order of the new list.

    Parameters
    ----------
    old, new : sequences of names, each name once
    same : whether two things hold the same, whatever they are called
    by_place : whether a name only says where a thing stands in its list, so that one put before it would change it
    may_be_renamed : whether two things of different names, the only ones of their lists that hold the same, are one

    Notes
    -----
    In turn: the same name (and, where it is a place, the same contents); the same contents at another place; the same
    contents under another name, with one candidate on either side; the same place.
    """
    found = _Pairing(old, new, same)
    for i, j in found.left():
        if old[i] == new[j] and (not by_place(old[i]) or same(i, j)):
            found.pair(i, j)
    for i, j in found.left():
        if by_place(old[i]) and by_place(new[j]) and found.free(i, j) and same(i, j):
            found.pair(i, j)
    if may_be_renamed:
        found.pair_renamed()
    for i, j in found.left():
        if old[i] == new[j]:
            found.pair(i, j)
    return sorted(found.pairs, key=lambda pair: pair[1])


class _Pairing:
    """Pairs found so far."""

    def __init__(self, old: Sequence[str], new: Sequence[str], same: Same) -> None:
        self.old, self.new, self.same = old, new, same
        self.pairs: Pairs = []

    def pair(self, i: int, j: int) -> None:
        self.pairs.append((i, j))

    def free(self, i: int, j: int) -> bool:
        return all(i != a and j != b for a, b in self.pairs)

    def left(self) -> Pairs:
        """Every pair of two things that have no partner."""
        return [(i, j) for i, j in product(range(len(self.old)), range(len(self.new))) if self.free(i, j)]

    def pair_renamed(self) -> None:
        alike = [(i, j) for i, j in self.left() if self.old[i] != self.new[j] and self.same(i, j)]
        for i, j in alike:
            if sum(a == i for a, _ in alike) == 1 and sum(b == j for _, b in alike) == 1:
                self.pair(i, j)


def readdressed(noun: Noun, old: str, new: str) -> Noun:
    """The noun with every address at or under `old` moved to `new`."""
    if old == new:
        return noun

    def move(found: Any) -> Any:
        address = getattr(found, "address", "")
        if address == old or address.startswith(old + "."):
            return replace(found, address=new + address[len(old) :])
        return found

    return _rebuilt(noun, move)  # type: ignore[no-any-return]


def refer(form: Form, names: Names) -> Form:
    """The form with every reference to a name of `names` turned into one to its new name; things keep their own names."""
    if not names:
        return form
    attributes = frozenset(attribute.name for attribute in form.attributes)

    def turn(found: Any) -> Any:
        match found:
            case Part():
                return replace(found, source=names.get(found.source, found.source))
            case Limit():
                return replace(found, on=names.get(found.on, found.on) if found.on is not None else None)
            case MissingRule():
                return replace(found, needs=tuple(names.get(name, name) for name in found.needs))
            case ErrorCorrelation():
                return replace(found, measures=tuple(names.get(name, name) for name in found.measures))
            case Gate():
                return replace(found, scores=tuple(names.get(name, name) for name in found.scores))
            case Expression():
                return _renamed_expression(found, names, attributes)
        return found

    return replace(
        form,
        error_correlations=_rebuilt(form.error_correlations, turn),
        ratings=_rebuilt(form.ratings, turn),
        scores=_rebuilt(form.scores, turn),
        gates=_rebuilt(form.gates, turn),
    )


def part_labels(output: Output) -> tuple[str, ...]:
    """What each part is called in addresses: its source, and from the second of one source on the source and a number."""
    taken: list[str] = []
    for part in output.parts:
        spare = (part.source if number == 1 else f"{part.source}_{number}" for number in count(1))
        taken.append(next(label for label in spare if label not in taken))
    return tuple(taken)


def _rebuilt(noun: Any, change: Callable[[Any], Any]) -> Any:
    """The noun with `change` made to each noun inside it, the innermost first."""
    if isinstance(noun, tuple):
        return tuple(_rebuilt(item, change) for item in noun)
    if not is_dataclass(noun) or isinstance(noun, Place | Spot | Source | Term | type):
        return noun
    inner = {field.name: _rebuilt(getattr(noun, field.name), change) for field in fields(noun)}
    return change(replace(noun, **inner))


def _renamed_expression(expression: Expression, names: Names, attributes: frozenset[str]) -> Expression:
    if not any(name in names for name in expression.names):
        return expression
    return replace(
        expression,
        text=_renamed_text(expression.text, names, attributes),
        term=_renamed_term(expression.term, names),
        names=tuple(names.get(name, name) for name in expression.names),
    )


def _renamed_term(term: Term, names: Names) -> Term:
    def argument(index: int, arg: Term | str | int) -> Term | str | int:
        if isinstance(arg, Term):
            return _renamed_term(arg, names)
        is_word = term.op == "text==" and index == 1
        return names.get(arg, arg) if isinstance(arg, str) and not is_word else arg

    return Term(term.op, tuple(argument(index, arg) for index, arg in enumerate(term.args)))


def _renamed_text(text: str, names: Names, attributes: frozenset[str]) -> str:
    tokens = cut_tokens(text, Place("an expression"))
    for index in reversed(range(len(tokens))):
        token = tokens[index]
        if token.kind == "name" and token.text in names and not _is_word(tokens, index, attributes):
            text = text[: token.offset] + names[token.text] + text[token.offset + len(token.text) :]
    return text


def _is_word(tokens: list[Token], index: int, attributes: frozenset[str]) -> bool:
    """Whether a token is a function's name, or a word beside an attribute, and so no name of a thing."""

    def text(offset: int) -> str:
        at = index + offset
        return tokens[at].text if 0 <= at < len(tokens) else ""

    if text(1) == "(":
        return True
    if text(-1) in {"==", "!="} and text(-2) in attributes:
        return True
    return text(1) in {"==", "!="} and text(2) in attributes and text(0) not in attributes
