"""A record of format 1, written before fingerprints were called so: read, verified as it stands, corrected in the new words.

`data/format-1.json` was written by steelyard at the last commit before the change: a publication and one correction.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from analysis.records.corrections import corrected, fingerprint_findings
from analysis.records.document import RecordError, read_record, record_bytes, states_of
from analysis.records.record import Record
from analysis.records.verification import verify_alone

OLD = Path(__file__).parent / "data" / "format-1.json"


def written(path: Path, document: Any) -> Path:
    """A document in a file, laid out as a record is."""
    path.write_bytes(record_bytes(document))
    return path


def test_an_older_record_holds_as_it_is_and_says_that_it_is_older() -> None:
    """Every fingerprint, under the key of that time; one note."""
    found = verify_alone(read_record(OLD), OLD)
    assert (found.fingerprints, found.within, found.holds) == ((), (), True)
    assert found.record.fingerprint == json.loads(OLD.read_text(encoding="utf-8"))["seal"]
    assert [note for note in found.notes if "whose key `seal` is now `fingerprint`" in note]


def test_an_edit_of_an_older_record_is_found(tmp_path: Path) -> None:
    """A date, and the key put into the words of today."""
    text = OLD.read_text(encoding="utf-8")
    path = tmp_path / "r.json"
    for edited in (text.replace("2025-03-01", "2025-03-02"), text.replace("  45.6", "  45.7")):
        path.write_text(edited, encoding="utf-8")
        assert (edited != text) == bool(verify_alone(read_record(path), path).fingerprints)
    path.write_text(text.replace('"seal"', '"fingerprint"'), encoding="utf-8")
    with pytest.raises(RecordError, match="the key `seal` is missing"):
        read_record(path)


def test_a_correction_of_an_older_record_keeps_its_states_and_writes_the_new_key(tmp_path: Path) -> None:
    """The states keep their fingerprints, to the letter, so that a copy of one kept elsewhere still finds its state."""
    old = read_record(OLD)
    sections = {**old.latest.sections, "cautions": ["Another caution."]}
    document = corrected(old, sections, "2025-05-01", "a caution was left out", "r.json")
    assert "seal" not in json.dumps(document)
    assert document["format"] == 2
    record = read_record(written(tmp_path / "r.json", document))
    assert [one.fingerprint for one in record.states[:2]] == [one.fingerprint for one in old.states]
    assert fingerprint_findings(record) == ()
    assert fingerprint_findings(Record(document, states_of([document["publication"], *document["corrections"]]))) == ()
