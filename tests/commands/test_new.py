"""`steelyard new`: a first formula from the columns of a catalogue."""

from __future__ import annotations

from pathlib import Path
from typing import Any

OWN = "Model,Noise level (dB),Rebound %\nAlder,31.5,38\nBirch,38.0,44\nCedar,,29\n"


def test_a_draft_is_checked_and_scored_as_it_stands(steelyard: Any, tmp_path: Path) -> None:
    """The two commands that it names run without a change to either file."""
    readings, draft = tmp_path / "own.csv", tmp_path / "beds.yaml"
    readings.write_text(OWN, encoding="utf-8")
    result = steelyard("new", "--from", readings, "--out", draft)
    assert (result.exit_code, result.stderr) == (0, "")
    assert "2 measures" in result.stdout
    assert f"steelyard check {draft} {readings}" in result.stdout
    for command in ("check", "score"):
        result = steelyard(command, draft, readings)
        assert (result.exit_code, result.stderr) == (0, ""), result.stderr
    assert "Birch" in result.stdout


def test_the_draft_goes_to_standard_output_by_default(steelyard: Any, tmp_path: Path) -> None:
    """Only the formula, so that it can be piped; the same bytes each time, and those of `--out`."""
    readings = tmp_path / "own.csv"
    readings.write_text(OWN, encoding="utf-8")
    printed = [steelyard("new", "--from", readings).stdout for _ in range(2)]
    steelyard("new", "--from", readings, "--out", tmp_path / "own.yaml")
    assert printed[0] == printed[1] == (tmp_path / "own.yaml").read_text(encoding="utf-8")
    assert printed[0].startswith("# A first draft")


def test_nothing_is_written_over(steelyard: Any, tmp_path: Path) -> None:
    """A file that is there stays, whatever is in it."""
    readings, draft = tmp_path / "own.csv", tmp_path / "beds.yaml"
    readings.write_text(OWN, encoding="utf-8")
    draft.write_text("mine", encoding="utf-8")
    result = steelyard("new", "--from", readings, "--out", draft)
    assert (result.exit_code, result.stdout) == (2, "")
    assert "there already" in result.stderr
    assert draft.read_text(encoding="utf-8") == "mine"


def test_what_is_wrong_with_the_readings_is_said_and_the_draft_stands(steelyard: Any, tmp_path: Path) -> None:
    """A cell that is no reading does not keep the formula from being written."""
    readings, draft = tmp_path / "own.csv", tmp_path / "beds.yaml"
    readings.write_text(OWN + 'Dale,"30,5",30\n', encoding="utf-8")
    result = steelyard("new", "--from", readings, "--out", draft)
    assert result.exit_code == 0
    assert "1 place in the readings needs a look" in result.stdout
    assert "row 5, column Noise level (dB)" in result.stdout
    assert draft.exists()


def test_faults_of_the_command_are_told(steelyard: Any, tmp_path: Path) -> None:
    """No catalogue, a formula for one, a file of another ending, a name that is none: exit 2, nothing printed."""
    readings = tmp_path / "own.csv"
    readings.write_text(OWN, encoding="utf-8")
    (tmp_path / "a.yaml").write_text("formula: a\n", encoding="utf-8")
    for given, words in (
        ((), "--from: not given"),
        (("--from", tmp_path / "a.yaml"), "where the readings belong"),
        (("--from", readings, "--out", tmp_path / "beds.txt"), "ends in .yaml"),
        (("--from", readings, "--name", "two words"), "--name"),
        (("--from", tmp_path / "gone.csv"), "gone.csv"),
    ):
        result = steelyard("new", *given)
        assert (result.exit_code, result.stdout) == (2, ""), given
        assert words in result.stderr


def test_readings_that_no_formula_can_hold_are_refused(steelyard: Any, tmp_path: Path) -> None:
    """Each column by itself; a range about 1e15 ends there."""
    (tmp_path / "beds.csv").write_text("product,a,b,c\nP-1,1e308,1,2e300\nP-2,-1e308,2,3\n", encoding="utf-8")
    result = steelyard("new", "--from", tmp_path / "beds.csv")
    assert (result.exit_code, result.stdout) == (2, "")
    told = [line.split("/")[-1] for line in result.stderr.splitlines()[:-1]]
    assert told == [
        f"beds.csv, column {name}: readings up to {most}; expected at most 1e+15, as in a formula. State them in a larger unit."
        for name, most in (("a", "1e+308"), ("c", "2e+300"))
    ]
    (tmp_path / "beds.csv").write_text("product,a\nP-1,1e15\nP-2,-1e15\n", encoding="utf-8")
    result = steelyard("new", "--from", tmp_path / "beds.csv")
    assert "plausible: [-1000000000000000, 1000000000000000]" in result.stdout


def test_columns_that_are_left_out_are_named(steelyard: Any, tmp_path: Path) -> None:
    """By their names, and a column of sessions, which is read, is none of them."""
    readings = tmp_path / "own.csv"
    readings.write_text(
        "Model,Engineer,Noise (dB),session,Remarks\nAlder,QM,31,S1,loud\nBirch,OT,30,S1,\n", encoding="utf-8"
    )
    result = steelyard("new", "--from", readings, "--out", tmp_path / "own.yaml", "--recipe", "how.yaml")
    assert (result.exit_code, result.stderr) == (0, "")
    assert "Columns not read: Engineer, Remarks.\n" in result.stdout
    assert "how.yaml is not written: own.csv is read as it stands." in result.stdout
    assert not (tmp_path / "how.yaml").exists()


def test_a_likely_slip_is_to_be_decided(steelyard: Any, tmp_path: Path) -> None:
    """In a file that is read as it stands, too: the draft says so, and `score` stops at it."""
    readings, draft = tmp_path / "own.csv", tmp_path / "own.yaml"
    rows = "".join(f"B-{n},{40 + n}\n" for n in range(8))
    readings.write_text(f"Model,Sag [mm]\n{rows}B-8,430\n", encoding="utf-8")
    result = steelyard("new", "--from", readings, "--out", draft)
    assert "Decide first:" in result.stdout
    assert "1 place in the readings needs a look" in result.stdout
    assert "`430` mm; expected 33 to 54 mm, the plausible range" in steelyard("score", draft, readings).stderr
