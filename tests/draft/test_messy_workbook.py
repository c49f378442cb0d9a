"""The messy workbook: its files are what its generator makes, and all of them hold the same readings."""

from __future__ import annotations

import io
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest
from openpyxl import load_workbook

EXAMPLE = Path(__file__).resolve().parents[2] / "examples" / "messy-workbook"
WRITTEN = ("bench.xlsx", "bench.ods", "bench.csv", "products.csv", "long.csv", "bench.sqlite")


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder that the generator wrote into, twice, with the same bytes."""
    folders = [tmp_path_factory.mktemp(name) for name in ("first", "second")]
    for folder in folders:
        subprocess.run([sys.executable, str(EXAMPLE / "make_bench.py"), str(folder)], check=True, cwd=folder)
    first, second = ([(folder / name).read_bytes() for name in WRITTEN] for folder in folders)
    assert first == second
    return folders[0]


@pytest.mark.parametrize("name", [name for name in WRITTEN if name.endswith(".csv")])
def test_texts_are_what_the_generator_makes(name: str, made: Path) -> None:
    """Byte for byte."""
    assert (EXAMPLE / name).read_bytes() == (made / name).read_bytes()


def test_the_workbook_is_what_the_generator_makes(made: Path) -> None:
    """Cell for cell: the library that writes it may pack it otherwise in another version."""
    assert cells_of(EXAMPLE / "bench.xlsx") == cells_of(made / "bench.xlsx")


def test_the_database_is_what_the_generator_makes(made: Path) -> None:
    """Statement for statement, whatever the version of the library."""
    assert statements_of(EXAMPLE / "bench.sqlite") == statements_of(made / "bench.sqlite")


def cells_of(path: Path) -> dict[str, list[tuple[object, ...]]]:
    """Every sheet's rows."""
    book = load_workbook(io.BytesIO(path.read_bytes()))
    return {sheet.title: list(sheet.iter_rows(values_only=True)) for sheet in book.worksheets}


def statements_of(path: Path) -> list[str]:
    """What makes the database again."""
    base = sqlite3.connect(f"file:{path}?mode=ro", uri=True)
    statements = list(base.iterdump())
    base.close()
    return statements
