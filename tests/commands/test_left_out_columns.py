"""What a laboratory keeps for itself in a catalogue goes into no result: columns of words that the formula does not declare."""

from __future__ import annotations

import csv
import io
import json
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pyarrow.parquet as pq
import pytest
from commands.conftest import READINGS, SMALL, Steelyard
from extent import only_long

from analysis.records.drift import data_drift
from scoring import read_catalogue, read_formula, score
from scoring.catalogue import from_arrays
from scoring.catalogue.in_html import catalogue_html
from scoring.table.table_html import table_html

#: What stands in a cell of every private column; the maker's name is declared, and shows that the search finds words.
SECRET, DECLARED = "see mail by K.", "Vorrlin"
PRIVATE = ("Notes", "Tested by")


def with_private(rows: list[list[str]]) -> str:
    """A table with the private columns behind, the secret in every other cell of them."""
    header, *body = rows
    table = [[*header, *PRIVATE]] + [[*row, *([SECRET, ""][i % 2] for _ in PRIVATE)] for i, row in enumerate(body)]
    written = io.StringIO()
    csv.writer(written, lineterminator="\n").writerows(table)
    return written.getvalue()


def wide(folder: Path) -> Path:
    """A wide file."""
    path = folder / "beds.csv"
    path.write_text(with_private([line.split(",") for line in READINGS.splitlines()]), encoding="utf-8")
    return path


def listed_items(folder: Path) -> Path:
    """Long readings and a file of items, both with private columns, in a folder."""
    path = folder / "beds"
    path.mkdir()
    rows = [line.split(",") for line in READINGS.splitlines()]
    items = [["product", "maker"], *(row[:2] for row in rows[1:])]
    (path / "items.csv").write_text(with_private(items), encoding="utf-8")
    readings = [["product", "measure", "repeat", "value", "operator"]]
    for product, _, *cells in rows[1:]:
        for (measure, repeat), cell in zip((("noise", "1"), ("noise", "2"), ("sit_drop", "1")), cells, strict=False):
            readings.append([product, measure, repeat, cell, SECRET])
    (path / "readings.csv").write_text(with_private(readings), encoding="utf-8")
    return path


Catalogued = Callable[[Path], Path]
CATALOGUES = pytest.mark.parametrize("catalogue", [wide, listed_items])
COMMANDS = {
    "check": ("check", "FORM", "BEDS"),
    "check --json": ("check", "FORM", "BEDS", "--json"),
    "check --repeatability": ("check", "FORM", "BEDS", "--repeatability"),
    "check --reference": ("check", "FORM", "BEDS", "--reference"),
    "score": ("score", "FORM", "BEDS"),
    "score --score": ("score", "FORM", "BEDS", "--score", "reading"),
    "score --ratings": ("score", "FORM", "BEDS", "--ratings"),
    "score --json": ("score", "FORM", "BEDS", "--json"),
    "score to CSV": ("score", "FORM", "BEDS", "--out", "OUT/s.csv"),
    "score to XLSX": ("score", "FORM", "BEDS", "--out", "OUT/s.xlsx"),
    "score to Parquet": ("score", "FORM", "BEDS", "--out", "OUT/s.parquet"),
    "score to JSON": ("score", "FORM", "BEDS", "--out", "OUT/s.json"),
    "score to pictures": ("score", "FORM", "BEDS", "--out", "OUT/scores"),
    "explain": ("explain", "FORM", "BEDS", "A-01"),
    "explain --json": ("explain", "FORM", "BEDS", "A-01", "--json"),
    "sensitivity": ("sensitivity", "FORM", "BEDS", "--draws", "256", "--out", "OUT/moves"),
    "sensitivity --resolved": ("sensitivity", "FORM", "BEDS", "--resolved"),
    "stability": ("stability", "FORM", "BEDS", "--draws", "256", "--out", "OUT/firm"),
    "compare": ("compare", "FORM", "FORM", "BEDS", "--set", "scores.reading.weights.quiet=3", "--out", "OUT/c.html"),
    "compare to a folder": (
        "compare",
        "FORM",
        "FORM",
        "BEDS",
        "--set",
        "scores.reading.weights.quiet=3",
        "--out",
        "OUT/c",
    ),
    "weights": ("weights", "FORM", "BEDS", "--json"),
    "flip": ("flip", "FORM", "BEDS", "A-02", "A-01", "--json"),
    "appendix": ("appendix", "FORM", "BEDS", "--draws", "256", "--out", "OUT/appendix"),
    "explore": ("explore", "FORM", "BEDS", "--out", "OUT/page.html"),
    "record": ("record", "FORM", "BEDS", "--date", "2026-01-02", "--out", "OUT/record.json"),
    "new": ("new", "--from", "BEDS"),
}


def readable(path: Path) -> Iterator[str]:
    """The texts of a file that was written; of a picture of dots or a PDF none, for their words stand in files beside them."""
    if path.suffix == ".xlsx":
        with zipfile.ZipFile(path) as archive:
            yield from (archive.read(name).decode() for name in archive.namelist())
    elif path.suffix == ".parquet":
        yield json.dumps(pq.read_table(path).to_pylist(), ensure_ascii=False)
    elif path.suffix not in (".png", ".pdf"):
        yield path.read_text(encoding="utf-8")


def all_texts(folder: Path) -> str:
    """Every text under a folder."""
    return "\n".join(text for path in sorted(folder.rglob("*")) if path.is_file() for text in readable(path))


#: Commands that draw and write much; what they read of a catalogue is asked of the wide file, and of both in a long run.
SLOW = ("sensitivity", "stability", "compare", "compare to a folder", "score to pictures", "appendix")
#: Those that say what they left out.
NAMING = ("check", "score", "score to CSV", "appendix", "explore", "record")
CASES = [
    pytest.param(catalogue, command, marks=[only_long] * (catalogue is listed_items and command in SLOW))
    for catalogue in (wide, listed_items)
    for command in COMMANDS
]


@pytest.mark.parametrize(("catalogue", "command"), CASES)
def test_no_result_of_any_command_holds_a_private_word(
    steelyard: Steelyard, tmp_path: Path, command: str, catalogue: Catalogued
) -> None:
    """On the terminal, on standard error, or in a file; the columns are named on the terminal, and in no publication."""
    places = {"FORM": tmp_path / "beds.yaml", "BEDS": catalogue(tmp_path)}
    places["FORM"].write_text(SMALL, encoding="utf-8")
    out = tmp_path / "out"
    out.mkdir()
    done = steelyard(*(places.get(word, word.replace("OUT", str(out))) for word in COMMANDS[command]))
    assert done.exit_code == 0, done.output
    written = all_texts(out)
    assert written or "--out" not in COMMANDS[command]
    assert "mail by" not in done.output + written
    if command.startswith("score to") or command in ("appendix", "explore", "record"):
        assert (DECLARED in written) is (command != "score to JSON")
    if command in NAMING:
        assert "Left out, for the formula does not declare them under `attributes`: Notes, Tested by." in done.stdout
        assert "Tested by" not in written


@CATALOGUES
def test_python_has_them_neither(tmp_path: Path, catalogue: Catalogued) -> None:
    """Not in frames, not in a notebook; nor where a catalogue was read for a formula that declares more."""
    path = catalogue(tmp_path)
    (tmp_path / "beds.yaml").write_text(SMALL, encoding="utf-8")
    (tmp_path / "bare.yaml").write_text(
        SMALL.replace("attributes:\n  maker: {label: Maker, required: no}\n", ""), encoding="utf-8"
    )
    formula, bare = read_formula(tmp_path / "beds.yaml"), read_formula(tmp_path / "bare.yaml")
    beds = read_catalogue(path, formula)
    assert beds.left_out == PRIVATE
    table = score(formula, beds)
    frames = [table.frame(), table.frame("reading"), table.readings_frame(), beds.frame()]
    shown = "\n".join(
        [*(frame.to_csv() for frame in frames), catalogue_html(beds), table_html(table), repr(beds.attributes)]
    )
    assert "mail by" not in shown
    assert DECLARED in shown
    assert "Left out, not declared under attributes: 2 (`left_out` names them)." in catalogue_html(beds)
    assert DECLARED not in score(bare, beds).frame().to_csv()


def test_words_given_in_memory_are_left_out_by_a_formula_that_does_not_declare_them(tmp_path: Path) -> None:
    """A catalogue of arrays was read for no formula."""
    (tmp_path / "beds.yaml").write_text(SMALL, encoding="utf-8")
    beds = from_arrays(
        ["A", "B"], {"noise": [30, 31], "sit_drop": [60, 70]}, {"maker": ["V", "W"], "notes": [SECRET, ""]}
    )
    frame = score(read_formula(tmp_path / "beds.yaml"), beds).frame()
    assert list(frame.columns[:2]) == ["maker", "quiet.value"]


def test_a_record_that_still_holds_such_words_has_not_drifted() -> None:
    """It was made when they were kept; a word of an attribute that both have is compared as ever."""
    old = {"readings": [{"id": "A", "digest": "1", "attributes": {"maker": "V", "notes": SECRET}, "measures": {}}]}
    new = {"readings": [{"id": "A", "digest": "2", "attributes": {"maker": "V"}, "measures": {}}]}
    assert data_drift(old, new, {}) == ()
    new["readings"][0]["attributes"] = {"maker": "W"}
    assert [one.says for one in data_drift(old, new, {})] == ["A, maker: V -> W"]
