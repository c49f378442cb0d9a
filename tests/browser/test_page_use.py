"""The live page as a lead uses it: sliders, fields, undo, links, downloads, pins, filters, by mouse and by keyboard."""

from __future__ import annotations

import re
import shlex
from pathlib import Path
from typing import Any
from urllib.parse import unquote_plus

import pytest

from scoring.addresses import addresses, set_addresses
from scoring.catalogue import read_catalogue
from scoring.form import Number
from scoring.reader import read_form
from scoring.table import score_catalogue

LABORATORY = Path(__file__).parents[2] / "examples/laboratory"
QUIET = "scores.two_abed.weights.quiet"


def options_of(page: Any) -> list[str]:
    """The settings of the `--set` options that the page prints, as a shell would read them."""
    return [word for word in shlex.split(page.inner_text("#set-options")) if word != "--set"]


def slide(page: Any, address: str, percent: float) -> None:
    """Move a weight's slider as a mouse would: the value, then the events."""
    page.locator(f'[data-address="{address}"] input[type=range]').evaluate(
        "(slider, to) => { slider.value = to; slider.dispatchEvent(new Event('input')); slider.dispatchEvent(new Event('change')); }",
        percent,
    )


def column_of(page: Any, kind: str) -> list[str]:
    """The texts of one column, from the top down."""
    return [text.strip() for text in page.locator(f"#body td.{kind}").all_inner_texts()]


def products_of(page: Any) -> list[str]:
    """The products from the top down, those shown."""
    return [str(text) for text in page.locator("#body tr:not([hidden]) th.product bdi").all_inner_texts()]


def test_a_slider_keeps_the_other_weights_in_proportion(demo_page: Path, opened: Any) -> None:
    """Quiet from 20 % to 30 %: the others shrink alike, and the table is the one that Python gives for the options."""
    sheet = opened(demo_page)
    slide(sheet.page, QUIET, 30)
    made = dict(setting.split("=") for setting in options_of(sheet.page))
    form = read_form(LABORATORY / "guest-bed.yaml")
    stated = {part.weight.address: part.weight.value for part in form.scores[0].parts if part.weight is not None}
    assert float(made[QUIET]) == pytest.approx(0.3, abs=1e-9)
    assert sum(map(float, made.values())) == pytest.approx(sum(stated.values()), abs=3e-4)
    ratios = {round(float(value) / stated[address], 3) for address, value in made.items() if address != QUIET}
    assert ratios <= {0.874, 0.875, 0.876}
    changed = set_addresses(form, options_of(sheet.page))
    table = score_catalogue(changed, read_catalogue(LABORATORY, changed))
    column = table.scores[0]
    places = {p: int(r) for p, r in zip(table.catalogue.products, column.rank, strict=True) if r == r}
    ranked = [text for text in column_of(sheet.page, "rank") if text]
    assert ranked == [str(places[product]) for product in products_of(sheet.page)[: len(ranked)]]


def test_undo_redo_and_reset_are_steps(demo_page: Path, opened: Any) -> None:
    """A drag is one step; undo takes it back, redo makes it again, reset takes all back and can be undone."""
    sheet = opened(demo_page)
    page = sheet.page
    before = products_of(page)
    slide(page, QUIET, 60)
    moved = products_of(page)
    assert moved != before
    page.click("#undo")
    assert products_of(page) == before
    assert page.is_disabled("#undo")
    page.click("#redo")
    assert products_of(page) == moved
    page.click("#reset")
    assert products_of(page) == before
    page.click("#undo")
    assert products_of(page) == moved


def test_a_link_restores_the_state(demo_page: Path, opened: Any) -> None:
    """The address of the page carries the score and every setting."""
    sheet = opened(demo_page)
    page = sheet.page
    page.select_option("#score", "warm_night")
    page.fill('[data-address="scores.warm_night.weights.cooling"] input[type=number]', "0.9")
    page.locator('[data-address="scores.warm_night.weights.cooling"] input[type=number]').blur()
    link, moved = page.url, products_of(page)
    assert "scores.warm_night.weights.cooling=0.9" in unquote_plus(link)
    other = opened(demo_page).page
    other.goto(link)
    other.reload()
    assert other.input_value("#score") == "warm_night"
    assert products_of(other) == moved


def test_a_link_with_unknown_addresses_says_so(demo_page: Path, opened: Any) -> None:
    """What a link names and this page does not know is named, not dropped in silence."""
    sheet = opened(demo_page)
    sheet.page.goto(demo_page.as_uri() + "#set=scores.nothing.weights.edge%3D3&set=scale.to%3Dten")
    sheet.page.reload()
    sheet.page.goto(demo_page.as_uri() + "#set=scores.nothing.weights.edge%3D4")
    assert "scores.nothing.weights.edge=4" in sheet.says()


def test_the_downloaded_formula_is_the_one_that_set_makes(demo_page: Path, opened: Any, tmp_path: Path) -> None:
    """Numbers, choices and keys not yet written: the text has them, its comments stay, and it reads as `--set` does."""
    sheet = opened(demo_page)
    page = sheet.page
    slide(page, QUIET, 33)
    page.select_option('[data-address="scores.two_abed.blend"] select', label="geometric mean")
    page.select_option('[data-address="scores.two_abed.limits.1.apply"] select', label="never")
    page.locator("summary", has_text="Quiet").first.click()
    page.fill('[data-address="ratings.quiet.curve.line.worst"] input', "50")
    page.locator('[data-address="ratings.quiet.curve.line.worst"] input').blur()
    with page.expect_download() as waiting:
        page.click("#download")
    saved = tmp_path / waiting.value.suggested_filename
    waiting.value.save_as(saved)
    form = read_form(LABORATORY / "guest-bed.yaml")
    expected, found = set_addresses(form, options_of(page)), read_form(saved)
    assert "# the room itself" in saved.read_text(encoding="utf-8")
    texts = [
        {
            address: noun.value if isinstance(noun, Number) else getattr(noun, "value", None)
            for address, noun in addresses(f).items()
        }
        for f in (found, expected)
    ]
    assert texts[0] == texts[1]
    assert texts[0]["ratings.quiet.curve.line.worst"] == 50


def test_pins_show_the_gap_and_what_closes_it(demo_page: Path, opened: Any) -> None:
    """Each closing change of a number, set in Python, puts the one behind level or above."""
    sheet = opened(demo_page)
    page = sheet.page
    page.select_option("#first", label="QB-029")
    page.select_option("#second", label="QB-041")
    page.click("#close-gap")
    closing = page.evaluate("() => steelyard.closingChanges('two_abed')")
    lines = page.locator("#closing li").all_inner_texts()
    found = closing["numbers"]
    assert len(found) >= 3
    assert len(lines) == len(found) + len(closing["readings"])
    form = read_form(LABORATORY / "guest-bed.yaml")
    for one in found:
        changed = set_addresses(form, [f"{one['address']}={one['to']}"])
        table = score_catalogue(changed, read_catalogue(LABORATORY, changed))
        value = dict(zip(table.catalogue.products, table.scores[0].value, strict=True))
        assert value["QB-041"] >= value["QB-029"] - 1e-12, one


def test_search_filter_and_sort(demo_page: Path, opened: Any) -> None:
    """Products by a piece of their name, by an attribute; a column's head sorts by it and says so."""
    sheet = opened(demo_page)
    page = sheet.page
    page.fill("#find", "qb-03")
    assert products_of(page)
    assert all(product.startswith("QB-03") for product in products_of(page))
    page.fill("#find", "")
    page.get_by_label("class").select_option("=hybrid")
    kept = len(products_of(page))
    assert 0 < kept < 60
    assert page.inner_text("#seen") == f"{kept} of 60 products"
    page.get_by_label("class").select_option("")
    page.get_by_role("button", name="Product", exact=True).click()
    assert products_of(page) == sorted(products_of(page))
    assert page.get_attribute('#head th[data-key="product"]', "aria-sort") == "ascending"


def test_the_keyboard_alone_moves_a_weight_and_undoes_it(demo_page: Path, opened: Any) -> None:
    """Tab reaches the slider, arrows move it, what comes of it is said, and Ctrl+Z takes it back."""
    sheet = opened(demo_page)
    page = sheet.page
    for _ in range(30):
        page.keyboard.press("Tab")
        if page.evaluate("() => document.activeElement.type") == "range":
            break
    assert page.evaluate("() => document.activeElement.type") == "range"
    for _ in range(5):
        page.keyboard.press("ArrowRight")
    assert "6 set" in sheet.says()
    page.keyboard.press("Tab")
    for _ in range(5):
        page.keyboard.press("Control+z")
    assert "as published" in sheet.says()


def test_a_setting_that_fits_no_table_is_said(demo_page: Path, opened: Any) -> None:
    """Where the formula gives no number on the scale, the page says that no table would be published."""
    sheet = opened(demo_page)
    page = sheet.page
    page.locator("summary", has_text="Keeps its height").first.click()
    page.fill('[data-address="ratings.lasting.curve.log.worst"] input', "-5")
    assert page.is_visible("#wrong")
    assert "No table would be published" in page.inner_text("#wrong")


def test_the_curve_is_drawn_and_described(demo_page: Path, opened: Any) -> None:
    """The picture's words say what it shows, with units, and follow the settings."""
    sheet = opened(demo_page)
    page = sheet.page
    page.click("#curves summary")
    page.select_option(
        "#which", label=next(t for t in page.locator("#which option").all_inner_texts() if t.startswith("Quiet:"))
    )
    before = page.get_attribute("#curve-body svg", "aria-label")
    assert re.match(r"Quiet goes from 10 points at [\d.]+ dB to 1 at [\d.]+ dB of ", before)
    page.evaluate("() => { location.hash = '#score=two_abed&set=ratings.quiet.curve.line.best%3D30'; }")
    page.wait_for_function(
        "before => document.querySelector('#curve-body svg').getAttribute('aria-label') !== before", arg=before
    )
