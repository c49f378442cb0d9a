"""The figures of a comparison: who moves, and why; drawn as given, legible, literal and the same on every run."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from collections.abc import Callable
from functools import cache
from itertools import pairwise

import matplotlib as mpl
import numpy as np
import pytest
from extent import some
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.colors import to_hex
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle
from matplotlib.text import Text

from analysis.figures.canvas import figure_bytes, literal
from analysis.figures.causes import causes
from analysis.figures.moves import rank_changes

NAN = float("nan")
TITLE = "Invented data, for this test only"
SMALLEST_PT = 7.0
LABEL_ROOM_PT = 10.0


def products(count: int) -> list[str]:
    """Names of invented products, some short and some long."""
    return [f"QB-{i + 1:03d}{' Night Harbour de luxe, extra firm' * (i % 4 == 2)}" for i in range(count)]


def places_of(scores: np.ndarray) -> np.ndarray:
    """The place of each score, the highest first; equal scores share the mean of their places."""
    return np.array([(scores > score).sum() + ((scores == score).sum() + 1) / 2 for score in scores])


def moves(count: int, seed: int = 0, names: list[str] | None = None, *, plain: bool = False) -> Figure:
    """Invented places before and after; unless plain, some are shared, some missing and some moves not sure."""
    rng = np.random.default_rng(seed)
    before = np.sort(rng.normal(0, 1, count))[::-1]
    after = before + rng.normal(0, 0.3, count)
    old, new = (places_of(scores if plain else np.round(scores, 1)) for scores in (before, after))
    if not plain and count > 6:
        old[rng.random(count) < 0.1], new[rng.random(count) < 0.1] = NAN, NAN
    marks = None if plain else rng.random(count) < 0.6
    return change(names or products(count), old, new, marks=marks)


def change(names: list[str], old: object, new: object, **options: object) -> Figure:
    """Rank changes with the words around them."""
    return rank_changes(
        names,
        old,
        new,
        title=TITLE,
        old_title="comfort",
        new_title="comfort, with the edge weighted by a half",
        **options,
    )


def waterfall(count: int, seed: int = 0, names: list[str] | None = None, **options: object) -> Figure:
    """Invented causes of a new score, with intervals."""
    rng = np.random.default_rng(seed)
    amounts = rng.normal(0, 0.4, count)
    half = rng.uniform(0.01, 0.3, count)
    ends = {"low": amounts - half, "high": amounts + half}
    words = names or [f"{['firmness', 'edge', 'heat'][i % 3]} rating {i + 1}" for i in range(count)]
    return causes(words, amounts, 6.4, 6.4 + amounts.sum(), title=TITLE, unit="score, points", **{**ends, **options})


def all_tied(count: int) -> Figure:
    """All share the first place before, and each has its own after."""
    return change(products(count), [1] * count, np.arange(1, count + 1))


def all_gone(count: int) -> Figure:
    """Half of them had a place, the other half have one, and all of a half share it."""
    half = np.arange(count) < count // 2
    return change(products(count), np.where(half, 1.0, NAN), np.where(half, NAN, 2.0))


def far_apart(count: int) -> Figure:
    """A long list turned upside down."""
    return change(products(count), np.arange(1, count + 1), np.arange(count, 0, -1))


DRAW: dict[str, Callable[..., Figure]] = {"moves": moves, "causes": waterfall}
each_figure = pytest.mark.parametrize("draw", DRAW.values(), ids=DRAW)


def texts_of(figure: Figure) -> list[Text]:
    """Every text that is drawn: of ticks only those within the axis."""
    figure.draw_without_rendering()
    (axes,) = figure.axes
    texts = [*figure.texts, *(text for legend in figure.legends for text in legend.get_texts()), *axes.texts]
    texts += [axes.xaxis.label, axes.yaxis.label]
    for axis in (axes.xaxis, axes.yaxis):
        low, high = sorted(axis.get_view_interval())
        texts += [tick.label1 for tick in axis.get_major_ticks() if low <= tick.get_loc() <= high]
    return [text for text in texts if text.get_visible() and text.get_text().strip()]


def key_of(figure: Figure) -> list[str]:
    """The words of the key."""
    return [text.get_text() for legend in figure.legends for text in legend.get_texts()]


# Both figures


@cache
def usual(draw: Callable[..., Figure], kind: str) -> bytes:
    """A figure as a file, drawn once."""
    return figure_bytes(draw(8), kind)


@each_figure
def test_the_same_input_gives_the_same_bytes_and_another_gives_others(draw: Callable[..., Figure]) -> None:
    """Nothing depends on the moment or on chance, and the data does reach the picture."""
    for kind in ("svg", "png"):
        assert figure_bytes(draw(8), kind) == usual(draw, kind)
    for kind in some(("svg", "png"), 2):
        assert figure_bytes(draw(8, seed=1), kind) != usual(draw, kind)


@each_figure
def test_the_callers_own_settings_do_not_change_a_figure(draw: Callable[..., Figure]) -> None:
    """A notebook with large type gets the same picture."""
    undisturbed = usual(draw, "svg")
    with mpl.rc_context({"font.size": 20, "font.family": "DejaVu Serif", "axes.spines.top": True}):
        assert figure_bytes(draw(8), "svg") == undisturbed


SIZES: dict[str, tuple[Callable[[], Figure], int]] = {
    **{f"moves of {p}": (lambda p=p: moves(p), min(2 * p, 120)) for p in (1, 2, 12, 60, 100)},
    **{f"plain moves of {p}": (lambda p=p: moves(p, plain=True), min(4 * p, 320)) for p in (2, 60, 100)},
    "all tied": (lambda: all_tied(60), 240),
    "all new or gone": (lambda: all_gone(60), 180),
    "a long list": (lambda: far_apart(500), 320),
    **{f"causes of {k}": (lambda k=k: waterfall(k), min(2 * k, 20)) for k in (1, 4, 14)},
    "many causes": (lambda: waterfall(40, most=40), 80),
    "tiny causes": (lambda: causes(["a", "b"], [1e-9, -3e-10], 6.4, 6.4 + 7e-10, title=TITLE, unit="points"), 4),
    "causes below 0": (lambda: causes(["a", "b"], [1, -3], -80, -82, title=TITLE, unit="points"), 4),
    "causes around 0": (lambda: causes(["a", "b"], [4, -1], -2, 1, title=TITLE, unit="points"), 4),
}


@pytest.mark.parametrize(("draw", "least"), SIZES.values(), ids=SIZES)
def test_no_text_is_small_or_cut_off_or_lies_on_another(draw: Callable[[], Figure], least: int) -> None:
    """Every text is 7 pt or more, inside the figure, and clear of all others; the axis and the title stay."""
    figure = draw()
    texts = texts_of(figure)
    assert len(texts) > least
    assert min(text.get_fontsize() for text in texts) >= SMALLEST_PT
    boxes = np.array([text.get_window_extent().extents for text in texts])
    width, height = figure.get_size_inches() * figure.dpi
    assert (boxes[:, :2] >= -0.5).all()
    assert (boxes[:, 2:] <= np.array([width, height]) + 0.5).all()
    low, high = boxes[:, None, :2] + 1, boxes[:, None, 2:] - 1
    meet = ((low < high.swapaxes(0, 1)) & (low.swapaxes(0, 1) < high)).all(axis=2)
    assert [(texts[i].get_text(), texts[j].get_text()) for i, j in np.argwhere(np.triu(meet, 1))] == []
    assert figure.axes[0].get_ylabel()
    title = next(text for text in figure.texts if text.get_text() == TITLE)
    assert title.get_window_extent().x0 < 0.15 * figure.dpi


ODD = [
    "$x^2$ or $y_1$",
    "under $500",
    r"\$5 \frac{1}{2}",
    "<b>bold</b> & co",
    "a\u200fb\u202ec",
    "two\nlines",
    "nil\x00",
    "\ud800!",
    "_hidden",
    "\u4e2d\u6587",
    "",
    "QB" + "w" * 296 + "17",
]


@each_figure
def test_names_are_shown_as_they_are(draw: Callable[..., Figure]) -> None:
    """No mathematics, no markup, nothing unseen; the file is sound XML, and a PNG can be drawn as well."""
    figure = draw(len(ODD), names=ODD, **({"most": 12} if draw is waterfall else {}))
    root = ElementTree.fromstring(figure_bytes(figure, "svg"))
    shown = {"".join(element.itertext()) for element in root.iter() if element.tag.endswith("}text")}
    assert [name for name in ODD if literal(name).replace(r"\$", "$") not in shown] == []
    assert figure_bytes(figure, "png")[:4] == b"\x89PNG"


def test_the_words_around_are_shown_as_they_are() -> None:
    """Titles, headings and the unit hold no mathematics either, and a heading without end is shortened."""
    odd = "$a$ <b> " + "w" * 300
    first = rank_changes(["a"], [1], [1], title=odd, old_title=odd, new_title="", marks=[True])
    second = causes(["a"], [1], 1, 2, title=odd, unit=odd)
    for figure in (first, second):
        root = ElementTree.fromstring(figure_bytes(figure, "svg"))
        shown = [element.text or "" for element in root.iter() if element.tag.endswith(("}text", "}tspan"))]
        assert sum("$a$ <b>" in text for text in shown) == 2
        assert max(figure.get_size_inches()) < 8


FAULTY: dict[str, tuple[Callable[[], Figure], str]] = {
    "no product": (lambda: change([], [], []), "the list of products is empty"),
    "no place": (lambda: change(["a"], [NAN], [NAN]), "no product has a place"),
    "old shape": (lambda: change(["a", "b"], [1], [1, 2]), r"old has the shape \(1,\), where \(2,\)"),
    "new shape": (lambda: change(["a"], [1], [[1]]), r"new has the shape \(1, 1\), where \(1,\)"),
    "infinite place": (lambda: change(["a"], [1], [np.inf]), "new holds an infinite value"),
    "place 0": (lambda: change(["a", "b"], [1, 2], [2, 0]), "new holds a place below 1 at number 2"),
    "old place 0": (lambda: change(["a", "b"], [0, 2], [2, 1]), "old holds a place below 1 at number 1"),
    "marks": (lambda: change(["a"], [1], [1], marks=[]), "marks has 0 entries, where 1 are expected"),
    "marks of numbers": (lambda: change(["a"], [1], [1], marks=[0.5]), "neither true nor false"),
    "no cause": (lambda: causes([], [], 1, 1, title=TITLE, unit="u"), "the list of causes is empty"),
    "amounts": (lambda: causes(["a"], [1, 2], 1, 4, title=TITLE, unit="u"), r"amounts has the shape \(2,\)"),
    "missing amount": (lambda: causes(["a"], [NAN], 1, 1, title=TITLE, unit="u"), "amounts holds NaN"),
    "infinite amount": (lambda: causes(["a"], [np.inf], 1, 1, title=TITLE, unit="u"), "amounts holds an infinite"),
    "missing end": (lambda: causes(["a"], [1], 1, NAN, title=TITLE, unit="u"), "start or end holds NaN"),
    "infinite start": (lambda: causes(["a"], [1], np.inf, 1, title=TITLE, unit="u"), "start or end holds an infinite"),
    "sum": (lambda: causes(["a"], [1], 1, 2.5, title=TITLE, unit="u"), "start plus the amounts is 2, where end is 2.5"),
    "low alone": (lambda: causes(["a"], [1], 1, 2, title=TITLE, unit="u", low=[0]), "low is given without"),
    "high alone": (lambda: causes(["a"], [1], 1, 2, title=TITLE, unit="u", high=[0]), "high is given without"),
    "swapped": (
        lambda: causes(["a"], [1], 1, 2, title=TITLE, unit="u", low=[2], high=[0]),
        "low is above high at number 1",
    ),
    "high shape": (
        lambda: causes(["a"], [1], 1, 2, title=TITLE, unit="u", low=[0], high=[]),
        r"high has the shape \(0,\)",
    ),
    "most": (lambda: causes(["a"], [1], 1, 2, title=TITLE, unit="u", most=0), "most is 0, must be 1 or more"),
}


@pytest.mark.parametrize(("draw", "message"), FAULTY.values(), ids=FAULTY)
def test_nothing_to_draw_and_what_cannot_be_drawn_are_errors(draw: Callable[[], Figure], message: str) -> None:
    """An empty figure would look like a result; the message names what is at fault."""
    with pytest.raises(ValueError, match=message):
        draw()


# Who moves


def lines_of(axes: Axes, *, casings: bool = False) -> dict[tuple[float, float], Line2D]:
    """The lines from side to side by their ends, without or only the white casings."""
    across = [line for line in axes.lines if list(line.get_xdata()) == [0, 1]]
    chosen = [line for line in across if (line.get_color() == "white") == casings]
    return {(float(line.get_ydata()[0]), float(line.get_ydata()[1])): line for line in chosen}


def column(axes: Axes, side: int) -> list[tuple[str, str, float]]:
    """The place number, the name and the height of each label of a side, from the top."""
    outside = [t for t in axes.texts if t.xy[0] == side and t.get_va() == "center_baseline"]
    heights = sorted({t.xy[1] for t in outside})
    rows = [sorted((t for t in outside if t.xy[1] == y), key=lambda t: abs(t.xyann[0])) for y in heights]
    return [(number.get_text(), name.get_text(), name.xy[1]) for number, name in rows]


def test_each_product_runs_from_its_old_place_to_its_new_one_and_is_named_at_both_ends() -> None:
    """By hand: six products, given out of order; the first place is on top."""
    names = ["up3", "down3", "up2", "stays", "down1", "down1 too"]
    figure = change(names, [5, 1, 4, 6, 2, 3], [2, 4, 1, 6, 3, 5])
    (axes,) = figure.axes
    found = lines_of(axes)
    assert set(found) == {(5, 2), (1, 4), (4, 1), (6, 6), (2, 3), (3, 5)}
    assert [row[:2] for row in column(axes, 0)] == [
        ("1", "down3"), ("2", "down1"), ("3", "down1 too"), ("4", "up2"), ("5", "up3"), ("6", "stays")
    ]  # fmt: skip
    assert [name for _, name, _ in column(axes, 1)] == ["up2", "up3", "down1", "down3", "down1 too", "stays"]
    assert [round(height, 9) for _, _, height in column(axes, 0)] == [1, 2, 3, 4, 5, 6]
    assert axes.get_ylim()[0] > axes.get_ylim()[1]


def test_far_moves_are_told_from_each_other_and_from_the_rest_without_colour() -> None:
    """Three places make a far move: up solid and black, down dashed; less is thin and light."""
    (axes,) = change([*"abcd"], [4, 1, 3, 2], [1, 4, 2.5, 2.5]).axes
    found = lines_of(axes)
    up, down, near = found[4, 1], found[1, 4], found[3, 2.5]
    assert to_hex(up.get_color()) == "#000000"
    assert up.get_linestyle() == "-"
    assert down.get_linestyle() == "--"
    assert near.get_linestyle() == "-"
    assert up.get_linewidth() > down.get_linewidth() > near.get_linewidth()
    assert float(near.get_color()) > 0.6 > 0.4 > float(down.get_color())
    assert lines_of(change([*"ab"], [3.5, 1], [1, 3.9]).axes[0], casings=True) == {}


def test_the_farther_a_move_the_higher_it_lies_and_far_ones_have_a_white_casing() -> None:
    """So that crossings can be read: what is on top cuts what is below."""
    (axes,) = moves(60, plain=True).axes
    found, cased = lines_of(axes), lines_of(axes, casings=True)
    sizes = {ends: abs(ends[0] - ends[1]) for ends in found}
    assert set(cased) == {ends for ends, size in sizes.items() if size >= 3}
    assert len(cased) > 10
    by_height = sorted(found, key=lambda ends: found[ends].get_zorder())
    assert all(sizes[below] <= sizes[above] for below, above in pairwise(by_height))
    for ends, casing in cased.items():
        assert casing.get_linewidth() >= found[ends].get_linewidth() + 1.5
        assert casing.get_zorder() == found[ends].get_zorder()
        assert list(axes.lines).index(casing) < list(axes.lines).index(found[ends])


def test_the_key_explains_what_is_drawn_and_nothing_else() -> None:
    """Each kind of line has its words; without marks none speaks of the bench."""
    up, down, near = "up 3 places or more", "down 3 places or more", "less than 3 places"
    unsure = "swaps with nobody that the bench tells apart"
    assert key_of(change([*"ab"], [1, 2], [2, 1])) == [near]
    assert key_of(change([*"abc"], [1, 4, 2], [4, 1, 2])) == [up, down, near]
    assert key_of(change([*"abc"], [1, 4, 2], [4, 1, 2], marks=[True, False, False])) == [down, unsure]
    assert key_of(change(["a"], [1], [NAN])) == []


def test_a_move_that_the_bench_cannot_tell_is_thin_and_dotted_however_far_it_goes() -> None:
    """Its names are pale as well; marks may be an array."""
    (axes,) = change([*"abc"], [1, 9, 5], [9, 1, 5], marks=np.array([True, False, False])).axes
    found = lines_of(axes)
    assert found[1, 9].get_linestyle() == "--"
    for ends in ((9, 1), (5, 5)):
        assert found[ends].get_linewidth() < 1
        assert found[ends]._unscaled_dash_pattern == (0, (1, 2))
    assert set(lines_of(axes, casings=True)) == {(1, 9)}
    inks = {text.get_text(): text.get_color() for text in axes.texts if text.get_text() in [*"abc"]}
    assert inks == {"a": "black", "b": "0.35", "c": "0.35"}


def test_a_product_on_one_side_only_ends_in_a_stub_with_a_word() -> None:
    """It is named where it has a place; marks do not matter to it."""
    (axes,) = change([*"abc"], [1, NAN, 2], [1, 2, NAN], marks=[True, False, False]).axes
    assert set(lines_of(axes)) == {(1, 1)}
    stubs = {
        tuple(np.round(line.get_xdata(), 2)): list(line.get_ydata()) for line in axes.lines if line.get_xdata()[1] != 1
    }
    assert set(stubs) == {(0.0, 0.09), (1.0, 0.91)}
    assert all(np.allclose(ends, 2) for ends in stubs.values())
    said = {text.get_text(): round(text.xy[0], 2) for text in axes.texts if text.get_text() in {"new", "gone"}}
    assert said == {"gone": 0.09, "new": 0.91}
    assert [name for _, name, _ in column(axes, 0)] == ["a", "c"]
    assert [name for _, name, _ in column(axes, 1)] == ["a", "b"]


def test_names_that_share_a_place_are_spread_around_it_in_the_order_of_the_other_side() -> None:
    """Each has the number of the shared place, and a stroke that leads to it."""
    figure = change([*"abcd"], [2.5, 2.5, 1, 2.5], [3, 1, 2, 4])
    (axes,) = figure.axes
    labels = column(axes, 0)
    assert [row[:2] for row in labels] == [("1", "c"), ("2.5", "b"), ("2.5", "a"), ("2.5", "d")]
    assert np.mean([height for number, _, height in labels if number == "2.5"]) == pytest.approx(2.5)
    strokes = [s for item in axes.collections if isinstance(item, LineCollection) for s in item.get_segments()]
    left = sorted((s[0, 1], s[1, 1]) for s in strokes if s[1, 0] < 0)
    np.testing.assert_allclose(left, sorted((float(number), height) for number, _, height in labels))
    assert len(strokes) == 8


@pytest.mark.parametrize(
    "draw", [lambda: moves(60), lambda: moves(100), lambda: all_tied(80), lambda: far_apart(500)],
    ids=["60", "100", "all tied", "a long list"],
)  # fmt: skip
def test_names_keep_their_distance_and_the_order_of_their_places(draw: Callable[[], Figure]) -> None:
    """Ten points from one to the next, however many share a place."""
    figure = draw()
    (axes,) = figure.axes
    figure.draw_without_rendering()
    points_a_place = 72 * axes.get_window_extent().height / figure.dpi / abs(np.subtract(*axes.get_ylim()))
    for side in (0, 1):
        labels = column(axes, side)
        assert len(labels) > 40
        assert all(float(a) <= float(b) for (a, *_), (b, *_) in pairwise(labels))
        heights = np.array([height for *_, height in labels])
        assert np.diff(heights).min() * points_a_place >= LABEL_ROOM_PT
        assert heights.min() >= axes.get_ylim()[1]
        assert heights.max() <= axes.get_ylim()[0]


@pytest.mark.parametrize(
    ("old", "new", "note"),
    [
        ([*range(1, 81)], [*range(80, 0, -1)], None),
        ([*range(1, 101)], [*range(21, 101), *range(1, 21)], "not drawn: 20 products moving by 20 places at the most"),
        ([*range(1, 82)], [2, 1, *range(3, 82)], "not drawn: 1 product moving by 0 places at the most"),
        ([*range(1, 83)], [*range(2, 82), 82, NAN], "not drawn: 1 product moving by 1 place at the most; "
         "1 product with a place on one side only"),
        ([1, NAN, NAN], [1, NAN, NAN], "not drawn: 2 products without a place on either side"),
    ],
    ids=["80", "100", "one stays", "the last is gone", "no place"],
)  # fmt: skip
def test_of_many_products_those_that_move_most_are_drawn_and_a_note_counts_the_rest(
    old: list[float], new: list[float], note: str | None
) -> None:
    """The bound holds: none that is left out moves farther than the note says, nor farther than one that is drawn."""
    figure = change(products(len(old)), old, new)
    assert [text.get_text() for text in figure.texts] == [TITLE, *([] if note is None else [note])]
    drawn = lines_of(figure.axes[0])
    assert len(drawn) == min(80, int((~np.isnan(np.subtract(old, new))).sum()))
    rest = {(a, b) for a, b in zip(old, new, strict=True) if not np.isnan(a + b)} - set(drawn)
    farthest = max((abs(a - b) for a, b in rest), default=0)
    assert farthest <= min(abs(a - b) for a, b in drawn)


def test_a_good_product_that_loses_its_place_counts_among_those_that_move_most() -> None:
    """One without a place counts as coming after the last."""
    old, new = np.arange(1.0, 102), np.arange(1.0, 102)
    new[0], old[0] = NAN, 1.0
    (axes,) = change(products(101), old, new).axes
    assert column(axes, 0)[0][:2] == ("1", "QB-001")
    assert "gone" in [text.get_text() for text in axes.texts]


# Why a score moves


def bars_of(axes: Axes) -> list[tuple[float, float, str]]:
    """Start, length and hatch of each bar, from the top."""
    bars = sorted((p for p in axes.patches if isinstance(p, Rectangle)), key=lambda bar: bar.get_y())
    return [(round(bar.get_x(), 9), round(bar.get_width(), 9), bar.get_hatch() or "") for bar in bars]


def amounts_of(figure: Figure) -> list[str]:
    """What is printed beside the bars, from the top."""
    return [text.get_text() for text in sorted(figure.axes[0].texts, key=lambda text: text.xy[1])]


def names_of(figure: Figure) -> list[str]:
    """What the bars are called, from the top."""
    return [label.get_text() for label in figure.axes[0].get_yticklabels()]


def test_the_causes_lead_from_the_old_score_to_the_new_one_by_size() -> None:
    """By hand: 1 + 2 - 0.5 + 0.25 = 2.75; each bar starts where the one before ends, and strokes join them."""
    figure = causes(["small", "large", "down"], [0.25, 2, -0.5], 1, 2.75, title=TITLE, unit="points")
    (axes,) = figure.axes
    assert names_of(figure) == ["old score", "large", "down", "small", "new score"]
    assert bars_of(axes) == [(0, 1, ""), (1, 2, ""), (3, -0.5, "//////"), (2.5, 0.25, ""), (0, 2.75, "")]
    assert amounts_of(figure) == ["1.00", "+2.00", "−0.50", "+0.25", "2.75"]
    (joins,) = (item.get_segments() for item in axes.collections)
    assert [segment[0, 0] for segment in joins] == [1, 3, 2.5, 2.75]
    assert all(row < top < bottom < row + 1 for row, ((_, top), (_, bottom)) in enumerate(joins))
    assert key_of(figure) == ["old and new score", "raises it", "lowers it"]
    assert [text.get_text() for text in figure.texts] == [TITLE]
    assert axes.get_xlabel() == "points"
    assert axes.get_ylim()[0] > axes.get_ylim()[1]


def test_intervals_stand_where_the_amounts_end() -> None:
    """Their ends count from where the bar starts; a missing one is not drawn, and the figure stays clear of them."""
    figure = causes([*"ab"], [2, -1], 1, 2, title=TITLE, unit="u", low=[1.5, NAN], high=[2.75, NAN])
    (axes,) = figure.axes
    segments = [s for item in axes.collections for s in item.get_segments()]
    flat = {(s[0, 0], s[1, 0], s[0, 1]) for s in segments if s[0, 1] == s[1, 1]}
    assert flat == {(2.5, 3.75, 1.0)}
    assert {text.get_text(): text.xy for text in axes.texts}["+2.00"] == (3.75, 1)
    assert "interval" in key_of(figure)


def test_the_rest_is_one_bar_with_its_sum_and_a_note_with_a_bound() -> None:
    """By hand: 0.04 - 0.03 + 0.011 = 0.021; its ups and downs are told; the sum has no interval."""
    amounts = [0.04, 1, -0.03, 0.5, 0.011]
    ends = {"low": np.array(amounts) - 1, "high": np.array(amounts) + 1}
    figure = causes([*"abcde"], amounts, 1, 2.521, title=TITLE, unit="u", most=2, **ends)
    assert names_of(figure) == ["old score", "b", "d", "3 more", "new score"]
    assert bars_of(figure.axes[0])[3] == (2.5, 0.021, "")
    assert amounts_of(figure)[3] == "+0.02"
    assert (
        figure.texts[-1].get_text()
        == "the 3 more: each 0.04 or less, up or down, in all +0.05 and −0.03, no interval for their sum"
    )
    flat = {s[0, 1] for item in figure.axes[0].collections for s in item.get_segments() if s[0, 1] == s[1, 1]}
    assert flat == {1.0, 2.0}
    alone = causes([*"abc"], [1, 1, 1], 1, 4, title=TITLE, unit="u", most=2)
    assert names_of(alone) == ["old score", "a", "b", "c", "new score"]


@pytest.mark.parametrize(
    ("amounts", "printed"),
    [
        ([1.0, 0.004, -0.004, 0.0], ["+1.00", "< +0.01", "> −0.01", "0.00"]),
        ([0.05, -0.0123], ["+0.050", "−0.012"]),
        ([250.4, -3.0], ["+250", "−3"]),
        ([0.0], ["0.00"]),
    ],
    ids=["small", "smaller", "large", "nothing"],
)
def test_amounts_are_printed_with_their_sign_and_a_small_one_is_not_printed_as_none(
    amounts: list[float], printed: list[str]
) -> None:
    """Only 0 reads 0; the largest shows two digits."""
    figure = causes([*"abcd"][: len(amounts)], amounts, 0, sum(amounts), title=TITLE, unit="u")
    assert amounts_of(figure)[1:-1] == printed


@pytest.mark.parametrize(("start", "scale"), [(6.0, 1.0), (1e6, 1e3), (0.0, 1e-3)])
def test_the_sum_is_held_to_one_part_in_a_thousand_million(start: float, scale: float) -> None:
    """Of the largest figure in it: a little less is let pass, a little more is refused."""
    amounts = scale * np.array([0.7, -0.2])
    end = start + float(amounts.sum())
    largest = max(start, end, float(amounts.max()))
    assert causes([*"ab"], amounts, start, end + 0.9e-9 * largest, title=TITLE, unit="u").axes
    with pytest.raises(ValueError, match="start plus the amounts is"):
        causes([*"ab"], amounts, start, end + 1.2e-9 * largest, title=TITLE, unit="u")


@pytest.mark.parametrize(
    ("start", "cut"),
    [(0.3, False), (0.5, True), (8.0, True), (-8.0, True), (-0.5, False)],
    ids=["near", "farther", "far", "below", "near below"],
)
def test_bars_that_do_not_start_at_0_are_cut_and_a_note_says_so(start: float, cut: bool) -> None:
    """The bars of both scores start at 0 where it is near; where it is far the changes would not be seen."""
    figure = causes([*"ab"], [0.4, -0.2], start, start + 0.2, title=TITLE, unit="u")
    (axes,) = figure.axes
    bars = bars_of(axes)
    low, high = axes.get_xlim()
    assert bool(bars[0][0] == 0) == (not cut)
    assert bool(low <= 0 <= high) == (not cut)
    assert bars[0][0] == bars[-1][0]
    assert bars[0][0] + bars[0][1] == pytest.approx(start)
    assert np.sign(bars[0][1]) == np.sign(start)
    assert ("does not begin at 0" in figure.texts[-1].get_text()) is cut
    white = [line for line in axes.lines if line.get_markeredgecolor() == "white" and list(line.get_ydata()) == [0, 3]]
    assert len(white) == cut
