"""How long the live page takes from a slider to its table: 300 invented products, headless Chromium; by hand.

The yardstick is one evaluation of the same setting in the same page, without the table: the rest is what the browser draws.
"""

from __future__ import annotations

import csv
import shutil
import sys
import tempfile
from contextlib import suppress
from pathlib import Path
from statistics import median
from typing import Any

ROOT = Path(__file__).parents[2]
LABORATORY = ROOT / "examples" / "laboratory"
COPIES, MOVES = 5, 60
MEASURE = """moves => {
  const slider = document.querySelectorAll('input[type=range]')[1], drawn = [], worked = [];
  for (let k = 0; k < moves; k++) {
    const before = performance.now();
    steelyard.evaluate(steelyard.model, steelyard.state().setting);
    worked.push(performance.now() - before);
    slider.value = 10 + (k * 7) % 50;
    const start = performance.now();
    slider.dispatchEvent(new Event('input'));
    document.body.offsetHeight;
    drawn.push(performance.now() - start);
  }
  return [drawn, worked, steelyard.model.numbers.length + steelyard.model.choices.length];
}"""


def enlarge(folder: Path) -> None:
    """The laboratory's catalogue several times over, each copy's readings a little apart."""
    for name in ("readings.csv", "items.csv"):
        with open(LABORATORY / name, encoding="utf-8", newline="") as source:
            rows = list(csv.DictReader(source))
        with open(folder / name, "w", encoding="utf-8", newline="") as target:
            writer = csv.DictWriter(target, rows[0].keys())
            writer.writeheader()
            writer.writerows(copied(row, copy) for copy in range(COPIES) for row in rows)


def copied(row: dict[str, str], copy: int) -> dict[str, str]:
    """A row of another product whose reading is up to 2 % larger."""
    made = row | {"id": f"{row['id']}-{copy}"}
    with suppress(KeyError, ValueError):
        made["value"] = f"{float(row['value']) * (1 + 0.005 * copy):.5g}"
    return made


def main() -> None:
    """Measure and print."""
    from playwright.sync_api import sync_playwright

    from analysis.cli import explore

    with tempfile.TemporaryDirectory() as name, sync_playwright() as running:
        folder = Path(name)
        enlarge(folder)
        explore.run(LABORATORY / "guest-bed.yaml", folder, [], out=folder / "page.html")
        found = shutil.which("chromium") or shutil.which("google-chrome")
        browser: Any = running.chromium.launch(executable_path=found, args=["--no-sandbox"])
        page = browser.new_page(viewport={"width": 1600, "height": 1000})
        page.goto((folder / "page.html").as_uri())
        drawn, worked, addresses = page.evaluate(MEASURE, MOVES)
        browser.close()
    print(
        f"{COPIES * 60} products, {addresses} addresses: from slider to table {median(drawn):.1f} ms (median of {MOVES},"
    )
    print(
        f"the slowest tenth from {sorted(drawn)[-MOVES // 10]:.1f} ms); working it out alone {median(worked):.1f} ms."
    )
    sys.exit(0 if median(drawn) < 50 else 1)


if __name__ == "__main__":
    main()
