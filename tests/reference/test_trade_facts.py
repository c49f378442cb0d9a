"""Figures of the trade as a check of units, directions and plausible ranges; each is common practice, no source.

The one standard named is EN 1957:2012 (1 very firm to 10 very soft), from memory.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Score = Callable[..., dict[str, Any]]
Refusal = Callable[..., str]
Sheet = Callable[..., Path]

FORMULA = Path(__file__).resolve().parent / "data" / "trade_facts.yaml"
MIDDLE = 5.5

#: Two beds in the trade's units: an average one, and one at the far end of what is usual.
IMPERIAL = [
    {
        "id": "average",
        "surface_peak [degF]": 91.7,
        "below_average [delta_degF]": 0,
        "ball_mass [lb]": 12,
        "ball_sink [in]": 2.2,
        "ball_travel [in]": 8.2,
        "seated_edge [in]": 3.5,
        "recovery [s]": 2,
        "firmness": 6,
        "softness_en_1957": 5,
    },
    {
        "id": "unusual",
        "surface_peak [degF]": 90.7,
        "below_average [delta_degF]": 1,
        "ball_mass [lb]": 12,
        "ball_sink [in]": 3.1,
        "ball_travel [in]": 10,
        "seated_edge [in]": 5.1,
        "recovery [s]": 0.3,
        "firmness": 9,
        "softness_en_1957": 2,
    },
]
#: Header in the trade's units -> header in metric units, and how a reading goes over (exact definitions).
METRIC: dict[str, tuple[str, Callable[[float], float]]] = {
    "surface_peak [degF]": ("surface_peak [degC]", lambda f: (f - 32) * 5 / 9),
    "below_average [delta_degF]": ("below_average [delta_degC]", lambda f: f * 5 / 9),
    "ball_mass [lb]": ("ball_mass [kg]", lambda lb: lb * 0.45359237),
    "ball_sink [in]": ("ball_sink [cm]", lambda inches: inches * 2.54),
    "ball_travel [in]": ("ball_travel [mm]", lambda inches: inches * 25.4),
    "seated_edge [in]": ("seated_edge [mm]", lambda inches: inches * 25.4),
    "recovery [s]": ("recovery [ms]", lambda s: s * 1000),
}


def in_metric(row: dict[str, Any]) -> dict[str, Any]:
    """The same bed in metric units."""
    kept = {name: value for name, value in row.items() if name not in METRIC}
    return kept | {name: turn(row[header]) for header, (name, turn) in METRIC.items()}


def ratings(document: dict[str, Any]) -> list[dict[str, float]]:
    """The ratings of every product, not rounded."""
    return [{name: r["value"] for name, r in product["ratings"].items()} for product in document["products"]]


@pytest.fixture
def beds(score: Score, sheet: Sheet) -> list[dict[str, float]]:
    """The ratings of the two beds."""
    return ratings(score(FORMULA, sheet(IMPERIAL)))


def test_a_metric_catalogue_gives_the_ratings_of_the_imperial_one(score: Score, sheet: Sheet) -> None:
    """Every rating and score to 1e-9: degC, delta_degC, kg, cm, mm and ms against degF, delta_degF, lb, in and s."""
    imperial = score(FORMULA, sheet(IMPERIAL))
    metric = score(FORMULA, sheet([in_metric(row) for row in IMPERIAL]))
    for one, other in zip(ratings(imperial), ratings(metric), strict=True):
        assert other == pytest.approx(one, rel=0, abs=1e-9)
    totals = [[p["scores"]["all_round"]["value"] for p in document["products"]] for document in (imperial, metric)]
    assert totals[1] == pytest.approx(totals[0], rel=0, abs=1e-9)
    assert None not in totals[0]


def test_a_temperature_and_a_difference_of_two_go_into_celsius_by_different_ways(
    beds: list[dict[str, float]], score: Score, sheet: Sheet
) -> None:
    """91.7 degF is 33.17 degC, less 32 and by 5/9; 1 delta_degF is 0.56 delta_degC, by 5/9 alone."""
    assert [bed["cool"] for bed in beds] == pytest.approx([bed["cooler"] for bed in beds], abs=1e-9)
    rows = [{"id": "a", "surface_peak [degC]": "33.166666666667", "below_average [delta_degC]": "0.555555555556"}]
    (found,) = ratings(score(FORMULA, sheet(rows)))
    assert (found["cool"], found["cooler"]) == pytest.approx((MIDDLE, 8.5), abs=1e-9)


@pytest.mark.parametrize(
    ("header", "value"),
    [("surface_peak [delta_degC]", 33.2), ("below_average [degC]", 0.5)],
    ids=["as one", "as the other"],
)
def test_a_temperature_is_not_taken_for_a_difference(header: str, value: float, refusal: Refusal, sheet: Sheet) -> None:
    """Either in place of the other is refused, with the two named."""
    message = refusal(FORMULA, sheet([{"id": "a", header: value}]))
    assert "is a temperature and" in message
    assert "a difference of two" in message


def test_average_beds_rate_in_the_middle(beds: list[dict[str, float]]) -> None:
    """91.7 degF, a sink of 2.2 in, a travel a little over 8 in. Common practice, no source."""
    average = beds[0]
    assert (average["cool"], average["sink"]) == pytest.approx((MIDDLE, MIDDLE), abs=1e-9)
    assert average["bounce"] == pytest.approx(MIDDLE, abs=0.5)


def test_directions_come_out_right(beds: list[dict[str, float]]) -> None:
    """90.7 degF is cool, 10 in is lively, past 5 in at the edge is deep, 0.3 s is fast. Common practice, no source."""
    average, unusual = beds
    assert unusual["cool"] >= average["cool"] + 3
    assert unusual["bounce"] >= average["bounce"] + 2.5
    assert unusual["edge"] < 2 < average["edge"]
    assert unusual["quick"] > 9 > average["quick"]


def test_five_to_seven_suits_most_sleepers(score: Score, sheet: Sheet) -> None:
    """10 points from 5 to 7, fewer on either side, 1 at both ends. Common practice, no source."""
    rows = [{"id": f"{firmness}", "firmness": firmness} for firmness in (1, 4, 5, 6, 7, 8, 10)]
    suits = [found["suits"] for found in ratings(score(FORMULA, sheet(rows)))]
    assert suits == pytest.approx([1, 7.75, 10, 10, 10, 7, 1])


def test_the_standard_counts_the_other_way(score: Score, sheet: Sheet) -> None:
    """The firmest bed is 10 by common practice and 1 by EN 1957, and rates 10 as firm either way."""
    rows = [
        {"id": "firmest", "firmness": 10, "softness_en_1957": 1},
        {"id": "softest", "firmness": 1, "softness_en_1957": 10},
    ]
    found = [(bed["firm"], bed["firm_en_1957"]) for bed in ratings(score(FORMULA, sheet(rows)))]
    assert found == [(10, 10), (1, 1)]


@pytest.mark.parametrize(
    ("header", "value", "slip"),
    [
        ("surface_peak [degF]", 33.2, "degrees Celsius in a column of Fahrenheit"),
        ("surface_peak", 33.2, "degrees Celsius where the column says nothing"),
        ("surface_peak [degC]", 91.7, "degrees Fahrenheit in a column of Celsius"),
        ("ball_mass [kg]", 12, "pounds in a column of kilograms"),
        ("ball_sink [in]", 5.6, "centimetres in a column of inches"),
        ("ball_travel [in]", 203, "millimetres in a column of inches"),
        ("seated_edge [mm]", 5, "inches in a column of millimetres"),
        ("recovery [s]", 300, "milliseconds in a column of seconds"),
        ("recovery [ms]", 0.3, "seconds in a column of milliseconds"),
        ("firmness", 62, "a share in a column of a scale of ten"),
    ],
)
def test_a_reading_in_the_wrong_unit_is_refused(
    header: str, value: float, slip: str, refusal: Refusal, sheet: Sheet
) -> None:
    """Each slip lands outside the plausible range, and the message says where, what stands there and what may."""
    message = refusal(FORMULA, sheet([{"id": "a", header: value}]))
    assert "the plausible range" in message, slip
    assert f"`{value}`" in message
    assert f"row 2, column {header}:" in message


def test_a_ball_of_another_mass_withholds_the_score(score: Score, sheet: Sheet) -> None:
    """12 lb is 5.443 kg; a ball of 5 kg is a plausible ball and the wrong one."""
    rows = [
        in_metric(row) | {"id": f"{mass} kg", "ball_mass [kg]": mass} for row in IMPERIAL[:1] for mass in (5.443, 5.0)
    ]
    right, wrong = (product["scores"]["all_round"] for product in score(FORMULA, sheet(rows))["products"])
    assert (right["status"], wrong["status"]) == ("rated", "withheld")
    assert wrong["remarks"] == ["dropped with another ball"]


def test_plausible_ranges_accept_every_stated_figure(score: Score, sheet: Sheet) -> None:
    """The two beds hold every figure that common practice states, and nothing of them is refused or withheld."""
    products = score(FORMULA, sheet(IMPERIAL))["products"]
    assert [p["scores"]["all_round"]["status"] for p in products] == ["rated", "rated"]
    assert all(r["status"] == "rated" for p in products for r in p["ratings"].values())
