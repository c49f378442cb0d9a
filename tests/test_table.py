"""Score tables: shown figures, bands, ranks, statuses, and values that are no number or off their scale."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from written_forms import HEAD, NAN, curve_form, form_of, score, statuses_of

from scoring.catalogue import read_catalogue
from scoring.errors import ScoringError
from scoring.table.table import score_catalogue

BANDS = "bands: {weak: 1, strong: 7, sound: 5.5}\n"
PLAIN = HEAD + "ratings:\n  a: {value: x}\n"


def test_a_figure_is_shown_in_the_steps_of_its_scale() -> None:
    """Half-up to 0.1: 8.25 is 8.3, though 8.25 to even would be 8.2; whole tenths keep their decimal."""
    column = score(PLAIN, {"x": [8.25, 8.2499, 8.0, NAN]}).column("a")
    assert [column.shown_text(product) for product in range(4)] == ["8.3", "8.2", "8.0", ""]
    assert column.value.tolist()[:3] == [8.25, 8.2499, 8.0]


@pytest.mark.parametrize(
    ("show", "expected"),
    [("{step: 0.5, rule: half-up}", "8.5"), ("{step: 1, rule: half-even}", "8"), ("{step: 0.01}", "8.25"), ("{step: 0.1, rule: down}", "8.2")],
)  # fmt: skip
def test_the_step_and_the_rule_are_the_forms(show: str, expected: str) -> None:
    """8.25 by four ways of showing it."""
    text = PLAIN.replace("to: 10}", f"to: 10, show: {show}}}")
    assert score(text, {"x": [8.25]}).column("a").shown_text(0) == expected


def test_bands_stand_on_what_is_shown_so_that_a_reader_can_check_them() -> None:
    """6.95 is shown as 7.0 and is strong; on unrounded values it is sound. Edges belong to the band above."""
    readings = {"x": [6.95, 6.94, 5.5, 1.0, NAN]}
    for on, expected in (
        ("shown", ["strong", "sound", "sound", "weak", ""]),
        ("unrounded", ["sound", "sound", "sound", "weak", ""]),
    ):
        table = score(f"{PLAIN}{BANDS}bands_on: {on}\n", readings)
        assert [table.band_name(table.column("a"), product) for product in range(5)] == expected


def test_below_the_lowest_band_and_without_bands_there_is_none() -> None:
    """-1 in the table, "" in words."""
    for bands in ("bands: {strong: 7}\n", ""):
        table = score(PLAIN + bands, {"x": [5.0]})
        assert (table.column("a").band.tolist(), table.band_name(table.column("a"), 0)) == ([-1], "")


def test_a_value_that_misses_a_band_by_binary_dust_is_in_it() -> None:
    """8.7 - 1.7 is 7 in decimal and 6.999999999999999 in binary; on unrounded values the dust decides nothing."""
    text = HEAD + "ratings:\n  a: {value: x - 1.7}\n" + BANDS + "bands_on: unrounded\n"
    table = score(text, {"x": [8.7]})
    assert table.column("a").value[0] < 7
    assert table.band_name(table.column("a"), 0) == "strong"


@pytest.mark.parametrize(
    ("ranks", "expected"),
    [
        ("{on: unrounded}", [2, 1, 4, NAN, 3]),
        ("{on: shown}", [1, 1, 3, NAN, 3]),
        ("{on: shown, ties: shared-mean}", [1.5, 1.5, 3.5, NAN, 3.5]),
        ("{on: shown, ties: dense}", [1, 1, 2, NAN, 2]),
        ("{on: unrounded, best: lowest}", [3, 4, 1, NAN, 2]),
    ],
)
def test_ranks_stand_on_what_the_form_says(ranks: str, expected: list[float]) -> None:
    """8.26 and 8.31 are both shown as 8.3, 4.01 and 4.04 as 4.0."""
    table = score(f"{PLAIN}ranks: {ranks}\n", {"x": [8.26, 8.31, 4.01, NAN, 4.04]})
    np.testing.assert_array_equal(table.column("a").rank, expected)


def test_statuses_are_words() -> None:
    """Rated, partial, unrated."""
    text = PLAIN + "  b: {value: y}\nscores:\n  s: {weights: {a: 2, b: 1}, missing: {absent_above: 0.5}}\n"
    table = score(text, {"x": [5.0, 5.0, NAN], "y": [5.0, NAN, 5.0]})
    assert statuses_of(table, "s") == ["rated", "partial", "unrated"]


@pytest.mark.parametrize(
    ("value", "found"),
    [("x - 8", "is -3; expected a number from 1 to 10"), ("x * 3", "is 15; expected"), ("exp(x * 200)", "is infinite"),
     ("x + 5.000001", "is 10; expected a number from 1 to 10")],
)  # fmt: skip
def test_a_value_off_its_scale_stops_the_table(value: str, found: str) -> None:
    """Nothing of the table is published; the output, the product and what to look at are named."""
    with pytest.raises(ScoringError, match=f"form.yaml:8:6: a of p1 {found}.*Look at x; hold the value with clamp"):
        score(f"{HEAD}ratings:\n  a: {{value: {value}}}\n", {"x": [5.0]})


@pytest.mark.parametrize(
    ("value", "why"),
    [("1 / (x - 5)", "1 is divided by 0"), ("log(x - 6)", "the logarithm of -1"), ("log(x - 5)", "the logarithm of 0")],
)
def test_a_value_that_is_undefined_stops_the_table_and_says_why(value: str, why: str) -> None:
    """Where it was lost is an address, and what may be done is said."""
    said = f"a of p1 has no value: {why} at ratings.a.value; expected .* Look at x; say what holds there"
    with pytest.raises(ScoringError, match=said):
        score(f"{HEAD}ratings:\n  a: {{value: {value}}}\n", {"x": [5.0]})


DIFFER = "Freeze a `reference` of products that differ in x, or take another curve."
ABOVE_0 = "A ratio needs x above 0: leave the product out, or take another curve."


@pytest.mark.parametrize(
    ("curve", "readings", "advice"),
    [
        ("minmax: {better: lower}, reference: live", [3.0, 3.0], DIFFER),
        ("z: {better: lower, centre: 5, per_sd: 1}, reference: live", [3.0, 3.0], DIFFER),
        ("z: {better: lower, centre: 5, per_sd: 1}, reference: live", [3.0], DIFFER),
        ("ratio: {better: lower}, reference: live", [0.0, 3.0], ABOVE_0),
        ("ratio: {better: lower}, reference: {values: [0, 3]}", [0.0, 3.0], ABOVE_0),
        ("ratio: {better: higher}, reference: live", [0.0, 0.0], ABOVE_0),
    ],
)
def test_where_a_curve_has_no_value_no_expression_is_advised(curve: str, readings: list[float], advice: str) -> None:
    """Nothing can be written into a curve: another population, or no such product."""
    with pytest.raises(ScoringError) as caught:
        score(curve_form(curve), {"x": readings})
    assert {problem.hint for problem in caught.value.problems} == {advice}


def test_the_advice_on_a_curve_stands_for_the_limit_and_the_score_on_it_too() -> None:
    """A mix, a limit that leans on a rating, and the score that takes the rating."""
    mixed = (
        "mix: [{measure: x, weight: 1, curve: {minmax: {}, reference: live}}, "
        "{measure: y, weight: 1, curve: {line: {worst: 0, best: 9}}}]"
    )
    text = f"{HEAD}ratings:\n  a: {{{mixed}}}\nscores:\n  s: {{blend: weighted mean, parts: [a]}}\n"
    with pytest.raises(ScoringError) as caught:
        score(text, {"x": [3.0, 3.0], "y": [1.0, 2.0]})
    assert {problem.hint for problem in caught.value.problems} == {DIFFER}
    limit = "limits: [{on: x, at_most: {minmax: {}, reference: live}}]"
    with pytest.raises(ScoringError) as caught:
        score(f"{HEAD}ratings:\n  a: {{value: y, {limit}}}\n", {"x": [3.0, 3.0], "y": [1.0, 2.0]})
    assert {problem.hint for problem in caught.value.problems} == {DIFFER}


def test_of_very_many_bad_products_twenty_are_named() -> None:
    """And the rest are counted."""
    with pytest.raises(ScoringError, match="11 more such products") as caught:
        score(PLAIN, {"x": [11.0] * 31})
    assert len(caught.value.problems) == 21


def test_a_value_at_the_end_of_its_scale_is_on_it_in_spite_of_binary_dust() -> None:
    """A geometric mean of tens is 10.000000000000002."""
    text = PLAIN + "  b: {value: y}\nscores:\n  s: {blend: geometric mean, weights: {a: 3, b: 4}}\n"
    assert score(text, {"x": [10.0], "y": [10.0]}).column("s").shown_text(0) == "10.0"


def test_a_rating_of_a_reading_below_its_reporting_limit_says_so(tmp_path: Path) -> None:
    """The reading counts as the limit of 3, and the remark names it."""
    form = form_of(PLAIN.replace("x: {", "x: {reporting_limit: 3, "))
    path = tmp_path / "readings.csv"
    path.write_text("product,x\nq1,2\nq2,4\n", encoding="utf-8")
    column = score_catalogue(form, read_catalogue(path, form)).column("a")
    assert column.value.tolist() == [3, 4]
    assert column.remarks == {0: ("x has readings below the reporting limit",)}


def test_a_value_that_stands_for_the_last_anchor_is_not_outside_it() -> None:
    """A mean of 10, 10 and 10 by 0.1, 0.1 and 0.7 is 10.000000000000002; 10.1 is outside."""
    text = HEAD.replace("to: 10", "to: 20") + (
        "ratings:\n  a: {value: x}\n  b: {value: x}\n  c: {value: x}\n"
        "  m: {mix: [{rating: a, weight: 0.1}, {rating: b, weight: 0.1}, {rating: c, weight: 0.7}]}\n"
        "  n: {mix: [{rating: m, curve: {points: {1: 1, 10: 20}, outside: error}}]}\n"
    )
    table = score(text, {"x": [10.0, 1.0]})
    assert table.column("m").value[0] > 10
    assert table.column("n").value.tolist() == [20, 1]
    with pytest.raises(ScoringError, match=r"10\.1 for m of p1"):
        score(text, {"x": [10.1]})
