"""The README's own files and code, taken from its text."""

from __future__ import annotations

import re
from pathlib import Path

README = (Path(__file__).parents[1] / "README.md").read_text(encoding="utf-8")


def block(language: str, start: str) -> str:
    """The README's first block of code in a language that begins with `start`."""
    found = re.search(rf"^```{language}\n({re.escape(start)}.*?)^```$", README, re.DOTALL | re.MULTILINE)
    assert found is not None, f"README.md has no {language} block that begins with {start!r}"
    return found[1]


def write_beds(folder: Path) -> None:
    """Write beds.csv and beds.yaml of "Five minutes" into a folder."""
    (folder / "beds.csv").write_text(block("csv", "product,"), encoding="utf-8")
    (folder / "beds.yaml").write_text(block("yaml", "formula: beds\n"), encoding="utf-8")
