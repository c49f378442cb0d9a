"""The Technology Achievement Index: leaders, and weights tried by `--set`. Printed ranks are on the shelf.

OECD/JRC, Handbook on Constructing Composite Indicators: Methodology and User Guide, 2008, ISBN 978-92-64-04345-9:
readings table A.2 (p. 152), weights table 22 (p. 100), ranks tables 19, 23 and 38; read in full text. Goalposts:
Saisana, Saltelli and Tarantola, J. R. Statist. Soc. A 168 (2005) 307-323, table 1; read.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Score = Callable[..., dict[str, Any]]


@pytest.fixture(scope="module")
def countries(score: Score, published: Path) -> dict[str, dict[str, Any]]:
    """The 23 countries by name."""
    document = score(published / "technology-achievement.yaml", published / "data" / "technology-23-countries.csv")
    return {product["id"]: product for product in document["products"]}


@pytest.mark.parametrize(("country", "printed"), [("Finland", 0.744), ("United States", 0.733)])
def test_the_leaders_scores_are_near_the_printed_ones(country: str, printed: float, countries: dict[str, Any]) -> None:
    """74.4 and 73.3 per cent: read in Saisana, Saltelli and Tarantola (2005); table A.2 prints rounded logarithms."""
    assert countries[country]["scores"]["equal"]["value"] == pytest.approx(printed, abs=0.001)


def test_weights_set_on_the_command_line_give_the_other_column(
    score: Score, published: Path, countries: dict[str, Any]
) -> None:
    """The budget weights, tried on the score of equal weights, give the ranks of the budget score."""
    shares = (0.11, 0.11, 0.11, 0.18, 0.1, 0.06, 0.15, 0.18)
    names = list(countries["Finland"]["ratings"])
    settings = [f"scores.equal.weights.{name}={share}" for name, share in zip(names, shares, strict=True)]
    catalogue = published / "data" / "technology-23-countries.csv"
    document = score(published / "technology-achievement.yaml", catalogue, *settings)
    assert [p["scores"]["equal"]["rank"] for p in document["products"]] == [
        country["scores"]["budget"]["rank"] for country in countries.values()
    ]
