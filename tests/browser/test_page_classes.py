"""Places within classes on the live page, and among the products that its menus choose: Python's, to the last one."""

from __future__ import annotations

from pathlib import Path
from typing import Any
from urllib.parse import quote

import numpy as np
import pytest
from written_classes import FORM, written

from analysis.cli import explore
from scoring import read_formula, score

WITHIN = FORM.replace("attributes", "ranks: {within: class}\nattributes") + ("  - {when: drop > 85, remark: soft}\n")
IN_PAGE = """() => {
  const plain = values => Array.from(values, value => (Number.isNaN(value) ? null : value)), now = window.steelyard.state();
  const { within } = now.result.columns.both;
  return within && { rank: plain(within.rank), of: plain(within.of), words: within.words };
}"""


@pytest.fixture
def classes_page(tmp_path: Path, chromium: Any) -> Path:
    """A page of seven beds in classes: one class of one, one bed without a class, one withheld."""
    del chromium
    path = tmp_path / "page.html"
    explore.run(*written(tmp_path, WITHIN), [], out=path)
    return path


def numbers(values: list[float | None]) -> np.ndarray:
    """As numbers, NaN where there is none."""
    return np.array([np.nan if value is None else value for value in values], float)


def cells(page: Any, kind: str) -> dict[str, str]:
    """The texts of one column by the product, of the rows that are shown."""
    rows = page.locator("#body tr:not([hidden])")
    names = rows.locator("th.product bdi").all_inner_texts()
    return dict(zip(names, (text.strip() for text in rows.locator(f"td.{kind}").all_inner_texts()), strict=True))


@pytest.mark.parametrize(
    "pairs",
    [
        {},
        {"ranks.within": "maker"},
        {"ranks.within": "none"},
        {"scores.both.weights.quiet": "0.1"},
        {"ranks.ties": "shared-mean", "ratings.quiet.curve.line.best": "31"},
        {"ranks.best": "lowest", "ranks.on": "shown", "scale.show.step": "2"},
    ],
)
def test_places_within_classes_are_those_of_python(
    classes_page: Path, opened: Any, tmp_path: Path, pairs: dict[str, str]
) -> None:
    """Under what is set on the page: the attribute, ties, the best end, what is ranked, and any number."""
    hash_of = "&".join(f"set={quote(f'{address}={value}')}" for address, value in pairs.items())
    sheet = opened(classes_page.with_name(classes_page.name))
    sheet.page.goto(classes_page.as_uri() + "#score=both&" + hash_of)
    found = sheet.page.evaluate(IN_PAGE)
    formula = read_formula(tmp_path / "classes.yaml", set=pairs)
    within = score(formula, tmp_path / "beds.csv").column("both").within
    if within is None:
        assert found is None
        return
    np.testing.assert_array_equal(numbers(found["rank"]), within.place)
    np.testing.assert_array_equal(numbers(found["of"]), within.of)
    assert tuple(found["words"]) == within.classes.words
    shown = cells(sheet.page, "within")
    assert shown == {
        product: within.text(row)
        for row, product in enumerate(("A-01", "B-02", "C-03", "D-04", "E-05", "F-06", "G-07"))
    }


def test_a_menu_of_classes_shows_places_among_the_chosen_and_stands_in_the_link(
    classes_page: Path, opened: Any
) -> None:
    """By keyboard; said to whoever does not see it; a link brings it back, and what no menu has is named."""
    page = opened(classes_page).page
    assert page.locator("#head th.among").count() == 0
    page.focus('#filters label:has-text("class") + select')
    page.keyboard.type("hybrid")
    page.keyboard.press("Enter")
    assert cells(page, "among") == {"D-04": "1", "B-02": "2", "G-07": ""}
    assert cells(page, "rank") == {"D-04": "2", "B-02": "3", "G-07": ""}
    assert "Among class hybrid (3 of 7 products), first: D-04." in page.inner_text("#said")
    assert page.inner_text("#seen") == "3 of 7 products"
    assert page.url.endswith("where=class%3Dhybrid")
    again = opened(classes_page).page
    again.goto(page.url)
    assert cells(again, "among") == cells(page, "among")
    again.goto(classes_page.as_uri() + "#score=both&where=class%3Dsteel")
    assert "where=class=steel" in again.inner_text("#lost")
    assert again.locator("#head th.among").count() == 0


def test_places_among_the_chosen_are_those_of_a_selection(classes_page: Path, opened: Any, tmp_path: Path) -> None:
    """What `--where` counts."""
    page = opened(classes_page).page
    page.goto(classes_page.as_uri() + "#score=both&where=maker%3DTesk&set=scores.both.weights.quiet%3D0.1")
    formula = read_formula(tmp_path / "classes.yaml", set={"scores.both.weights.quiet": "0.1"})
    column = score(formula, tmp_path / "beds.csv", {"maker": "Tesk"}).column("both")
    places = {product: f"{column.rank[row]:g}" for product, row in (("C-03", 2), ("D-04", 3), ("E-05", 4))}
    assert cells(page, "among") == places


def test_a_page_may_open_on_a_class(opened: Any, tmp_path: Path) -> None:
    """As `explore --where` asks; a link without it shows all."""
    path = tmp_path / "hybrids.html"
    explore.run(*written(tmp_path, WITHIN), [], where=["class=hybrid"], out=path)
    page = opened(path).page
    assert set(cells(page, "among")) == {"B-02", "D-04", "G-07"}
    page.goto(path.as_uri() + "#score=both")
    assert page.inner_text("#seen") == "7 products"


def test_classes_sort_by_their_places(classes_page: Path, opened: Any) -> None:
    """The column's button puts the first of each class on top, and says so to a screen reader."""
    page = opened(classes_page).page
    page.click('#head th[data-key="within"] button')
    order = page.locator("#body tr:not([hidden]) th.product bdi").all_inner_texts()
    assert order[:3] == ["A-01", "D-04", "E-05"]
    assert page.get_attribute('#head th[data-key="within"]', "aria-sort") == "ascending"
