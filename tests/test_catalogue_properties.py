"""Catalogues by properties: any bytes are read or refused; form, order and unit change no reading."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from catalogues import BED, PLAIN
from extent import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from scoring.catalogue import Catalogue, State, read_catalogue
from scoring.errors import CatalogueError, Problem

READING = st.floats(-1e6, 1e6).map(lambda x: repr(round(x, 3))) | st.sampled_from(
    ["", "< 5", "missing: mute", "missing"]
)
TABLE = st.lists(st.lists(READING, min_size=4, max_size=4), min_size=1, max_size=6)


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One folder for the files of a property."""
    return tmp_path_factory.mktemp("property")


@given(content=st.binary(max_size=200))
@settings(deadline=None, max_examples=examples(300))
def test_any_bytes_are_a_catalogue_or_a_catalogue_error(place: Path, content: bytes) -> None:
    """No CSV file raises anything else."""
    check_any(place, content)


WORDS = [
    "product",
    "id",
    "measure",
    "value",
    "noise",
    "repeat",
    "flag",
    "unit",
    "[dB]",
    "#2",
    "A",
    "B",
    "30",
    "missing",
    "n/a",
    "below",
    "degF",
    "1e9",
    "class",
    "foam",
    "2,5",
]
PIECE = st.sampled_from([*WORDS, "< 22", " ", ",", ",", ",", "\n", "\n", '"', ";", "\r", "\ufeff", "\x00"])


@given(pieces=st.lists(PIECE, max_size=40), long=st.booleans())
@settings(deadline=None, max_examples=examples(400))
def test_any_text_of_a_catalogues_words_is_read_or_refused(place: Path, pieces: list[str], long: bool) -> None:
    """Nearly right files find what random bytes do not."""
    head = "product,measure,value,unit,flag\n" if long else "product,noise,"
    check_any(place, (head + "".join(pieces)).encode())


def attempt(path: Path) -> tuple[Catalogue | None, tuple[Problem, ...]]:
    """The catalogue, or the problems it is refused for."""
    try:
        return read_catalogue(path, BED), ()
    except CatalogueError as fault:
        return None, fault.problems


def check_any(place: Path, content: bytes) -> None:
    """Read bytes as a CSV catalogue; a refusal must hold at least one problem."""
    path = place / "any.csv"
    path.write_bytes(content)
    catalogue, problems = attempt(path)
    assert (catalogue is None) == bool(problems)
    if catalogue is None:
        return
    assert len(set(catalogue.products)) == len(catalogue.products) > 0
    for readings in catalogue.readings.values():
        assert (np.isfinite(readings.values) == (readings.states <= State.BELOW)).all()


@given(table=TABLE)
@settings(deadline=None, max_examples=examples(100))
def test_wide_and_long_files_of_the_same_readings_are_equal(place: Path, table: list[list[str]]) -> None:
    """Two measures of two repeats, written both ways."""
    heads = ["sag #1", "sag #2", "noise #1", "noise #2"]
    wide = [",".join(["product", *heads])] + [",".join([f"P{i}", *row]) for i, row in enumerate(table)]
    long = ["product,measure,repeat,value"]
    for i, row in enumerate(table):
        long += (f"P{i},{head.replace(' #', ',')},{cell}" for head, cell in zip(heads, row, strict=True))
    (place / "wide.csv").write_text("\n".join(wide), encoding="utf-8")
    (place / "long.csv").write_text("\n".join(long), encoding="utf-8")
    one, other = (read_catalogue(place / f"{name}.csv", PLAIN) for name in ("wide", "long"))
    assert one.products == other.products
    for name in ("sag", "noise"):
        np.testing.assert_array_equal(one.readings[name].values, other.readings[name].values)
        np.testing.assert_array_equal(one.readings[name].states, other.readings[name].states)
        assert one.readings[name].reasons == other.readings[name].reasons


@given(degrees=st.lists(st.integers(500, 860), min_size=1, max_size=6))
@settings(deadline=None, max_examples=examples(50))
def test_a_change_of_unit_changes_no_value(place: Path, degrees: list[int]) -> None:
    """Degrees Fahrenheit in tenths, and the same in Celsius worked out in whole numbers first."""
    rows = [(f"P{i}", tenths / 10, (tenths - 320) / 18) for i, tenths in enumerate(degrees)]
    (place / "f.csv").write_text("id,room [degF]\n" + "".join(f"{p},{f!r}\n" for p, f, _ in rows), encoding="utf-8")
    (place / "c.csv").write_text("id,room\n" + "".join(f"{p},{c!r}\n" for p, _, c in rows), encoding="utf-8")
    one, other = (read_catalogue(place / f"{name}.csv", BED).readings["room"] for name in ("f", "c"))
    np.testing.assert_allclose(one.values, other.values, rtol=0, atol=1e-12)
    np.testing.assert_array_equal(one.states, other.states)
