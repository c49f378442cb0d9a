"""Eleven normalisations of one indicator: what a newcomer does to them. What is printed is on the shelf.

OECD/JRC, Handbook on Constructing Composite Indicators: Methodology and User Guide, 2008, ISBN 978-92-64-04345-9,
table 15 (p. 87): mean years of schooling in 23 countries; readings and results read in full text.

The form says all eleven. Nine are ratings as they stand: z-scores, min-max, ratios to the leader, to the last and to
the mean, relative differences from the mean and the last, above or below the mean, percentile rank. The categorical
scale is a table of steps on the percentile, a rating of a rating. The rank is no rating: it is the column of ranks of
the reading itself, with `best: lowest`, for the handbook counts upwards. What the form cannot say is a rank as a
number to reckon on with, which a percentile rank does instead.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Score = Callable[..., dict[str, Any]]
Sheet = Callable[..., Path]

RATINGS = (
    "z_score",
    "min_max",
    "ratio_to_mean",
    "ratio_to_best",
    "ratio_to_worst",
    "relative_difference_from_mean",
    "relative_difference_from_worst",
    "above_below_mean",
    "percentile",
    "categorical",
)


@pytest.fixture(scope="module")
def countries(score: Score, published: Path) -> dict[str, dict[str, Any]]:
    """The 23 countries by name."""
    document = score(published / "normalisations.yaml", published / "data" / "schooling-23-countries.csv")
    return {product["id"]: product for product in document["products"]}


def test_a_newcomer_moves_what_leans_on_the_catalogue(
    countries: dict[str, Any], score: Score, published: Path, sheet: Sheet
) -> None:
    """A made-up country with 4.0 years becomes the last: what leans on minimum, mean, deviation or ranks changes."""
    rows: list[dict[str, object]] = [
        {"id": name, "schooling": country["scores"]["rank"]["value"]} for name, country in countries.items()
    ]
    catalogue = sheet([*rows, {"id": "made up", "schooling": 4.0}])
    document = score(published / "normalisations.yaml", catalogue)
    finland = next(product for product in document["products"] if product["id"] == "Finland")
    before = {name: rating["value"] for name, rating in countries["Finland"]["ratings"].items()}
    after = {name: rating["value"] for name, rating in finland["ratings"].items()}
    stays = {"ratio_to_best", "above_below_mean", "categorical"}
    assert {name for name in RATINGS if after[name] == before[name]} == stays
    assert after["min_max"] == pytest.approx((10 - 4) / (12 - 4))
