"""A wide file without a recipe: `Session` names the session of a row's readings, and a product may have a row a session."""

from __future__ import annotations

from pathlib import Path

import pytest
from catalogues import BED, read_text
from recipes import sessions

from scoring.errors import CatalogueError


@pytest.mark.parametrize("column", ["session", "Session"])
def test_a_row_a_session(tmp_path: Path, column: str) -> None:
    """The readings of each are further repeats, in the order of rows, however they are numbered there."""
    rows = f"product,{column},class,noise #1,noise #2,room\nA,S1,foam,30,31,20\nB,S1,coil,40,,21\nA,S2,foam,32,,22\nC,,foam,33,34,\n"
    catalogue = read_text(tmp_path, rows)
    noise = catalogue.readings["noise"]
    assert noise.written[0].tolist() == [30, 31, 32]
    assert noise.written[2, :2].tolist() == [33, 34]
    assert sessions(catalogue, "noise") == [["S1", "S1", "S2"], ["S1", "S1", ""], ["", "", ""]]
    assert catalogue.readings["room"].written[0].tolist() == [20, 22]
    assert (catalogue.products, catalogue.attributes["class"]) == (("A", "B", "C"), ("foam", "coil", "foam"))
    assert (catalogue.left_out, catalogue.unused) == ((), ())
    assert str(noise.place(0, 2)).endswith("bench.csv, row 4, column noise #1")


@pytest.mark.parametrize("column", ["session", "Session"])
def test_a_row_a_product_has_the_session_of_the_row(tmp_path: Path, column: str) -> None:
    """As it was: repeats keep their numbers."""
    catalogue = read_text(tmp_path, f"product,{column},noise #1,noise #3\nA,S1,30,31\nB,S2,40,\n")
    assert sessions(catalogue, "noise") == [["S1", "S1", "S1"], ["S2", "S2", "S2"]]
    assert catalogue.product_sessions == ("S1", "S2")


@pytest.mark.parametrize(
    ("rows", "says"),
    [
        ("A,S1,30\nA,S1,31\n", "row 3, column product: a second row of `A` in the session `S1`, after row 2; expected one row a product and session. Repeats of one session stand in columns, `name #1`, `name #2`."),
        ("A,S1,30\nA,,31\n", "row 3, column product: one of several rows of `A` without a session; expected one row a product and session. Repeats of one session stand in columns, `name #1`, `name #2`."),
    ],
)  # fmt: skip
def test_second_rows_of_one_session_are_a_fault(tmp_path: Path, rows: str, says: str) -> None:
    """And so is a row that does not say its session."""
    with pytest.raises(CatalogueError) as caught:
        read_text(tmp_path, f"product,session,noise\n{rows}")
    (fault,) = caught.value.problems
    assert str(fault).endswith(says)


def test_an_attribute_called_session_stays_one(tmp_path: Path) -> None:
    """Where the formula declares `Session` as an attribute, or a measure, it is that."""
    from forms import attribute, form, measure

    using = form([measure("noise", unit="dB")], [attribute("Session")])
    catalogue = read_text(tmp_path, "product,Session,noise\nA,S1,30\n", using)
    assert (catalogue.attributes, catalogue.product_sessions) == ({"Session": ("S1",)}, ())
    assert BED is not using
