"""Every formula in the published folder: it runs from its own file by the command, and says where it comes from."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

PUBLISHED = Path(__file__).resolve().parents[2] / "formulas" / "published"
FORMULAS = sorted(PUBLISHED.glob("*.yaml"))
CATALOGUES = sorted((PUBLISHED / "data").glob("*.csv"))


@pytest.mark.parametrize("formula", FORMULAS, ids=lambda path: path.stem)
def test_a_published_formula_says_what_was_read(formula: Path) -> None:
    """The comment at its head holds a source and whether it was read or is from memory."""
    head = []
    for line in formula.read_text(encoding="utf-8").splitlines():
        if not line.startswith("#"):
            break
        head.append(line)
    text = " ".join(head)
    assert re.search(r"\b[Rr]ead (at|in)\b|; read\b|\bfrom memory\b", text), text
    assert re.search(r"\b(19|20)\d\d\b|[a-z]\.[a-z]{2,}/", text), text


@pytest.mark.parametrize("catalogue", CATALOGUES, ids=lambda path: path.stem)
def test_a_published_catalogue_is_accounted_for(catalogue: Path) -> None:
    """The README beside it names its file."""
    assert f"`{catalogue.name}`" in (PUBLISHED / "data" / "README.md").read_text(encoding="utf-8")


def test_the_command_runs_in_a_process_of_its_own() -> None:
    """As a user runs it: exit 0, one JSON document on stdout, nothing on stderr, the same bytes twice."""
    command = [sys.executable, "-c", "from analysis.cli.main import main; main()", "score"]
    command += [str(PUBLISHED / "decathlon.yaml"), str(PUBLISHED / "data" / "decathlon-full-results.csv"), "--json"]
    folder = Path(__file__).resolve().parents[2]
    first, second = (subprocess.run(command, capture_output=True, cwd=folder, check=False) for _ in range(2))
    assert (first.returncode, first.stderr) == (0, b"")
    assert first.stdout == second.stdout
    totals = [product["scores"]["total"]["shown"] for product in json.loads(first.stdout)["products"]]
    assert totals == [9045, 9026, 9126]
