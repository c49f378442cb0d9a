"""Every format that is read: the same readings by another way are the same catalogue, within the same limits."""

from __future__ import annotations

import hashlib
from pathlib import Path

import numpy as np
import pytest
from catalogues import BED
from typer.testing import CliRunner
from written_tables import ITEMS, READINGS, WRITTEN

from analysis.cli.main import app
from scoring.catalogue import Catalogue, read_catalogue
from scoring.catalogue.formats.formats import read_grids
from scoring.catalogue.formats.grid import AS_IT_IS, Options, TableFile, table_of
from scoring.errors import CatalogueError, Problem
from scoring.table_formats import ENDINGS, FORMATS, ONE_OF_FORMATS, format_of
from scoring.texts.file_limits import lifted

FORMULA = """\
formula: beds
scale: {from: 1, to: 10}
measures: {noise: {unit: dB}, heat_flux: {unit: W/m2}}
ratings: {quiet: {measure: noise, curve: {line: {worst: 46, best: 22}}}}
"""


def test_every_format_is_written_here() -> None:
    """A new format is tested once its line stands in `WRITTEN`."""
    assert set(WRITTEN) == set(ENDINGS)


def written(folder: Path, ending: str) -> Path:
    """The readings in a file of that ending."""
    path = folder / f"bench{ending}"
    path.write_bytes(WRITTEN[ending](READINGS))
    return path


def content(catalogue: Catalogue) -> list[object]:
    """All that a catalogue holds, besides where it is from."""
    held: list[object] = [catalogue.products, dict(catalogue.attributes), catalogue.left_out, dict(catalogue.units)]
    for name, readings in catalogue.readings.items():
        rows, values = readings.rows.tolist(), np.where(np.isnan(readings.values), -1.0, readings.values).tolist()
        held += [name, readings.states.tolist(), values, rows, dict(readings.reasons)]
    return held


@pytest.mark.parametrize("ending", ENDINGS)
def test_the_same_readings_are_the_same_catalogue(ending: str, tmp_path: Path) -> None:
    """Whatever the format, also by the numbers of the rows; the hash is that of the file's bytes."""
    path = written(tmp_path, ending)
    read = read_catalogue(path, BED)
    assert content(read) == content(read_catalogue(written(tmp_path, ".csv"), BED))
    assert read.readings["noise"].values.shape == (3, 2)
    assert read.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()


@pytest.mark.parametrize("ending", ENDINGS)
def test_a_folder_may_hold_any_format(ending: str, tmp_path: Path) -> None:
    """Of readings and of items, each on its own; two files of one role are a fault."""
    (tmp_path / f"readings{ending}").write_bytes(WRITTEN[ending](READINGS))
    (tmp_path / f"items{ending}").write_bytes(WRITTEN[ending](ITEMS))
    read = read_catalogue(tmp_path, BED)
    assert (read.products, read.attributes["class"]) == (("007", "B", "A"), ("coil", "coil", "foam"))
    other = ".csv" if ending != ".csv" else ".tsv"
    (tmp_path / f"readings{other}").write_bytes(b"")
    with pytest.raises(CatalogueError, match="side by side"):
        read_catalogue(tmp_path, BED)


@pytest.mark.parametrize("ending", ENDINGS)
def test_every_walk_through_a_grid_gives_the_same_rows(ending: str) -> None:
    """Whether it is asked for rows or for the whole table."""
    problems: list[Problem] = []
    (grid,) = read_grids(TableFile(f"bench{ending}", WRITTEN[ending](READINGS)), problems)
    first, again = ([(line, list(cells)) for line, cells in grid.rows(problems)] for _ in range(2))
    assert first == again
    assert [line for line, _ in first] == [1, 2, 3, 4]
    whole, walked = table_of(grid, problems), table_of(grid, problems, grid.rows(problems))
    assert whole is not None
    assert walked is not None
    assert [cells.tolist() for cells in whole.columns] == [cells.tolist() for cells in walked.columns]
    assert (whole.header, whole.lines.tolist(), problems) == (walked.header, walked.lines.tolist(), [])


@pytest.mark.parametrize("limit", ["file_bytes", "rows", "cells", "columns"])
@pytest.mark.parametrize("ending", ENDINGS)
def test_every_limit_holds_for_every_format(ending: str, limit: str, tmp_path: Path) -> None:
    """One line that names the limit and how it is lifted."""
    path = written(tmp_path, ending)
    with lifted(**{limit: 2}), pytest.raises(CatalogueError) as caught:
        read_catalogue(path, BED)
    (told,) = caught.value.problems
    assert f"--limit {limit}=N" in told.hint


@pytest.mark.parametrize("ending", ENDINGS)
@pytest.mark.parametrize(
    "junk", [b"", b" \n", b"\x00" * 99, b"PK\x03\x04junk", b"ARROW1\x00\x00junk", b"SQLite format 3\x00junk"]
)
def test_junk_is_a_fault_in_every_format(ending: str, junk: bytes, tmp_path: Path) -> None:
    """The libraries raise many kinds of exceptions; one kind comes out."""
    path = tmp_path / f"bench{ending}"
    path.write_bytes(junk)
    with pytest.raises(CatalogueError, match="bench"):
        read_catalogue(path, BED)


@pytest.mark.parametrize("ending", ENDINGS)
def test_a_first_formula_is_made_of_every_format(ending: str, tmp_path: Path) -> None:
    """And it is the same, but for the file's name."""
    texts = []
    for path in (written(tmp_path, ending), written(tmp_path, ".csv")):
        done = CliRunner().invoke(app, ["new", "--from", str(path)])
        assert done.exit_code == 0, done.output
        texts.append(done.stdout.replace(path.name, "bench"))
    assert texts[0] == texts[1]


@pytest.mark.parametrize("ending", ENDINGS)
def test_readings_are_never_written_over(ending: str, tmp_path: Path) -> None:
    """Of any format, alone and in a folder."""
    (tmp_path / "beds.yaml").write_text(FORMULA, encoding="utf-8")
    path = written(tmp_path, ending)
    for given in (path, tmp_path):
        out = path if given is path else path.rename(tmp_path / f"readings{ending}")
        before = out.read_bytes()
        done = CliRunner().invoke(app, ["score", str(tmp_path / "beds.yaml"), str(given), "--out", str(out), "--force"])
        assert (done.exit_code, out.read_bytes() == before) == (2, True)


def test_the_help_names_every_format() -> None:
    """Of a command that takes a catalogue."""
    said = " ".join(CliRunner().invoke(app, ["score", "--help"]).stdout.split())
    assert ONE_OF_FORMATS in said
    assert all(format_.name in ONE_OF_FORMATS for format_ in FORMATS)


@pytest.mark.parametrize(
    ("name", "options", "says"),
    [
        ("bench.xlsx", Options(separator=";"), "a separator for a file of XLSX; expected `separator` for CSV or TSV alone"),
        ("bench.csv", Options(sheets=("A",)), "sheets for a file of CSV; expected `sheets` for XLSX or ODS or SQLite alone"),
        ("bench.parquet", Options(query="select 1"), "a query for a file of Parquet; expected `query` for SQLite alone"),
        ("bench.ods", Options(encoding="utf-8"), "an encoding for a file of ODS; expected `encoding` for CSV or TSV alone"),
        ("bench.txt", AS_IT_IS, "a file that ends in `.txt`; expected .csv, .tsv,"),
    ],
)  # fmt: skip
def test_an_option_that_a_format_cannot_follow_is_a_fault(name: str, options: Options, says: str) -> None:
    """It is not passed over."""
    problems: list[Problem] = []
    assert read_grids(TableFile(name, b"x", options), problems) == ()
    assert says in str(problems[0])


def test_endings_do_not_mind_capitals() -> None:
    """Nor the folder."""
    found = format_of("a.b/BENCH.ODS")
    assert found is not None
    assert (found.name, format_of("bench")) == ("ODS", None)
