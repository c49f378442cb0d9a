"""The methods appendix in a browser: accessible, within its window, asking nothing of a network."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from appendix.trial import FORMULA, READINGS
from browser.test_page_safety import axe_report


@pytest.fixture(scope="module")
def appendix_page(tmp_path_factory: pytest.TempPathFactory, chromium: Any) -> Path:
    """The appendix of the trial laboratory, whose labels would like to be code, with a version before it."""
    del chromium
    from analysis.cli import appendix

    folder = tmp_path_factory.mktemp("appendix")
    for name, text in (("now", FORMULA), ("before", FORMULA.replace("quiet: 0.37", "quiet: 0.17"))):
        (folder / f"{name}.yaml").write_text(text, encoding="utf-8")
    (folder / "beds.csv").write_text(READINGS, encoding="utf-8")
    appendix.run(
        folder / "now.yaml",
        folder / "beds.csv",
        [],
        out=folder / "out",
        previous=folder / "before.yaml",
        study=None,
        draws=256,
        date="2026-06-01",
        seed=0,
    )
    return folder / "out" / "appendix.html"


@pytest.mark.parametrize(("width", "scheme"), [(1200, "light"), (1200, "dark"), (360, "light")])
def test_an_accessibility_engine_finds_nothing(width: int, scheme: str, appendix_page: Path, opened: Any) -> None:
    """axe-core, all rules: no violations; nothing is loaded; only tables and formulas scroll sideways."""
    sheet = opened(appendix_page, width=width, scheme=scheme)
    assert axe_report(sheet.page) == ""
    assert sheet.page.locator("script").count() == 0
    assert [url for url in sheet.requests if not url.startswith(("file:", "data:"))] == []
    assert sheet.page.evaluate("() => document.documentElement.scrollWidth") <= width


def test_formulas_are_mathematics(appendix_page: Path, opened: Any) -> None:
    """Formulas are MathML that the browser lays out, every picture has words, every link of the contents leads somewhere."""
    page = opened(appendix_page).page
    assert page.locator("math").count() > 8
    assert page.evaluate(
        "() => [...document.querySelectorAll('math mfrac')].every(one => one.getBoundingClientRect().height > 10)"
    )
    assert page.evaluate("() => [...document.images].every(one => one.alt.length > 30 && one.naturalWidth > 100)")
    assert page.evaluate(
        "() => [...document.querySelectorAll('nav a')].every(one => document.querySelector(one.getAttribute('href')))"
    )
    assert page.locator("nav a").count() > 20
