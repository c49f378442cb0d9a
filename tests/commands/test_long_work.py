"""What takes long says so before it begins, on standard error, and how to go on."""

from __future__ import annotations

import pytest
from from_readme import guide
from written_forms import form_of

from analysis.cli.long_work import COSTS, announce, in_words, share_of, share_of_draws

FORM = form_of(
    "formula: t\nscale: {from: 1, to: 10}\nmeasures: {x: {unit: mm}}\n"
    "ratings: {r: {measure: x, curve: {line: {worst: 9, best: 0}}}}\nscores: {s: {parts: [r]}, t: {parts: [r]}}\n"
)


@pytest.mark.parametrize(
    ("command", "n_products", "share", "says"),
    [
        ("compare", 1000, 1.0, "compare: 1000 products, about 10 minutes; it grows with the square of their number."),
        ("stability", 500, 16.0, "stability: 500 products, about 9 minutes; it grows with the square of their number."),
        ("weights", 1000, 1.0, "weights: 1000 products, about 30 seconds; it grows in proportion to their number."),
        ("compare", 20_000, 0.2, "compare: 20000 products, about 13 hours; it grows with the square of their number."),
        ("compare", 200, 1.0, ""),
        ("compare", 1000, 0.05, ""),
    ],
)  # fmt: skip
def test_long_work_is_announced(
    command: str, n_products: int, share: float, says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """By hand from what was measured with 500 products; half a minute is waited for without a word."""
    announce(command, n_products, share)
    printed = capsys.readouterr()
    assert printed.out == ""
    expected = f"{says} {COSTS[command].hint} Ctrl-C stops it, and nothing is written.\n" if says else ""
    assert printed.err == expected


def test_the_work_is_shared_by_the_scores_asked_for() -> None:
    """The costs are of five scores."""
    assert (share_of([], FORM), share_of(["s"], FORM), share_of(["s", "s"], FORM)) == (0.4, 0.2, 0.2)
    assert in_words(61) == "1 minute"


def test_of_stability_a_part_goes_by_the_draws() -> None:
    """12 of 33 s with 1 024 draws of four sources: 8 times as many take three and a half times as long."""
    assert share_of_draws(1024) == pytest.approx(1)
    assert share_of_draws(8192) == pytest.approx(3.52)


def test_the_guide_says_what_was_measured() -> None:
    """In its own words, from the same figures."""
    said = "(500 take about two and a half minutes and, at 1 024 draws, half a minute; 1 000 four times as much)"
    assert said in guide("stress")
    assert (COSTS["compare"].seconds, COSTS["stability"].seconds) == (145.0, 33.0)
