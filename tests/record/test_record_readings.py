"""Readings in a record: written as cells, and the same catalogue again."""

from __future__ import annotations

from dataclasses import fields
from typing import Any

import numpy as np
from forms import form, measure
from hypothesis import given
from hypothesis import strategies as st

from analysis.record.readings import catalogue_from, readings_section, same_cells
from scoring.catalogue import Catalogue, Readings, State
from scoring.catalogue.reporting_limit import recount
from scoring.evaluate import inputs_of

NOISE = measure("noise", unit="dB", reporting_limit=22.0, below_limit="half", repeats="median")
BED = form([NOISE, measure("sag", unit="mm")])
CELLS = st.one_of(
    st.tuples(st.just(State.VALUE), st.floats(-1e6, 1e6), st.just("")),
    st.tuples(st.just(State.BELOW), st.one_of(st.floats(0, 50), st.just(float("nan"))), st.just("")),
    st.tuples(
        st.sampled_from((State.MISSING, State.NOT_APPLICABLE)),
        st.just(float("nan")),
        st.sampled_from(("", "probe failed", 'a: b; <c> "d"', "=SUM(A1)", "🛏 \u05d0")),
    ),
    st.just((State.NONE, float("nan"), "")),
)


@st.composite
def catalogues(draw: st.DrawFn) -> Catalogue:
    """A catalogue of one measure, with every kind of cell; the other measure has no column."""
    n_products, n_repeats = draw(st.integers(1, 4)), draw(st.integers(1, 4))
    cells = [[draw(CELLS) for _ in range(n_repeats)] for _ in range(n_products)]
    marks = np.array([[cell[0] for cell in row] for row in cells], np.uint8)
    written = np.array([[cell[1] for cell in row] for row in cells])
    reasons = {(i, j): cell[2] for i, row in enumerate(cells) for j, cell in enumerate(row) if cell[2]}
    rows, columns = np.zeros(marks.shape, np.int64), tuple(f"noise #{j}" for j in range(n_repeats))
    read = recount(NOISE, Readings(written, marks, reasons, written, marks, rows, columns, "drawn"))
    products = tuple(f"A-{i}" for i in range(n_products))
    return Catalogue("drawn", products, {"maker": ("=1",) * n_products}, {"noise": read}, "0" * 64)


@given(catalogues())
def test_what_is_kept_gives_the_same_inputs(catalogue: Catalogue) -> None:
    """Values, states, attributes and reasons of every summarised reading, and the repeats behind them, to the bit."""
    inputs = inputs_of(BED, catalogue)
    kept = readings_section(catalogue, inputs)
    back = catalogue_from({"readings": kept, "catalogue": {"sha256": catalogue.sha256, "unused": []}}, BED)
    again = inputs_of(BED, back)
    assert (back.products, back.attributes) == (catalogue.products, catalogue.attributes)
    for name in ("noise", "sag"):
        np.testing.assert_array_equal(again.values[name], inputs.values[name])
        np.testing.assert_array_equal(again.states[name], inputs.states[name])
        assert again.reasons[name] == inputs.reasons[name]
    assert readings_section(back, again) == kept


def test_every_field_of_the_inputs_is_looked_at() -> None:
    """A field that is added to the inputs must be kept by a record too."""
    assert [field.name for field in fields(inputs_of(BED, Catalogue("", (), {}, {}, "")))] == [
        "products",
        "values",
        "states",
        "words",
        "reasons",
    ]


def test_cells_that_say_the_same() -> None:
    """Empty cells after the last one, and the dust of a conversion, make no difference; a reason does."""

    def reading(*cells: Any) -> dict[str, Any]:
        return {"repeats": list(cells)}

    assert same_cells(reading(63.5), reading(63.5, "missing", None))
    assert same_cells(reading(63.5), reading(63.500000000000007))
    assert not same_cells(reading(63.5), reading(63.6))
    assert not same_cells(reading(63.5), reading(63.5, "missing: lost"))
    assert not same_cells(reading(31.0, 32.0), reading(32.0, 31.0))
    assert not same_cells(reading("< 22.0"), reading(22.0))
    assert not same_cells({"repeats": None}, reading(22.0))
