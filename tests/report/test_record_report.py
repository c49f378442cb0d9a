"""A record from Python: the document is the record that the command writes, and it is kept like one."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from commands.conftest import Steelyard, steelyard  # noqa: F401 - a fixture

from analysis import record, write_report
from analysis.records.document import RecordError, read_record
from scoring import read_catalogue, read_formula
from scoring.errors import FileError

FORM = """\
formula: trial
version: 1.0.0
scale: {from: 1, to: 10, show: {step: 0.5}}
measures: {heat: {unit: delta_degC}}
ratings: {cool: {measure: heat, curve: {points: {1: 10, 9: 1}}}}
scores: {resting: {weights: {cool: 1}}}
"""


@pytest.fixture
def beds(tmp_path: Path) -> tuple[Path, Path]:
    """A formula and a catalogue."""
    formula, catalogue = tmp_path / "beds.yaml", tmp_path / "beds.csv"
    formula.write_text(FORM, encoding="utf-8")
    catalogue.write_text("product,heat\nA,1.6\nB,3.5\nC,\n", encoding="utf-8")
    return formula, catalogue


def test_it_is_the_record_that_the_command_writes(
    steelyard: Steelyard,  # noqa: F811
    beds: tuple[Path, Path],
    tmp_path: Path,
) -> None:
    """The same bytes, from paths and from what was read; places and figures stand in its frames."""
    done = steelyard("record", *beds, "--out", tmp_path / "one.json", "--date", "2026-03-01")
    assert (done.exit_code, done.stderr) == (0, "")
    formula = read_formula(beds[0])
    for number, made in enumerate(
        (record(*beds, date="2026-03-01"), record(formula, read_catalogue(beds[1], formula), date="2026-03-01"))
    ):
        written = write_report(made, tmp_path / f"again{number}.json")
        assert written.read_bytes() == (tmp_path / "one.json").read_bytes()
        assert read_record(written).fingerprint == made.found.fingerprint
    places = made.frames["resting.places"]
    assert places["product"].tolist() == ["A", "B", "C"]
    assert places["shown"].tolist()[:2] == [9.5, 7.0]
    assert made.verdict[0] == "3 products, 4 published figures."
    assert made.verdict[2].endswith(made.found.fingerprint)


def test_a_record_is_not_written_over_and_a_correction_says_why(beds: tuple[Path, Path], tmp_path: Path) -> None:
    """What was published stays; a correction is a state more, with its cause, in a file of its own."""
    write_report(record(*beds, date="2026-03-01"), tmp_path / "one.json")
    with pytest.raises(FileError, match="a steelyard record stands there"):
        write_report(record(*beds, date="2026-03-02"), tmp_path / "one.json", force=True)
    beds[1].write_text("product,heat\nA,1.6\nB,4.5\nC,\n", encoding="utf-8")
    with pytest.raises(RecordError, match="without a cause"):
        record(*beds, date="2026-03-02", corrects=tmp_path / "one.json")
    made = record(*beds, date="2026-03-02", corrects=tmp_path / "one.json", cause="B was read again")
    written = write_report(made, tmp_path / "two.json")
    assert [state.date for state in read_record(written).states] == ["2026-03-01", "2026-03-02"]
    assert json.loads(written.read_text(encoding="utf-8"))["corrections"][0]["cause"] == "B was read again"
    assert "Correction 1 of 2026-03-02: B was read again" in made.verdict


@pytest.mark.parametrize("ending", [".html", ".md", ".csv", ".xlsx", ".parquet"])
def test_it_has_a_page_and_a_table(beds: tuple[Path, Path], tmp_path: Path, ending: str) -> None:
    """The fingerprint and the cautions stand on its pages, and every format can be written twice."""
    made = record(*beds, date="2026-03-01")
    path = write_report(made, tmp_path / f"out{ending}")
    first = path.read_bytes()
    assert write_report(made, path).read_bytes() == first
    if ending in (".html", ".md"):
        assert made.found.fingerprint in first.decode()
