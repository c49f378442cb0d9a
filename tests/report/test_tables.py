"""Typed tables: what a reader sees and what files hold are the same values, row by row."""

from __future__ import annotations

import math

import numpy as np
import pytest
from extent import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.report import tables
from analysis.report.given import names_of
from analysis.report.tables import Table, changed, computed, figures, moves, ranks, shares, span, strongest_first, words

values = st.lists(st.one_of(st.floats(-1e6, 1e6), st.just(math.nan)), min_size=1, max_size=12)


def table_of(held: list[float], rows: list[int] | None = None) -> Table:
    """A table of one list of numbers, in every kind of column."""
    return Table(
        "trial",
        "A trial",
        (
            words("name", "", [f"row {number}" for number in range(len(held))], kind="name"),
            figures("value", "value", held, 2, unit="mm"),
            moves("move", "move", np.array(held), 3),
            ranks("rank", "#", held),
            computed("95 %", {"low": held, "high": held}, lambda low, high: span(low, high, lambda one: f"{one:.1f}")),
        ),
        rows=rows,
        hidden={"kept": held},
    )


@settings(max_examples=examples(60))
@given(held=values, data=st.data())
def test_cells_and_frame_hold_the_same_rows_in_the_same_order(held: list[float], data: st.DataObject) -> None:
    """Whatever rows are shown: a frame has the values of those rows, and a cell is what its column says of them."""
    rows = data.draw(st.permutations(range(len(held)))) if data.draw(st.booleans()) else None
    made = table_of(held, rows)
    frame, cells = made.frame(), list(made.cells())
    assert len(made) == len(frame) == len(cells) == len(held)
    for shown, row in zip(cells, rows if rows is not None else range(len(held)), strict=True):
        assert shown[0] == f"row {row}"
        assert shown[1] == ("–" if math.isnan(held[row]) else f"{held[row]:z.2f}")
        assert shown[4] == ("" if math.isnan(held[row]) else f"{held[row]:.1f} to {held[row]:.1f}")
    expected = [held[row] for row in (rows if rows is not None else range(len(held)))]
    for name in ("value", "move", "rank", "low", "high", "kept"):
        np.testing.assert_array_equal(frame[name].to_numpy(float), expected)
    assert list(frame.columns) == ["name", "value", "move", "rank", "low", "high", "kept"]
    assert frame.attrs["units"] == {"value": "mm", "rank": "place"}


def test_a_screen_takes_the_first_rows_and_a_frame_all() -> None:
    """`cells` gives as many as it is asked for; nothing is left out of the frame."""
    made = table_of([1.0, 2.0, 3.0], rows=[2, 0, 1])
    assert [row[0] for row in made.cells(2)] == ["row 2", "row 0"]
    assert made.frame()["name"].tolist() == ["row 2", "row 0", "row 1"]


def test_a_table_without_rows_is_empty() -> None:
    """No row, no cell, and a frame that still names its columns."""
    made = Table("none", "Nothing", (words("product", "product", []), shares("share", "share", [])))
    assert len(made) == 0
    assert list(made.cells()) == []
    assert list(made.frame().columns) == ["product", "share"]


@pytest.mark.parametrize(
    ("before", "after", "said"), [("a", "a", "a"), ("a", "b", "a -> b"), ("", "b", "– -> b"), ("", "", "")]
)
def test_what_changed_is_said_once_where_it_is_the_same(before: str, after: str, said: str) -> None:
    """A change has both ends; what was not there is a dash."""
    assert changed(before, after) == said


@settings(max_examples=examples(60))
@given(held=values)
def test_the_strongest_comes_first_and_what_is_unknown_last(held: list[float]) -> None:
    """An order of all rows by size, falling; equal ones as they stand."""
    order = strongest_first(np.array(held))
    assert sorted(order) == list(range(len(held)))
    known = [held[row] for row in order if not math.isnan(held[row])]
    assert known == sorted(known, reverse=True)
    assert all(math.isnan(held[row]) for row in order[len(known) :])


def test_counts_are_whole() -> None:
    """Whole numbers are shown as they are."""
    assert list(Table("t", "t", (tables.counts("n", "n", [3, 0]),)).cells()) == [["3"], ["0"]]


def test_one_score_is_asked_for_by_its_name_alone() -> None:
    """A name is one name, and not its letters."""
    assert names_of("resting") == ("resting",)
    assert names_of(["resting", "rising"]) == ("resting", "rising")
    assert names_of(()) == ()
