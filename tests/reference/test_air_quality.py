"""The US Air Quality Index under three editions of its tables: the rules, worked by the command; cases are on the shelf.

Equation, cutting of readings, half-up: read at forum.airnowtech.org/t/453 (valid from 6 May 2024). Tables: see the
head of each formula. Cases: each carries what was read and what is from memory in the column `source` of
the files of cases.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Score = Callable[..., dict[str, Any]]
Refusal = Callable[..., str]
Table = Callable[[str], list[dict[str, str]]]
Sheet = Callable[..., Path]

EDITIONS = ("1999", "2012", "2024")


@pytest.fixture(scope="module")
def stations(score: Score, published: Path) -> dict[str, dict[str, Any]]:
    """Edition -> the products of its catalogue by id."""
    found = {}
    for edition in EDITIONS:
        document = score(published / f"air-quality-{edition}.yaml", published / "data" / f"air-quality-{edition}.csv")
        found[edition] = {product["id"]: product for product in document["products"]}
    return found


@pytest.mark.parametrize("edition", ["1999", "2024"])
def test_the_main_pollutant_is_the_one_with_the_greatest_index(
    edition: str, stations: dict[str, Any], cases: Table
) -> None:
    """Three pollutants at once; the others are 102 and 90 (2024), 82 and 90 (1999).

    The main pollutants: read, as the cases. The lesser indices of 1999: worked out here from the tables.
    """
    (case,) = [case for case in cases(f"air-quality-{edition}") if case["main_pollutant"]]
    station = stations[edition][case["id"]]
    indices = {name: rating["value"] for name, rating in station["ratings"].items()}
    assert max(indices, key=lambda name: indices[name]) == case["main_pollutant"]
    assert sorted(indices.values()) == {"2024": [90, 102, 126], "1999": [82, 90, 128]}[edition]
    assert station["scores"]["air_quality"]["status"] == "rated"


def test_an_exact_half_goes_up(score: Score, published: Path, sheet: Sheet) -> None:
    """Ozone at 0.078 ppm is 125.5 before rounding, and at 0.080 ppm 132.5: printed as 126 and 133, not 132.

    Read in the tests of an open-source R package on air-quality standards, which cite the EPA document.
    """
    catalogue = sheet([{"id": "a", "ozone_8h": 0.078}, {"id": "b", "ozone_8h": 0.080}])
    shown = [p["ratings"]["ozone"]["value"] for p in score(published / "air-quality-2024.yaml", catalogue)["products"]]
    assert shown == [126, 133]
    even = score(published / "air-quality-2024.yaml", catalogue, "ratings.ozone.round.rule=half-even")["products"]
    assert [p["ratings"]["ozone"]["value"] for p in even] == [126, 132]


def test_a_reading_in_a_gap_is_cut_down_to_the_row_below(score: Score, published: Path, sheet: Sheet) -> None:
    """9.05 counts as 9.0, index 50 (read, as the cases); 0.0549 ppm counts as 0.054, 50 too. Nothing scores 50.5."""
    rows = [
        {"id": "a", "fine_particles_24h": 9.05, "ozone_8h": 0.0549},
        {"id": "b", "fine_particles_24h": 9.1, "ozone_8h": 0.055},
    ]
    products = score(published / "air-quality-2024.yaml", sheet(rows))["products"]
    assert [(p["ratings"]["fine_particles"]["value"], p["ratings"]["ozone"]["value"]) for p in products] == [
        (50, 50),
        (51, 51),
    ]


def test_fine_particles_beyond_the_table_carry_on_along_its_last_row(stations: dict[str, Any]) -> None:
    """600 and 700 ug/m3 give 556 and 613.

    Read in the tests of an open-source R package on air-quality standards, which cite the EPA document.
    """
    scores = {name: stations["2024"][f"fine-particles-{name}"]["scores"]["air_quality"] for name in ("600", "700")}
    assert {name: score["shown"] for name, score in scores.items()} == {"600": 556, "700": 613}
    assert {score["band"] for score in scores.values()} == {"hazardous"}


@pytest.mark.parametrize(("edition", "last"), [("2024", "0.2"), ("2012", "0.2"), ("1999", "0.374")])
def test_ozone_beyond_the_table_is_refused(
    edition: str, last: str, score: Score, refusal: Refusal, published: Path, sheet: Sheet
) -> None:
    """Over 8 hours no row goes further, so there is no index to give; the message says what stands there and what may.

    40 CFR part 58, appendix G, table 2, note: "8-hour O3 values do not define higher AQI values"; read in 74 FR 30469.
    """
    formula = published / f"air-quality-{edition}.yaml"
    products = score(formula, sheet([{"id": "at the end", "ozone_8h": last}]))["products"]
    assert products[0]["scores"]["air_quality"]["shown"] == 300
    message = refusal(formula, sheet([{"id": "beyond", "ozone_8h": float(last) + 0.001}]))
    assert "row 2, column ozone_8h" in message
    assert "ratings.ozone.curve (which says `outside: error`)" in message


@pytest.mark.parametrize(
    ("fine_particles", "band"),
    [
        ("9.0", "good"),
        ("9.1", "moderate"),
        ("35.4", "moderate"),
        ("35.5", "unhealthy for sensitive groups"),
        ("55.5", "unhealthy"),
        ("125.5", "very unhealthy"),
        ("225.5", "hazardous"),
        ("500.4", "hazardous"),
    ],
)
def test_bands_begin_at_the_lower_edges(
    fine_particles: str, band: str, score: Score, published: Path, sheet: Sheet
) -> None:
    """Names and edges of the bands: read in 74 FR 30469; the edges in ug/m3 are those of the table of 2024."""
    catalogue = sheet([{"id": "a", "fine_particles_24h": fine_particles}])
    (station,) = score(published / "air-quality-2024.yaml", catalogue)["products"]
    assert station["scores"]["air_quality"]["band"] == band


def test_the_cleanest_air_comes_first(stations: dict[str, Any]) -> None:
    """`best: lowest`: place 1 has the lowest index, and equal indices share a place."""
    figures = [s["scores"]["air_quality"] for s in stations["2024"].values()]
    for figure in figures:
        assert figure["rank"] == 1 + sum(other["shown"] < figure["shown"] for other in figures)


def test_an_edition_changes_the_index_of_the_same_air(score: Score, published: Path, sheet: Sheet) -> None:
    """12 ug/m3 of fine particles is good in 2012 and moderate in 2024; the air is the same."""
    catalogue = sheet([{"id": "a", "fine_particles_24h": 12.0}])
    found = [
        score(published / f"air-quality-{edition}.yaml", catalogue)["products"][0]["scores"]["air_quality"]
        for edition in ("2012", "2024")
    ]
    assert [(f["shown"], f["band"]) for f in found] == [(50, "good"), (56, "moderate")]
