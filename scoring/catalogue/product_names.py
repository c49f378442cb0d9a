"""What products are called and who made them: the words of two attributes, beside the ids, which stay the key everywhere.

Two products may have one name, for the id stands beside it; one without a name is called by its id alone.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from scoring.errors import nearest

#: So many products of one name are named in a hint.
MOST_HINTS = 3
#: Characters of a product's label in a picture.
IN_A_PICTURE = 28


def shortened(text: str, room: int) -> str:
    """A text in so many characters, cut with an ellipsis where it is longer.

    Examples
    --------
    >>> shortened("Alder Cloud", 8), shortened("Alder", 8)
    ('Alder C…', 'Alder')
    """
    return text if len(text) <= room else text[: room - 1].rstrip() + "…"


@dataclass(frozen=True, slots=True, eq=False)
class ProductNames:
    """The names and the makers of products.

    names, makers : id -> the word, "" where none is stated; None where the formula declares no such attribute
    """

    names: Mapping[str, str] | None = None
    makers: Mapping[str, str] | None = None

    def __bool__(self) -> bool:
        return self.names is not None or self.makers is not None

    def name(self, product: str) -> str:
        """What a product is called, "" where that is its id alone."""
        return (self.names or _NONE).get(product, "")

    def maker(self, product: str) -> str:
        """Who made a product, "" where nobody says so."""
        return (self.makers or _NONE).get(product, "")

    def in_words(self, product: str) -> str:
        """A product in a sentence: its id, and behind it in brackets what it is called.

        Examples
        --------
        >>> names = ProductNames({"QB-009": "Alder Cloud", "QB-010": ""})
        >>> names.in_words("QB-009"), names.in_words("QB-010"), ProductNames().in_words("QB-009")
        ('QB-009 (Alder Cloud)', 'QB-010', 'QB-009')
        """
        name = self.name(product)
        return f"{product} ({name})" if name and name != product else product

    def label(self, product: str, room: int = IN_A_PICTURE) -> str:
        """A product beside a mark of a picture: its id, which tells it apart, and as much of the name as there is room for.

        Examples
        --------
        >>> ProductNames({"QB-009": "Alder Cloud of the North"}).label("QB-009", 16)
        'QB-009 Alder Cl…'
        """
        name = self.name(product)
        left = room - len(product) - 1
        return f"{product} {shortened(name, left)}" if name and name != product and left > 1 else product

    def called(self, name: str) -> list[str]:
        """The ids of products of a name, capitals aside.

        Examples
        --------
        >>> ProductNames({"QB-009": "Alder Cloud"}).called("alder cloud")
        ['QB-009']
        """
        return [product for product, one in (self.names or _NONE).items() if one.casefold() == name.strip().casefold()]

    def hint(self, given: str, products: Sequence[str]) -> str:
        """What an id that is not there was likely meant for: the product of that name, or one with an id like it.

        Examples
        --------
        >>> names = ProductNames({"QB-009": "Alder Cloud", "QB-010": ""})
        >>> names.hint("alder cloud", ["QB-009", "QB-010"])
        'Did you mean `QB-009` (Alder Cloud)?'
        >>> names.hint("QB-09", ["QB-009", "QB-010"]), names.hint("QB-10", ["QB-009", "QB-010"])
        ('Did you mean `QB-009` (Alder Cloud)?', 'Did you mean `QB-010`?')
        """
        called = self.called(given)
        if called:
            return f"Did you mean {' or '.join(self._quoted(product) for product in called[:MOST_HINTS])}?"
        found = nearest(given, products)
        meant = next((product for product in products if found == f"Did you mean `{product}`?"), "")
        if meant:
            return f"Did you mean {self._quoted(meant)}?"
        return found if found.startswith("Did") else self._nearest_name(given) or found

    def _quoted(self, product: str) -> str:
        return f"`{product}`{self.in_words(product)[len(product) :]}"

    def _nearest_name(self, given: str) -> str:
        """The product whose name is nearest to a text; "" where none is near."""
        by_name = {name: product for product, name in (self.names or _NONE).items() if name}
        found = nearest(given, by_name)
        meant = next((product for name, product in by_name.items() if found == f"Did you mean `{name}`?"), "")
        return f"Did you mean {self._quoted(meant)}?" if meant else ""

    def beside(self, older: ProductNames) -> ProductNames:
        """These, and those of `older` where only it has a product or a role."""
        return ProductNames(_joined(self.names, older.names), _joined(self.makers, older.makers))


_NONE: Mapping[str, str] = {}


def _joined(new: Mapping[str, str] | None, old: Mapping[str, str] | None) -> Mapping[str, str] | None:
    if new is None or old is None:
        return old if new is None else new
    return {**old, **new}


@dataclass(frozen=True, slots=True)
class Roles:
    """What a form says of words about products: which attribute is the name, which the maker, and what is published.

    name, maker: "" for none; private: the attributes that are not; reasons: whether it is published why a reading is missing
    """

    name: str = ""
    maker: str = ""
    private: frozenset[str] = field(default_factory=frozenset)
    reasons: bool = False
