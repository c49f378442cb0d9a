"""The figures of the studies: what is drawn is what was given, in order, legible, literal and the same on every run."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from collections.abc import Callable
from functools import cache
from itertools import pairwise
from pathlib import Path

import matplotlib as mpl
import numpy as np
import pytest
from extent import only_long, some
from hypothesis import given
from hypothesis import strategies as st
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection, PolyCollection, QuadMesh
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from matplotlib.patches import StepPatch
from matplotlib.text import Text
from scipy.optimize import isotonic_regression

import analysis.figures
from analysis.figures.canvas import figure_bytes, inches_wide, literal, place_ticks, spread, wrapped
from analysis.figures.cells import ink_on
from analysis.figures.indices import convergence_trail, heat_map, index_bars
from analysis.figures.ranks import AREAS, acceptability_areas, pairwise_matrix, rank_ranges

NAN = float("nan")
TITLE = "Invented data, for this test only"
SMALLEST_PT = 7.0


def bars(count: int, seed: int = 0, names: list[str] | None = None, **options: object) -> Figure:
    """Index bars of invented indices."""
    rng = np.random.default_rng(seed)
    total = rng.dirichlet(np.full(count, 0.4))
    first = total * rng.uniform(0.3, 0.9, count)
    six = (first, first - 0.02, first + 0.02, total, total - 0.03, total + 0.03)
    return index_bars(names or factors(count), *six, title=TITLE, what="the score of QB-003", **options)


def heat(rows: int, columns: int, seed: int = 0, names: list[str] | None = None) -> Figure:
    """A heat map of invented shares; one cell has no figure."""
    values = np.random.default_rng(seed).dirichlet(np.full(rows, 0.3), columns).T
    values[-1, -1] = NAN
    return heat_map(factors(rows), (names or products(columns)), values, title=TITLE, unit="total index")


def trail(count: int, seed: int = 0, names: list[str] | None = None) -> Figure:
    """Invented indices at five levels."""
    rng = np.random.default_rng(seed)
    points = 2 ** np.arange(6, 11)
    half = 0.5 * rng.uniform(0.5, 1, (5, count)) / np.sqrt(points)[:, None]
    values = rng.dirichlet(np.full(count, 0.7)) + half * rng.normal(0, 0.4, (5, count))
    three = (values, values - half, values + half)
    return convergence_trail(points, *three, names or factors(count), title=TITLE, target_half_width=0.02)


def places_of(count: int, seed: int) -> np.ndarray:
    """Invented places of products in 500 draws, from 1; shape (500, count)."""
    rng = np.random.default_rng(seed)
    scores = np.sort(rng.normal(0, 1, count))[::-1] + rng.normal(0, 0.25, (500, count))
    return (-scores).argsort(axis=1).argsort(axis=1) + 1.0


def ranges(count: int, seed: int = 0, names: list[str] | None = None) -> Figure:
    """Rank ranges, with sets and groups."""
    drawn = places_of(count, seed)
    five = (np.median(drawn, 0), *np.quantile(drawn, [0.05, 0.95], axis=0), drawn.min(0), drawn.max(0))
    sets = (np.maximum(five[3] - 1, 1), np.minimum(five[4] + 1, count))
    groups = ["abcdefgh"[8 * i // count] for i in range(count)]
    published = np.arange(1.0, count + 1)
    return rank_ranges(names or products(count), published, *five, title=TITLE, sets=sets, groups=groups)


def areas(count: int, seed: int = 0, names: list[str] | None = None) -> Figure:
    """Acceptability areas of invented draws."""
    drawn = places_of(count, seed)
    chances = np.stack([(drawn == place).mean(axis=0) for place in range(1, count + 1)], axis=1)
    return acceptability_areas(names or products(count), chances, title=TITLE)


def matrix(count: int, seed: int = 0, names: list[str] | None = None) -> Figure:
    """Chances of invented draws."""
    drawn = places_of(count, seed)
    chance = np.stack([(drawn[:, [i]] < drawn).mean(axis=0) for i in range(count)])
    return pairwise_matrix(names or products(count), chance, title=TITLE)


def factors(count: int) -> list[str]:
    """Names of invented factors."""
    return [f"rating{i + 1}.weight" for i in range(count)]


def products(count: int) -> list[str]:
    """Names of invented products, some short and some long."""
    return [f"QB-{i + 1:03d}{' Night Harbour de luxe' * (i % 4 == 2)}" for i in range(count)]


def heat_square(count: int, seed: int = 0, names: list[str] | None = None) -> Figure:
    """As many factors as products."""
    return heat(count, count, seed, names)


DRAW: dict[str, Callable[..., Figure]] = {
    "bars": bars,
    "heat": heat_square,
    "trail": trail,
    "ranges": ranges,
    "areas": areas,
    "matrix": matrix,
}
each_figure = pytest.mark.parametrize("draw", DRAW.values(), ids=DRAW)


def texts_of(figure: Figure) -> list[Text]:
    """Every text that is drawn: of ticks only those within the axis."""
    figure.draw_without_rendering()
    texts = [*figure.texts, *(text for legend in figure.legends for text in legend.get_texts())]
    for axes in figure.axes:
        texts += [*axes.texts, axes.title, axes.xaxis.label, axes.yaxis.label]
        for axis in (axes.xaxis, axes.yaxis):
            low, high = sorted(axis.get_view_interval())
            ticks = [tick for tick in axis.get_major_ticks() if low <= tick.get_loc() <= high]
            texts += [label for tick in ticks for label in (tick.label1, tick.label2)]
    return [text for text in texts if text.get_visible() and text.get_text().strip()]


def words(figure: Figure) -> str:
    """All that is written on a figure, but for ticks."""
    keys = [text for legend in figure.legends for text in legend.get_texts()]
    return "\n".join(
        text.get_text() for text in [*figure.texts, *keys, *(text for axes in figure.axes for text in axes.texts)]
    )


def y_labels(axes: Axes) -> list[str]:
    """The names along the upright axis."""
    return [label.get_text() for label in axes.get_yticklabels()]


def widths(axes: Axes, group: int) -> list[float]:
    """The lengths of the bars of one kind: 0 total, 1 first order."""
    return [bar.get_width() for bar in axes.containers[group]]


# All figures


@cache
def usual(draw: Callable[..., Figure], kind: str) -> bytes:
    """A figure as a file, drawn once."""
    return figure_bytes(draw(3), kind)


@each_figure
def test_the_same_input_gives_the_same_bytes_and_another_gives_others(draw: Callable[..., Figure]) -> None:
    """Nothing depends on the moment or on chance, and the data does reach the picture."""
    for kind in ("svg", "png"):
        assert figure_bytes(draw(3), kind) == usual(draw, kind)
    for kind in some(("svg", "png"), 2):
        assert figure_bytes(draw(3, seed=1), kind) != usual(draw, kind)


@each_figure
def test_the_callers_own_settings_do_not_change_a_figure(draw: Callable[..., Figure]) -> None:
    """A notebook with large type gets the same picture."""
    undisturbed = usual(draw, "svg")
    with mpl.rc_context({"font.size": 20, "font.family": "DejaVu Serif", "axes.spines.top": True}):
        assert figure_bytes(draw(3), "svg") == undisturbed


@each_figure
@pytest.mark.parametrize("count", [2, pytest.param(7, marks=only_long), 27])
def test_no_text_is_small_or_cut_off_or_lies_on_another(draw: Callable[..., Figure], count: int) -> None:
    """Every text is 7 pt or more, inside the figure, and clear of all others, with few, some and many items."""
    figure = draw(count)
    texts = texts_of(figure)
    assert len(texts) > min(count, 12)
    assert min(text.get_fontsize() for text in texts) >= SMALLEST_PT
    boxes = np.array([Text.get_window_extent(text).extents for text in texts])  # without the stroke to a mark
    width, height = figure.get_size_inches() * figure.dpi
    assert (boxes[:, :2] >= -0.5).all()
    assert (boxes[:, 2:] <= np.array([width, height]) + 0.5).all()
    low, high = boxes[:, None, :2] + 1, boxes[:, None, 2:] - 1
    meet = ((low < high.swapaxes(0, 1)) & (low.swapaxes(0, 1) < high)).all(axis=2)
    clashes = [(texts[i].get_text(), texts[j].get_text()) for i, j in np.argwhere(np.triu(meet, 1))]
    assert clashes == []


@each_figure
def test_titles_stand_at_the_left_and_every_axis_says_what_it_shows(draw: Callable[..., Figure]) -> None:
    """A figure can be read without its text."""
    figure = draw(5)
    title = next(text for text in figure.texts if text.get_text() == TITLE)
    assert title.get_horizontalalignment() == "left"
    assert title.get_window_extent().x0 < 0.15 * figure.dpi
    for axes in figure.axes:
        assert axes.get_ylabel()
    assert figure.axes[-1].get_xlabel() or figure.axes[0].get_xlabel()


ODD = {
    "a formula": ("$x^2$ or $y_1$", "$x^2$ or $y_1$"),
    "one dollar": ("under $500", "under $500"),
    "an escaped dollar": (r"\$5 \frac{1}{2}", r"\$5 \frac{1}{2}"),
    "markup": ("<b>bold</b> & co", "<b>bold</b> & co"),
    "marks of direction": ("a\u200fb\u202ec", r"a\u200fb\u202ec"),
    "a line break": ("two\nlines", "two lines"),
    "a control character": ("nil\x00", r"nil\u0000"),
    "half a pair": ("\ud800!", r"\ud800!"),
    "a leading underscore": ("_hidden", "_hidden"),
    "letters that the font lacks": ("\u4e2d\u6587", "\u4e2d\u6587"),
    "no letter": ("", "(no name)"),
    "300 letters": ("QB" + "w" * 296 + "17", "QB" + "w" * 24 + "…" + "w" * 11 + "17"),
}


@each_figure
def test_names_are_shown_as_they_are(draw: Callable[..., Figure]) -> None:
    """No mathematics, no markup, nothing unseen; the file is sound XML, and a PNG can be drawn as well."""
    names = [given for given, _ in ODD.values()]
    figure = draw(len(names), names=names)
    root = ElementTree.fromstring(figure_bytes(figure, "svg"))
    shown = {"".join(element.itertext()) for element in root.iter() if element.tag.endswith("}text")}
    cuts = {trail: (28,), areas: (22, 40)}.get(draw, (40,))
    found = [bool(shown & {literal(name, cut).replace(r"\$", "$") for cut in cuts}) for name in names]
    assert sum(found) == (8 if draw is trail else len(names))
    assert figure_bytes(figure, "png")[:4] == b"\x89PNG"


@pytest.mark.parametrize(("given", "shown"), ODD.values(), ids=ODD)
def test_a_name_is_made_literal(given: str, shown: str) -> None:
    """What an artist is handed differs from what is seen by the backslashes before dollars."""
    assert literal(given) == shown.replace("$", r"\$")


def test_no_figure_knows_pyplot() -> None:
    """It keeps figures alive and picks a screen."""
    sources = Path(analysis.figures.__file__).parent.glob("*.py")
    assert [path.name for path in sources if "pyplot" in path.read_text(encoding="utf-8")] == []


EMPTY: dict[str, tuple[Callable[[], Figure], str]] = {
    "bars": (lambda: index_bars([], *[[]] * 6, title=TITLE, what="a score"), "the list of factors is empty"),
    "heat rows": (lambda: heat_map([], ["a"], np.zeros((0, 1)), title=TITLE, unit="%"), "the list of rows is empty"),
    "heat columns": (
        lambda: heat_map(["a"], [], np.zeros((1, 0)), title=TITLE, unit="%"),
        "the list of columns is empty",
    ),
    "heat figures": (lambda: heat_map(["a"], ["b"], [[NAN]], title=TITLE, unit="%"), "values holds no figure"),
    "trail factors": (
        lambda: convergence_trail([8], *[np.zeros((1, 0))] * 3, [], title=TITLE, target_half_width=1),
        "the list of factors is empty",
    ),
    "trail levels": (
        lambda: convergence_trail([], *[np.zeros((0, 1))] * 3, ["a"], title=TITLE, target_half_width=1),
        "the list of levels is empty",
    ),
    "trail figures": (
        lambda: convergence_trail([8], *[[[NAN]]] * 3, ["a"], title=TITLE, target_half_width=1),
        "values holds no figure",
    ),
    "ranges places": (lambda: rank_ranges(["a"], *[[NAN]] * 6, title=TITLE), "no product has a place"),
    "ranges": (lambda: rank_ranges([], *[[]] * 6, title=TITLE), "the list of products is empty"),
    "areas products": (lambda: acceptability_areas([], np.zeros((0, 3)), title=TITLE), "the list of products is empty"),
    "areas places": (lambda: acceptability_areas(["a"], np.zeros((1, 0)), title=TITLE), "the list of places is empty"),
    "matrix": (lambda: pairwise_matrix([], np.zeros((0, 0)), title=TITLE), "the list of products is empty"),
    "matrix of one": (lambda: pairwise_matrix(["a"], [[0.5]], title=TITLE), "no figure beside the diagonal"),
}
FAULTY: dict[str, tuple[Callable[[], Figure], str]] = {
    "shape": (
        lambda: index_bars(["a", "b"], *[[0.1]] * 6, title=TITLE, what="a score"),
        r"first has the shape \(1,\), where \(2,\)",
    ),
    "infinite": (
        lambda: index_bars(["a"], *[[0.1]] * 5, [np.inf], title=TITLE, what="a score"),
        "total_high holds an infinite value",
    ),
    "swapped": (
        lambda: index_bars(["a"], [0.1], [0.3], [0.2], *[[0.1]] * 3, title=TITLE, what="a score"),
        "first_low is above first_high at number 1",
    ),
    "reasons": (
        lambda: index_bars(["a"], *[[0.1]] * 6, title=TITLE, what="a score", reasons=[]),
        "reasons has 0 entries, where 1 are expected",
    ),
    "points fall": (
        lambda: convergence_trail([16, 8], *[np.zeros((2, 1))] * 3, ["a"], title=TITLE, target_half_width=1),
        "rise from level to level",
    ),
    "points from 0": (
        lambda: convergence_trail([0, 8], *[np.zeros((2, 1))] * 3, ["a"], title=TITLE, target_half_width=1),
        "points must be above 0",
    ),
    "target": (
        lambda: convergence_trail([8], *[[[0.1]]] * 3, ["a"], title=TITLE, target_half_width=0),
        "target_half_width is 0, must be above 0",
    ),
    "lines": (
        lambda: convergence_trail([8], *[[[0.1]]] * 3, ["a"], title=TITLE, target_half_width=1, most=9),
        "most is 9, must be from 1 to 8",
    ),
    "range": (lambda: rank_ranges(["a"], [1], [1], [1], [1], [2], [1], title=TITLE), "lowest is above highest"),
    "set": (lambda: rank_ranges(["a"], *[[1]] * 6, title=TITLE, sets=([2], [1])), "set_low is above set_high"),
    "groups": (
        lambda: rank_ranges(["a"], *[[1]] * 6, title=TITLE, groups=["a", "b"]),
        "groups has 2 entries, where 1 are expected",
    ),
    "chance": (lambda: acceptability_areas(["a"], [[1.2]], title=TITLE), "out of 0 to 1"),
    "no chance": (lambda: acceptability_areas(["a"], [[NAN]], title=TITLE), "missing or out of 0 to 1"),
    "areas": (lambda: acceptability_areas(["a"], [[1.0]], title=TITLE, most=16), "most is 16, must be from 1 to 15"),
    "percent": (lambda: pairwise_matrix(["a", "b"], [[0, 60], [40, 0]], title=TITLE), "out of 0 to 1"),
    "square": (lambda: pairwise_matrix(["a", "b"], [[0.5, 0.5]], title=TITLE), r"chance has the shape \(1, 2\)"),
}


@pytest.mark.parametrize(
    ("draw", "message"), [*EMPTY.values(), *FAULTY.values()], ids=[*(f"empty {name}" for name in EMPTY), *FAULTY]
)
def test_nothing_to_draw_and_what_cannot_be_drawn_are_errors(draw: Callable[[], Figure], message: str) -> None:
    """An empty figure would look like a result; the message names what is at fault."""
    with pytest.raises(ValueError, match=message):
        draw()


# Index bars


def test_bars_are_as_long_as_the_indices_and_the_largest_total_is_on_top() -> None:
    """By hand: three factors, given out of order."""
    figure = index_bars(
        ["b", "a", "c"],
        [0.2, 0.5, 0.0],
        [0.1, 0.4, -0.1],
        [0.3, 0.6, 0.1],
        [0.3, 0.6, 0.1],
        [0.2, 0.5, 0.0],
        [0.35, 0.7, 0.2],
        title=TITLE,
        what="y",
    )
    (axes,) = figure.axes
    assert y_labels(axes) == ["a", "b", "c"]
    assert widths(axes, 0) == [0.6, 0.3, 0.1]
    assert widths(axes, 1) == [0.5, 0.2, 0.0]
    assert axes.get_ylim()[0] > axes.get_ylim()[1]
    assert axes.get_xlabel() == "share of the variance of y"
    drawn = {
        tuple(np.round(segment[:, 0], 9))
        for lines in axes.collections
        if isinstance(lines, LineCollection)
        for segment in lines.get_segments()
    }
    assert drawn == {(0.5, 0.7), (0.2, 0.35), (0.0, 0.2), (0.4, 0.6), (0.1, 0.3), (-0.1, 0.1)}
    assert axes.get_xlim()[0] < -0.1


def test_an_interval_need_not_hold_its_estimate() -> None:
    """A percentile bootstrap may miss it: the ends are drawn where they are."""
    (axes,) = index_bars(["a"], [0.1], [0.2], [0.3], [0.5], [0.1], [0.4], title=TITLE, what="y").axes
    ends = {round(float(x), 9) for line in axes.lines for x in np.atleast_1d(line.get_xdata())}
    assert {0.1, 0.2, 0.3, 0.4} <= ends


def test_a_factor_without_a_figure_comes_last_and_says_why() -> None:
    """Its words stand in place of a bar; where only one index is missing, in the place of that one."""
    total, first = np.array([NAN, 0.4, 0.5]), np.array([NAN, NAN, 0.0])
    figure = index_bars(
        ["a", "b", "c"],
        first,
        first,
        first,
        total,
        total,
        total,
        title=TITLE,
        what="y",
        reasons=["does not react", None, None],
    )
    (axes,) = figure.axes
    assert y_labels(axes) == ["c", "b", "a"]
    assert widths(axes, 0) == [0.5, 0.4]
    assert widths(axes, 1) == [0.0]
    rows = {text.get_text(): round(text.xy[1], 9) for text in axes.texts}
    assert rows["does not react"] == 2
    assert rows["no figure"] == 1.2


@pytest.mark.parametrize(
    ("rest", "note"),
    [
        ([0.004, 0.0099], "and 2 more, each with a total index below 0.01"),
        ([0.01], "and 1 more, with a total index below 0.02"),
        ([0.2, NAN, NAN], "and 1 more, with a total index below 0.21; and 2 more: does not react"),
        ([NAN], "and 1 more: does not react"),
        ([-0.01, -0.02], "and 2 more, each with a total index below 0.00"),
        ([], None),
    ],
)
def test_factors_beyond_the_most_are_summed_up(rest: list[float], note: str | None) -> None:
    """The bound is worked out from their totals, and holds strictly."""
    total = [0.5, 0.3, *rest]
    figure = index_bars(
        [*"abcdef"][: len(total)], *[total] * 6, title=TITLE, what="y", reasons=["does not react"] * len(total), most=2
    )
    assert len(y_labels(figure.axes[0])) == 2
    assert [text.get_text() for text in figure.texts] == [TITLE, *([] if note is None else [note])]


def test_a_small_share_is_not_printed_as_none() -> None:
    """0.004 is not 0.00."""
    (axes,) = index_bars(
        ["a", "b"], [0.004, 0.0], *[[NAN, NAN]] * 2, [0.996, 0.0], *[[NAN, NAN]] * 2, title=TITLE, what="y"
    ).axes
    assert sorted(text.get_text() for text in axes.texts) == ["0.00", "0.00", "1.00", "<0.01"]


# Heat map


def cells_of(figure: Figure) -> np.ndarray:
    """The values of the cells, NaN where hatched or bare."""
    (mesh,) = (item for item in figure.axes[0].collections if isinstance(item, QuadMesh))
    return np.ma.filled(mesh.get_array(), NAN)


def hatched(figure: Figure) -> int:
    """How many cells are hatched."""
    return sum(
        len(item.get_paths())
        for item in figure.axes[0].collections
        if isinstance(item, PolyCollection) and not isinstance(item, QuadMesh) and item.get_hatch()
    )


def test_cells_hold_the_values_given_and_those_without_a_figure_are_hatched() -> None:
    """Rows from the top, columns from the left, the figures printed."""
    values = [[0.1, NAN, 0.62], [0.0, 1.0, 0.3]]
    figure = heat_map(["sag", "heat"], ["A", "B", "C"], values, title=TITLE, unit="share")
    np.testing.assert_array_equal(cells_of(figure), values)
    assert figure.axes[0].get_ylim() == (2, 0)
    printed = {text.get_position(): text.get_text() for text in figure.axes[0].texts}
    assert printed == {
        (0.5, 0.5): "0.10",
        (2.5, 0.5): "0.62",
        (0.5, 1.5): "0.00",
        (1.5, 1.5): "1.00",
        (2.5, 1.5): "0.30",
    }
    assert hatched(figure) == 1
    assert [text.get_text() for text in figure.legends[0].get_texts()] == ["no figure"]
    assert figure.axes[1].get_ylabel() == "share"


def test_a_full_table_has_no_key_of_hatching() -> None:
    """Nothing is explained that is not there."""
    figure = heat_map(["sag"], ["A"], [[0.5]], title=TITLE, unit="share")
    assert figure.legends == []
    assert hatched(figure) == 0


@pytest.mark.parametrize(
    ("largest", "printed"),
    [(0.9, "0.90"), (0.034, "0.034"), (0.0034, "0.0034"), (2.5, "2.50"), (31.0, "31.0"), (240.0, "240"), (0.0, "0.00")],
)
def test_figures_are_printed_to_the_size_of_the_largest(largest: float, printed: str) -> None:
    """Two digits or three, so that they fit."""
    figure = heat_map(["sag"], ["A"], [[largest]], title=TITLE, unit="share")
    assert [text.get_text() for text in figure.axes[0].texts] == [printed]


def test_many_columns_keep_their_names_and_lose_their_figures() -> None:
    """60 columns: narrow cells, no print; what is beyond is counted in a note."""
    figure = heat(8, 75)
    assert cells_of(figure).shape == (8, 60)
    assert len(figure.axes[0].texts) == 0
    assert [label.get_text() for label in figure.axes[0].get_xticklabels()] == products(75)[:60]
    assert "the first 60 of 75 products" in words(figure)
    assert len(heat(8, 20).axes[0].texts) == 8 * 20 - 1


@pytest.mark.parametrize(("grey", "ink"), [(0.0, "white"), (0.4, "white"), (0.5, "black"), (1.0, "black")])
def test_ink_stands_out_on_its_grey(grey: float, ink: str) -> None:
    """Of both inks the one with the higher contrast, and that is 4.5 or more on every grey."""
    assert ink_on(grey) == ink
    luminance = ((grey + 0.055) / 1.055) ** 2.4
    contrast = (luminance + 0.05) / 0.05 if ink == "black" else 1.05 / (luminance + 0.05)
    assert contrast >= 4.5


# Convergence trail


def test_lines_pass_through_the_values_and_the_target_lies_across_the_half_widths() -> None:
    """Upper panel the indices, lower panel half the interval; levels are labelled in numbers."""
    values = np.array([[0.7, 0.2], [0.6, 0.3], [0.65, 0.25]])
    half = np.array([[0.1, 0.08], [0.05, 0.04], [0.02, 0.03]])
    figure = convergence_trail(
        [64, 128, 4096], values, values - half, values + half, ["a", "b"], title=TITLE, target_half_width=0.025
    )
    upper, lower = figure.axes
    for axes, expected in ((upper, values), (lower, half)):
        lines = [line.get_ydata() for line in axes.lines if line.get_marker() in ("o", "s")]
        np.testing.assert_allclose(np.array(lines).T, expected)
    dashed = [line for line in lower.lines if np.allclose(line.get_ydata(), 0.025)]
    assert len(dashed) == 1
    assert "target 0.025" in words(figure)
    assert [label.get_text() for label in lower.get_xticklabels()] == ["64", "128", "4096"]
    assert lower.get_xscale() == "log"


def test_only_the_largest_are_told_apart_and_the_others_are_bounded() -> None:
    """Eight marks and dashes, all different; the rest thin and grey, with a bound that holds."""
    figure = trail(20)
    upper = figure.axes[0]
    told = [line for line in upper.lines if line.get_linewidth() == 1.0]
    grey = [line for line in upper.lines if line.get_color() == "0.75"]
    assert len({(line.get_marker(), str(line._dash_pattern)) for line in told}) == len(told) == 8
    assert len(grey) == 12
    ends = [float(line.get_ydata()[-1]) for line in told]
    assert ends == sorted(ends, reverse=True)
    highest = max(float(line.get_ydata()[-1]) for line in grey)
    assert highest <= min(ends)
    bound = float(figure.texts[-1].get_text().split()[-1])
    assert highest < bound <= highest + 0.01 + 1e-12


def test_a_line_that_ends_early_is_still_named() -> None:
    """Its last known value counts; a factor without any is counted in the note."""
    values = np.array([[0.5, 0.2, NAN], [NAN, 0.3, NAN]])
    figure = convergence_trail([8, 16], values, values, values, ["a", "b", "c"], title=TITLE, target_half_width=0.1)
    assert [text.get_text() for text in figure.axes[0].texts] == ["a", "b"]
    assert figure.texts[-1].get_text() == "1 without a figure at any level"


@given(st.lists(st.floats(0, 1), min_size=1, max_size=8), st.floats(0.001, 0.4))
def test_labels_are_spread_in_order_and_within_reach(wanted: list[float], gap: float) -> None:
    """Second method: scipy's isotonic regression, clipped; neighbours keep the gap, or share what room there is."""
    found = spread(np.array(wanted), gap, 0.0, 1.0)
    fair = min(gap, 1 / max(len(wanted) - 1, 1))
    order = np.argsort(wanted, kind="stable")
    assert all(b - a >= fair - 1e-9 for a, b in pairwise(found[order]))
    assert found.min() >= -1e-9
    assert found.max() <= 1 + 1e-9
    steps = fair * np.arange(len(wanted))
    level = isotonic_regression(np.array(wanted)[order] - steps).x
    np.testing.assert_allclose(found[order], np.clip(level, 0, 1 - steps[-1]) + steps, atol=1e-9)


# Rank ranges


def marks_at(axes: Axes, marker: str) -> np.ndarray:
    """The places at which a mark stands, row by row."""
    (line,) = (line for line in axes.lines if line.get_marker() == marker)
    np.testing.assert_array_equal(line.get_ydata(), np.arange(len(line.get_ydata())))
    return np.asarray(line.get_xdata())


def test_products_stand_in_published_order_with_their_places() -> None:
    """By hand: given out of order, one of them without a place."""
    figure = rank_ranges(
        ["second", "none", "first"],
        [2, NAN, 1],
        [1.5, NAN, 2],
        [1, NAN, 1.5],
        [2, NAN, 2.5],
        [1, NAN, 1],
        [3, NAN, 3],
        title=TITLE,
        sets=([1, NAN, 1], [3, NAN, 2]),
    )
    (axes,) = figure.axes
    assert y_labels(axes) == ["first", "second", "none"]
    np.testing.assert_array_equal(marks_at(axes, "|"), [1, 2, NAN])
    np.testing.assert_array_equal(marks_at(axes, "o"), [2, 1.5, NAN])
    grid, middle, full = (item.get_segments() for item in axes.collections if isinstance(item, LineCollection))
    assert len(grid) == 3
    assert [segment[:, 0].tolist() for segment in middle] == [[1.5, 2.5], [1, 2]]
    assert [segment[:, 0].tolist() for segment in full] == [[1, 3], [1, 3]]
    brackets = [line.get_xdata() for line in axes.lines if isinstance(line.get_marker(), tuple)]
    np.testing.assert_array_equal(brackets, [[1, 1, NAN], [2, 3, NAN]])
    beside = {(text.get_text(), text.xy[1]) for text in axes.texts}
    assert beside == {("1", 0), ("2", 1), ("–", 2), ("no place", 2)}
    assert "confidence set" in words(figure)


def test_without_sets_and_groups_neither_is_explained() -> None:
    """The key and the note speak of what is drawn."""
    written = words(rank_ranges(["a"], *[[1]] * 6, title=TITLE))
    assert "confidence set" not in written
    assert "letter" not in written


def test_a_letter_of_a_group_keeps_its_column() -> None:
    """So that a group is a run that the eye can follow; products without a letter have none."""
    figure = rank_ranges(["A", "B", "C", "D"], *[[1, 2, 3, 4]] * 6, title=TITLE, groups=["a", "ab", "b", ""])
    letters = [(text.get_text(), text.xy[1], text.xyann[0]) for text in figure.axes[0].texts if text.get_text() in "ab"]
    assert [(letter, row) for letter, row, _ in letters] == [("a", 0), ("a", 1), ("b", 1), ("b", 2)]
    assert letters[0][2] == letters[1][2] < letters[2][2] == letters[3][2]
    assert "products that share a letter cannot be told apart" in words(figure)


@pytest.mark.parametrize(("count", "panels", "rows"), [(60, 1, 60), (80, 1, 80), (81, 2, 41), (250, 3, 80)])
def test_many_products_stand_in_columns(count: int, panels: int, rows: int) -> None:
    """80 to a column; beyond 240 the first are drawn and a note says so."""
    figure = rank_ranges(products(count), *[np.arange(1.0, count + 1)] * 6, title=TITLE)
    assert len(figure.axes) == panels
    assert len(y_labels(figure.axes[0])) == rows
    names = [name for axes in figure.axes for name in y_labels(axes)]
    assert names == products(count)[:240]
    note = f"the first 240 of {count} products by published place"
    assert (note in [text.get_text() for text in figure.texts]) == (count > 240)


@pytest.mark.parametrize(
    ("last", "ticks"),
    [
        (1, [1]),
        (5, [1, 2, 3, 4, 5]),
        (13, [*range(1, 14)]),
        (14, [1, 5, 10]),
        (53, [1, *range(5, 51, 5)]),
        (130, [1, *range(10, 131, 10)]),
    ],
)
def test_places_are_marked_from_the_first(last: float, ticks: list[int]) -> None:
    """Every place, or round ones."""
    assert place_ticks(last) == ticks


# Acceptability areas


def test_areas_are_stacked_from_the_first_product() -> None:
    """By hand: each band runs from the sum before it to the sum with it, place by place."""
    chances = np.array([[0.7, 0.2, 0.1], [0.2, 0.6, 0.2], [0.1, 0.2, 0.7]])
    (axes,) = acceptability_areas(["A", "B", "C"], chances, title=TITLE).axes
    bands = [patch.get_data() for patch in axes.patches if isinstance(patch, StepPatch)]
    np.testing.assert_allclose([band.values - band.baseline for band in bands], chances)
    np.testing.assert_allclose([band.values for band in bands], np.cumsum(chances, axis=0))
    np.testing.assert_array_equal(bands[0].edges, [0.5, 1.5, 2.5, 3.5])
    assert axes.get_ylim() == (0, 1)


@pytest.mark.parametrize("count", [3, 12, 13, 40])
def test_every_area_has_its_name_once_inside_it_or_in_the_key(count: int) -> None:
    """A name inside lies within its own area; the others are in the key; those beyond the most share one area."""
    figure = areas(count)
    (axes,) = figure.axes
    bands = [patch.get_data() for patch in axes.patches if isinstance(patch, StepPatch)]
    expected = products(count)[:12] + ([f"all {count - 12} others"] if count > 12 else [])
    assert len(bands) == len(expected)
    figure.draw_without_rendering()
    inside = {text.get_text(): text for text in axes.texts}
    keyed = [text.get_text() for legend in figure.legends for text in legend.get_texts()]
    assert len(inside) + len(keyed) == len(expected)
    assert len(inside) > 0
    for name, band in zip(expected, bands, strict=True):
        if name in keyed:
            continue
        box = inside[literal(name, 22)].get_window_extent().transformed(axes.transData.inverted())
        covered = (band.edges[:-1] < box.x1) & (band.edges[1:] > box.x0)
        assert (band.baseline[covered] <= box.y0).all()
        assert (band.values[covered] >= box.y1).all()


def test_the_others_make_up_the_rest() -> None:
    """Their area is the sum of their chances; it is told from the named ones."""
    chances = np.full((4, 4), 0.25)
    figure = acceptability_areas([*"abcd"], chances, title=TITLE, most=1)
    first, others = (patch for patch in figure.axes[0].patches if isinstance(patch, StepPatch))
    np.testing.assert_allclose(others.get_data().values - others.get_data().baseline, 0.75)
    assert to_rgb(others.get_facecolor()) != to_rgb(first.get_facecolor())
    assert len(set(AREAS)) == len(AREAS) == 15


def test_places_that_the_named_products_never_take_are_cut_off_with_a_note() -> None:
    """The bound is worked out; a place at which they have 1 % or more stays."""
    chances = np.array([[0.988, 0.005, 0.004, 0.003], [0.012, 0.995, 0.996, 0.997]])
    figure = acceptability_areas(["A", "B"], chances, title=TITLE, most=1)
    assert figure.axes[0].get_xlim() == (0.5, 1.5)
    assert (
        figure.texts[-1].get_text()
        == "not drawn: places 2 to 4, where the products named have a chance below 0.6 % in all"
    )
    chances[0, 2], chances[1, 2] = 0.01, 0.99
    figure = acceptability_areas(["A", "B"], chances, title=TITLE, most=1)
    assert figure.axes[0].get_xlim() == (0.5, 3.5)
    assert "not drawn: place 4," in figure.texts[-1].get_text()


def test_shared_places_may_add_up_to_more_than_one() -> None:
    """Two products that always tie for the first place: the axis reaches 2."""
    (axes,) = acceptability_areas(["A", "B"], [[1.0, 0.0], [1.0, 0.0]], title=TITLE).axes
    assert axes.get_ylim() == (0, 2)


# Pairwise matrix


def test_the_matrix_shows_percentages_and_a_bare_diagonal() -> None:
    """The diagonal is neither printed nor hatched, whatever stands in it; what is missing beside it is hatched."""
    chance = np.array([[0.5, 0.904, NAN], [0.096, 0.5, 1.0], [0.25, 0.0, 0.5]])
    figure = pairwise_matrix(["A", "B", "C"], chance, title=TITLE)
    np.testing.assert_allclose(cells_of(figure), [[NAN, 90.4, NAN], [9.6, NAN, 100], [25, 0, NAN]])
    printed = {text.get_position(): text.get_text() for text in figure.axes[0].texts}
    assert printed == {(1.5, 0.5): "90", (0.5, 1.5): "10", (2.5, 1.5): "100", (0.5, 2.5): "25", (1.5, 2.5): "0"}
    assert hatched(figure) == 1


@pytest.mark.parametrize(
    ("chance", "printed"),
    [(0.0, "0"), (0.0049, "<1"), (0.006, "1"), (0.9949, "99"), (0.995, ">99"), (0.99999, ">99"), (1.0, "100")],
)
def test_a_near_certainty_is_not_printed_as_one(chance: float, printed: str) -> None:
    """Only 0 reads 0 and only 1 reads 100."""
    figure = pairwise_matrix(["A", "B"], [[0, chance], [NAN, 0]], title=TITLE)
    assert [text.get_text() for text in figure.axes[0].texts] == [printed]


def test_the_matrix_prints_beside_a_chance_how_often_there_is_none() -> None:
    """In brackets where either has no score in some draws, with a note of what the brackets say; nothing where none is lost."""
    chance, lacking = np.array([[NAN, 1.0], [0.0, NAN]]), np.array([[0.0, 0.412], [0.412, 0.412]])
    figure = pairwise_matrix(["A", "B"], chance, lacking=lacking, title=TITLE)
    assert [text.get_text() for text in figure.axes[0].texts] == ["100\n(41)", "0\n(41)"]
    assert "in brackets: % of draws in which either has no score" in " ".join(words(figure).split())
    plain = pairwise_matrix(["A", "B"], chance, lacking=np.zeros((2, 2)), title=TITLE)
    assert "in brackets" not in words(plain)


def test_a_long_matrix_shows_the_first_products_and_says_so() -> None:
    """30 of 53, or as many as are asked for."""
    figure = matrix(53)
    assert cells_of(figure).shape == (30, 30)
    assert "the first 30 of 53 products" in words(figure)


# Words around the figure


def test_a_long_title_is_wrapped_between_words() -> None:
    """Each line fits; nothing is lost; a word longer than a line is cut."""
    text = "How far the places move when every weight may change by a quarter, at $3 a draw, " + "W" * 60
    lines = wrapped(text, 2.5, 9).split("\n")
    assert max(inches_wide([line.replace(r"\$", "$")], 9) for line in lines) <= 2.5
    assert "".join(lines).replace(" ", "").replace(r"\$", "$") == text.replace(" ", "")
    assert all(line == line.strip() for line in lines)
