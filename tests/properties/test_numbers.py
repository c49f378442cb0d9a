"""A few forms of the campaign of `number_campaign`: every number of `score` is that of exact arithmetic, also on the edges."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest
from exact.catalogues import Cell, Written
from exact.drawn import LOST, Drawn, draw
from exact.oracle import Oracle
from exact.reals import (
    TALLY,
    Real,
    Undecided,
    Undefined,
    compare,
    leaf,
    logarithm,
    minus,
    over,
    plus,
    power,
    root,
    rounded,
)
from extent import is_long
from number_campaign import Counts, campaign, look_at, page_against, page_scripts, run_pages, smallest
from written_forms import form_of

from scoring.numbers.arrays import COMPARISONS
from scoring.program import kernel_code

SEEDS = range(7340, 7364 if is_long() else 7348)


def test_score_publishes_what_exact_arithmetic_gives_and_refuses_what_has_no_value() -> None:
    """Values, shown figures, statuses, places, bands and gates; each form has readings on its own edges."""
    counts, found = campaign(SEEDS, products=16)
    assert [str(one) for _, one in found] == []
    assert counts.values > 30 * len(SEEDS)
    assert counts.undefined > 2 * len(SEEDS)
    assert counts.bits > 5 * len(SEEDS)
    assert TALLY.edges > 30 * len(SEEDS)
    assert sum(counts.left_out.values()) < counts.values / 5


@pytest.mark.skipif(shutil.which("node") is None, reason="node runs the page's JavaScript")
def test_the_page_gives_the_same_under_node(tmp_path: Path) -> None:
    """Also where nothing could be published: what has no value has none there, and is told as wrong."""
    pages = []
    for seed in (7340, 7343, 7347):
        drawn = draw(seed, 12)
        pages.append(page_scripts(form_of(drawn.text), tmp_path / str(seed), drawn.written))
    counts = Counts()
    for (_, table), page in zip(pages, run_pages([text for text, _ in pages], tmp_path), strict=True):
        assert [str(one) for one in page_against(table, page, counts)] == []
    assert counts.on_the_page > 100


@pytest.mark.skipif(shutil.which("node") is None, reason="node runs the page's JavaScript")
def test_a_part_of_weight_0_without_a_value_has_no_say_on_the_page(tmp_path: Path) -> None:
    """0 times what has no value is no number, and is left out as in the table."""
    parts = (
        "{measure: a, weight: 0, curve: {log: {worst: 40, best: 4}}}, {measure: b, curve: {line: {worst: 40, best: 4}}}"
    )
    pages = []
    for blend in ("weighted mean", "sum", "harmonic mean", "minimum"):
        text = "formula: t\nscale: {from: 0, to: 10}\nmeasures: {a: {unit: mm}, b: {unit: mm}}\nratings:\n"
        form = form_of(f"{text}  m: {{blend: {blend}, mix: [{parts}]}}\n")
        written = Written(("p",), {"a": {"p": (Cell("-3", "mm"),)}, "b": {"p": (Cell("13", "mm"),)}}, {})
        pages.append(page_scripts(form, tmp_path / blend, written))
    for (_, table), page in zip(pages, run_pages([text for text, _ in pages], tmp_path), strict=True):
        assert table.column("m").value.tolist() == [7.5]
        assert [str(one) for one in page_against(table, page, Counts())] == []


@pytest.mark.parametrize("value", LOST)
def test_what_is_undefined_somewhere_is_refused_there_and_nowhere_else(value: str, tmp_path: Path) -> None:
    """Readings -1, 0, 1 and 2 of a with each of b: every pair is a product."""
    text = 'formula: lost\nscale: {from: -1000, to: 1000}\nmeasures: {a: {unit: "1"}, b: {unit: "1"}}\n'
    text += f"ratings:\n  r: {{value: '{value} + 0 * b'}}\n"
    pairs = {
        f"p{i}{j}": (a, b) for i, a in enumerate(("-1", "0", "1", "2")) for j, b in enumerate(("-1", "0", "1", "2"))
    }
    cells = {name: {p: (Cell(pair[at], "1"),) for p, pair in pairs.items()} for at, name in enumerate("ab")}
    counts = Counts()
    assert [str(one) for one in look_at(Drawn(text, Written(tuple(pairs), cells, {})), tmp_path, counts)] == []
    assert counts.values + counts.undefined >= 16


def test_a_comparison_of_raw_doubles_would_be_found(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """The fault planted is the one that the rule of 13 digits is against; the smallest form that shows it still does."""

    def raw(a: object, sign: str, b: object) -> object:
        lost = np.isnan(np.subtract(a, b))
        return np.where(lost, np.nan, COMPARISONS[sign](np.asarray(a), np.asarray(b)))

    monkeypatch.setitem(kernel_code.FUNCTIONS, "compared", raw)
    text = 'formula: t\nmeasures: {a: {unit: "1"}, b: {unit: "1"}}\nratings:\n'
    text += "  r: {value: 'where(a + b > 0.3, 9, 2)'}\n  q: {value: 2 + a}\n"
    cells = {
        "a": {"p": (Cell("0.1", "1"),), "q": (Cell("7", "1"),)},
        "b": {"p": (Cell("0.2", "1"),), "q": (Cell("7", "1"),)},
    }
    drawn = Drawn(text, Written(("p", "q"), cells, {}))
    assert next((one.kind, one.where) for one in look_at(drawn, tmp_path, Counts())) == ("value", "r of p")
    small = smallest(drawn, "value", tmp_path)
    assert small.written.products == ("p",)
    assert "q:" not in small.text


def test_the_exact_numbers_know_what_doubles_cannot_tell() -> None:
    """0.1 + 0.2 is 0.3, but what is left of it beside 0.3 is 0 only on paper."""
    third = plus(leaf("0.1"), leaf("0.2"))
    assert isinstance(third, Real)
    assert compare(third, leaf("0.3")) == 0
    left = minus(third, leaf("0.3"))
    assert isinstance(left, Real)
    assert left.x == 0
    with pytest.raises(Undecided):
        compare(left, leaf(0))
    with pytest.raises(Undecided):
        over(leaf(1), left)
    assert over(leaf(1), minus(third, third)) == Undefined("divided by 0")
    assert compare(leaf("40.000000001"), leaf(40)) == 1
    assert rounded(plus(leaf("8.2"), leaf("0.05")), leaf("0.1").x, "half-even") == leaf("8.2")


@pytest.mark.parametrize(
    ("found", "why"),
    [
        (logarithm(leaf(0)), "the logarithm"),
        (root(leaf("-0.1")), "the square root"),
        (power(leaf(0), leaf(-1)), "0 to the power of"),
        (power(leaf(-8), leaf("0.5")), "to the power of"),
        (plus(leaf(1), over(leaf(0), leaf(0))), "divided by 0"),
    ],
)
def test_undefined_is_a_value_of_its_own(found: object, why: str) -> None:
    """It has its reason, and whatever is made of it is undefined for that reason."""
    assert found == Undefined(why)


def test_the_oracle_by_hand(tmp_path: Path) -> None:
    """(4*6 + 2*10)/6 = 22/3 with both parts there; 6 with the second missing; capped at 5 where the first is below 4."""
    text = 'formula: t\nmeasures: {a: {unit: "1"}, b: {unit: "1"}}\nratings:\n  x: {value: a}\n  y: {value: b}\n'
    text += "scores:\n  s: {weights: {x: 4, y: 2}, missing: {absent_above: 0.4}, limits: [{when: x < 4, at_most: 5}]}\n"
    cells = {
        "a": {"p": (Cell("6"),), "q": (Cell("6"),), "r": (Cell("2"), Cell("4"))},
        "b": {"p": (Cell("10"),), "q": (Cell("", flag="missing"),), "r": (Cell("10"),)},
    }
    oracle = Oracle(form_of(text), Written(("p", "q", "r"), cells, {}))
    found = {product: oracle.outcome("s", product) for product in ("p", "q", "r")}
    assert {product: one.status for product, one in found.items()} == {"p": "rated", "q": "partial", "r": "rated"}
    assert [float(one.value.x) for one in found.values() if isinstance(one.value, Real)] == [22 / 3, 6, 5]
