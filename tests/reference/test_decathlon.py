"""Men's decathlon points: whole results, single marks and two competitions, worked by the command.

Formula and coefficients: Scoring Tables for Combined Events, edition 2001, formula page; coefficients read in public
source files that cite the tables, javelin and 1500 m at 2mw.co.uk/athletics.html; the page number is from memory.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Score = Callable[..., dict[str, Any]]
Table = Callable[[str], list[dict[str, str]]]
Sheet = Callable[..., Path]

EVENTS = (
    "100m",
    "long_jump",
    "shot_put",
    "high_jump",
    "400m",
    "110m_hurdles",
    "discus",
    "pole_vault",
    "javelin",
    "1500m",
)
COMPETITIONS = ("decastar", "athens")
ROUNDED = "the 1500 m time stands there with one decimal; the hundredths that are gone move the total by a point"
#: Published and computed totals that differ, and why. No other total may differ.
KNOWN_DIFFERENCES = {
    ("decastar", "SEBRLE"): (8217, 8216, ROUNDED),
    ("decastar", "BERNARD"): (8067, 8068, ROUNDED),
    ("decastar", "WARNERS"): (8030, 8029, ROUNDED),
    ("decastar", "BARRAS"): (7708, 7709, ROUNDED),
    ("decastar", "MARTINEAU"): (7802, 7806, "some mark was rounded or mistyped before it was published as data"),
    ("decastar", "HERNU"): (7733, 7737, "some mark was rounded or mistyped before it was published as data"),
    ("athens", "Clay"): (8820, 8818, "1500 m stands as 282.00 s; 4:41.65 gives the official total (from memory)"),
}


@pytest.fixture(scope="module")
def results(score: Score, published: Path) -> Callable[[str], dict[str, dict[str, Any]]]:
    """The products of one of the decathlon catalogues, by id."""

    def run(name: str) -> dict[str, dict[str, Any]]:
        document = score(published / "decathlon.yaml", published / "data" / f"decathlon-{name}.csv")
        return {product["id"]: product for product in document["products"]}

    return run


def points_of(product: dict[str, Any]) -> dict[str, float | None]:
    """Event to points."""
    return {event: product["ratings"][f"points_{event}"]["value"] for event in EVENTS}


def test_three_whole_results_are_as_published(results: Any, table: Table) -> None:
    """9045, 9026 and 9126, event by event.

    Eaton (Beijing 2015) and Sebrle (Goetzis 2001): read at rethinkingathletics.blogspot.com/2015/09; it prints 43.43 m
    for Eaton's discus beside 733 points, which 43.34 m gives (from memory). Mayer (Talence 2018): read at
    flotrack.org/articles/6249460, which prints 710 for the 1500 m against its own sums; european-athletics.com gives
    both day scores, read, which force 705.
    """
    expected = table("decathlon_full_results.csv")
    found = results("full-results")
    assert [row["id"] for row in expected] == list(found)
    for row in expected:
        assert points_of(found[row["id"]]) == {event: int(row[event]) for event in EVENTS}
        assert found[row["id"]]["scores"]["total"]["shown"] == int(row["total"])


def test_sixteen_single_marks_are_as_published(results: Any, table: Table) -> None:
    """Personal bests and their points: read at rethinkingathletics.blogspot.com/2015/09."""
    expected = table("decathlon_single_marks.csv")
    found = results("single-marks")
    assert len(expected) == 16
    assert {row["id"]: int(row["points"]) for row in expected} == {
        row["id"]: points_of(found[row["id"]])[row["event"]] for row in expected
    }


def test_a_single_mark_gives_its_event_and_nothing_else(results: Any, table: Table) -> None:
    """Nine missing events leave nine ratings and the total without a figure; they are not 0."""
    found = results("single-marks")
    for row in table("decathlon_single_marks.csv"):
        product = found[row["id"]]
        assert [event for event, value in points_of(product).items() if value is not None] == [row["event"]]
        total = product["scores"]["total"]
        assert (total["value"], total["rank"], total["status"]) == (None, None, "unrated")


def test_thirty_four_of_forty_one_totals_of_2004_are_exact(results: Any, table: Table) -> None:
    """Decastar and the Olympic Games of 2004; the seven that differ are those named above, by those figures.

    Read in the data set `decathlon` of the package prince 0.23.0, the same cell by cell as in FactoMineR 2.7.
    """
    rows = table("decathlon_2004.csv")
    found = {name: results(f"{name}-2004") for name in COMPETITIONS}
    assert len(rows) == 41
    differences = {}
    for row in rows:
        total = found[row["competition"]][row["athlete"]]["scores"]["total"]["shown"]
        if total != int(row["points"]):
            differences[row["competition"], row["athlete"]] = (int(row["points"]), total)
    assert differences == {key: figures[:2] for key, figures in KNOWN_DIFFERENCES.items()}


@pytest.mark.parametrize("competition", COMPETITIONS)
def test_every_place_of_2004_is_as_published(competition: str, results: Any, table: Table) -> None:
    """All 41 places, within each competition; the points that differ change none. Source as above."""
    found = results(f"{competition}-2004")
    expected = {
        row["athlete"]: int(row["rank"]) for row in table("decathlon_2004.csv") if row["competition"] == competition
    }
    assert {name: product["scores"]["total"]["rank"] for name, product in found.items()} == expected


def test_marks_in_metres_and_in_centimetres_earn_the_same(score: Score, published: Path, sheet: Sheet) -> None:
    """Jumps are wanted in centimetres; metres are converted, also where the binary metre is not exact."""
    jumps = [("8.23", "2.11", "5.40"), ("7.89", "2.01", "5.20"), ("6.61", "1.85", "4.20"), ("7.07", "2.27", "4.70")]
    names = ("long_jump", "high_jump", "pole_vault")
    documents = []
    for unit, divisor in (("m", "."), ("cm", "")):
        rows = [
            {"id": f"{i}"} | {f"{n} [{unit}]": mark.replace(".", divisor) for n, mark in zip(names, marks, strict=True)}
            for i, marks in enumerate(jumps)
        ]
        documents.append(score(published / "decathlon.yaml", sheet(rows)))
    found = [[points_of(p) for p in document["products"]] for document in documents]
    assert found[0] == found[1]
    assert found[0][0]["long_jump"] == 1120  # as published for 8.23 m, see above


def test_points_are_cut_event_by_event_before_they_are_added(results: Any, score: Score, published: Path) -> None:
    """Cut only at the end, Eaton's 9045 would be more: the rule bites."""
    catalogue = published / "data" / "decathlon-full-results.csv"
    uncut = [f"ratings.points_{event}.round.step=0.000001" for event in EVENTS]
    document = score(published / "decathlon.yaml", catalogue, *uncut)
    total = document["products"][0]["scores"]["total"]["value"]
    assert 9046 < total < 9055


def test_a_mark_that_is_no_better_than_the_base_earns_nothing(score: Score, published: Path, sheet: Sheet) -> None:
    """At or past 18 s in the 100 m, and up to 1.5 m with the shot: 0, not an error and not a missing figure."""
    rows = [{"id": f"{t}", "run_100m": t, "shot_put": d} for t, d in ((18, 1.5), (18.5, 1.2), (17.99, 1.51))]
    products = score(published / "decathlon.yaml", sheet(rows))["products"]
    assert [points_of(p)["100m"] for p in products] == [0, 0, 0]
    assert [points_of(p)["shot_put"] for p in products] == [0, 0, 0]
    assert [p["ratings"]["points_100m"]["status"] for p in products] == ["rated"] * 3
