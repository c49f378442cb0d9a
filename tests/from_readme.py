"""README's own files and code, and those of the guides, taken from their text."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def guide(name: str) -> str:
    """The text of a guide."""
    return (ROOT / "examples" / "guide" / f"{name}.md").read_text(encoding="utf-8")


def block(language: str, start: str, text: str = README) -> str:
    """A text's first block of code in a language that begins with `start`."""
    found = re.search(rf"^```{language}\n({re.escape(start)}.*?)^```$", text, re.DOTALL | re.MULTILINE)
    assert found is not None, f"there is no {language} block that begins with {start!r}"
    return found[1]


def write_beds(folder: Path) -> None:
    """Write beds.csv and beds.yaml of "Five minutes" into a folder."""
    (folder / "beds.csv").write_text(block("csv", "product,"), encoding="utf-8")
    (folder / "beds.yaml").write_text(block("yaml", "formula: beds\n"), encoding="utf-8")
