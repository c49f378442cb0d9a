"""One catalogue's readings for the products of another: whose row is taken, and that nothing else moves."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from catalogues import BED, read_text
from written_studies import catalogue_of

from scoring.catalogue import State
from scoring.catalogue.joining import for_products
from scoring.catalogue.repeats import summarise_all

FIRST = "product,class,noise #1,noise #2,heat_flux\nA,foam,30,31,50\nB,coil,<22,missing: lost,60\nC,hybrid,40,41,\n"
SECOND = "product,class,noise,room\nC,coil,33,21\nD,foam,not applicable: air,22\n"


def test_a_product_is_taken_whole_from_the_first_that_has_it(tmp_path: Path) -> None:
    """In the order asked for; states, reasons, rows and words come along; a measure that it lacks is none."""
    first, second = read_text(tmp_path, FIRST, name="first.csv"), read_text(tmp_path, SECOND, name="second.csv")
    found = for_products(first, second, ("D", "C", "B"))
    assert found.products == ("D", "C", "B")
    assert found.attributes["class"] == ("foam", "hybrid", "coil")
    noise = found.readings["noise"]
    np.testing.assert_array_equal(noise.values, [[np.nan, np.nan], [40, 41], [22, np.nan]])
    assert noise.states.tolist() == [
        [State.NOT_APPLICABLE, State.NONE],
        [State.VALUE, State.VALUE],
        [State.BELOW, State.MISSING],
    ]
    assert noise.reasons == {(0, 0): "air", (2, 1): "lost"}
    assert noise.rows.tolist() == [[3, 0], [4, 4], [3, 3]]
    summaries = summarise_all(BED, found)
    np.testing.assert_array_equal(summaries["room"].values, [22, np.nan, np.nan])
    np.testing.assert_array_equal(summaries["heat_flux"].values, [np.nan, np.nan, 60])
    assert summaries["noise"].states.tolist() == [State.NOT_APPLICABLE, State.VALUE, State.BELOW]


def test_a_catalogue_joined_with_itself_is_itself() -> None:
    """All products in their order; every array is the same."""
    one = catalogue_of({"maker": ["u", "v", "w"]}, x=np.array([[1.0, np.nan], [2, 3], [4, 5]]))
    found = for_products(one, one, one.products)
    for field in ("values", "states", "written", "marks", "rows"):
        np.testing.assert_array_equal(getattr(found.readings["x"], field), getattr(one.readings["x"], field))
    assert (found.attributes, found.sha256) == (one.attributes, one.sha256)


def test_no_product_at_all_and_one_that_neither_has() -> None:
    """An empty choice is an empty catalogue; an unknown product is a fault."""
    one = catalogue_of(x=[1.0, 2.0])
    assert for_products(one, one, ()).readings["x"].values.shape == (0, 1)
    with pytest.raises(KeyError, match="p9"):
        for_products(one, one, ("p9",))
