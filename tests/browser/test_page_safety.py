"""The page and strangers: hostile names shown as text, nothing loaded, no rule of accessibility broken, narrow and dark."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

HOSTILE = (
    "<script>window.hurt=1</script>",
    "<img src=x onerror=window.hurt=1>",
    "\"quoted\" & 'quoted' </script><b>",
    "\u05de\u05d9\u05d8\u05d4 12 \u05e9\u05dc\u05d5\u05dd",
    "bed 🛏️ £ $x$ {{ 7*7 }} ${7*7}",
    "=SUM(A1:A9)",
    "long " * 59 + "last!",
)
FORMULA = """
formula: hostile
version: 1.0.0
title: "Beds </title><script>window.hurt=1</script> & \\u202e {{ 7*7 }}"
measures:
  noise: {label: "<b>Noise</b> </script> 'x' {{ 7*7 }}", unit: dB, better: lower}
ratings:
  quiet: {label: "Quiet <i onmouseover=window.hurt=1>", measure: noise, curve: {line: {worst: 46, best: 22}}}
scores:
  calm: {label: "</style><script>window.hurt=1</script>", weights: {quiet: 1}}
cautions: ["Invented data. <script>window.hurt=1</script>"]
"""


def axe_report(page: Any) -> str:
    """What axe-core finds wrong, "" for nothing."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright")
    results = axe.Axe().run(page)
    return str(results.generate_report()) if results.violations_count else ""


@pytest.fixture
def hostile_page(tmp_path: Path, chromium: Any) -> Path:
    """A page of products and labels that would like to be code."""
    del chromium
    from analysis.cli import explore

    (tmp_path / "form.yaml").write_text(FORMULA, encoding="utf-8")
    rows = [
        "product,noise [dB],maker",
        *(
            f'"{n.replace(chr(34), chr(34) * 2)}",{25 + k},"{n[:9].replace(chr(34), "")}"'
            for k, n in enumerate(HOSTILE)
        ),
    ]
    (tmp_path / "beds.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    explore.run(tmp_path / "form.yaml", tmp_path / "beds.csv", [], out=tmp_path / "page.html")
    return tmp_path / "page.html"


def test_hostile_names_are_text(hostile_page: Path, opened: Any) -> None:
    """Markup, quotes, marks, emoji and formulas of a template or a sheet stand there as they were written."""
    sheet = opened(hostile_page)
    page = sheet.page
    shown = page.evaluate("() => [...document.querySelectorAll('#body th.product bdi')].map(cell => cell.textContent)")
    assert sorted(shown) == sorted(name.strip() for name in HOSTILE)
    assert page.evaluate("() => window.hurt") is None
    assert page.locator("#body script, #body img, header script, #body b").count() == 0
    assert "</script>" in page.inner_text("h1")
    assert "{{ 7*7 }}" in page.inner_text("h1")


def test_nothing_is_asked_of_a_network(demo_page: Path, opened: Any) -> None:
    """The one request is for the file itself, and its policy lets nothing be loaded."""
    sheet = opened(demo_page)
    sheet.page.wait_for_load_state("networkidle")
    assert [url for url in sheet.requests if not url.startswith(("file:", "data:"))] == []
    policy = sheet.page.get_attribute('meta[http-equiv="Content-Security-Policy"]', "content")
    assert policy.startswith("default-src 'none'; script-src 'sha256-")
    assert "unsafe" not in policy


def test_code_that_gets_in_does_not_run(demo_page: Path, opened: Any) -> None:
    """A script added to the page is refused by its own policy."""
    sheet = opened(demo_page)
    sheet.page.evaluate(
        "() => { const s = document.createElement('script'); s.textContent = 'window.hurt = 1'; document.body.append(s); }"
    )
    assert sheet.page.evaluate("() => window.hurt") is None
    assert any("Content Security Policy" in fault for fault in sheet.faults)
    sheet.faults.clear()


@pytest.mark.parametrize(("width", "scheme"), [(1400, "light"), (1400, "dark"), (360, "light"), (360, "dark")])
def test_an_accessibility_engine_finds_nothing(width: int, scheme: str, demo_page: Path, opened: Any) -> None:
    """axe-core, all rules, with everything opened: no violations."""
    sheet = opened(demo_page, width=width, scheme=scheme)
    page = sheet.page
    page.evaluate("() => document.querySelectorAll('details').forEach(one => { one.open = true; })")
    page.select_option("#first", label="QB-029 (Eskoth)")
    page.select_option("#second", label="QB-041 (Irrering)")
    page.click("#close-gap")
    assert axe_report(page) == ""


@pytest.mark.parametrize("width", [360, 768, 1600])
def test_the_page_fits_its_window(width: int, demo_page: Path, hostile_page: Path, opened: Any) -> None:
    """Only the tables scroll sideways, each in a region of its own."""
    for path in (demo_page, hostile_page):
        page = opened(path, width=width).page
        page.evaluate("() => document.querySelectorAll('details').forEach(one => { one.open = true; })")
        assert page.evaluate("() => document.documentElement.scrollWidth") <= width


def test_live_words_and_names_reach_a_screen_reader(demo_page: Path, opened: Any) -> None:
    """Every control has a name, the table its caption and heads, the outcome a live region."""
    page = opened(demo_page).page
    assert page.get_by_role("slider", name="Quiet, share of the weight of Two Abed").count() == 1
    assert (
        page.get_by_role("slider", name="Quiet, share of the weight of Two Abed").get_attribute("aria-valuetext")
        == "20.0 %"
    )
    assert page.get_by_role("table", name="Products as they stand now").count() == 1
    assert page.get_by_role("columnheader", name="Place").count() == 1
    assert page.get_by_role("rowheader").count() == 60
    assert page.get_by_role("button", name="Pin QB-029").get_attribute("aria-pressed") == "false"
    assert page.get_by_role("status").inner_text().startswith("Two Abed: as published")


def test_the_same_inputs_give_the_same_page(tmp_path: Path, demo_page: Path) -> None:
    """Two runs, the same bytes."""
    from analysis.cli import explore

    laboratory = Path(__file__).parents[2] / "examples/laboratory"
    explore.run(laboratory / "guest-bed.yaml", laboratory, [], out=tmp_path / "again.html")
    assert (tmp_path / "again.html").read_bytes() == demo_page.read_bytes()
