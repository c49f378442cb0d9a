"""Who moves within a class: sentences, columns and documents of `compare`, and what was printed of a first."""

from __future__ import annotations

from pathlib import Path

from written_classes import FORM, written

from analysis import compare

WITHIN = FORM.replace("attributes", "ranks: {within: class}\nattributes")


def edited(tmp_path: Path, *, old: str = WITHIN, new: str = WITHIN) -> tuple[Path, Path, Path]:
    """Two formulas, of which the second looks at the edge alone and finds B better than D, and the catalogue."""
    formula, catalogue = written(tmp_path, old.replace("quiet: 2", "quiet: 12"))
    other = tmp_path / "other.yaml"
    other.write_text(new.replace("weights: {edge: 1, quiet: 2}", "weights: {edge: 4, quiet: 1}"), encoding="utf-8")
    catalogue.write_text(catalogue.read_text("utf-8").replace("B-02,60", "B-02,42"), encoding="utf-8")
    return formula, other, catalogue


def test_a_first_place_within_a_class_that_passes_on_is_said(tmp_path: Path) -> None:
    """With how many change place among their own kind, and that what was printed of the first is no longer true."""
    report = compare(*edited(tmp_path), scores="both")
    said = " ".join(report.verdict)
    assert (
        "Within each class, 2 products of 7 stand at another place; the first place passes on in hybrid from D-04"
        in said
    )
    assert "D-04 as first in class hybrid" in said
    frame = report.frames["both.moves"].set_index("product")
    assert (frame.loc["B-02", "old_in_class"], frame.loc["B-02", "new_in_class"]) == ("2/2", "1/2")
    row = report.frame[report.frame["product"] == "D-04"].iloc[0]
    assert (row["old_rank_within"], row["new_rank_within"]) == (1, 2)


def test_classes_that_one_edition_counts_are_shown_and_not_compared(tmp_path: Path) -> None:
    """There is no place of before to move from."""
    report = compare(*edited(tmp_path, old=FORM), scores="both")
    assert "Within each" not in " ".join(report.verdict)
    assert "ranks: places within none -> class" in " ".join(report.frames["changes"]["says"])
    frame = report.frames["both.moves"].set_index("product")
    assert (frame.loc["B-02", "old_in_class"], frame.loc["B-02", "new_in_class"]) == ("", "1/2")


def test_editions_without_classes_say_nothing_of_them(tmp_path: Path) -> None:
    """Neither a column nor a key."""
    report = compare(*edited(tmp_path, old=FORM, new=FORM), scores="both")
    assert "old_in_class" not in report.frames["both.moves"]
    assert "old_rank_within" not in report.frame
    assert "within" not in str(report.document["scores"])
