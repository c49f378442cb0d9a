"""The smallest nouns: a number, a choice among words, and an expression with its tree."""

from __future__ import annotations

from scoring.declaration import noun
from scoring.errors import Place
from scoring.texts.source import Spot


@noun
class Number:
    """A number that a person could argue about."""

    value: float
    text: str
    address: str
    place: Place
    spot: Spot


@noun
class Choice:
    """A choice among named options."""

    value: str
    options: tuple[str, ...]
    address: str
    place: Place
    spot: Spot

    @property
    def is_unwritten(self) -> bool:
        """Whether it stands nowhere in the text, and holds because nothing else is said."""
        return self.spot.start == self.spot.end


@noun
class Term:
    """One node of an expression: an operation and what it works on.

    `op` is "number" (args: its index among the numbers), "name", "text" (a quoted word), a function's name,
    an operator sign, or "and", "or", "not".
    """

    op: str
    args: tuple[Term | str | int, ...]


@noun
class Expression:
    """A written expression: its text, its tree, its numbers in reading order, and the names it uses."""

    text: str
    term: Term
    numbers: tuple[Number, ...]
    names: tuple[str, ...]
    is_condition: bool
    address: str
    place: Place
    spot: Spot

    @property
    def may_be_none(self) -> bool:
        """Whether it gives no value under some condition, by a branch of a `where` that is `none`."""
        return _has_none(self.term)


def _has_none(term: Term) -> bool:
    return term.op == "none" or any(_has_none(arg) for arg in term.args if isinstance(arg, Term))
