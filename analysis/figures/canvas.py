"""One owner of matplotlib: a figure in the house style, what is written on it, and its bytes, the same on every run.

Names stand as they are; a title, a key and a note stand around the drawing.
"""

from __future__ import annotations

import bisect
import functools
import io
import math
import unicodedata
import warnings
from collections.abc import Callable, Iterator, Sequence, Sized
from contextlib import contextmanager
from typing import Any, ParamSpec

import matplotlib as mpl
import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from numpy.typing import ArrayLike
from PIL import Image
from PIL.PngImagePlugin import PngInfo

from scoring.numbers.array_types import Array

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


def checked(shape: tuple[int, ...], **given: ArrayLike) -> list[Array]:
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


def ordered(low_name: str, low: Array, high_name: str, high: Array) -> None:
    """Refuse intervals whose ends are swapped."""
    if (low > high).any():
        raise ValueError(f"{low_name} is above {high_name} at number {int(np.argmax(low > high)) + 1}")


def whiskers(axes: Axes, at: Array, low: Array, high: Array, *, upright: bool = False, size: float = 5) -> None:
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


EDGE_IN = 0.1
LONGEST_NAME = 40


def shortened(text: str, most: int = LONGEST_NAME) -> str:
    """A name in one line: unseen characters spelt out, the middle of a long one left out."""
    plain = "".join(
        f"\\u{ord(c):04x}" if unicodedata.category(c) in {"Cc", "Cf", "Cs", "Cn"} else c for c in " ".join(text.split())
    )
    if len(plain) > most:
        tail = (most - 1) // 3
        plain = f"{plain[: most - 1 - tail].rstrip()}…{plain[len(plain) - tail :].lstrip()}"
    return plain or "(no name)"


def literal(text: str, most: int = LONGEST_NAME) -> str:
    """A name as `shortened`, for an artist: no dollar in it starts a formula."""
    return shortened(text, most).replace("$", r"\$")


def inches_wide(texts: Sequence[str], size: float) -> float:
    """The width of the widest of some texts as they stand, in inches."""
    return max((_width(text, size) for text in texts), default=0.0)


@functools.lru_cache(maxsize=4096)
def _width(text: str, size: float) -> float:
    """The width of a text as it stands, in inches."""
    scratch = _scratch()
    with house_style():
        drawn = scratch.text(0, 0, text, fontsize=size, parse_math=False)
        width = drawn.get_window_extent().width / scratch.dpi
    drawn.remove()
    return float(width)


@functools.cache
def _scratch() -> Figure:
    """A figure to measure on; nothing stays on it."""
    return blank(1, 1)


def wrapped(text: str, width_in: float, size: float) -> str:
    """A text in lines that fit a width, cut between words where that can be; line breaks of its own are kept."""
    lines: list[str] = []
    for line in text.split("\n"):
        rest = shortened(line, 10 * len(line)) if line.strip() else ""
        while rest:
            room = range(2, len(rest) + 1)
            end = 1 + bisect.bisect(room, 0.97 * width_in, key=lambda n: inches_wide([rest[:n]], size))
            if end < len(rest) and " " in rest[1 : end + 1]:
                end = rest.rindex(" ", 1, end + 1)
            lines.append(rest[:end].rstrip())
            rest = rest[end:].lstrip()
    return "\n".join(lines).replace("$", r"\$")


def dress(
    figure: Figure, title: str, *, key: Sequence[tuple[Artist, str]] = (), signs: str = "", note: str = ""
) -> None:
    """Set a title above a figure, its key under the title and a note at its foot; the figure grows by their height.

    Parameters
    ----------
    signs : what signs among the words mean, under the key
    """
    width, height = figure.get_size_inches()
    room = width - 2 * EDGE_IN
    head, foot = wrapped(title, room, HEADING), wrapped(note, room, SMALL) if note else ""
    title_in = EDGE_IN + 1.25 * HEADING / 72 * (head.count("\n") + 1)
    foot_in = EDGE_IN + 1.25 * SMALL / 72 * (foot.count("\n") + 1) if foot else 0.0
    legend = _legend(figure, key, room) if key else None
    key_in = legend.get_window_extent().height / figure.dpi + 0.05 if legend else 0.0
    told = wrapped(signs, room, TEXT) if signs else ""
    told_in = 0.06 + 1.25 * TEXT / 72 * (told.count("\n") + 1) if told else 0.0
    whole = height + title_in + key_in + told_in + foot_in
    figure.set_size_inches(width, whole)
    left = EDGE_IN / width
    figure.text(left, 1 - 0.6 * EDGE_IN / whole, head, fontsize=HEADING, ha="left", va="top")
    if legend:
        legend.set_bbox_to_anchor((left, 1 - title_in / whole))
    if told:
        figure.text(left, 1 - (title_in + key_in) / whole, told, fontsize=TEXT, ha="left", va="top")
    if foot:
        figure.text(left, 0.6 * EDGE_IN / whole, foot, fontsize=SMALL, ha="left", va="bottom", color="0.2")
    engine: Any = figure.get_layout_engine()
    engine.set(rect=(0, foot_in / whole, 1, height / whole))


def _legend(figure: Figure, key: Sequence[tuple[Artist, str]], room_in: float) -> Any:
    """The key in as few rows as the width allows, read row by row, with the rows filled evenly."""
    count = len(key)
    evenly = dict.fromkeys(math.ceil(count / rows) for rows in range(1, count + 1))
    for columns in evenly:
        legend = _legend_of(figure, key, columns)
        with house_style():
            wide = legend.get_window_extent().width / figure.dpi
        if wide <= room_in or columns == 1:
            legend.set_in_layout(False)
            return legend
        legend.remove()
    raise AssertionError("a key with no entry is not drawn")


def _legend_of(figure: Figure, key: Sequence[tuple[Artist, str]], columns: int) -> Any:
    """A key of so many columns; a legend is filled column by column, so entries are dealt out for rows to be read."""
    dealt = [key[i] for column in range(columns) for i in range(column, len(key), columns)]
    return figure.legend(
        [handle for handle, _ in dealt],
        [label for _, label in dealt],
        loc="upper left",
        ncols=columns,
        fontsize=TEXT,
        frameon=False,
        borderaxespad=0,
        borderpad=0.2,
        columnspacing=1.4,
        handlelength=2.2,
    )


def place_ticks(last: float, most: int = 13) -> list[int]:
    """The first place and round ones after it, `most` at the most."""
    steps = (1, *(s * 10**power for power in range(9) for s in (5, 10, 20)))
    step = next(step for step in steps if last / step <= most)
    return [1, *range(max(step, 2), int(last) + 1, step)]


def spread(wanted: Array, gap: float, low: float, high: float) -> Array:
    """Places nearest to those wanted (least squares) that keep a gap and a range; the gap shrinks where all cannot fit.

    Notes
    -----
    With the wanted places in order and g the gap, z_i = x_i - i g must not fall: an isotonic regression, solved by pooling
    neighbours that are out of order, then clipped to the range (worked out here).
    """
    count = len(wanted)
    gap = min(gap, (high - low) / max(count - 1, 1))
    order = np.argsort(wanted, kind="stable")
    steps = gap * np.arange(count)
    pools: list[tuple[float, int]] = []
    for value in wanted[order] - steps:
        mean, size = float(value), 1
        while pools and pools[-1][0] > mean:
            before, many = pools.pop()
            mean, size = (before * many + mean * size) / (many + size), many + size
        pools.append((mean, size))
    level = np.concatenate([np.full(size, mean) for mean, size in pools]) if pools else np.zeros(0)
    places = np.empty(count)
    places[order] = np.clip(level, low, high - gap * max(count - 1, 0)) + steps
    return places
