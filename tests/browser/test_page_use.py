"""The live page as a lead uses it: sliders, fields, undo, links, downloads, pins, filters, by mouse and by keyboard."""

from __future__ import annotations

import re
import shlex
from pathlib import Path
from typing import Any
from urllib.parse import unquote_plus

import pytest

from scoring.addresses.addresses import addresses, set_addresses
from scoring.catalogue import read_catalogue
from scoring.form import Number
from scoring.reader import read_form
from scoring.table.table import score_catalogue

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
    shown = page.locator("#body tr:not([hidden]) th.product bdi").all_inner_texts()
    return [str(text).split(" (")[0] for text in shown]


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
    page.select_option("#score", "cool_night")
    page.fill('[data-address="scores.cool_night.weights.cooling"] input.number', "0.9")
    page.locator('[data-address="scores.cool_night.weights.cooling"] input.number').blur()
    link, moved = page.url, products_of(page)
    assert "scores.cool_night.weights.cooling=0.9" in unquote_plus(link)
    other = opened(demo_page).page
    other.goto(link)
    other.reload()
    assert other.input_value("#score") == "cool_night"
    assert products_of(other) == moved


def test_a_link_with_unknown_addresses_says_so(demo_page: Path, opened: Any) -> None:
    """What a link names and this page does not know is named, not dropped in silence: at once, and when the link changes."""
    page = opened(demo_page).page
    page.goto("about:blank")
    page.goto(demo_page.as_uri() + "#score=zzz&set=scores.nothing.weights.edge%3D3&set=scale.to%3Dten")
    for text in ("score=zzz", "scores.nothing.weights.edge=3", "scale.to=ten"):
        assert text in page.inner_text("#lost")
    page.evaluate("() => { location.hash = '#score=two_abed'; }")
    page.wait_for_function("() => document.getElementById('lost').hidden")


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
    page.select_option("#first", label="QB-029 (Eskoth)")
    page.select_option("#second", label="QB-041 (Irrering)")
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
    """Where the reader would refuse, or no number on the scale comes out, the page says that no table would be published."""
    sheet = opened(demo_page)
    page = sheet.page
    page.locator("summary", has_text="Keeps its height").first.click()
    page.fill('[data-address="ratings.lasting.curve.log.worst"] input', "-5")
    assert (
        page.inner_text("#wrong")
        == "No table would be published with this. The formula must keep: Keeps its height: `worst` is above 0."
    )
    page.locator('[data-address="ratings.lasting.curve.log.worst"] input').blur()
    assert "no table would be published" in sheet.says()


def test_the_curve_is_drawn_and_described(demo_page: Path, opened: Any) -> None:
    """The picture's words say what it shows, with units, and follow the settings."""
    sheet = opened(demo_page)
    page = sheet.page
    page.click("#curves summary")
    page.select_option(
        "#which", label=next(t for t in page.locator("#which option").all_inner_texts() if t.startswith("Quiet:"))
    )
    before = page.get_attribute("#curve-body svg", "aria-label")
    assert re.match(r"Quiet goes from 10 on its scale at [\d.]+ dB to 1 at [\d.]+ dB of ", before)
    page.evaluate("() => { location.hash = '#score=two_abed&set=ratings.quiet.curve.line.best%3D30'; }")
    page.wait_for_function(
        "before => document.querySelector('#curve-body svg').getAttribute('aria-label') !== before", arg=before
    )


EXPRESSED = """
formula: own
version: 1.0.0
title: Own
measures:
  noise: {label: Noise, unit: dB}
  sit: {label: Sit, unit: mm}
ratings:
  quiet: {value: "where(noise < 30, 10, 12 - noise / 15)"}   # two numbers are moved here
  edge: {measure: sit, curve: {points: {40: 10, 80: 6, 135: 1}}}
scores:
  calm:
    weights: {quiet: 2, edge: 1}
    limits: [{when: edge < 4 and quiet < 9, at_most: 6}]
gates:
  - {when: noise > 40, withhold: too loud}
"""


@pytest.fixture
def own_page(tmp_path: Path, chromium: Any) -> Path:
    """A page of a formula with expressions, a limit on two ratings and a gate."""
    del chromium
    from analysis.cli import explore

    (tmp_path / "own.yaml").write_text(EXPRESSED, encoding="utf-8")
    (tmp_path / "own.csv").write_text("product,noise,sit\nA,25,50\nB,35,90\nC,45,60\nD,,130\n", encoding="utf-8")
    explore.run(tmp_path / "own.yaml", tmp_path / "own.csv", [], out=tmp_path / "page.html")
    return tmp_path / "page.html"


def test_numbers_inside_one_expression_are_downloaded_together(own_page: Path, opened: Any, tmp_path: Path) -> None:
    """Two numbers of a quoted expression, one of a condition, an anchor: the file reads as the settings do."""
    sheet = opened(own_page)
    page = sheet.page
    pairs = [
        ("ratings.quiet.value.3", "13"),
        ("ratings.quiet.value.4", "14"),
        ("scores.calm.limits.1.when.2", "8.5"),
        ("ratings.edge.curve.points.2.at", "85"),
    ]
    texts = page.evaluate("pairs => steelyard.changedSources(steelyard.stateFrom(pairs).made)", pairs)
    saved = tmp_path / "trial.yaml"
    saved.write_text(texts[0]["text"], encoding="utf-8")
    expected = set_addresses(read_form(tmp_path / "own.yaml"), [f"{address}={value}" for address, value in pairs])
    assert "# two numbers are moved here" in texts[0]["text"]
    assert list(addresses(read_form(saved))) == list(addresses(expected))
    values = [
        {a: n.value for a, n in addresses(form).items() if isinstance(n, Number)}
        for form in (read_form(saved), expected)
    ]
    assert values[0] == values[1]
    assert values[0]["ratings.quiet.value.4"] == 14


POWERED = """
formula: powered
version: 1.0.0
measures:
  noise: {unit: dB}
  sit: {unit: mm}
ratings:
  quiet: {measure: noise, curve: {line: {worst: 60, best: 20}}}
  edge: {measure: sit, curve: {points: {40: 10, 80: 6, 135: 1}}}
scores:
  calm:
    blend: power mean
    exponent: 0.5   # punishes weakness
    weights: {quiet: 2, edge: 1}
"""


@pytest.mark.parametrize("set_before", [False, True], ids=["on the page", "by --set"])
def test_the_number_of_another_blend_is_not_downloaded(
    set_before: bool, opened: Any, chromium: Any, tmp_path: Path
) -> None:
    """The file would be refused for it; a number that was moved before the blend was changed goes along."""
    del chromium
    from analysis.cli import explore

    (tmp_path / "own.yaml").write_text(POWERED, encoding="utf-8")
    (tmp_path / "own.csv").write_text("product,noise,sit\nA,25,50\nB,35,90\n", encoding="utf-8")
    other = "scores.calm.blend=geometric mean"
    explore.run(tmp_path / "own.yaml", tmp_path / "own.csv", [other] * set_before, out=tmp_path / "page.html")
    page = opened(tmp_path / "page.html").page
    pairs = [["ratings.quiet.curve.line.worst", "50"]]
    pairs += [] if set_before else [["scores.calm.exponent", "0.25"], other.split("=")]
    texts = page.evaluate("pairs => steelyard.changedSources(steelyard.stateFrom(pairs).made)", pairs)
    saved = tmp_path / "trial.yaml"
    saved.write_text(texts[0]["text"], encoding="utf-8")
    expected = POWERED.replace("power mean", "geometric mean").replace("worst: 60", "worst: 50")
    assert texts[0]["text"] == expected.replace("    exponent: 0.5   # punishes weakness\n", "")
    assert read_form(saved).scores[0].numbers == ()


def test_what_the_reader_refuses_the_page_refuses(demo_page: Path, own_page: Path, opened: Any) -> None:
    """Every number at 0, below 0, far above, and at its neighbours: the page's rules and the reader agree."""
    from scoring.errors import SteelyardError

    checked = refused = 0
    for path, formula in ((demo_page, LABORATORY / "guest-bed.yaml"), (own_page, own_page.parent / "own.yaml")):
        page, form = opened(path).page, read_form(formula)
        stated = page.evaluate("() => steelyard.model.numbers.map(one => [one.address, one.value])")
        near = {
            address: [v for a, v in stated if a.rsplit(".", 2)[0] == address.rsplit(".", 2)[0]] for address, _ in stated
        }
        chosen = [
            (address, value) for address, _ in stated for value in dict.fromkeys([0, -1, 1.5, *near[address][:3]])
        ][::3]
        broken = page.evaluate(
            """pairs => pairs.map(([address, value]) => {
              const { made } = steelyard.stateFrom([[address, String(value)]]);
              return steelyard.brokenRules(steelyard.model, steelyard.settingOf(steelyard.model, made)).map(rule => rule.says);
            })""",
            chosen,
        )
        for (address, value), rules in zip(chosen, broken, strict=True):
            try:
                set_addresses(form, [f"{address}={value!r}"])
                reader = ""
            except SteelyardError as fault:
                reader = str(fault)
            assert bool(rules) == bool(reader), (address, value, rules, reader)
            checked, refused = checked + 1, refused + bool(reader)
    assert checked > 150
    assert refused > 20


def test_a_comma_is_refused_in_words(demo_page: Path, opened: Any) -> None:
    """46,5 changes nothing, and the field says what to write."""
    page = opened(demo_page).page
    before = products_of(page)
    field = page.locator('[data-address="scores.two_abed.weights.quiet"] input.number')
    field.fill("0,5")
    assert (
        page.inner_text('[data-address="scores.two_abed.weights.quiet"] .told') == "Not taken: write 0.5, with a point."
    )
    assert field.get_attribute("aria-invalid") == "true"
    field.blur()
    assert field.input_value() == "0.2"
    assert products_of(page) == before


def test_finding_a_setting_shows_it_alone(demo_page: Path, opened: Any) -> None:
    """Rows without the words go, groups close again after it, and no hit is said."""
    page = opened(demo_page).page
    page.fill("#search", "edge_ratio.curve")
    shown = page.locator(".row:visible").evaluate_all("rows => rows.map(row => row.dataset.address)")
    assert shown
    assert all("edge_ratio.curve" in address for address in shown)
    page.fill("#search", "nothing of the kind")
    assert page.is_visible("#none")
    page.fill("#search", "")
    assert page.locator("details.thing[open]").count() == 1
