"""What weights that were found give on the published score: set at their addresses, as printed, and scored again.

The published score has its limits, its missing rules and its rounding; the weighted mean, of which the weights were found, has
none of them. So the shares of the one are not those of the other, and both are printed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.flips.weights import to_decimals
from analysis.importance.attainable import EFFECTS, shares_of
from analysis.importance.importance import FEWEST, linear_effects, percentile_ends, resampled
from analysis.importance.parts import WeightedParts, weighted_parts
from scoring.addresses.addresses import set_all
from scoring.numbers.array_types import Array
from scoring.numbers.ordered_sums import covariance_of
from scoring.table.part import narrowed
from scoring.table.table import ScoreTable, score_catalogue

#: Decimals of a printed weight, as a share: as few as keep its main effects this near, from the first to the last.
DECIMALS, MOST_DECIMALS = 4, 12
PRINTED_NEAR = 5e-4
#: Fewer products than this have no correlation worth the name.
LEAST_PRODUCTS = 3


@dataclass(frozen=True, slots=True, eq=False)
class Published:
    """The shares that weights give once they are set; arrays of shape (parts,), NaN where there is no figure.

    settings: address and text of each weight, as for `--set`. shares: the printed weights, adding to 1. mean: the shares of
    the weighted mean. value, low, high: of the published score, over the products with every part, as `importance` has them.
    every: of the published score, each part over all published products that have it. products, published: how many these are.
    besides: what acts besides the weighted mean, in words.
    """

    settings: tuple[tuple[str, str], ...]
    shares: Array
    mean: Array
    value: Array
    low: Array
    high: Array
    every: Array
    products: int
    published: int
    besides: str


def published_shares(
    table: ScoreTable, parts: WeightedParts, weights: Array, share_of: str, rng: np.random.Generator
) -> Published:
    """The shares of the parts in the published score under other weights, scored again.

    Parameters
    ----------
    weights : array, shape (parts,), adding to 1; share_of : as in `sought_weights`

    Raises
    ------
    AddressError : a weight that the formula does not take
    """
    settings = _settings(parts, weights, share_of)
    form = set_all(table.form, dict(settings))
    scored = narrowed(score_catalogue(form, table.catalogue), table.selected)
    again = weighted_parts(scored.program, scored, parts.output.name)
    n_products = len(again.ids)
    value, low, high = (np.full(len(weights), np.nan) for _ in range(3))
    if n_products >= LEAST_PRODUCTS:
        value = _shares(linear_effects(again.values, again.score), share_of)[0]
    if n_products >= FEWEST:
        drawn = linear_effects(again.values, again.score, resampled(n_products, rng))
        low, high = percentile_ends(_shares(drawn, share_of))
    return Published(
        settings=settings,
        shares=again.shares,
        mean=shares_of(again.shares, covariance_of(parts.values), share_of),
        value=value,
        low=low,
        high=high,
        every=_over_all(again, share_of),
        products=n_products,
        published=len(again.all_score),
        besides=again.besides,
    )


def _settings(parts: WeightedParts, weights: Array, share_of: str) -> tuple[tuple[str, str], ...]:
    """Each weight's address and text, the stated sum kept, in the fewest decimals that keep the shares near."""
    stated = [part.weight for part in parts.output.parts]
    numbers = [weight for weight in stated if weight is not None]
    values = np.array([number.value for number in numbers])
    total, sigma = float(values.sum()), covariance_of(parts.values)
    exact = shares_of(weights, sigma, share_of)
    ahead = max(0, int(np.floor(np.log10(total))))
    texts: list[str] = []
    for decimals in range(max(0, DECIMALS - ahead), MOST_DECIMALS):
        texts = to_decimals(weights * total, values, decimals)
        printed = np.array([float(text) for text in texts])
        if np.nanmax(np.abs(shares_of(printed, sigma, share_of) - exact)) <= PRINTED_NEAR:
            break
    return tuple((number.address, text) for number, text in zip(numbers, texts, strict=True))


def _shares(effects: Array, share_of: str) -> Array:
    """Main effects as what the share is of, shape (resamples, parts)."""
    whole = np.nansum(effects, axis=-1, keepdims=True) if share_of == EFFECTS else np.ones(1)
    return np.asarray(effects / whole)


def _over_all(parts: WeightedParts, share_of: str) -> Array:
    """The shares of each part over all published products that have it, shape (parts,)."""
    effects = np.full(len(parts.names), np.nan)
    for index, column in enumerate(parts.all_values.T):
        there = ~np.isnan(column)
        if there.sum() >= LEAST_PRODUCTS:
            effects[index] = linear_effects(column[there, None], parts.all_score[there])[0, 0]
    found: Array = _shares(effects[None], share_of)[0]
    return found
