"""One owner of matplotlib: a blank figure in the house style, and a figure as bytes that are the same on every run."""

from __future__ import annotations

import io
from typing import Any

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

STYLE: Any = {
    "font.family": "DejaVu Sans",
    "font.size": 9,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "hatch.linewidth": 0.6,
    "svg.hashsalt": "steelyard",
    "svg.fonttype": "none",
}
#: Fills that tell parts apart without colour: a grey and a hatch each.
FILLS = (
    ("0.25", ""),
    ("0.92", "///"),
    ("0.55", ""),
    ("0.92", "..."),
    ("0.75", "\\\\\\"),
    ("1.0", ""),
    ("0.45", "xx"),
    ("0.85", ""),
    ("0.7", "---"),
    ("0.95", "++"),
)


def blank(width_in: float, height_in: float) -> Figure:
    """An empty figure, its size in inches."""
    with mpl.rc_context(STYLE):
        figure = Figure(figsize=(width_in, height_in), layout="constrained")
        FigureCanvasAgg(figure)
    return figure


def axes_of(figure: Figure, rows: int, columns: int, **options: Any) -> list[Axes]:
    """A grid of axes, row by row, in the house style."""
    with mpl.rc_context(STYLE):
        return list(figure.subplots(rows, columns, squeeze=False, **options).flat)


def figure_bytes(figure: Figure, kind: str) -> bytes:
    """The figure as "svg" or "png"; no date or random mark in it."""
    stream = io.BytesIO()
    metadata = {"Date": None, "Creator": "steelyard"} if kind == "svg" else {"Software": "steelyard"}
    with mpl.rc_context(STYLE):
        figure.savefig(stream, format=kind, dpi=150, metadata=metadata)
    return stream.getvalue()
