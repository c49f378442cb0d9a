"""One owner of matplotlib: a figure in the house style, what all figures share, and its bytes, the same on every run."""

from __future__ import annotations

import functools
import io
import warnings
from collections.abc import Callable, Iterator, Sized
from contextlib import contextmanager
from typing import Any, ParamSpec

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from numpy.typing import ArrayLike, NDArray
from PIL import Image
from PIL.PngImagePlugin import PngInfo

Floats = NDArray[np.float64]
P = ParamSpec("P")

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
    ("0.35", ""),
    ("1.0", "|||"),
    ("0.65", ""),
    ("0.85", "oo"),
    ("0.97", "\\\\"),
    ("0.5", "///"),
)
DPI = 150
#: Dots an inch that each kind of file measures its letters in.
DOTS = {"svg": 72, "png": DPI}
SMALL = 7.0
TEXT = 8.0
HEADING = 9.5


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


@contextmanager
def house_style() -> Iterator[None]:
    """The house style while a figure is drawn or written, whatever the caller's settings are.

    A letter that the font lacks is drawn as an empty box, which says so itself; an SVG keeps the letter.
    """
    with mpl.rc_context(STYLE), warnings.catch_warnings():
        warnings.filterwarnings("ignore", message=r"Glyph \d+ .* missing from font")
        yield


def figure_bytes(figure: Figure, kind: str) -> bytes:
    """The figure as "svg" or "png"; no date or random mark in it."""
    stream = io.BytesIO()
    metadata = {"Date": None, "Creator": "steelyard"} if kind == "svg" else None
    with house_style():
        if kind == "png":
            figure.savefig(stream, format="png", dpi=DPI, pil_kwargs={"compress_level": 0})
            return _in_grey(stream)
        figure.savefig(stream, format=kind, dpi=DPI, metadata=metadata)
    return stream.getvalue()


def fitted_bytes(figure: Figure, kind: str) -> bytes:
    """The same, laid out by the widths that letters have in this kind of file, and so closer to its frame."""
    engine = figure.get_layout_engine()
    with house_style():
        figure.set_dpi(DOTS[kind])
        if engine is not None:
            engine.execute(figure)
        figure.set_layout_engine(None)
    content = figure_bytes(figure, kind)
    figure.set_layout_engine(engine)
    return content


def _in_grey(picture: io.BytesIO) -> bytes:
    """A PNG with one channel where its three are alike, at less than half the size and nothing lost."""
    image = Image.open(picture).convert("RGB")
    red, green, blue = (channel.tobytes() for channel in image.split())
    stream, said = io.BytesIO(), PngInfo()
    said.add_text("Software", "steelyard")
    grey = image.getchannel(0) if red == green == blue else image
    grey.save(stream, format="png", dpi=(DPI, DPI), pnginfo=said)
    return stream.getvalue()


def in_house_style(draw: Callable[P, Figure]) -> Callable[P, Figure]:
    """A drawing function that works in the house style."""

    @functools.wraps(draw)
    def styled(*args: P.args, **options: P.kwargs) -> Figure:
        with house_style():
            return draw(*args, **options)

    return styled


def settle(figure: Figure) -> None:
    """Lay the figure out now, so that what is placed by hand can be measured against it."""
    with house_style():
        figure.draw_without_rendering()


def checked(shape: tuple[int, ...], **given: ArrayLike) -> list[Floats]:
    """Each given array as floats of `shape`; NaN stands for "no figure".

    Raises
    ------
    ValueError
        Where the shape is another, or a value is infinite; the message names the array.
    """
    arrays = [np.array(values, dtype=float) for values in given.values()]
    for name, values in zip(given, arrays, strict=True):
        if values.shape != shape:
            raise ValueError(f"{name} has the shape {values.shape}, where {shape} is expected")
        if np.isinf(values).any():
            raise ValueError(f"{name} holds an infinite value, which cannot be drawn")
    return arrays


def something(what: str, number: int) -> None:
    """Refuse to draw nothing: an empty figure would look like a result."""
    if number == 0:
        raise ValueError(f"nothing to draw: {what} is empty")


def one_each(name: str, values: Sized, count: int) -> None:
    """Refuse words that are not one for each row."""
    if len(values) != count:
        raise ValueError(f"{name} has {len(values)} entries, where {count} are expected")


def ordered(low_name: str, low: Floats, high_name: str, high: Floats) -> None:
    """Refuse intervals whose ends are swapped."""
    if (low > high).any():
        raise ValueError(f"{low_name} is above {high_name} at number {int(np.argmax(low > high)) + 1}")


def whiskers(axes: Axes, at: Floats, low: Floats, high: Floats, *, upright: bool = False, size: float = 5) -> None:
    """Intervals with a stroke at both ends, black on a white rim, so that they show on any grey."""
    known = ~np.isnan(low) & ~np.isnan(high)
    spot, start, stop = at[known], low[known], high[known]
    if spot.size == 0:
        return
    lines, stroke = (axes.vlines, "_") if upright else (axes.hlines, "|")
    for ink, wide, long in (("white", 2.6, size + 1.5), ("black", 0.9, size)):
        lines(spot, start, stop, colors=ink, linewidth=wide, zorder=3)
        for end in (start, stop):
            x, y = (spot, end) if upright else (end, spot)
            axes.plot(x, y, stroke, color=ink, markersize=long, markeredgewidth=wide, zorder=3)
