"""Blends: how a rating or score combines its parts."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from sympy import Expr

from scoring.blends.blend import Blend, Weights
from scoring.blends.extremes import Maximum, Minimum
from scoring.blends.means import GeometricMean, HarmonicMean, PowerMean, WeightedMean
from scoring.blends.totals import WeightedProduct, WeightedSum
from scoring.declaration import NumberKey

BLENDS: dict[str, type[Blend]] = {
    blend.name: blend
    for blend in (
        WeightedMean,
        GeometricMean,
        HarmonicMean,
        PowerMean,
        Minimum,
        Maximum,
        WeightedSum,
        WeightedProduct,
    )
}


def numbers_of(blends: Iterable[type[Blend]]) -> dict[str, NumberKey]:
    """The numbers that blends have of their own, by key.

    Raises
    ------
    ValueError : two blends declare one key differently: a formula's key has one meaning
    """
    found: dict[str, NumberKey] = {}
    for kind in blends:
        for number in kind.numbers:
            if found.setdefault(number.name, number) != number:
                raise ValueError(f"`{number.name}` of `{kind.name}` is declared by another blend, and otherwise")
    return found


#: Every number that blends have of their own, by its key; blends that share a key share its declaration.
NUMBERS: dict[str, NumberKey] = numbers_of(BLENDS.values())
#: Those under which a part below 0 has no place.
_FROM_0 = [f"`{name}`" for name, blend in BLENDS.items() if blend.least_value == 0]
#: What the choice among them is.
SAYS = (
    f"How the parts are combined. Under {', '.join(_FROM_0[:-1])} and {_FROM_0[-1]} there is no value where one of several "
    "parts is below 0."
)
#: The blend of a rating or score that names none.
DEFAULT = next(iter(BLENDS))


def blend(name: str, parts: Sequence[tuple[Expr, Expr, Expr]], numbers: Mapping[str, Expr]) -> Expr:
    """The named blend of triples (weight, here, value); of one part it is that part, where it lies between its parts.

    `numbers` are those that the blend has of its own, by name; others have no say.
    """
    kind = BLENDS[name]
    if len(parts) == 1 and kind.internal:
        return parts[0][2]
    own = [numbers[number.name] for number in kind.numbers]
    flat = [symbol for triple in parts for symbol in triple]
    return kind(*own, *flat)


__all__ = ["BLENDS", "DEFAULT", "NUMBERS", "SAYS", "Blend", "Weights", "blend"]
