"""What products are called, beside their ids, in everything that a report holds: decided here, once for all studies.

A study speaks of products by their ids alone. Where the formula says which attribute is the name, a report puts it

- in tables and files: in a column of its own behind that of the ids, `name`, and `maker` behind it, which a terminal leaves out;
- in documents: under `name` and `maker` beside `product` or `id`;
- in sentences: behind the id, at its first mention in a section, `QB-009 (Alder Cloud)`. A sentence about many products stays
  with their ids, for the table beside it has the names; and an id that might be a word or a figure of the sentence, such as 12,
  is never taken for a product;
- in pictures: `ProductNames.label`.

Ids stay the key: no name stands without one.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any, NamedTuple

from analysis.report.section import Block, Section
from analysis.report.tables import Column, Made, Table, Values
from scoring.catalogue import ProductNames
from scoring.catalogue.product_names import shortened

if TYPE_CHECKING:
    import pandas as pd

#: The keys under which a document holds the id of one product, beside which its name stands.
KEYS = ("product", "id")
#: So many products of one sentence are named.
MOST_NAMED = 2
#: So many characters of a name stand in a cell of a terminal.
ON_SCREEN = 24
_WORD = re.compile(r"[^\s`,;:()\[\]]+")
_QUOTED = re.compile(r"(`[^`]*`)")


class _Role(NamedTuple):
    """What a product is called, or who made it: the key and the heading, and the words by id; None where nobody says so."""

    key: str
    words: Mapping[str, str] | None

    def of(self, product: Any) -> str:
        return (self.words or {}).get(product, "") if isinstance(product, str) else ""


def _roles(names: ProductNames) -> list[_Role]:
    found = (_Role("name", names.names), _Role("maker", names.makers))
    return [role for role in found if role.words is not None]


def named_table(table: Table, names: ProductNames) -> Table:
    """The table with the names behind each column of ids; one that has them already stays as it is."""
    roles = [role for role in _roles(names) if role.key not in table.fields]
    if not roles or "product" not in table.fields:
        return table
    ids = table.fields["product"]
    made = {role.key: _made(role, ids) for role in roles}
    at = next((number for number, column in enumerate(table.columns) if tuple(column.fields) == ("product",)), None)
    if at is None:
        return replace(table, hidden={**table.hidden, **made})
    columns = [*table.columns[: at + 1], *(name_column(key, of) for key, of in made.items()), *table.columns[at + 1 :]]
    return replace(table, columns=tuple(columns))


def _made(role: _Role, ids: Values) -> Values:
    return Made(len(ids), lambda row: role.of(ids[row]))


def name_column(key: str, values: Values) -> Column:
    """A column of names, or of makers, which a terminal has no room for."""
    return Column(
        key, {key: values}, kind="name", brief=lambda name: shortened(name, ON_SCREEN), pages_alone=key == "maker"
    )


def named_frame(frame: pd.DataFrame, names: ProductNames) -> pd.DataFrame:
    """The table of a file with the names behind its column of ids, where it has one."""
    roles = [role for role in _roles(names) if role.key not in frame.columns]
    if not roles or "product" not in frame.columns:
        return frame
    found, at = frame.copy(deep=False), list(frame.columns).index("product") + 1
    for role in reversed(roles):
        found.insert(at, role.key, [role.of(product) for product in frame["product"]])
    return found


def named_document(document: Any, names: ProductNames) -> Any:
    """A document with the names beside each id; what comes one after another stays an iterator."""
    roles = _roles(names)
    return _named(document, roles) if roles else document


def _named(noun: Any, roles: Sequence[_Role]) -> Any:
    if isinstance(noun, Mapping):
        found: dict[str, Any] = {}
        for key, value in noun.items():
            found[key] = _named(value, roles)
            if key in KEYS and isinstance(value, str):
                found |= {role.key: role.of(value) or None for role in roles if role.key not in noun}
        return found
    if isinstance(noun, list | tuple):
        return [_named(item, roles) for item in noun]
    if isinstance(noun, Iterator):
        return (_named(item, roles) for item in noun)
    return noun


def named_sections(sections: Sequence[Section], names: ProductNames) -> tuple[Section, ...]:
    """The sections with the names in their tables and sentences."""
    return tuple(_named_section(section, names) for section in sections)


def _named_section(section: Section, names: ProductNames) -> Section:
    mentions = Mentions(names)
    verdict = tuple(mentions.named(sentence) for sentence in section.verdict)
    return replace(
        section, verdict=verdict, blocks=tuple(_named_block(block, names, mentions) for block in section.blocks)
    )


def _named_block(block: Block, names: ProductNames, mentions: Mentions) -> Block:
    if isinstance(block, Table):
        return named_table(block, names)
    return block if block.copied else replace(block, lines=tuple(mentions.named(line) for line in block.lines))


class Mentions:
    """Names products where sentences first mention them; one for each section."""

    def __init__(self, names: ProductNames) -> None:
        self._names = names
        self._mentioned: set[str] = set()

    def named(self, sentence: str) -> str:
        """The sentence with the names of the products that it mentions for the first time."""
        if self._names.names is None:
            return sentence
        pieces = _QUOTED.split(sentence)  # what stands between backticks is there to be copied
        new = dict.fromkeys(found for piece in pieces[::2] for found in self._products(piece))
        if len(new) > MOST_NAMED:
            return sentence
        waiting = set(new) - self._mentioned
        self._mentioned |= waiting
        return "".join(piece if number % 2 else self._written(piece, waiting) for number, piece in enumerate(pieces))

    def _products(self, text: str) -> Iterator[str]:
        for match in _WORD.finditer(text):
            word = match.group().rstrip(".")
            if self._names.name(word) and is_unmistakable(word):
                yield word

    def _written(self, text: str, waiting: set[str]) -> str:
        def written(match: re.Match[str]) -> str:
            word = match.group().rstrip(".")
            if word not in waiting:
                return match.group()
            waiting.remove(word)
            before = text[: match.start()]
            in_brackets = before.count("(") > before.count(")")
            named = f"{word} {self._names.name(word)}" if in_brackets else self._names.in_words(word)
            return named + match.group()[len(word) :]

        return _WORD.sub(written, text) if waiting else text


def is_unmistakable(product: str) -> bool:
    """Whether an id cannot be a word or a figure of a sentence: it has both letters and digits.

    Examples
    --------
    >>> is_unmistakable("QB-009"), is_unmistakable("12"), is_unmistakable("first")
    (True, False, False)
    """
    return any(letter.isalpha() for letter in product) and any(letter.isdigit() for letter in product)
