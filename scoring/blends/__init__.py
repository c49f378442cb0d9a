"""Blends: how a rating or score combines its parts."""

from __future__ import annotations

from collections.abc import Sequence

from sympy import Expr

from scoring.blends.blend import Blend
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


def blend(name: str, parts: Sequence[tuple[Expr, Expr, Expr]], exponent: Expr | None) -> Expr:
    """The named blend of triples (weight, here, value); a mean of one part is that part."""
    kind = BLENDS[name]
    if len(parts) == 1 and not issubclass(kind, WeightedSum | WeightedProduct):
        return parts[0][2]
    lead = (exponent,) if kind is PowerMean else ()
    flat = [symbol for triple in parts for symbol in triple]
    return kind(*lead, *flat)


__all__ = ["BLENDS", "Blend", "blend"]
