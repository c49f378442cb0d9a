"""What products are called and who made them: the words of two attributes, beside the ids, which stay the key everywhere.

Two products may have one name, for the id stands beside it; one without a name is called by its id alone.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

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
