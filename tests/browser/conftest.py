"""A real browser: Chromium from the system, driven by Playwright. Without both, these tests are skipped and say why."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
LABORATORY = Path(__file__).parents[2] / "examples/laboratory"
#: Milliseconds after which a browser that never answers is given up: no busy machine is as slow, and nothing is timed.
GIVEN_UP = 600_000
WHY = (
    "no browser: these tests need Chromium on the PATH (Debian: apt-get install chromium) and pip install '.[browser]'"
)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Tests of this folder share one worker and so one browser."""
    for item in items:
        if Path(__file__).parent in item.path.parents:
            item.add_marker(pytest.mark.xdist_group("browser"))


@pytest.fixture(scope="session")
def chromium() -> Iterator[Any]:
    """A running headless Chromium; the environment variable STEELYARD_BROWSER=required turns a skip into a failure."""
    found = next((path for path in map(shutil.which, NAMES) if path), None)
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        sync_playwright = None  # type: ignore[assignment]
    if found is None or sync_playwright is None:
        if os.environ.get("STEELYARD_BROWSER") == "required":
            pytest.fail(WHY)
        pytest.skip(WHY)
    with sync_playwright() as running:
        browser = running.chromium.launch(executable_path=found, args=["--no-sandbox"], timeout=GIVEN_UP)
        yield browser
        browser.close()


class Sheet:
    """A page that is open: what it asked for from outside, and the faults it had."""

    def __init__(self, browser: Any, path: Path, width: int = 1400, height: int = 900, scheme: str = "light") -> None:
        self.context = browser.new_context(
            viewport={"width": width, "height": height}, color_scheme=scheme, accept_downloads=True, offline=True
        )
        self.context.set_default_timeout(GIVEN_UP)
        self.page = self.context.new_page()
        self.faults: list[str] = []
        self.requests: list[str] = []
        self.page.on("pageerror", lambda fault: self.faults.append(str(fault)))
        self.page.on("console", lambda message: self.faults.append(message.text) if message.type == "error" else None)
        self.page.on("request", lambda request: self.requests.append(request.url))
        self.page.goto(path.as_uri())

    def says(self) -> str:
        """What the page last said."""
        return str(self.page.inner_text("#said"))

    def close(self) -> None:
        """Close it; a page that had a fault fails its test."""
        self.context.close()
        assert self.faults == []


@pytest.fixture
def opened(chromium: Any) -> Iterator[Any]:
    """Opens pages, and closes them."""
    sheets: list[Sheet] = []

    def open_page(path: Path, **options: Any) -> Sheet:
        sheets.append(Sheet(chromium, path, **options))
        return sheets[-1]

    yield open_page
    for sheet in sheets:
        sheet.close()


@pytest.fixture(scope="session")
def demo_page(tmp_path_factory: pytest.TempPathFactory, chromium: Any) -> Path:
    """The live page of the invented laboratory."""
    del chromium  # no page is made where none can be looked at
    from analysis.cli import explore

    path = tmp_path_factory.mktemp("page") / "page.html"
    explore.run(LABORATORY / "guest-bed.yaml", LABORATORY, [], out=path)
    return path
