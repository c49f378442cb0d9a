"""Bridges of a changed method: the old readings they rest on are held against those of the catalogue."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from written_forms import form_of
from written_studies import catalogue_of

from analysis.comparison.bridging import bridged, fit_bridge, read_bridge, unbridged, unlike_the_catalogue
from scoring.errors import CatalogueError

NOISY = """\
formula: trial
scale: {from: 1, to: 10}
measures: {x: {unit: mm, repeatability: 0.6}}
ratings: {r: {measure: x, curve: {line: {worst: 0, best: 20}}}}
"""
READ = catalogue_of(x=[[10.0, 10.0], [12.0, 12.0], [14.0, 14.0], [16.0, 16.0]])


def notes(tmp_path: Path, old_of_p2: str, form: str = NOISY) -> tuple[str, ...]:
    """What is said of a bridge by p1 to p3, of which p2 has another old reading, of two rows."""
    rows = ["product,old,new", "p1,10,11", *[f"p2,{old_of_p2},13"] * 2, "p3,14,15"]
    (tmp_path / "bridge.csv").write_text("\n".join(rows), encoding="utf-8")
    return unlike_the_catalogue(read_bridge(tmp_path / "bridge.csv", "x", READ), form_of(form), READ)


@pytest.mark.parametrize(("old", "told"), [("12", False), ("13.7", False), ("13.9", True), ("10.1", True)])
def test_an_old_reading_unlike_the_catalogues_is_told_from_three_combined_uncertainties(
    tmp_path: Path, old: str, told: bool
) -> None:
    """Two repeats of 0.6 on either side: u is 0.6 / root 2 each, 0.6 combined, and the bound 1.8: worked out here."""
    found = notes(tmp_path, old)
    assert len(found) == told
    if told:
        assert found[0].startswith(f"p2: the bridge has {old} mm as its old reading of x, the catalogue 12 mm,")
        assert "(u 0.6 mm)" in found[0]


def test_where_no_repeatability_is_known_that_is_said(tmp_path: Path) -> None:
    """Nothing can be held against anything then."""
    (note,) = notes(tmp_path, "19", NOISY.replace(", repeatability: 0.6", ""))
    assert "no repeatability of x is known" in note


def test_a_bridge_is_undone_by_mapping_back() -> None:
    """Readings that were mapped come out as they were."""
    bridge = fit_bridge("x", {"p1": 10.0, "p2": 12.0, "p3": 14.0}, {"p1": 11.0, "p2": 11.5, "p3": 13.0})
    back = unbridged(bridged(READ, bridge), bridge)
    np.testing.assert_allclose(back.readings["x"].values[3], READ.readings["x"].values[3], rtol=1e-12)


@pytest.mark.parametrize(
    ("table", "says"),
    [
        ("product,old,new\np1,1e400,2\n", "row 2, column old: `1e400`; expected a finite number with a point."),
        ("product,old,new\np1,1e200,2\n", "row 2, column old: `1e200`; expected a number of at most 1e+15."),
        ("product,old,new,old\np1,1,2,3\n", "row 1, column old: a second column of this name (columns 2 and 4)"),
        ("product,old,new\np1,<3,2\n", "row 2, column old: `<3`; expected a finite number with a point."),
        ("product,old,new\np1,,2\n", "row 2, column old: ``; expected a finite number with a point."),
        ("product,old,new\np1,1,2,3\n", "bridge.csv:2: a row of 4 cells; expected 3, as in the header."),
        ("product;old;new\np1;1;2\n", "bridge.csv:1: cells with semicolons between them"),
        ("product,old\np1,1\n", "bridge.csv:1: columns product, old; expected product, old, new."),
    ],
    ids=["infinite", "huge", "two columns", "below", "empty", "long row", "semicolons", "no new"],
)
def test_a_bridge_that_cannot_be_read_as_it_stands_is_refused(tmp_path: Path, table: str, says: str) -> None:
    """By the rules that catalogues are read by."""
    (tmp_path / "bridge.csv").write_text(table, encoding="utf-8")
    with pytest.raises(CatalogueError) as caught:
        read_bridge(tmp_path / "bridge.csv", "x", READ)
    assert says in str(caught.value)
