"""A part of a catalogue, chosen by attributes: what is asked for, held against the words that there are; which products."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from scoring.catalogue import Catalogue
from scoring.errors import CatalogueError, Place, Problem, nearest
from scoring.numbers.array_types import Flags, Indices

OPTION = "--where"
FORM = "ATTRIBUTE=WORD, as class=hybrid, or ATTRIBUTE!=WORD"
#: What every report of a part of a catalogue says of its figures.
OF_THE_WHOLE = "Scores are those of the whole catalogue; places are counted among the selected."
#: So many words of an attribute are named in a fault.
MOST_WORDS = 12
#: How a sentence calls the word of a product that states none.
UNSTATED = "not stated"


@dataclass(frozen=True, slots=True)
class Condition:
    """One attribute that is one of some words, or none of them; "" stands for a product that states none."""

    attribute: str
    words: tuple[str, ...]
    negated: bool = False

    def holds(self, words: Sequence[str]) -> Flags:
        """Of which products it holds, by their words, shape (products,)."""
        found = np.array([word in self.words for word in words], bool)
        return ~found if self.negated else found

    def __str__(self) -> str:
        said = (" nor " if self.negated else " or ").join(word or UNSTATED for word in self.words)
        return f"{self.attribute} {'not ' if self.negated else ''}{said}"


#: How a selection is given in Python: attribute -> word or words, or texts as they are typed, such as "class!=hybrid".
Where = Mapping[str, "str | Sequence[str]"] | Sequence[str] | None


@dataclass(frozen=True, slots=True, eq=False)
class Selected:
    """The part of a catalogue that some conditions hold of, all of them; chosen: which products, shape (products,)."""

    conditions: tuple[Condition, ...]
    chosen: Flags

    @property
    def count(self) -> int:
        """How many products there are in it."""
        return int(self.chosen.sum())

    @property
    def rows(self) -> Indices:
        """Their places in the catalogue, shape (n,)."""
        return np.flatnonzero(self.chosen)

    @property
    def called(self) -> str:
        """The conditions in words: class hybrid, maker not Zubbelar."""
        return ", ".join(str(condition) for condition in self.conditions)

    @property
    def of_all(self) -> str:
        """How many products, of how many: 14 of 60 products."""
        return f"{self.count} of {len(self.chosen)} products"

    @property
    def in_words(self) -> str:
        """The same as a sentence: Selected, class hybrid: 14 of 60 products."""
        return f"Selected, {self.called}: {self.of_all}."

    @property
    def typed(self) -> list[str]:
        """The conditions as they are typed."""
        return [f"{one.attribute}{'!=' if one.negated else '='}{','.join(one.words)}" for one in self.conditions]


def chosen_of(conditions: Iterable[Condition], catalogue: Catalogue) -> Flags:
    """Which products of a catalogue all conditions hold of, shape (products,)."""
    chosen = np.ones(len(catalogue.products), bool)
    for condition in conditions:
        chosen &= condition.holds(words_of(catalogue, condition.attribute))
    return chosen


def words_of(catalogue: Catalogue, attribute: str) -> tuple[str, ...]:
    """The word of every product, "" for one that states none; all of them where the catalogue lacks the attribute."""
    return catalogue.attributes.get(attribute) or ("",) * len(catalogue.products)


def conditions_of(where: Where, catalogues: Sequence[Catalogue]) -> tuple[Condition, ...]:
    """The conditions that are asked for, held against catalogues: a word that one of them has is a word.

    Raises
    ------
    CatalogueError : anything that is not there; a part without a product in every catalogue
    """
    if not where:
        return ()
    problems: list[Problem] = []
    counts = _counts(catalogues)
    asked: dict[tuple[str, bool], list[str]] = {}
    for attribute, words, negated in _asked(where, problems):
        known = counts.get(attribute)
        if known is None:
            is_private = any(attribute in catalogue.roles.private for catalogue in catalogues)
            problems.append(_private(attribute) if is_private else _unknown_attribute(attribute, counts))
            continue
        wanted = [words] if isinstance(words, str) and words in known else _split(words)
        problems += [_unknown_word(attribute, word, known) for word in wanted if word not in known]
        asked.setdefault((attribute, negated), []).extend(wanted)
    if problems:
        raise CatalogueError(problems)
    found = tuple(Condition(name, tuple(dict.fromkeys(words)), negated) for (name, negated), words in asked.items())
    if not any(chosen_of(found, catalogue).any() for catalogue in catalogues):
        raise CatalogueError([_nothing_left(found, catalogues)])
    return found


def _asked(where: Where, problems: list[Problem]) -> Iterator[tuple[str, str | Sequence[str], bool]]:
    """Attribute, word or words, and whether it is to be none of them."""
    if isinstance(where, str):
        where = [where]
    if isinstance(where, Mapping):
        for attribute, words in where.items():
            yield attribute.removesuffix("!").strip(), words, attribute.endswith("!")
        return
    for text in where or ():
        attribute, equals, words = text.partition("=")
        if not equals or not attribute.removesuffix("!").strip():
            problems.append(Problem(Place(OPTION), f"`{text}`", FORM))
            continue
        yield attribute.removesuffix("!").strip(), words.strip(), attribute.endswith("!")


def _split(words: str | Sequence[str]) -> list[str]:
    """The words of a text by its commas, or those of a sequence as they are."""
    return [word.strip() for word in words.split(",")] if isinstance(words, str) else [str(word) for word in words]


def _counts(catalogues: Sequence[Catalogue]) -> dict[str, Counter[str]]:
    """How many products have each word of each attribute; of several catalogues those of the last that has the attribute."""
    found: dict[str, Counter[str]] = {}
    for catalogue in catalogues:
        for name, words in catalogue.published.items():
            found[name] = Counter({**found.get(name, {}), **Counter(words)})
    return found


def _unknown_attribute(name: str, known: Mapping[str, object]) -> Problem:
    hint = nearest(name, known) or "Declare it under `attributes` in the formula."
    return Problem(Place(OPTION), f"`{name}`", "an attribute that the formula declares and the catalogue has", hint)


def _private(name: str) -> Problem:
    found, expected = f"`{name}`, which the formula does not publish", "an attribute that is published"
    hint = f"Every result would say which products have the word; take `public: no` from attributes.{name} to choose by it."
    return Problem(Place(OPTION), found, expected, hint)


def _unknown_word(attribute: str, word: str, known: Counter[str]) -> Problem:
    """A word that no product has, with those that there are."""
    there = [f"{each or UNSTATED} {count}" for each, count in known.most_common(MOST_WORDS)]
    more = f", and {len(known) - MOST_WORDS} more" if len(known) > MOST_WORDS else ""
    close = nearest(word, [one for one in known if one])
    hint = f" {close}" if close.startswith("Did") else ""
    found = f"`{word}` for {attribute}, which no product has"
    return Problem(Place(OPTION), found, f"one of {', '.join(there)}{more}", hint.strip())


def _nothing_left(conditions: Sequence[Condition], catalogues: Sequence[Catalogue]) -> Problem:
    """Conditions that no product meets together, with how many meet each."""
    newest = catalogues[-1]
    each = [f"{one}: {int(chosen_of([one], newest).sum())}" for one in conditions]
    said = " and ".join(str(one) for one in conditions)
    return Problem(
        Place(OPTION), f"{said}, which no product is", "at least one product", f"By itself, {'; '.join(each)}."
    )
