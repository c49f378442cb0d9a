"""The pictures of a score table: what they show is what the table holds, literal, legible, grey, and the same every time."""

from __future__ import annotations

import io
import re
import xml.etree.ElementTree as ElementTree
from collections import Counter
from dataclasses import replace
from typing import Any

import matplotlib.image
import numpy as np
import pytest
from extent import is_long
from matplotlib.artist import Artist
from matplotlib.collections import QuadMesh
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle
from matplotlib.text import Annotation, Text
from test_curves import WORKED
from written_forms import NAN, curve_form, form_of, score

from analysis.explanation.contributions import contributions
from analysis.figures import canvas
from analysis.figures.canvas import FILLS, blank, dress, settle, shortened
from analysis.figures.uncertainty import in_runs
from analysis.rankings.distinguishable import bench_of, bench_under
from analysis.report.pictures import Picture
from analysis.scores import figures as score_figures
from analysis.scores.curve_track import curve_track
from analysis.scores.figures import (
    contribution_picture,
    curve_picture,
    score_pictures,
    strip_picture,
    uncertainty_picture,
)
from analysis.scores.standings import PAD, Marks, marks_of, without_place
from analysis.study import default_study
from scoring.catalogue import from_arrays
from scoring.curves import KINDS
from scoring.errors import ScoringError
from scoring.program.program import compile_form
from scoring.table.evaluate import stages
from scoring.table.table import ScoreTable, score_catalogue

SMALLEST_PT = 7.0
#: Products of the table that most is looked at in.
MANY = 60 if is_long() else 24
HOSTILE = (
    "$x_1$ & $\\frac{1}{2}$",
    "a price of $5",
    "<b>bold</b> &amp; \"quoted\" 'twice'",
    "_hidden_under_score",
    "bed \U0001f6cf of dreams \U0001f634",
    "\u05de\u05d9\u05d8\u05d4 \u0633\u0631\u064a\u0631",
    "turned \u202e round",
    "W" * 300,
    "%s {0} \\n",
    "\u5e8a\u57ab",
)
FORM = """\
formula: hostile
title: "$T_1$ <invented> data, for this test only"
scale: {from: 1, to: 10, show: {step: 0.1, rule: half-up}}
measures:
  noise: {unit: dB, label: "_noise in $dB$", better: lower, plausible: [18, 75], repeatability: 1.2}
  drop: {unit: mm, better: lower, plausible: [15, 170], repeatability: 2.5}
  rise: {unit: delta_degC, better: lower, plausible: [0, 15], repeatability: 0.2}
ratings:
  quiet: {label: "_Quiet & $q_1$", measure: noise, curve: {line: {worst: 46, best: 22}}}
  edge: {label: "<i>Edge</i>", measure: drop, curve: {steps: {15: 10, 60: 7, 90: 4, 120: 1}}}
  cooling: {label: "CHILL", measure: rise, curve: {standing: {better: lower}, reference: live}}
scores:
  reading:
    label: "Reading $upright_now$"
    blend: weighted mean
    weights: {edge: 4, cooling: 2, quiet: 1}
    limits: [{when: edge < 5, at_most: 4}]
    missing: {absent_above: 0.2}
  sleeping: {blend: geometric mean, parts: [quiet, cooling, edge]}
"""
LONG = FORM.replace("CHILL", "C" * 300)


def hostile_table(count: int = 60, seed: int = 0, text: str = LONG) -> ScoreTable:
    """Invented products with hostile names, one in twenty readings missing."""
    rng = np.random.default_rng(seed)
    arrays = {"noise": rng.normal(33, 5, count), "drop": rng.normal(75, 25, count), "rise": rng.normal(4, 1, count)}
    arrays = {name: np.where(rng.random(count) < 0.05, NAN, np.clip(a, 18, 74)) for name, a in arrays.items()}
    arrays["rise"] = np.clip(arrays["rise"] - 17, 0.1, 9) + rng.random(count)
    names = [f"{HOSTILE[i // 2 % len(HOSTILE)]} {i}" if i % 2 else f"QB-{i:03d}" for i in range(count)]
    return score_catalogue(form_of(text), from_arrays(names, arrays, {}))


@pytest.fixture(scope="module")
def table() -> ScoreTable:
    """Many products with hostile names."""
    return hostile_table(MANY)


@pytest.fixture(scope="module")
def pictures(table: ScoreTable) -> dict[str, Picture]:
    """All pictures of it, by name."""
    return {picture.name: picture for picture in score_pictures(table)}


@pytest.fixture
def figures(monkeypatch: pytest.MonkeyPatch) -> list[Figure]:
    """Every figure that is drawn from here on, once, in place of its bytes."""
    found: list[Figure] = []

    def keep(figure: Figure, kind: str) -> bytes:
        if kind == "svg":
            found.append(figure)
        return b""

    def drawn(*given: Any, **options: Any) -> Picture:
        picture = Picture(*given, **options)
        _ = picture.png
        return picture

    monkeypatch.setattr(canvas, "figure_bytes", keep)
    monkeypatch.setattr(score_figures, "Picture", drawn)
    return found


def words(svg: bytes) -> list[str]:
    """Every text of an SVG."""
    return [
        "".join(one.itertext()).strip() for one in ElementTree.fromstring(svg).iter("{http://www.w3.org/2000/svg}text")
    ]


def texts_of(figure: Figure) -> list[Text]:
    """Every text that is drawn: of ticks only those within the axis."""
    figure.draw_without_rendering()
    texts = [*figure.texts, *(text for legend in figure.legends for text in legend.get_texts())]
    for axes in figure.axes:
        texts += [*axes.texts, axes.xaxis.label, axes.yaxis.label]
        for axis in (axes.xaxis, axes.yaxis):
            low, high = sorted(axis.get_view_interval())
            ticks = [tick for tick in axis.get_major_ticks() if low <= tick.get_loc() <= high]
            texts += [label for tick in ticks for label in (tick.label1, tick.label2) if label.get_visible()]
    return [text for text in texts if text.get_visible() and text.get_text().strip()]


# All pictures


def test_every_picture_is_there(pictures: dict[str, Picture]) -> None:
    """The strip, parts and uncertainty of both scores, and every curve."""
    names = ["ratings", "reading-parts", "reading-uncertainty", "sleeping-parts", "sleeping-uncertainty"]
    assert list(pictures) == [*names, "quiet-curve", "edge-curve", "cooling-curve"]
    files = [name for picture in pictures.values() for name in picture.files()]
    assert sorted(files) == sorted(f"{n}.{kind}" for n in pictures for kind in ("svg", "png"))


def test_the_same_table_gives_the_same_bytes_and_another_gives_others(pictures: dict[str, Picture]) -> None:
    """Nothing depends on the moment or on chance, and the data does reach the pictures.

    That `score` writes the same pictures twice is seen by default in tests/commands/test_score_figures.py.
    """
    few = score_pictures(hostile_table(3, seed=1))
    if is_long():
        for again, picture in zip(score_pictures(hostile_table(3, seed=1)), few, strict=True):
            assert (again.name, again.title, again.finding) == (picture.name, picture.title, picture.finding)
            assert again.png == picture.png  # asked for first, and drawn after the SVG all the same
            assert again.svg == picture.svg
    other = {picture.name: picture for picture in few}
    for name, picture in pictures.items():
        assert other[name].svg != picture.svg, name
        assert other[name].png != picture.png, name


def test_every_picture_is_grey(pictures: dict[str, Picture]) -> None:
    """No colour carries anything: a PNG has one channel, and an SVG no colour but greys."""
    for picture in pictures.values():
        assert matplotlib.image.imread(io.BytesIO(picture.png)).ndim == 2, picture.name
        drawn = ElementTree.fromstring(picture.svg).iter()
        colours = {found for one in drawn for found in re.findall(r": (#[0-9a-f]{6})", one.get("style", ""))}
        assert all(one[1:3] == one[3:5] == one[5:7] for one in colours), picture.name


def test_names_stand_as_they_are(table: ScoreTable, pictures: dict[str, Picture]) -> None:
    """No dollar starts a formula, no sign is lost; a long name is shortened with an ellipsis, a turning mark spelt out."""
    printed = words(pictures["ratings"].svg)
    for name in table.catalogue.products:
        assert shortened(name) in printed
    assert any("\\u202e" in word for word in printed)
    assert any("…" in word for word in printed)
    assert "_Quiet & $q_1$" in printed
    assert "_noise in $dB$ (noise), dB" in words(pictures["quiet-curve"].svg)
    assert any("Reading $upright_now$, points" in word for word in words(pictures["reading-parts"].svg))


def test_every_finding_is_one_sentence_of_figures(pictures: dict[str, Picture]) -> None:
    """Each ends once, holds a figure, and says no NaN."""
    for picture in pictures.values():
        assert picture.finding.endswith("."), picture.finding
        assert any(sign.isdigit() for sign in picture.finding)
        assert "nan" not in picture.finding.lower()
        assert "\u202e" not in picture.finding


@pytest.mark.parametrize("count", [1, 2, 60])
def test_no_text_lies_on_another_or_leaves_the_picture(count: int, figures: list[Figure]) -> None:
    """Every text is at least 7 points, whole, and clear of the others."""
    score_pictures(hostile_table(count, seed=3))
    assert len(figures) >= 6
    for figure in figures:
        renderer = figure.canvas.get_renderer()  # type: ignore[attr-defined]
        boxes = []
        for text in texts_of(figure):
            assert text.get_fontsize() >= SMALLEST_PT
            box = Text.get_window_extent(text, renderer) if isinstance(text, Annotation) else text.get_window_extent()
            boxes.append((box, text.get_text()))
            assert box.x0 >= -1
            assert box.y0 >= -1
            assert box.x1 <= figure.bbox.x1 + 1, text.get_text()
            assert box.y1 <= figure.bbox.y1 + 1, text.get_text()
        for number, (box, text) in enumerate(boxes):
            for other, beside in boxes[number + 1 :]:
                wide = min(box.x1, other.x1) - max(box.x0, other.x0)
                tall = min(box.y1, other.y1) - max(box.y0, other.y0)
                assert min(wide, tall) <= 1, (text, beside)


def test_what_was_tried_stands_in_the_titles(figures: list[Figure]) -> None:
    """A picture of a formula that was tried out says so."""
    table = replace(hostile_table(5), settings=("scores.reading.weights.quiet=3",))
    for picture in score_pictures(table):
        assert picture.title.endswith(", with scores.reading.weights.quiet=3")
    assert all(any("quiet=3" in text.get_text().replace("\n", "") for text in one.texts) for one in figures)


def test_names_differ_where_a_folder_does_not_tell_capitals(figures: list[Figure]) -> None:
    """Two ratings that differ in a capital do not overwrite each other."""
    text = curve_form("line: {worst: 20, best: 80}") + "  R: {measure: x, curve: {line: {worst: 80, best: 20}}}\n"
    names = [picture.name for picture in score_pictures(score(text, {"x": [30.0]}))]
    assert names == ["ratings", "r-curve", "R-curve-2"]


def test_a_table_without_a_place_still_has_its_strip_and_curves(figures: list[Figure]) -> None:
    """Where nothing is rated there are no parts and no uncertainty, and no fault."""
    missing = [NAN, NAN]
    found = score_pictures(score(FORM, {"noise": missing, "drop": missing, "rise": missing}))
    assert [picture.name for picture in found] == ["ratings", "quiet-curve", "edge-curve"]


# The strip


def test_the_strip_prints_every_rating_and_marks_every_gap(table: ScoreTable, pictures: dict[str, Picture]) -> None:
    """As many of each figure as the table shows; a dash for each that is not rated; a word for each without a place."""
    expected = Counter(column.shown_text(i) or "–" for column in table.ratings for i in range(MANY))
    unplaced = int(np.isnan(table.scores[0].rank).sum())
    printed = Counter(words(pictures["ratings"].svg))
    for text, count in expected.items():
        ticks = sum(text == tick for tick in ("1", "4", "7", "10"))
        assert printed[text] - ticks == count, text
    assert printed["unrated"] == unplaced > 0
    assert expected["–"] > 0
    assert "– unrated" in printed


def test_the_strip_goes_by_the_places_of_the_first_score(table: ScoreTable, figures: list[Figure]) -> None:
    """The first row is the first product; those without a place come last."""
    strip_picture(table)
    labels = [tick.get_text().replace(r"\$", "$") for tick in figures[0].axes[0].get_yticklabels()]
    rank = np.where(np.isnan(table.scores[0].rank), np.inf, table.scores[0].rank)
    assert labels == [shortened(table.catalogue.products[i]) for i in np.argsort(rank, kind="stable")]


def test_the_strip_is_shaded_by_value_and_its_ink_stands_out(table: ScoreTable, figures: list[Figure]) -> None:
    """A greater rating is darker; the ink has a contrast of 7 or more on it (WCAG 2.1, 1.4.6, from memory)."""
    strip_picture(table)
    (mesh,) = [one for one in figures[0].axes[0].collections if isinstance(one, QuadMesh)]
    shares = np.ma.filled(mesh.get_array(), NAN)
    for text in figures[0].axes[0].texts:
        x, y = text.get_position()
        if isinstance(text, Annotation) or np.isnan(shares[int(y), int(x)]):
            continue
        assert shares[int(y), int(x)] == pytest.approx((float(text.get_text().strip("*")) - 1) / 9, abs=0.006)
        grey, ink = mesh.cmap(shares[int(y), int(x)])[0], 1.0 if text.get_color() == "white" else 0.0
        lights = sorted(((one + 0.055) / 1.055) ** 2.4 if one > 0.04 else one / 12.92 for one in (grey, ink))
        assert (lights[1] + 0.05) / (lights[0] + 0.05) >= 7
    assert np.all(np.diff([mesh.cmap(share)[0] for share in np.linspace(0, 1, 50)]) <= 0)


def test_a_partial_rating_has_a_star_and_one_that_does_not_apply_its_mark(figures: list[Figure]) -> None:
    """Both are told in the key."""
    text = (
        'formula: f\nscale: {from: 1, to: 10}\nmeasures: {x: {unit: "1"}, y: {unit: "1"}}\nratings:\n'
        "  r:\n    mix: [{measure: x, curve: {line: {worst: 0, best: 9}}}, {measure: y, curve: {line: {worst: 0, best: 9}}}]\n"
        "    missing: {absent_above: 0.5}\n"
    )
    strip_picture(score(text, {"x": [3.0, 6.0], "y": [NAN, 6.0]}))
    assert [text.get_text() for text in figures[0].axes[0].texts[:2]] == ["7.0", "4.0*"]
    assert any("* partial" in text.get_text() for text in figures[0].legends[0].get_texts())


# Parts


def bars_of(figure: Figure, row: int) -> list[Rectangle]:
    """The stretches of a row that are parts."""
    found = [bar for bar in figure.axes[0].patches if isinstance(bar, Rectangle)]
    return [bar for bar in found if abs(bar.get_y() + bar.get_height() / 2 - row) < 1e-9 and bar.get_height() < 0.9]


def test_parts_worked_by_hand(figures: list[Figure]) -> None:
    """edge 8, quiet 6.25 at 3 to 1: 6 and 1.5625 points; a limit at 5 takes 2.5625 off."""
    text = (
        'formula: f\nscale: {from: 1, to: 10}\nmeasures: {x: {unit: "1"}, y: {unit: "1"}}\nratings:\n'
        "  edge: {measure: x, curve: {line: {worst: 1, best: 10}}}\n"
        "  quiet: {measure: y, curve: {line: {worst: 1, best: 10}}}\n"
        "scores:\n  s: {blend: weighted mean, weights: {edge: 3, quiet: 1}, limits: [{when: quiet > 6, at_most: 5}]}\n"
    )
    table = score(text, {"x": [8.0, 8.0], "y": [6.25, 2.0]})
    picture = contribution_picture(table, "s")
    first, second = ([bar.get_width() for bar in bars_of(figures[0], row)] for row in (0, 1))
    assert first == pytest.approx([6, 0.5])
    assert second == pytest.approx([6, 1.5625])
    taken = [bar for bar in figures[0].axes[0].patches if bar.get_height() > 0.9]
    assert [(bar.get_x() + bar.get_width(), bar.get_width()) for bar in taken] == [pytest.approx((5.0, -2.5625))]
    assert (
        picture.finding
        == "2 products by S: p2 is first with 6.5, 6.0 points of it from Edge; limits change 1 of the scores."
    )


@pytest.mark.parametrize("name", ["reading", "sleeping"])
def test_stretches_and_limits_add_up_to_the_score(table: ScoreTable, name: str, figures: list[Figure]) -> None:
    """A weighted mean's from 0, a geometric mean's (Shapley) from the median product's; each part as `explain` has it."""
    contribution_picture(table, name)
    column, program = table.column(name), compile_form(table.form)
    order = [int(i) for i in np.argsort(column.rank, kind="stable") if not np.isnan(column.rank[i])]
    worked = stages(program, table.inputs)
    for row, product in enumerate(order):
        found = contributions(program, column.output, table.inputs, table.evaluation, worked, product)
        assert found is not None
        lengths = [bar.get_width() for bar in bars_of(figures[0], row)]
        assert sorted(lengths) == pytest.approx(sorted(share for _, share in found.parts if share != 0))
        assert found.start + sum(lengths) + found.limits == pytest.approx(column.value[product])


def test_more_parts_than_fills_put_the_smallest_together(figures: list[Figure]) -> None:
    """No two parts look alike; the whole is kept."""
    count = len(FILLS) + 5
    ratings = "".join(f"  r{i}: {{measure: x, curve: {{line: {{worst: 0, best: {i + 10}}}}}}}\n" for i in range(count))
    weights = ", ".join(f"r{i}: {i + 1}" for i in range(count))
    head = 'formula: f\nscale: {from: 1, to: 10}\nmeasures: {x: {unit: "1"}}\nratings:\n'
    table = score(f"{head}{ratings}scores:\n  s: {{blend: weighted mean, weights: {{{weights}}}}}\n", {"x": [5.0, 9.0]})
    contribution_picture(table, "s")
    bars = bars_of(figures[0], 0)
    assert len(bars) == len(FILLS)
    assert len({(bar.get_facecolor(), bar.get_hatch()) for bar in bars}) == len(FILLS)
    assert sum(bar.get_width() for bar in bars) == pytest.approx(table.column("s").value[1])
    assert "6 other parts" in [text.get_text() for text in figures[0].legends[0].get_texts()]


def test_parts_go_by_their_labels_in_the_order_of_the_bars(table: ScoreTable, figures: list[Figure]) -> None:
    """Read row by row, the key has the parts from left to right; a legend lists column by column."""
    contribution_picture(table, "reading")
    legend = figures[0].legends[0]
    texts = [text.get_text().replace(r"\$", "$") for text in legend.get_texts()]
    settle(figures[0])
    corners = [text.get_window_extent() for text in legend.get_texts()]
    by_rows = [texts[i] for i in sorted(range(len(texts)), key=lambda i: (-round(corners[i].y0), corners[i].x0))]
    program, column = compile_form(table.form), table.column("reading")
    best = int(np.nanargmin(column.rank))
    found = contributions(program, column.output, table.inputs, table.evaluation, stages(program, table.inputs), best)
    assert found is not None
    assert by_rows[:3] == [shortened(program.form.output(name).label) for name, _ in found.parts]


@pytest.mark.parametrize(("count", "rows"), [(5, [5]), (8, [4, 4]), (9, [5, 4]), (11, [6, 5])])
def test_a_key_fills_its_rows_evenly(count: int, rows: list[int]) -> None:
    """No entry is left alone in the last row where the rows can share them."""
    figure = blank(7.0, 1.0)
    key: list[tuple[Artist, str]] = [(Line2D([], []), f"entry {i}") for i in range(count)]
    dress(figure, "t", key=key)
    figure.draw_without_rendering()
    heights = Counter(round(text.get_window_extent().y0) for text in figure.legends[0].get_texts())
    assert [heights[height] for height in sorted(heights, reverse=True)] == rows


# Marks

MARKED = """\
formula: f
scale: {from: 1, to: 10}
measures:
  x: {unit: "1", repeatability: 0.1}
  y: {unit: "1"}
  z: {unit: "1"}
ratings:
  r: {measure: x, curve: {line: {worst: 1, best: 10}}}
  q: {measure: y, curve: {line: {worst: 1, best: 10}}}
scores:
  s: {blend: weighted mean, weights: {r: 3, q: 1}, missing: {absent_above: 0.5}}
gates:
  - {when: z > 8, withhold: far out}
  - {when: z > 5 and z < 8, remark: near the limit}
"""


def marked_table() -> ScoreTable:
    """a, b: rated, b with a remark; c: partial, with a remark; d: partial; e: withheld; f: unrated."""
    x, y, z = [9.0, 8, 7, 6, 5, NAN], [9.0, 8, NAN, NAN, 5, 5], [1.0, 6, 6, 1, 9, 1]
    arrays = {"x": np.array(x), "y": np.array(y), "z": np.array(z)}
    return score_catalogue(form_of(MARKED), from_arrays(list("abcdef"), arrays, {}))


def test_partial_scores_and_remarks_are_marked_and_products_without_a_place_named(figures: list[Figure]) -> None:
    """In the parts and in the uncertainty: a star, a dagger, both, a key to them, and a line at the foot."""
    table = marked_table()
    said = [
        contribution_picture(table, "s").finding,
        uncertainty_picture(table, "s", bench_of(table, 0)["s"]).finding,
    ]
    assert len(figures) == 2
    for figure, finding in zip(figures, said, strict=True):
        rows = {}
        for text in figure.axes[0].texts:
            if isinstance(text, Annotation) and text.get_text() in {"*", "†", "*†"}:
                rows[round(text.xy[1])] = text.get_text()
        assert rows == {1: "†", 2: "*†", 3: "*"}
        words = [text.get_text() for text in figure.texts]
        assert "* partial: a part is missing; † near the limit" in words
        foot = next(text for text in words if "want of a place" in text)
        assert foot.split("\n")[-1] == "not drawn, for want of a place: 1 unrated (f), 1 withheld (e)"
        assert "; 2 of the scores are partial; 1 unrated and 1 withheld without a place" in finding
    assert said[1].endswith(
        "(at best: against the noise of x alone; nothing is known of the errors of y, 1 of 2 measures)."
    )


def test_the_strip_says_which_first_scores_are_withheld(figures: list[Figure]) -> None:
    """In the column of places."""
    strip_picture(marked_table())
    places = [text.get_text().strip(PAD) for text in figures[0].axes[0].texts if isinstance(text, Annotation)]
    assert places == ["1", "2", "3", "4", "withheld", "unrated", "product", "place"]


def test_nothing_is_marked_where_there_is_nothing_to_say(figures: list[Figure]) -> None:
    """No key to marks and no line of missing products where every score is rated and has its place."""
    table = score_catalogue(
        form_of(MARKED), from_arrays(["a"], {"x": np.array([5.0]), "y": np.array([5.0]), "z": np.array([1.0])}, {})
    )
    contribution_picture(table, "s")
    assert [text.get_text() for text in figures[0].texts] == [
        "S: what each product's score is made of",
        "points are printed where there is room",
    ]


def test_more_remarks_than_signs_share_the_last_sign() -> None:
    """The commonest three are named; the rest are told in the table."""
    gates = "".join(f"  - {{when: z > {i}, remark: remark {i}}}\n" for i in range(1, 6))
    text = MARKED[: MARKED.index("gates:")] + "gates:\n" + gates
    arrays = {"x": np.array([9.0, 8, 7]), "y": np.array([9.0, 8, 7]), "z": np.array([5.5, 2.5, 0])}
    table = score_catalogue(form_of(text), from_arrays(list("abc"), arrays, {}))
    marks = marks_of(table, table.column("s"), [0, 1, 2])
    assert marks.beside == ("†‡§¶", "†‡", "")
    assert marks.meanings == (
        "† remark 1",
        "‡ remark 2",
        "§ remark 3",
        "¶ another remark, told in the score table",
    )


def test_a_remark_has_the_same_sign_in_every_score() -> None:
    """Though in the second score another one is the commoner."""
    second = "  t: {blend: weighted mean, weights: {q: 1}}\n"
    gates = "  - {when: z > 5, remark: high}\n  - {when: z < 2, remark: low}\n"
    text = MARKED[: MARKED.index("gates:")] + second + "gates:\n" + gates
    arrays = {"x": np.arange(2.0, 7), "y": np.array([2, NAN, NAN, 5, NAN]), "z": np.array([1.0, 6, 6, 3, 6])}
    table = score_catalogue(form_of(text), from_arrays(list("abcde"), arrays, {}))
    assert marks_of(table, table.column("s"), [0, 1]).meanings[1:] == ("† high", "‡ low")
    assert marks_of(table, table.column("t"), [0, 3]) == Marks(("‡", ""), ("‡ low",))


def test_many_products_without_a_place_are_counted() -> None:
    """The first six are named."""
    arrays = {"x": np.full(9, NAN), "y": np.full(9, NAN), "z": np.ones(9)}
    table = score_catalogue(form_of(MARKED), from_arrays([f"p{i}" for i in range(9)], arrays, {}))
    said = without_place(table, table.column("s"))
    assert said == "not drawn, for want of a place: 9 unrated (p0, p1, p2, p3, p4, p5, 3 more)"


# Curves


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_of_curve_is_drawn_as_the_kernel_rates(kind: str, figures: list[Figure]) -> None:
    """Wherever the pen is, a product with that reading gets that rating; in every worked case of the kind."""
    cases = [case for case in WORKED if case[0].split()[0] == kind]
    assert cases
    for _, curve, ratings in cases:
        readings = [float(x) for x in ratings if abs(x) < 1e6]
        text = curve_form(curve)
        table = score(text, {"x": readings})
        output = table.form.ratings[0]
        track = curve_track(compile_form(table.form), table, output, output.parts[0])
        drawn = ~np.isnan(track.y)
        assert drawn.sum() > 400
        inside = (
            drawn & (track.y >= 1) & (track.y <= 10)
        )  # a table refuses what an extended curve gives beyond the scale
        again = score(text, {"x": track.x[inside]}).column("r").value
        assert track.y[inside] == pytest.approx(again, abs=1e-12)
        assert track.window[0] <= min(x for x in readings if x > 0 or not KINDS[kind].ratio_scaled)
        assert track.window[1] >= max(readings)
        assert len(track.readings) + track.unseen == len(readings)
        picture = curve_picture(compile_form(table.form), table, output, output.parts[0])
        assert f"{len(readings)} readings" in picture.finding


JUMPS = {
    "steps: {10: 2, 20: 5, 30: 9}": [[20, 2, 5, 5], [30, 5, 9, 9]],
    "standing: {}, reference: {values: [10, 20, 20, 40]}": [
        [10, 1, 2.125, 3.25],
        [20, 3.25, 5.5, 7.75],
        [40, 7.75, 8.875, 10],
    ],
    "standing: {ties: highest}, reference: {values: [10, 20]}": [[10, 1, 5.5, 5.5], [20, 5.5, 10, 10]],
    "points: {2: 10, 4.5: 7, 9: 1}": [],
    "power: {worst: 100, best: 0, exponent: 0.1}": [],
    "target: {low: 3.5, best: 7.5, high: 12, within: 1}": [],
}


@pytest.mark.parametrize(("curve", "jumps"), JUMPS.items(), ids=[curve.split(":")[0] for curve in JUMPS])
def test_jumps_are_found_and_drawn_as_jumps(curve: str, jumps: list[list[float]], figures: list[Figure]) -> None:
    """What holds before, at and after each, by hand; the pen is lifted; a full dot at what holds, an open one elsewhere."""
    table = score(curve_form(curve), {"x": [5.0, 50.0]})
    program, output = compile_form(table.form), table.form.ratings[0]
    track = curve_track(program, table, output, output.parts[0])
    assert track.jumps.tolist() == [pytest.approx(jump, abs=1e-9) for jump in jumps]
    steps = np.abs(np.diff(track.y[~np.isnan(track.x)]))
    if not curve.startswith("power"):
        assert np.nanmax(steps) < 0.5
    curve_picture(program, table, output, output.parts[0])
    dots = [line for line in figures[0].axes[0].lines if line.get_marker() == "o"]
    full = [(x, y) for line in dots if line.get_markerfacecolor() == "black" for x, y in line.get_xydata()]
    empty = [(x, y) for line in dots if line.get_markerfacecolor() == "white" for x, y in line.get_xydata()]
    assert full == [pytest.approx((place, here)) for place, _, here, _ in jumps]
    ends = [(place, end) for place, before, here, after in jumps for end in (before, after) if end != here]
    assert empty == [pytest.approx(end) for end in ends]


def test_a_live_reference_is_that_of_the_catalogue() -> None:
    """Each reading of the catalogue lies on the curve where the table rates it, and there is a jump at each."""
    table = score(curve_form("standing: {}, reference: live"), {"x": [3.0, 8.0, 8.0, 20.0]})
    output = table.form.ratings[0]
    track = curve_track(compile_form(table.form), table, output, output.parts[0])
    assert track.jumps[:, 0].tolist() == [3, 8, 20]
    assert track.jumps[:, 2] == pytest.approx(table.column("r").value[[0, 1, 3]])


def test_a_curve_that_says_error_is_drawn_within_its_anchors(figures: list[Figure]) -> None:
    """There is no rating beyond them."""
    table = score(curve_form("line: {worst: 20, best: 80}, outside: error"), {"x": [30.0]})
    with pytest.raises(ScoringError):
        score(curve_form("line: {worst: 20, best: 80}, outside: error"), {"x": [10.0]})
    output = table.form.ratings[0]
    curve_picture(compile_form(table.form), table, output, output.parts[0])
    line = max(figures[0].axes[0].lines, key=lambda one: len(one.get_xdata()))
    assert (np.nanmin(line.get_xdata()), np.nanmax(line.get_xdata())) == (20, 80)


def test_readings_inside_and_outside_the_anchors_look_different(figures: list[Figure]) -> None:
    """Strokes within, crosses without; the axes carry unit and points; the plausible range is drawn and told."""
    table = score_catalogue(form_of(FORM), from_arrays(["a", "b", "c"], {"noise": [20.0, 30.0, 50.0]}, {}))
    output = table.form.ratings[0]
    picture = curve_picture(compile_form(table.form), table, output, output.parts[0])
    curve, foot = figures[0].axes
    marks = {
        line.get_marker(): line.get_xdata().tolist() for line in foot.lines if line.get_ydata().tolist()[:1] == [1]
    }
    assert marks == {"|": [30], "x": [20, 50]}
    assert foot.get_xlabel().endswith("(noise), dB")
    assert curve.get_ylabel().endswith("rating points")
    assert "plausible: 18 to 75 dB" in [text.get_text() for text in figures[0].legends[0].get_texts()]
    assert any(line.get_xdata().tolist() == [18, 75] for line in foot.lines)
    assert picture.finding.endswith("from 10 points at 22 dB to 1 point at 46 dB; 3 readings, 2 outside the anchors.")


@pytest.mark.parametrize(
    ("curve", "readings", "said"),
    [
        ("steps: {18: 10, 30: 7, 40: 3}", [20.0], "10 points below 30 mm, 7 from 30 mm, 3 from 40 mm on; 1 reading"),
        ("steps: {18: 10, 30: 1}", [20.0], "10 points below 30 mm, 1 from 30 mm on; 1 reading"),
        ("steps: {0: 1, 10: 7, 20: 3}", [5.0], "1 point below 10 mm, 7 from 10 mm, 3 from 20 mm on; 1 reading"),
        (
            "steps: {0: 10, 10: 9, 20: 8, 30: 7, 40: 6, 50: 5, 60: 4, 70: 3}",
            [5.0],
            "10 points below 10 mm, 9 from 10 mm, 5 levels more, 3 from 70 mm on; 1 reading",
        ),
        (
            "standing: {better: lower}, reference: live",
            [3.0, 8.0, 20.0],
            "from 10 points just below 3 mm to 1 point just above 20 mm, with 3 jumps; 3 readings",
        ),
        (
            "standing: {better: higher, ties: highest}, reference: live",
            [3.0, 8.0, 20.0],
            "1 point below 3 mm, 4 from 3 mm, 7 from 8 mm, 10 from 20 mm on; 3 readings",
        ),
        (
            "standing: {better: lower, ties: highest}, reference: live",
            [3.0, 8.0, 20.0],
            "from 10 points at 3 mm to 1 point just above 20 mm, with 3 jumps; 3 readings",
        ),
        ("steps: {18: 5, 30: 5}", [20.0], "5 points throughout; 1 reading"),
    ],
)
def test_a_curve_that_jumps_is_told_on_the_side_where_it_holds(curve: str, readings: list[float], said: str) -> None:
    """At the edge of a step the next level holds; of a standing with ties at the mean, neither side's."""
    table = score(curve_form(curve).replace('{unit: "1"}', "{unit: mm}"), {"x": readings})
    output = table.form.ratings[0]
    finding = curve_picture(compile_form(table.form), table, output, output.parts[0]).finding
    assert finding.split(": ", 1)[1].startswith(said), finding


def test_a_part_of_a_mix_is_drawn_alone(figures: list[Figure]) -> None:
    """Its curve, not the mix: 1 + 9 x / 9 whatever the other measure is, and one picture a part."""
    text = (
        'formula: f\nscale: {from: 1, to: 10}\nmeasures: {x: {unit: "1"}, y: {unit: "1"}}\nratings:\n  r:\n    round: {step: 1}\n'
        "    mix: [{measure: x, weight: 2, curve: {line: {worst: 0, best: 9}}}, {measure: y, curve: {log: {worst: 1, best: 9}}}]\n"
    )
    table = score(text, {"x": [3.0, 6.0], "y": [2.0, 0.0]})
    program, output = compile_form(table.form), table.form.ratings[0]
    first, second = (curve_track(program, table, output, part) for part in output.parts)
    on = ~np.isnan(first.y) & (first.x >= 0) & (first.x <= 9)
    assert first.y[on] == pytest.approx(1 + first.x[on])
    assert (second.unseen, second.readings.tolist()) == (1, [2.0])
    assert [p.name for p in score_pictures(table)] == ["ratings", "r-curve-1", "r-curve-2"]


def test_a_far_wider_plausible_range_does_not_squeeze_the_curve(figures: list[Figure]) -> None:
    """The picture keeps to the anchors and readings, and an arrow says that the range goes on."""
    text = curve_form("line: {worst: 20, best: 80}").replace('{unit: "1"}', "{unit: mm, plausible: [0, 100000]}")
    table = score(text, {"x": [30.0]})
    output = table.form.ratings[0]
    curve_picture(compile_form(table.form), table, output, output.parts[0])
    assert figures[0].axes[0].get_xlim()[1] < 200
    assert ">" in [line.get_marker() for line in figures[0].axes[1].lines]


@pytest.mark.parametrize(
    ("curve", "plausible", "ends"),
    [
        ("log", "[0.1, 75]", "||"),
        ("log", "[0.3, 40]", "||"),
        ("log", "[0.7, 1e9]", "|>"),
        ("log", "[1e-9, 19]", "<|"),
        ("line", "[0.1, 20.3]", "||"),
        ("line", "[0.7, 1e9]", "|>"),
        ("line", "[-1e9, 14.1]", "<|"),
    ],
)
def test_arrows_stand_only_where_the_plausible_range_goes_on(
    curve: str, plausible: str, ends: str, figures: list[Figure]
) -> None:
    """On an axis by ratios as on a plain one: an end that is drawn is no arrow, though its logarithm comes back rounded."""
    curve = f"{curve}: {{worst: 1, best: 10}}"
    text = curve_form(curve).replace('{unit: "1"}', f"{{unit: mm, plausible: {plausible}}}")
    table = score(text, {"x": [3.0, 7.0]})
    curve_picture(compile_form(table.form), table, table.form.ratings[0], table.form.ratings[0].parts[0])
    foot = figures[0].axes[1]
    marks = sorted((line.get_xdata()[0], line.get_marker()) for line in foot.lines if line.get_markersize() == 6)
    assert "".join(mark for _, mark in marks if mark in "<|>") == ends
    said = any("the plausible range goes on" in one.get_text() for one in figures[0].texts)
    assert said == (ends != "||")


# Uncertainty


@pytest.mark.parametrize(
    ("own", "printed"),
    [("a", "a"), ("ab", "a b"), ("abc", "a–c"), ("acde", "a c–e"), ("abdef", "a b d–f"), ("", "")],
)
def test_letters_in_a_row_are_printed_as_a_range(own: str, printed: str) -> None:
    """Three or more; a gap parts them."""
    assert in_runs(own, ["abcdef"]) == printed


def test_a_range_of_letters_goes_on_after_z() -> None:
    """aa follows z."""
    assert in_runs(["y", "z", "aa", "ab"], [["x", "ab"], ["y", "z", "aa"]]) == "y–ab"


def test_uncertainty_of_a_straight_line_by_hand(figures: list[Figure]) -> None:
    """9/24 points a dB times 1.2 dB is 0.45; the bar reaches that far, the interval 1.96 times as far (16,384 draws)."""
    text = (
        "formula: f\nscale: {from: 1, to: 10}\nmeasures: {x: {unit: dB, repeatability: 1.2}}\n"
        "ratings:\n  r: {measure: x, curve: {line: {worst: 46, best: 22}}}\n"
        "scores:\n  s: {blend: weighted mean, weights: {r: 1}}\n"
    )
    table = score(text, {"x": [30.0, 38.0]})
    told = bench_of(table, 0)["s"]
    assert told.sd == pytest.approx([0.45, 0.45], rel=0.03)
    picture = uncertainty_picture(table, "s", told)
    segments = [
        s for one in figures[0].axes[0].collections for s in one.get_segments() if one.get_linewidth()[0] == 6.0
    ]
    assert [s[:, 0].tolist() for s in segments] == [
        pytest.approx([value - u, value + u]) for value, u in zip((7.0, 4.0), told.sd, strict=True)
    ]
    printed = [text.get_text() for text in figures[0].axes[0].texts]
    assert printed.count("a") + printed.count("b") == 2
    assert picture.finding.startswith(
        "2 products by S: the standard uncertainty is 0.45 points at the median; p1 is first"
    )


def test_the_groups_are_those_that_stability_prints(table: ScoreTable) -> None:
    """The same noise for the same seed, whatever else a study varies beside it."""
    whole = bench_under(default_study(table.form, table.catalogue), table, 5)
    alone = bench_of(table, 5)
    assert alone.keys() == whole.keys() != set()
    for name, told in alone.items():
        assert told.groups == whole[name].groups
        assert np.array_equal(told.sd, whole[name].sd)


def test_without_known_noise_there_is_no_picture_of_it(figures: list[Figure]) -> None:
    """It would show certainty where nothing is known."""
    text = (
        FORM.replace(", repeatability: 1.2", "").replace(", repeatability: 2.5", "").replace(", repeatability: 0.2", "")
    )
    names = [picture.name for picture in score_pictures(hostile_table(4, text=text))]
    assert [name for name in names if "uncertainty" in name] == []


def test_uncertainties_of_other_products_are_refused(table: ScoreTable) -> None:
    """A table and a study of another catalogue do not go together."""
    told = bench_of(hostile_table(7, seed=2), 0)["sleeping"]
    with pytest.raises(ValueError, match="uncertainties for"):
        uncertainty_picture(table, "sleeping", told)
