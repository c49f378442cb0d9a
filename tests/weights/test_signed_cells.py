"""Cells with a sign: what is below 0 is told from what is above without colour, without grey, and without the printed figure."""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib.collections import PolyCollection, QuadMesh
from matplotlib.figure import Figure
from matplotlib.text import Text

from analysis.figures.canvas import figure_bytes
from analysis.figures.cells import signed_map

VALUES = np.array([[1.0, -0.6, 0.6], [-0.6, 1.0, np.nan], [0.6, 0.001, -0.95]])
NAMES = ("a", "b", "c")


def drawn(values: np.ndarray, names: tuple[str, ...] = NAMES) -> Figure:
    """A map of invented correlations."""
    return signed_map(names, names, values, title="Invented", unit="coefficient", words=("part", "part"), top=1.0)


def flags(figure: Figure) -> list[PolyCollection]:
    """The corners of cells below 0."""
    return [each for each in figure.axes[0].collections if each.get_gid() == "below 0"]


def test_cells_below_0_and_no_others_have_a_corner_cut() -> None:
    """Each corner lies in the cell of its figure: row by row, as seen."""
    (found,) = flags(drawn(VALUES))
    corners = {(int(path.vertices[0][1]), int(path.vertices[0][0])) for path in found.get_paths()}
    assert corners == {(0, 1), (1, 0), (2, 2)}


def test_the_same_size_has_the_same_grey_whatever_its_sign_and_nothing_is_white() -> None:
    """0.6 and -0.6 are as dark as each other; the scale starts at 0, so that no correlation at all is white."""
    figure = drawn(VALUES)
    (mesh,) = [each for each in figure.axes[0].collections if isinstance(each, QuadMesh)]
    greys = np.asarray(mesh.get_array())
    assert greys[0, 1] == greys[0, 2] == 0.6
    assert (mesh.norm.vmin, mesh.norm.vmax) == (0, 1)


def test_the_sign_is_printed_either_way_but_of_nothing() -> None:
    """+0.60 and -0.60 with a true minus; what rounds to 0 has no sign; a cell without a figure no text."""
    texts = [text.get_text() for text in drawn(VALUES).axes[0].texts]
    assert texts == ["+1.00", "\u22120.60", "+0.60", "\u22120.60", "+1.00", "+0.60", "0.00", "\u22120.95"]


def test_the_key_says_what_the_corner_means_where_there_is_one() -> None:
    """Without a figure below 0 there is neither corner, key nor sign."""

    def said(figure: Figure) -> list[str]:
        return [text.get_text() for text in figure.findobj(Text)]

    assert "below 0" in said(drawn(VALUES))
    plain = drawn(np.abs(VALUES))
    assert flags(plain) == []
    assert "below 0" not in said(plain)
    assert "0.60" in said(plain)


@pytest.mark.parametrize("count", [3, 40])
def test_sign_is_seen_in_grey_pixels_alone(count: int) -> None:
    """Two tables that differ in signs alone differ in the picture, even where cells are too small for figures."""
    names = tuple(f"part {index}" for index in range(count))
    values = np.full((count, count), 0.5)
    values[0, 0] = -0.5
    other = values.copy()
    other[0, 0], other[1, 1] = 0.5, -0.5
    pictures = [figure_bytes(drawn(each, names), "png") for each in (values, other)]
    assert pictures[0] != pictures[1]
    assert len(flags(drawn(values, names))) == 1
