"""Places within classes in records: kept, held against the words beside them, and named where they drift."""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

from written_classes import FORM, written

from analysis import record, verify, write_report
from analysis.records.corrections import first_publication
from analysis.records.document import states_of
from analysis.records.record import Record
from analysis.records.sections import sections_of
from analysis.records.verification import is_readable, rule_findings
from scoring import read_formula, score
from scoring.renamed import with_later_keys

WITHIN = FORM.replace("attributes", "ranks: {within: class}\nattributes")


def sections(files: tuple[Path, Path], tried: dict[str, Any] | None = None) -> dict[str, Any]:
    """What a record keeps of the two files."""
    table = score(read_formula(files[0], set=tried), files[1])
    return sections_of(table, table.program, table.settings)


def test_a_record_keeps_places_within_classes_and_holds(tmp_path: Path) -> None:
    """Beside the overall place, with the class and how many of it have one; and the rule."""
    files = written(tmp_path, WITHIN)
    made = record(*files, date="2026-01-01")
    kept = made.found.latest.sections
    by_id = {one["id"]: one["scores"]["both"] for one in kept["figures"]}
    assert by_id["B-02"]["within"] == {"attribute": "class", "word": "hybrid", "rank": 2, "of": 2}
    assert kept["rules"]["ranks"]["within"] == "class"
    write_report(made, tmp_path / "record.json")
    assert verify(tmp_path / "record.json", *files).found.holds


def test_a_record_without_classes_says_nothing_of_them(tmp_path: Path) -> None:
    """As records of before."""
    text = json.dumps(sections(written(tmp_path)))
    assert '"within"' not in text.replace('"ranks.within"', "")


def test_a_record_of_before_lacks_the_address_and_holds() -> None:
    """No place was counted within classes then."""
    assert with_later_keys({"ranks.on": "shown"}, {"ranks.within": "none"}) == {
        "ranks.within": "none",
        "ranks.on": "shown",
    }


def test_a_place_within_a_class_that_was_edited_is_named(tmp_path: Path) -> None:
    """By the record's own figures and words, though fingerprinted anew."""
    edited = copy.deepcopy(sections(written(tmp_path, WITHIN)))
    standing = next(one for one in edited["figures"] if one["id"] == "B-02")["scores"]["both"]
    standing["within"]["rank"] = 1
    document = first_publication(edited, "2026-01-01")
    (found, *_) = rule_findings(Record(document, states_of([document["publication"], *document["corrections"]])))
    assert found.says == "B-02, both: place in its class 1 of 2, but it is 2 of 2"


def test_a_drift_within_a_class_alone_is_told(tmp_path: Path) -> None:
    """A product of another class: its overall place stays, and its place among its own kind is another."""
    files = written(tmp_path, WITHIN)
    made = record(*files, date="2026-01-01")
    path = tmp_path / "record.json"
    write_report(made, path)
    moved = files[1].read_text("utf-8").replace("31,foam", "31,hybrid")
    files[1].write_text(moved, encoding="utf-8")
    found = verify(path, *files).found
    assert not found.holds
    assert is_readable(found)
    figures = {one.product: one for one in found.drift if one.kind == "figure" and one.output == "both"}
    assert set(figures) == {"A-01", "B-02", "C-03", "D-04"}
    assert figures["C-03"].before["rank"] == figures["C-03"].after["rank"]
    assert figures["C-03"].after["within"] == {"attribute": "class", "word": "hybrid", "rank": 3, "of": 3}
