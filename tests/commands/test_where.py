"""`--where` on the command line: what is shown, what is refused, and where a part is no publication."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from written_classes import written


def test_a_table_of_a_class_says_of_whom_it_is(steelyard: Any, tmp_path: Path) -> None:
    """In the heading, in counts, and in a sentence on what the figures are."""
    result = steelyard("score", *written(tmp_path), "--where", "class=hybrid")
    assert result.exit_code == 0
    assert "(classes 1.0.0, class hybrid: 3 of 7 products)" in result.stdout
    assert "Published, of 3: both 2." in result.stdout
    assert "Scores are those of the whole catalogue; places are counted among the selected." in result.stdout
    assert "A-01" not in result.stdout


def test_files_of_a_class_hold_its_products(steelyard: Any, tmp_path: Path) -> None:
    """JSON and a table of files, with the condition beside the figures."""
    out = tmp_path / "scores.csv"
    result = steelyard("score", *written(tmp_path), "--where", "class=hybrid", "--out", out)
    assert result.stdout.startswith("3 of 7 products written to")
    lines = out.read_text("utf-8").splitlines()
    assert [line[:4] for line in lines[1:]] == ["B-02", "D-04", "G-07"]
    assert ",class=hybrid," in lines[1]
    found = json.loads(steelyard("score", *written(tmp_path), "--where", "class=hybrid", "--json").stdout)
    assert [one["id"] for one in found["products"]] == ["B-02", "D-04", "G-07"]
    assert [one["scores"]["both"]["rank"] for one in found["products"]] == [2, 1, None]


@pytest.mark.parametrize(
    ("command", "said"),
    [
        (("record", "F", "C"), "--where: class=hybrid for a record; expected the whole publication"),
        (("appendix", "F", "C"), "--where: class=hybrid for an appendix; expected the whole publication"),
        (("verify", "F"), "--where: class=hybrid for a record; expected the whole of what was published"),
        (("check", "F"), "--where: class=hybrid for a formula alone; expected a CATALOGUE"),
        (("check", "F", "C", "--repeatability"), "--where: class=hybrid for --repeatability"),
    ],
)
def test_what_is_of_a_whole_refuses_a_part(steelyard: Any, tmp_path: Path, command: tuple[str, ...], said: str) -> None:
    """A part is never published under the name of the whole; nothing is written."""
    formula, catalogue = written(tmp_path)
    words = [{"F": formula, "C": catalogue}.get(word, word) for word in command]
    result = steelyard(*words, "--where", "class=hybrid")
    assert result.exit_code == 2
    assert said in result.stderr


def test_a_check_looks_at_the_first_places_of_the_selected(steelyard: Any, tmp_path: Path) -> None:
    """A first place among the selected that stands on a gap is said; claims are the same as ever."""
    formula, catalogue = written(tmp_path)
    catalogue.write_text(catalogue.read_text("utf-8").replace("D-04,50,", "D-04,,"), encoding="utf-8")
    result = steelyard("check", formula, catalogue, "--where", "class=hybrid")
    assert "the first place of D-04 stands on a missing part" in result.stdout
    assert "What is said of first places is of the selected" in result.stdout
    whole = steelyard("check", formula, catalogue)
    assert "D-04" not in whole.stdout


def test_a_page_opens_on_what_its_menus_can_choose(steelyard: Any, tmp_path: Path) -> None:
    """One word of an attribute; anything else is refused, and no page is written."""
    out = tmp_path / "page.html"
    result = steelyard("explore", *written(tmp_path), "--where", "class=hybrid,foam", "--out", out)
    assert result.exit_code == 2
    assert "class hybrid or foam; expected one word of an attribute that has 2 to 40 words" in result.stderr
    assert not out.exists()
    assert steelyard("explore", *written(tmp_path), "--where", "class=hybrid", "--out", out).exit_code == 0
    assert '"where":["class=hybrid"]' in out.read_text("utf-8")
