"""Short published formulas, worked by the command: restitution, repeatability limit, weighted rate, desirability."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Score = Callable[..., dict[str, Any]]
Sheet = Callable[..., Path]


def test_a_ball_from_twenty_metres_that_comes_back_to_fourteen(score: Score, published: Path, sheet: Sheet) -> None:
    """e = sqrt(14 / 20) = 0.8367, worked by hand; the formula: read at edshare.soton.ac.uk/id/document/6096."""
    catalogue = sheet([{"id": "ball", "drop_height [m]": 20, "rebound_height [m]": 14}])
    (ball,) = score(published / "restitution.yaml", catalogue)["products"]
    assert ball["scores"]["restitution"]["shown"] == 0.8367
    assert ball["ratings"]["height_share"]["value"] == pytest.approx(0.7, rel=1e-12)


def test_a_share_of_the_height_is_no_share_of_the_speed(score: Score, published: Path, sheet: Sheet) -> None:
    """Worked out here: the roots of 0.1, 0.2, 0.4, 0.5, 0.6; the order of products stays, their distances do not."""
    roots = {10: 0.3162, 20: 0.4472, 40: 0.6325, 50: 0.7071, 60: 0.7746}
    rows = [{"id": f"{share} %", "drop_height": 500, "rebound_height": 5 * share} for share in roots]
    products = score(published / "restitution.yaml", sheet(rows))["products"]
    assert [product["scores"]["restitution"]["shown"] for product in products] == list(roots.values())


def test_the_repeatability_limit_is_the_printed_factor_times_the_deviation(
    score: Score, published: Path, sheet: Sheet
) -> None:
    """r = 2.8 s, so 3.36 for 1.2.

    ISO 5725-6:1994, 4.1, from memory; 2.8 stands for 1.96 sqrt(2).
    """
    catalogue = sheet([{"id": "a", "repeatability_sd": 1.2}])
    (printed,) = score(published / "repeatability-limit.yaml", catalogue)["products"]
    (exact,) = score(published / "repeatability-limit.yaml", catalogue, "constants.factor=2.77181")["products"]
    assert printed["scores"]["limit"]["value"] == pytest.approx(3.36, rel=1e-12)
    assert exact["scores"]["limit"]["value"] == pytest.approx(3.326, abs=5e-4)


def rate(score: Score, published: Path, sheet: Sheet, *settings: str) -> dict[str, Any]:
    """The average of 2.1, 1.4 and 1.7 met by half, a quarter and a quarter of the time."""
    catalogue = sheet([{"id": "a", "first_activity": 2.1, "second_activity": 1.4, "third_activity": 1.7}])
    (product,) = score(published / "metabolic-rate.yaml", catalogue, *settings)["products"]
    average: dict[str, Any] = product["scores"]["average"]
    return average


def test_the_weighted_metabolic_rate_is_as_printed(score: Score, published: Path, sheet: Sheet) -> None:
    """1.825 met, printed as 1.8: BSR/ASHRAE Standard 55P, third public review draft, 24 February 2003, read."""
    average = rate(score, published, sheet)
    assert average["value"] == pytest.approx(1.825, abs=1e-12)
    assert average["shown"] == 1.8


@pytest.mark.parametrize(
    ("rule", "tenths", "hundredths"),
    [("half-up", 1.8, 1.83), ("half-even", 1.8, 1.82), ("down", 1.8, 1.82), ("up", 1.9, 1.83)],
)
def test_the_printed_rate_excludes_one_rule_only(
    rule: str, tenths: float, hundredths: float, score: Score, published: Path, sheet: Sheet
) -> None:
    """In tenths 1.825 is no tie: 1.8 speaks against `up` alone. In hundredths, worked by hand, it is an exact half."""
    setting = f"scale.show.rule={rule}"
    assert rate(score, published, sheet, setting)["shown"] == tenths
    assert rate(score, published, sheet, setting, "scale.show.step=0.01")["shown"] == hundredths


COMPOUND = {"abrasion": 145, "modulus": 1150, "elongation": 450, "hardness": 67.5}


def desirability(score: Score, published: Path, sheet: Sheet, **changed: float) -> dict[str, Any]:
    """A made-up compound with one response or more changed."""
    (product,) = score(published / "desirability.yaml", sheet([{"id": "a", **COMPOUND, **changed}]))["products"]
    found: dict[str, Any] = product
    return found


def test_overall_desirability_is_the_geometric_mean(score: Score, published: Path, sheet: Sheet) -> None:
    """Half, half, half and 1 give the fourth root of an eighth, 0.595.

    NIST/SEMATECH e-Handbook of Statistical Methods, 5.5.3.2.2, read at
    itl.nist.gov/div898/handbook/pri/section5/pri5522.htm (the words and the formula; the figures are worked by hand).
    """
    product = desirability(score, published, sheet)
    assert [rating["value"] for rating in product["ratings"].values()] == pytest.approx([0.5, 0.5, 0.5, 1])
    assert product["scores"]["desirability"]["value"] == pytest.approx(0.125**0.25, rel=1e-12)


@pytest.mark.parametrize(
    ("response", "value"), [("abrasion", 120), ("modulus", 990), ("elongation", 601), ("hardness", 60)]
)
def test_one_response_worth_nothing_sinks_all(
    response: str, value: float, score: Score, published: Path, sheet: Sheet
) -> None:
    """The zero rule: read on the same page. The limits: from memory, as the formula's head says."""
    product = desirability(score, published, sheet, **{response: value})
    assert product["scores"]["desirability"]["value"] == 0
    assert sorted(rating["value"] for rating in product["ratings"].values())[1] > 0


def test_the_exponent_says_how_much_it_matters_to_come_near(score: Score, published: Path, sheet: Sheet) -> None:
    """Half of the way is worth 0.25 at exponent 2 and 0.71 at 0.5. Source: the same page, read; worked by hand."""
    found = {}
    for exponent in (2, 0.5):
        settings = [f"ratings.wear.curve.power.exponent={exponent}"]
        catalogue = sheet([{"id": "a", **COMPOUND}])
        (product,) = score(published / "desirability.yaml", catalogue, *settings)["products"]
        found[exponent] = product["ratings"]["wear"]["value"]
    assert found == pytest.approx({2: 0.25, 0.5: 0.5**0.5})
