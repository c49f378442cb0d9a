"""Readings in a record: written as cells, and the same catalogue again."""

from __future__ import annotations

from dataclasses import fields
from typing import Any

import numpy as np
from forms import form, measure
from hypothesis import given
from hypothesis import strategies as st
from written_forms import form_of

from analysis.json_shapes import misfits
from analysis.records.drift import data_drift
from analysis.records.schema import SECTION_SHAPES
from analysis.records.sections import catalogue_from, readings_section, same_cells
from scoring.catalogue import Catalogue, Readings, State, from_arrays
from scoring.catalogue.reporting_limit import recount
from scoring.form import Form
from scoring.table.evaluate import inputs_of

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
    kept = readings_section(catalogue, inputs, BED)
    back = catalogue_from({"readings": kept, "catalogue": {"sha256": catalogue.sha256, "unused": []}}, BED)
    again = inputs_of(BED, back)
    assert (back.products, back.attributes) == (catalogue.products, catalogue.attributes)
    for name in ("noise", "sag"):
        np.testing.assert_array_equal(again.values[name], inputs.values[name])
        np.testing.assert_array_equal(again.states[name], inputs.states[name])
        assert again.reasons[name] == inputs.reasons[name]
    assert readings_section(back, again, BED) == kept


def declared(noise: str) -> Form:
    """The same two measures, of the errors of one of which something is said."""
    return form_of(
        f"formula: t\nmeasures:\n  noise: {{unit: dB{noise}}}\n  sag: {{unit: mm}}\nratings: {{r: {{value: noise + sag}}}}\n"
    )


SHARED = declared(", between_sessions: 1, between_specimens: 1")


def named(first: str) -> Catalogue:
    """Two products with sessions and specimens of one measure, the first as asked for."""
    return from_arrays(
        ["A", "B"],
        {"noise": [[30.0, 31.0], [40.0, np.nan]], "sag": [5.0, 6.0]},
        sessions={"noise": [[first, "S2"], ["S1", ""]], "sag": ["S1", "S1"]},
        specimens={"noise": [["a", "b"], ["", ""]]},
    )


def test_sessions_and_specimens_are_kept_where_errors_are_shared_within_them() -> None:
    """They come back as they were; a measure that declares nothing of the kind, and a form that does not, keeps none."""
    catalogue = named("S1")
    kept = readings_section(catalogue, inputs_of(SHARED, catalogue), SHARED)
    noise = [one["measures"]["noise"] for one in kept]
    assert [(one["sessions"], one["specimens"]) for one in noise] == [(["S1", "S2"], ["a", "b"]), (["S1"], [])]
    assert "sessions" not in kept[0]["measures"]["sag"]
    assert [*misfits(SECTION_SHAPES["readings"], kept, "readings")] == []
    back = catalogue_from({"readings": kept, "catalogue": {"sha256": "", "unused": []}}, SHARED)
    for key in ("session", "specimen"):
        assert back.extras[key]["noise"].tolist() == catalogue.extras[key]["noise"].tolist()
    assert readings_section(back, inputs_of(SHARED, back), SHARED) == kept
    plain = readings_section(catalogue, inputs_of(declared(""), catalogue), declared(""))
    assert {key for one in plain for key in one["measures"]["noise"]} == {"value", "state", "repeats"}


def test_another_session_is_a_drift_of_the_data() -> None:
    """Named by its product and measure; where one record keeps none, that is a change of the formula and told there."""
    then, now = (
        {"readings": readings_section(one, inputs_of(SHARED, one), SHARED)} for one in (named("S1"), named("S9"))
    )
    assert [one.says for one in data_drift(then, now, {})] == ["A, noise: sessions S1, S2 -> S9, S2"]
    plain = {"readings": readings_section(named("S9"), inputs_of(declared(""), named("S9")), declared(""))}
    assert data_drift(then, plain, {}) == ()


def test_a_record_refuses_what_is_no_list_of_sessions() -> None:
    """A key that may be left out is held to its shape where it stands."""
    kept = readings_section(named("S1"), inputs_of(SHARED, named("S1")), SHARED)
    kept[0]["measures"]["noise"]["sessions"] = [1]
    kept[1]["measures"]["noise"]["session"] = []
    found = [(one.where, one.found) for one in misfits(SECTION_SHAPES["readings"], kept, "readings")]
    assert found == [
        ("readings.1.measures.noise.sessions.1", "1"),
        ("readings.2.measures.noise", "the unknown key `session`"),
    ]


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
