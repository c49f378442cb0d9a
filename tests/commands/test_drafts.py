"""A draft says that it is one wherever something of it is published, and nothing changes for a finished formula."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import pytest

from analysis.records.schema import section_misfits

MARK, DECIDE = "# guess: all alike", "# guess: DECIDE THIS FIRST"
SAID = "a draft with 1 guess"
WHOLE = "A draft: 1 guess stands (beds.yaml, from line 17 on)."
STANDING = [{"file": "beds.yaml", "guesses": 1, "decisions": 0, "first": 17}]
DRAWS = ("--draws", 256)


@pytest.fixture
def draft(small: Path) -> Path:
    """The small laboratory with one guess left in its formula, on line 17."""
    return marked(small, MARK)


def marked(folder: Path, mark: str) -> Path:
    """The same with a mark in the place of the formula's only comment."""
    formula = folder / "beds.yaml"
    formula.write_text(formula.read_text(encoding="utf-8").replace("# the lead's draft", mark), encoding="utf-8")
    return folder


def given(folder: Path) -> tuple[Path, Path]:
    """Formula and catalogue."""
    return folder / "beds.yaml", folder / "beds.csv"


@pytest.mark.parametrize(
    "asked",
    [
        ("score",),
        ("explain", "A-01"),
        ("stability", *DRAWS),
        ("sensitivity", *DRAWS),
        ("weights",),
        ("flip", "A-01", "A-02"),
        ("reread",),
    ],
    ids=lambda asked: str(asked[0]),
)
def test_every_command_says_it_in_its_headline_and_its_document(
    steelyard: Any, small: Path, asked: tuple[object, ...]
) -> None:
    """And none does where no mark stands."""
    name, *options = asked
    before = steelyard(name, *given(small), *options)
    assert before.exit_code == 0, before.stderr
    assert "draft" not in before.stdout
    assert "draft" not in json.loads(steelyard(name, *given(small), *options, "--json").stdout)
    marked(small, MARK)
    assert SAID in steelyard(name, *given(small), *options).stdout.partition("\n\n")[0]
    assert json.loads(steelyard(name, *given(small), *options, "--json").stdout)["draft"] == STANDING


def test_files_say_it(steelyard: Any, draft: Path) -> None:
    """A column of tables, a line of pages."""
    table, page = draft / "scores.csv", draft / "scores.html"
    assert steelyard("score", *given(draft), "--out", table).exit_code == 0
    rows = list(csv.DictReader(table.read_text(encoding="utf-8").splitlines()))
    assert {row["draft"] for row in rows} == {WHOLE[0].lower() + WHOLE[1:-1]}
    assert steelyard("score", *given(draft), "--out", page).exit_code == 0
    assert "A draft: 1 guess stands" in page.read_text(encoding="utf-8")


def test_the_edition_that_is_a_draft_is_named(steelyard: Any, draft: Path) -> None:
    """Of two formulas the one with marks alone."""
    finished = draft / "finished.yaml"
    finished.write_text((draft / "beds.yaml").read_text(encoding="utf-8").replace(MARK, ""), encoding="utf-8")
    document = json.loads(steelyard("compare", finished, *given(draft), "--json").stdout)
    assert document["new"]["draft"] == STANDING
    assert "draft" not in document["old"]


def test_the_live_page_says_it(steelyard: Any, small: Path) -> None:
    """In its head and its model; the terminal says it, too."""
    page = small / "page.html"
    assert "draft" not in steelyard("explore", *given(small), "--out", page).stdout
    assert 'id="draft"' not in page.read_text(encoding="utf-8")
    marked(small, MARK)
    said = steelyard("explore", *given(small), "--out", page, "--force").stdout
    assert f"The page is of {WHOLE[0].lower()}{WHOLE[1:-1]}, and says so." in said
    text = page.read_text(encoding="utf-8")
    assert f'<p id="draft" class="alarm">{WHOLE}</p>' in text
    assert '"draft":[{"file":"beds.yaml","guesses":1,' in text


def test_the_appendix_says_it_under_its_title(steelyard: Any, draft: Path) -> None:
    """And the terminal in the first line."""
    file = draft / "appendix.md"
    result = steelyard("appendix", *given(draft), "--out", file, *DRAWS)
    assert result.exit_code == 0, result.stderr
    assert SAID in result.stdout.splitlines()[0]
    assert "A draft: 1 guess stands" in "\n".join(file.read_text(encoding="utf-8").splitlines()[:6])


def test_a_record_of_a_draft_says_it(steelyard: Any, draft: Path) -> None:
    """In its formula's section, which has the shape that the schema says; and `verify` takes it."""
    file = draft / "record.json"
    result = steelyard("record", *given(draft), "--out", file, "--date", "2025-03-01")
    assert result.exit_code == 0, result.stderr
    assert f"The record is of {WHOLE[0].lower()}{WHOLE[1:-1]}, and says so." in result.stdout
    sections = json.loads(file.read_text(encoding="utf-8"))["publication"]["sections"]
    assert sections["formula"]["draft"] == STANDING
    assert list(section_misfits(sections)) == []
    assert steelyard("verify", file, *given(draft)).exit_code == 0


def test_what_a_human_must_decide_is_no_publication(steelyard: Any, small: Path) -> None:
    """Exit 2 with the line, and no file; of the formula and of the recipe alike."""
    file = small / "record.json"
    asked = ("--out", file, "--date", "2025-03-01")
    recipe = small / "readings.yaml"
    recipe.write_text(f"readings: bench\ntables:\n  - {{file: beds.csv}}   {DECIDE}\n", encoding="utf-8")
    marked(small, DECIDE)
    result = steelyard("record", small / "beds.yaml", recipe, *asked)
    assert result.exit_code == 2
    assert "beds.yaml:17: a guess that stands: DECIDE THIS FIRST; expected the guess decided" in result.stderr
    assert "readings.yaml:3: a guess that stands: DECIDE THIS FIRST" in result.stderr
    assert not file.exists()
