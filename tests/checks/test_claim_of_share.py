"""A score scaled to its own catalogue stays on its scale, for the product is one of that catalogue."""

from __future__ import annotations

from collections.abc import Callable
from itertools import product

import pytest

from scoring.checks import Finding
from scoring.checks.findings import PROVED

RATING = "ratings: {a: {measure: sag, curve: {line: {worst: 50, best: 0}}}, b: {measure: lift, curve: {line: {worst: 0, best: 50}}}}"


def scaled(value: str, top: str = "10") -> str:
    """Two ratings on a scale from 0 to 10, and a score that is an expression of them."""
    return f'{RATING}\nscores: {{s: {{value: "{value}", scale: {{from: 0, to: {top}}}}}}}'


@pytest.mark.parametrize(
    ("value", "premise"),
    [
        ("10 * a / maximum(a)", "some product lies above 0 in a"),
        ("10 * (a / maximum(a))", "some product lies above 0 in a"),
        ("a / maximum(a) * 10", "some product lies above 0 in a"),
        ("10 - 10 * a / maximum(a)", "some product lies above 0 in a"),
        ("a * b / maximum(a)", "some product lies above 0 in a"),
        ("10 * (a - minimum(a)) / (maximum(a) - minimum(a))", "products differ in a"),
        ("10 * a / maximum(a) + 0 * minimum(a)", "products differ in a"),
        ("10 * minimum(width) / width", ""),
        ("10 * width / maximum(width)", ""),
    ],
)
def test_a_share_of_the_catalogue_is_proved(finding_of: Callable[..., Finding], value: str, premise: str) -> None:
    """With what is taken for granted in the claim."""
    finding = finding_of(scaled(value), "s", "scale")
    assert finding.verdict == PROVED, finding.detail
    assert finding.claim.partition(", as long as ")[2] == premise


@pytest.mark.parametrize(
    ("value", "top"),
    [
        ("10 * a / maximum(b)", "10"),
        ("10.01 * a / maximum(a)", "10"),
        ("10 * maximum(a) / (a + 1)", "10"),
        ("10 * a / minimum(width)", "10"),
        ("10 * (a - minimum(b)) / (maximum(a) - minimum(a))", "10"),
        ("10 * a / (0.9 * maximum(a))", "10"),
        ("10 * (1 + width) / (1 + maximum(width)) - 0.5 * width", "9.4"),
        ("10 * width / maximum(width) - 0.5 * width", "9.4"),
    ],
)
def test_what_is_no_share_is_not_proved(finding_of: Callable[..., Finding], value: str, top: str) -> None:
    """Another population, more than the whole, or a top that a product among its own population is above."""
    assert finding_of(scaled(value, top), "s", "scale").verdict != PROVED


def test_the_last_is_above_its_top_for_a_product_that_is_itself_the_greatest() -> None:
    """By hand: 10 * 0.5 / 0.5 - 0.25 = 9.75, where the slopes of a reading that moves alone would say 10 - 5."""
    most = max(10 * x / max(x, y) - 0.5 * x for x, y in product([0.5, 1, 5, 10], repeat=2))
    assert most == 9.75
