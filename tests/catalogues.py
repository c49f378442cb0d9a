"""Catalogues written for a test: a file from a text, a folder from texts, a workbook from rows."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import openpyxl
from forms import attribute, form, measure

from scoring.catalogue import Catalogue, read_catalogue
from scoring.form import Form

NOISE = measure("noise", unit="dB", plausible=(18, 75), reporting_limit=22.0)
FLUX = measure("heat_flux", unit="W/m2", plausible=(15, 130))
ROOM = measure("room", unit="degC", plausible=(10, 30))
BED = form([NOISE, FLUX, ROOM], [attribute("class", "hybrid", "foam", "coil")])
PLAIN = form([measure("sag", unit="mm"), measure("noise", unit="dB")])


def read_text(folder: Path, content: str | bytes, using: Form = BED, name: str = "bench.csv") -> Catalogue:
    """Write a text or bytes as a file of the folder, and read it as a catalogue."""
    path = folder / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return read_catalogue(path, using)


def folder(tmp_path: Path, **files: str) -> Path:
    """A folder of CSV files by their names."""
    for name, content in files.items():
        (tmp_path / f"{name}.csv").write_text(content, encoding="utf-8")
    return tmp_path


def workbook(tmp_path: Path, rows: list[list[Any]], name: str = "bench.xlsx", **others: list[list[Any]]) -> Path:
    """A workbook with one sheet of rows, and others by name."""
    book = openpyxl.Workbook()
    assert book.active is not None
    for row in rows:
        book.active.append(row)
    for title, more in others.items():
        sheet = book.create_sheet(title)
        for row in more:
            sheet.append(row)
    path = tmp_path / name
    book.save(path)
    return path
