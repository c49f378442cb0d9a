"""The Human Development Index of 2022: its rules, worked by the command; every value and place is on the shelf.

Readings, values and places: United Nations Development Programme, Human Development Report 2023/24, data file "HDR23-24
Composite indices complete time series" (CC BY 3.0 IGO), read as stored in the repository Ethanchu-bot/week4 @ eda8b95.
Goalposts and means: read at hdr.undp.org/en/content/human-development-index-hdi; the cap at a goalpost: from memory.
"""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Score = Callable[..., dict[str, Any]]
Table = Callable[[str], list[dict[str, str]]]
Sheet = Callable[..., Path]

COLUMNS = ("life_expectancy", "expected_schooling", "mean_schooling", "national_income")


@pytest.fixture(scope="module")
def countries(score: Score, published: Path) -> dict[str, dict[str, Any]]:
    """The products of 2022 by their country code."""
    document = score(published / "hdi.yaml", published / "data" / "hdi-2022.csv")
    return {product["id"]: product for product in document["products"]}


def test_places_on_unrounded_values_would_differ(score: Score, published: Path, cases: Table) -> None:
    """The rule bites: before rounding no place is shared, and of each that is, all countries but one move down."""
    document = score(published / "hdi.yaml", published / "data" / "hdi-2022.csv", "ranks.on=unrounded")
    ranks = {product["id"]: product["scores"]["human_development"]["rank"] for product in document["products"]}
    published_ranks = {row["id"]: int(row["scores.human_development.rank"]) for row in cases("hdi-2022")}
    shared = len(published_ranks) - len(set(published_ranks.values()))
    assert sum(ranks[code] > rank for code, rank in published_ranks.items()) == shared == 27
    assert len(set(ranks.values())) == 193


def test_eighteen_countries_stand_at_a_goalpost(countries: dict[str, Any], published: Path, cases: Table) -> None:
    """Past 18 expected years, or 75 000 dollars: without the cap these would not come out as published."""
    readings = {row["id"]: row for row in _catalogue(published / "data" / "hdi-2022.csv")}
    capped = [
        code
        for code, row in readings.items()
        if float(row["expected_schooling [year]"]) > 18 or float(row["national_income [PPP$2017]"]) > 75_000
    ]
    assert len(capped) == 18
    rich = [code for code in capped if float(readings[code]["national_income [PPP$2017]"]) > 75_000]
    assert rich
    assert [countries[code]["ratings"]["income"]["value"] for code in rich] == [1.0] * len(rich)


def test_the_steps_of_the_technical_note_are_as_printed(score: Score, published: Path, sheet: Sheet) -> None:
    """An income of 3829 gives 0.5506, and indices of 0.6971, 0.3447 and 0.5506 give 0.510.

    UNDP, Technical notes, Human Development Report 2020, technical note 1, example; read in the copy at pdf4pro.com.
    The readings behind 0.6971 and 0.3447 are worked back here from the printed indices: 20 + 65 * 0.6971 years of
    life, and 0.3447 of 18 and of 15 years of schooling.
    """
    row = {"id": "example", "life_expectancy": 65.3115, "expected_schooling": 6.2046, "mean_schooling": 5.1705}
    (example,) = score(published / "hdi.yaml", sheet([row | {"national_income": 3829}]))["products"]
    found = {name: round(rating["value"], 4) for name, rating in example["ratings"].items()}
    assert found == {"health": 0.6971, "education": 0.3447, "income": 0.5506}
    assert example["scores"]["human_development"]["shown"] == 0.510


def test_the_groups_are_those_of_the_published_value(countries: dict[str, Any], cases: Table) -> None:
    """Very high from 0.8, high from 0.7, medium from 0.55, low below.

    Read at hdr.undp.org, "Previous Human Development Reports, countries were divided by quartiles of HDI distribution":
    cut-off points 0.55, 0.7 and 0.8 of 2014.
    """
    for row in cases("hdi-2022"):
        hdi = float(row["scores.human_development.shown"])
        group = "very high" if hdi >= 0.8 else "high" if hdi >= 0.7 else "medium" if hdi >= 0.55 else "low"
        assert countries[row["id"]]["scores"]["human_development"]["band"] == group


def _catalogue(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))
