"""`steelyard appendix`: what it writes, what it refuses, and that it writes all or nothing."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from commands.conftest import Steelyard
from extent import is_long

from analysis import appendix

unseen = pytest.mark.usefixtures("pictures_unseen")


def test_it_writes_the_pages_and_their_pictures(steelyard: Steelyard, small: Path) -> None:
    """Two runs give the same bytes, and nothing names the machine's own folders.

    The second is for a long run: tests/test_same_bytes.py has two runs in processes of their own.
    """
    names = ("a", "b") if is_long() else ("a",)
    said = [steelyard("appendix", small / "beds.yaml", small / "beds.csv", "--out", small / name) for name in names]
    assert {(one.exit_code, one.stderr) for one in said} == {(0, "")}
    assert "appendix.html" in said[0].stdout
    assert re.search(r"workings\.csv, and\s+\d+\s+picture\s+files", said[0].stdout)
    first, *others = ({p.name: p.read_bytes() for p in (small / name).iterdir()} for name in names)
    assert all(other == first for other in others)
    assert {"appendix.html", "appendix.md", "workings.csv", "curve-quiet-1.svg", "parts-reading.png"} <= first.keys()
    assert str(small).encode() not in first["appendix.html"] + first["appendix.md"]
    assert b"steelyard appendix beds.yaml beds.csv --out DIR" in first["appendix.md"]


@unseen
def test_what_changed_since_the_previous_version(steelyard: Steelyard, small: Path) -> None:
    """The change in words, who moved, and the date as given."""
    old = small / "old.yaml"
    old.write_text((small / "beds.yaml").read_text(encoding="utf-8").replace("edge: 3", "edge: 1"), encoding="utf-8")
    out = small / "out"
    done = steelyard(
        "appendix", small / "beds.yaml", small / "beds.csv", "--out", out, "--previous", old, "--date", "2026-02-03"
    )
    assert (done.exit_code, done.stderr) == (0, "")
    page = (out / "appendix.md").read_text(encoding="utf-8")
    changed = page[page.index("## 11 What changed") : page.index("## 12 Checklist")]
    assert "edge" in changed
    assert "who moves" in changed
    assert "| A-01 |" in changed
    assert "Date: 2026-02-03" in page
    assert "--previous old.yaml" in page


@unseen
def test_without_a_previous_version_it_says_so(steelyard: Steelyard, small: Path) -> None:
    """And without repeatability it says that the bench says nothing, and no step claims it."""
    formula = small / "beds.yaml"
    text = formula.read_text(encoding="utf-8").replace(", repeatability: 1.2", "").replace(", repeatability: 2.5", "")
    formula.write_text(text, encoding="utf-8")
    done = steelyard("appendix", formula, small / "beds.csv", "--out", small / "out")
    assert (done.exit_code, done.stderr) == (0, "")
    page = (small / "out" / "appendix.md").read_text(encoding="utf-8")
    assert "No previous version was given" in page
    assert "nothing is said of what the bench can tell apart" in page
    assert "| 7. Uncertainty and sensitivity analysis | not done |" in page
    assert "| 9. Links to other indicators | not done |" in page
    assert "Inference for Ranks" not in page


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (["--date", "3 February"], "--date: `3 February`; expected a day as YYYY-MM-DD"),
        (["--date", "2026-02-30"], "expected a day as YYYY-MM-DD"),
        (["--set", "scores.reading.weights.egde=2"], "scores.reading.weights.edge"),
        (["--previous", "nowhere.yaml"], "nowhere.yaml"),
        (["--study", "nowhere.yaml"], "nowhere.yaml"),
    ],
)
def test_bad_input_is_told_and_nothing_is_written(
    steelyard: Steelyard, small: Path, options: list[str], says: str
) -> None:
    """Exit 2, one line, no folder."""
    done = steelyard("appendix", small / "beds.yaml", small / "beds.csv", "--out", small / "out", *options)
    assert done.exit_code == 2
    assert says in done.stderr
    assert not (small / "out").exists()


def test_the_place_must_be_one_that_can_be_written(steelyard: Steelyard, small: Path) -> None:
    """An ending that is no format is refused, before the work is done."""
    done = steelyard("appendix", small / "beds.yaml", small / "beds.csv", "--out", small / "appendix.doc")
    assert (done.exit_code, "the ending `.doc`" in done.stderr) == (2, True)


@unseen
def test_one_file_is_that_of_the_folder(steelyard: Steelyard, small: Path) -> None:
    """The page by itself, and its tables as a document; the same again, and from Python."""
    beds = small / "beds.yaml", small / "beds.csv"
    for out in ("folder", "one.html", "one.json"):
        done = steelyard("appendix", *beds, "--out", small / out, "--date", "2026-02-03")
        assert (done.exit_code, done.stderr) == (0, "")
    document = json.loads((small / "one.json").read_text(encoding="utf-8"))
    anchors = [section["anchor"] for section in document["sections"]]
    page = (small / "one.html").read_text(encoding="utf-8")
    assert [anchor for anchor in anchors if f'id="{anchor}"' not in page] == []
    assert page.replace("one.html", "DIR") == (small / "folder" / "appendix.html").read_text(encoding="utf-8")
    report = appendix(*beds, date="2026-02-03")
    assert set(report.frames) >= {"purposes", "measures"}
    assert {name for section in document["sections"] for name in section["pictures"]} == set(report.pictures)
    assert report.verdict[0] in done.stdout
    assert "ending in" not in done.stderr
    taken = steelyard("appendix", small / "beds.yaml", small / "beds.csv", "--out", small / "beds.csv" / "x")
    assert taken.exit_code == 2


@unseen
def test_the_wrong_catalogue_is_said_loudly(steelyard: Steelyard, small: Path) -> None:
    """What the formula does not know, and that not one score is published; the document is written and says so too."""
    wrong = small / "wrong.csv"
    wrong.write_text((small / "beds.csv").read_text(encoding="utf-8").replace("sit_drop", "depth"), encoding="utf-8")
    done = steelyard("appendix", small / "beds.yaml", wrong, "--out", small / "out")
    assert (done.exit_code, done.stderr) == (0, "")
    assert "In the catalogue and not in the formula: depth." in done.stdout
    assert "! NOTHING IS PUBLISHED: no product of this catalogue gets any score" in " ".join(done.stdout.split())
    page = (small / "out" / "appendix.md").read_text(encoding="utf-8")
    assert page.count("NOTHING IS PUBLISHED") == 2


def test_a_waiver_needs_a_reason(steelyard: Steelyard, small: Path) -> None:
    """The form's own key is read with the form."""
    formula = small / "beds.yaml"
    formula.write_text(
        formula.read_text(encoding="utf-8") + "checklist: {normalisation: {waived: ''}}\n", encoding="utf-8"
    )
    done = steelyard("appendix", formula, small / "beds.csv", "--out", small / "out")
    assert done.exit_code == 2
    assert "why the step is waived" in done.stderr
