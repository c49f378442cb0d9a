"""Blends: how a rating or score combines its parts."""

from __future__ import annotations

from collections.abc import Sequence

from sympy import Expr

from scoring.blends.blend import Blend, Weights
from scoring.blends.extremes import Maximum, Minimum
from scoring.blends.means import GeometricMean, HarmonicMean, PowerMean, WeightedMean
from scoring.blends.totals import WeightedProduct, WeightedSum

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


#: The blend of a rating or score that names none.
DEFAULT = next(iter(BLENDS))


def blend(name: str, parts: Sequence[tuple[Expr, Expr, Expr]], exponent: Expr | None) -> Expr:
    """The named blend of triples (weight, here, value); of one part it is that part, where it lies between its parts."""
    kind = BLENDS[name]
    if len(parts) == 1 and kind.internal:
        return parts[0][2]
    lead = (exponent,) if kind is PowerMean else ()
    flat = [symbol for triple in parts for symbol in triple]
    return kind(*lead, *flat)


__all__ = ["BLENDS", "DEFAULT", "Blend", "Weights", "blend"]
