"""The door for Python and notebooks: four lines from two files to a frame; pictures and tables that no text can break."""

from __future__ import annotations

import json
import math
import re
import subprocess
import sys
import xml.etree.ElementTree as ElementTree
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from from_readme import block, guide, write_beds
from test_curves import WORKED
from typer.testing import CliRunner
from written_forms import NAN, curve_form

from analysis import Report
from analysis.cli.main import app
from analysis.scores.curve_track import curve_track
from analysis.scores.document import score_frame
from scoring import Formula, SteelyardError, read_catalogue, read_formula, score
from scoring.catalogue import Catalogue, from_arrays
from scoring.door.curve_picture import ticks
from scoring.door.drawn_curve import leans_on_catalogue
from scoring.html import text
from scoring.program.program import compile_form
from scoring.table.table import ScoreTable

ROOT = Path(__file__).parents[1]
LABORATORY = ROOT / "examples" / "laboratory"
SVG = "{http://www.w3.org/2000/svg}"
Beds = tuple[Formula, Catalogue, ScoreTable]


@pytest.fixture
def beds(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Beds:
    """The README's formula, catalogue and table, in a folder of their own."""
    write_beds(tmp_path)
    monkeypatch.chdir(tmp_path)
    formula = read_formula("beds.yaml")
    catalogue = read_catalogue("beds.csv", formula)
    return formula, catalogue, score(formula, catalogue)


@pytest.fixture(scope="module")
def laboratory() -> Beds:
    """The invented laboratory, scored."""
    formula = read_formula(LABORATORY / "guest-bed.yaml")
    catalogue = read_catalogue(LABORATORY, formula)
    return formula, catalogue, score(formula, catalogue)


def written(folder: Path, form: str) -> Formula:
    """The formula of a text."""
    (folder / "form.yaml").write_text(form, encoding="utf-8")
    return read_formula(folder / "form.yaml")


# four lines


def test_the_four_lines_give_the_figures_worked_by_hand(beds: Beds) -> None:
    """A-03: edge 6 - 5*15/55 and quiet 1 + 9*(46 - 26.1)/24 by 4 to 1, cooling's weight shared out; A-02 is best."""
    frame = beds[2].frame("reading_upright")
    edge, quiet = 6 - 5 * 15 / 55, 1 + 9 * (46 - 26.1) / 24
    assert frame.loc["A-03", "value"] == pytest.approx((4 * edge + quiet) / 5, abs=1e-12)
    assert frame.loc["A-03", ["shown", "status", "band"]].tolist() == [5.4, "partial", "fair"]
    assert frame["rank"].to_dict() == {"A-01": 2, "A-02": 1, "A-03": 3}


def test_what_is_not_rated_is_no_number_and_says_so(beds: Beds) -> None:
    """A-03 has no temperature: NaN in both figures with the status beside, never a 0."""
    frame = beds[2].frame()
    assert math.isnan(frame.loc["A-03", "cooling.value"])
    assert math.isnan(frame.loc["A-03", "cooling.shown"])
    assert frame.loc["A-03", "cooling.status"] == "unrated"
    readings = beds[2].readings_frame().loc["A-03"]
    assert math.isnan(readings["surface_rise"])
    assert math.isnan(readings["surface_rise.uncertainty"])
    assert readings["surface_rise.flag"] == "missing"


def test_a_withheld_score_is_no_number_either(laboratory: Beds) -> None:
    """Where a gate withholds, figure, place and band are gone from the frame and the status says why."""
    frame = laboratory[2].frame("two_abed")
    withheld = frame[frame["status"] == "withheld"]
    assert len(withheld) > 0
    assert withheld[["value", "shown", "rank"]].isna().all(axis=None)
    assert (withheld["band"] == "").all()
    assert (withheld["remarks"] != "").all()


def test_frames_say_their_units_and_what_they_were_made_from(beds: Beds) -> None:
    """The attributes carry a unit for every column that is a number, and both hashes; and they go into JSON."""
    formula, catalogue, table = beds
    for frame in (table.frame(), table.frame("quiet"), table.readings_frame()):
        numbers = {name for name in frame.columns if pd.api.types.is_float_dtype(frame[name])}
        assert set(frame.attrs["units"]) == numbers
        assert frame.attrs["sha256"] == formula.form.sha256
        assert frame.attrs["catalogue_sha256"] == catalogue.sha256
        assert (frame.attrs["formula"], frame.attrs["version"], frame.attrs["set"]) == ("beds", "1.0.0", [])
        assert frame.index.name == "product"
        json.dumps(frame.attrs, allow_nan=False)
    assert table.readings_frame().attrs["units"]["surface_rise.uncertainty"] == "delta_degC"
    assert catalogue.frame().attrs["units"] == {"noise_dba": "dB", "sit_drop": "mm", "surface_rise": "delta_degC"}


def test_product_ids_stay_text(tmp_path: Path) -> None:
    """`007` is no 7."""
    write_beds(tmp_path)
    file = tmp_path / "beds.csv"
    file.write_text(file.read_text(encoding="utf-8").replace("A-01", "007"), encoding="utf-8")
    formula = read_formula(tmp_path / "beds.yaml")
    catalogue = read_catalogue(file, formula)
    assert catalogue.frame().index[0] == "007"
    assert score(formula, catalogue).frame().index.tolist() == ["007", "A-02", "A-03"]


def test_a_frame_is_a_copy(beds: Beds) -> None:
    """Writing into a frame changes neither the table nor the next frame."""
    frame = beds[2].frame("quiet")
    frame.loc["A-01", "value"] = 99.0
    assert beds[2].frame("quiet").loc["A-01", "value"] == 6.4375


def test_a_frame_of_no_such_score_names_the_nearest(beds: Beds) -> None:
    """`quite` is `quiet`."""
    with pytest.raises(
        SteelyardError, match=r"no rating or score `quite`; expected one of its own. Did you mean `quiet`\?"
    ):
        beds[2].frame("quite")


# the same as the command


@pytest.mark.parametrize(
    "settings", [{}, {"scores.two_abed.weights.quiet": 0.5, "measures.noise_dba.reporting_limit": 30}]
)
def test_frames_hold_what_the_score_command_prints(laboratory: Beds, settings: dict[str, float]) -> None:
    """Every figure, place, band, status and remark of the invented laboratory; also with values tried on it."""
    formula, catalogue, _ = laboratory
    said = [f"{address}={value}" for address, value in settings.items()]
    arguments = [str(LABORATORY / "guest-bed.yaml"), str(LABORATORY), "--json"]
    done = CliRunner().invoke(app, ["score", *arguments, *(word for one in said for word in ("--set", one))])
    printed = json.loads(done.stdout)
    table = score(formula.set(settings), catalogue)
    assert table.frame().attrs["set"] == printed["set"] == said
    assert table.frame().attrs["sha256"] == printed["formula"]["sha256"]
    assert table.frame().index.tolist() == [product["id"] for product in printed["products"]]
    for section in ("ratings", "scores"):
        for name in printed["products"][0][section]:
            frame = table.frame(name)
            for product in printed["products"]:
                held = {key: plain(key, value) for key, value in frame.loc[product["id"]].to_dict().items()}
                assert held.pop("name") == product["name"]
                assert held == product[section][name], (product["id"], name)


def plain(key: str, value: object) -> object:
    """A cell of a frame as JSON has it."""
    if key == "remarks":
        return [one for one in str(value).split("; ") if one]
    if key == "decided_by":
        return [one for one in str(value).split(", ") if one]
    if isinstance(value, float) and math.isnan(value):
        return None
    return None if (key, value) == ("band", "") else value


def test_the_whole_frame_has_the_columns_of_the_written_files(laboratory: Beds) -> None:
    """What `score --out` writes is this frame, then what stands in the attributes here."""
    table = laboratory[2]
    file = score_frame(table).set_index("product").iloc[:, :-5]
    pd.testing.assert_frame_equal(table.frame(), file, check_dtype=False, check_index_type=False)


def test_a_catalogue_s_frame_is_a_long_file_of_it(laboratory: Beds, tmp_path: Path) -> None:
    """Written as CSV and read again, every reading, state and reason is there."""
    formula, catalogue, _ = laboratory
    long = catalogue.frame().drop(columns="counts_as").reset_index()
    long.to_csv(tmp_path / "readings.csv", index=False)
    (tmp_path / "items.csv").write_bytes((LABORATORY / "items.csv").read_bytes())
    again = read_catalogue(tmp_path, formula)
    assert again.products == catalogue.products
    assert set(again.readings) == set(catalogue.readings)
    for name, readings in catalogue.readings.items():
        np.testing.assert_array_equal(again.readings[name].values, readings.values)
        np.testing.assert_array_equal(again.readings[name].states, readings.states)
        assert again.readings[name].reasons == readings.reasons


def test_a_catalogue_without_readings_has_an_empty_frame() -> None:
    """No measure, no row, the same columns."""
    frame = from_arrays(["a"], {}).frame()
    assert len(frame) == 0
    assert frame.columns.tolist() == [
        "measure",
        "repeat",
        "value",
        "unit",
        "flag",
        "reason",
        "session",
        "specimen",
        "counts_as",
        "as_read",
        "unit_as_read",
    ]


# addresses


def test_every_address_can_be_set_to_what_it_holds(laboratory: Beds) -> None:
    """All that do not hold one another, at once, and a curve: nothing of the formula moves."""
    formula, catalogue, table = laboratory
    held = formula.addresses()
    assert held["scores.two_abed.weights.stillness"] == 0.26
    assert held["measures.settle_s.repeatability"] == "10%"
    inner = {
        address: value for address, value in held.items() if not any(name.startswith(f"{address}.") for name in held)
    }
    assert len(inner) > 200
    quiet = {"ratings.quiet.curve": held["ratings.quiet.curve"]}
    again = formula.set(quiet).set(inner)
    # where nothing was written, the default stands in the text now: in a curve that is written, too
    curves = {address for address, value in held.items() if str(value).startswith("{")}
    assert again.addresses().keys() == held.keys()
    assert {address for address, value in again.addresses().items() if value != held[address]} <= curves
    pd.testing.assert_frame_equal(score(again, catalogue).frame(), table.frame())


def test_trying_a_value_leaves_formula_and_file_alone(beds: Beds) -> None:
    """A new formula, which says what was tried on it; settings add up in order."""
    formula, catalogue, table = beds
    before = Path("beds.yaml").read_bytes()
    tried = formula.set({"scores.reading_upright.weights.quiet": 3}).set({"scale.show.step": np.float64(0.5)})
    assert tried.settings == ("scores.reading_upright.weights.quiet=3", "scale.show.step=0.5")
    assert tried.addresses()["scores.reading_upright.weights.quiet"] == 3
    assert formula.addresses()["scores.reading_upright.weights.quiet"] == 1
    assert Path("beds.yaml").read_bytes() == before
    assert score(formula, catalogue).frame().equals(table.frame())
    assert read_formula("beds.yaml", set={"scale.show.step": 0.5}).form == formula.set({"scale.show.step": 0.5}).form


@pytest.mark.parametrize("value", [float("nan"), True, "three", [3]])
def test_what_is_no_number_is_refused(beds: Beds, value: object) -> None:
    """A weight takes a plain number and nothing that merely becomes text."""
    with pytest.raises(SteelyardError, match="expected a plain number"):
        beds[0].set({"scores.reading_upright.weights.quiet": value})  # type: ignore[dict-item]


def test_a_limit_that_was_set_decides_anew_what_lies_below_it(tmp_path: Path) -> None:
    """Readings 25 and 40 under a limit of 30, counted as the limit: 30 and 40, as if read for the set formula."""
    write_beds(tmp_path)
    formula = read_formula(tmp_path / "beds.yaml", set={"measures.noise_dba.plausible.from": 1})
    limited = written(
        tmp_path,
        (tmp_path / "beds.yaml").read_text(encoding="utf-8").replace("[18, 75]", "[18, 75], reporting_limit: 30"),
    )
    catalogue = read_catalogue(tmp_path / "beds.csv", formula)
    assert score(formula, catalogue).readings_frame()["noise_dba"].tolist() == [31.5, 38.0, 26.1]
    counted = score(limited, catalogue).readings_frame()
    assert counted["noise_dba"].tolist() == [31.5, 38.0, 30.0]
    assert counted["noise_dba.flag"].tolist() == ["", "", "below"]
    long = read_catalogue(tmp_path / "beds.csv", limited).frame().loc["A-03"].set_index("measure").loc["noise_dba"]
    assert long[["value", "flag", "counts_as"]].tolist() == [26.1, "", 30.0]
    pd.testing.assert_frame_equal(
        counted, score(limited, read_catalogue(tmp_path / "beds.csv", limited)).readings_frame()
    )


def test_readings_in_another_unit_are_refused(beds: Beds, tmp_path: Path) -> None:
    """A catalogue read for a formula in mm does not go through one in cm."""
    other = written(tmp_path, Path("beds.yaml").read_text(encoding="utf-8").replace("unit: mm", "unit: cm"))
    with pytest.raises(
        SteelyardError, match=r"readings in mm; expected cm, the formula's unit\. Read the catalogue again"
    ):
        score(other, beds[1])


# curves


@pytest.mark.parametrize(("curve", "ratings"), [case[1:] for case in WORKED], ids=[case[0] for case in WORKED])
def test_a_drawn_curve_gives_the_ratings_worked_by_hand(
    curve: str, ratings: dict[float, float], tmp_path: Path
) -> None:
    """At any places, in any shape; and its picture is well formed, says what it shows, and keeps within itself."""
    readings = np.array(list(map(float, ratings)))
    formula, catalogue = written(tmp_path, curve_form(curve)), from_arrays([f"p{i}" for i in readings], {"x": readings})
    drawn = formula.curve("r", catalogue=catalogue)
    assert drawn.at(readings) == pytest.approx(list(ratings.values()), abs=1e-12)
    assert drawn.at(readings.reshape(-1, 1)).shape == (len(readings), 1)
    assert math.isnan(drawn.at(NAN))
    picture = ElementTree.fromstring(drawn.to_svg())
    assert (picture.tag, picture.attrib["role"]) == (f"{SVG}svg", "img")
    assert [one.text for one in picture.findall(f"{SVG}title")] == [picture.attrib["aria-label"]]
    words = [one.text for one in picture.findall(f"{SVG}text")]
    assert {"x", "r [points]", "1", "10"} <= set(words)
    for x, y in points_of(picture):
        assert 0 <= x <= float(picture.attrib["width"])
        assert 0 <= y <= float(picture.attrib["height"])


def points_of(picture: ElementTree.Element) -> list[tuple[float, float]]:
    """The points of every stroke of the line."""
    strokes = [path.attrib["d"] for path in picture.findall(f"{SVG}path") if path.attrib.get("fill") == "none"]
    assert strokes
    pairs = [point.split() for stroke in strokes for point in stroke.removeprefix("M").split(" L")]
    return [(float(x), float(y)) for x, y in pairs]


def test_a_curve_leans_on_a_catalogue_given_in_any_way(beds: Beds, tmp_path: Path) -> None:
    """A path, a frame or a catalogue: the least, 26.1 dB, is rated 10, the greatest, 38 dB, 1."""
    text = Path("beds.yaml").read_text(encoding="utf-8")
    leaning = re.sub(
        r"(measure: noise_dba.*curve: )\{line: \{[^}]*\}\}", r"\1{minmax: {better: lower}, reference: live}", text
    )
    assert leaning != text
    formula = written(tmp_path, leaning)
    for given in (beds[1], "beds.csv", pd.read_csv("beds.csv")):
        assert formula.curve("quiet", catalogue=given).at([26.1, 38.0]) == pytest.approx([10, 1], abs=1e-12)


def test_the_line_is_the_one_that_figures_draw(laboratory: Beds) -> None:
    """A second way through the kernel: every curve of the laboratory at the places of the printed picture's own line."""
    formula, _, table = laboratory
    for output in formula.form.ratings:
        for part in output.parts:
            if part.curve is None or leans_on_catalogue(part):
                continue
            track = curve_track(formula.program, table, output, part)
            np.testing.assert_array_equal(formula.curve(output.name, part.source).at(track.x), track.y)


def test_the_pen_is_lifted_at_each_jump_and_nowhere_else(tmp_path: Path) -> None:
    """Steps at 20 and 30 are three flat strokes; a broken line is one."""
    steps = written(tmp_path, curve_form("steps: {10: 2, 20: 5, 30: 9}")).curve("r")
    at = steps.places[np.isnan(steps.ratings)]
    assert at.tolist() == pytest.approx([20, 30])
    strokes = ElementTree.fromstring(steps.to_svg()).findall(f"{SVG}path[@fill='none']")
    assert len(strokes) == 3
    assert all(len({point.split()[1] for point in one.attrib["d"][1:].split(" L")}) == 1 for one in strokes)
    line = written(tmp_path, curve_form("points: {2: 10, 4.5: 7, 9: 1}")).curve("r")
    assert not np.isnan(line.ratings).any()
    assert line.anchors == ((2.0, 10.0), (4.5, 7.0), (9.0, 1.0))


def test_a_curve_that_refuses_gives_nothing_beyond_its_anchors(tmp_path: Path) -> None:
    """`outside: error`: NaN there, and no line drawn on."""
    drawn = written(tmp_path, curve_form("points: {2: 10, 9: 1}, outside: error")).curve("r")
    assert np.isnan(drawn.at([1.9, 9.1])).all()
    assert drawn.at([2, 9]).tolist() == [10, 1]
    assert (drawn.places[0], drawn.places[-1]) == (2, 9)


def test_a_curve_s_frame_is_its_line_with_units(beds: Beds) -> None:
    """Index the measure, column the rating."""
    frame = beds[0].curve("cooling").frame()
    assert frame.attrs["units"] == {"surface_rise": "delta_degC", "cooling": "points"}
    assert frame.attrs["address"] == "ratings.cooling"
    assert frame["cooling"].between(1, 10).all()


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (("qiet",), "no rating `qiet`; expected a rating with a curve. Did you mean `quiet`?"),
        (("reading_upright",), "`reading_upright`, which has no curve of its own"),
        (("quiet", "sit_drop"), "no curve of `sit_drop` in quiet; expected one of its measures. Known: noise_dba."),
    ],
    ids=lambda value: str(value[:1]),
)
def test_a_curve_that_is_not_there_is_named(beds: Beds, asked: tuple[str, ...], said: str) -> None:
    """With what there is."""
    with pytest.raises(SteelyardError) as refused:
        beds[0].curve(*asked)
    assert said in str(refused.value)


def test_one_of_several_curves_must_be_chosen(laboratory: Beds) -> None:
    """Stillness mixes two measures."""
    with pytest.raises(
        SteelyardError, match=r"which mixes 2 curves; expected which of them\. Known: shake_m_s2, settle_s\."
    ):
        laboratory[0].curve("stillness")
    assert laboratory[0].curve("stillness", "settle_s").unit == "s"


def test_a_curve_that_leans_on_the_catalogue_asks_for_one(tmp_path: Path) -> None:
    """min-max over readings 10, 20, 30 is 5.5 in the middle; without them there is no curve, and the formula says so."""
    formula = written(tmp_path, curve_form("minmax: {better: higher}, reference: live"))
    with pytest.raises(SteelyardError, match=r"leans on the catalogue's own readings.*catalogue=\.\.\."):
        formula.curve("r")
    assert "x: leans on the catalogue" in formula._repr_html_()
    drawn = formula.curve("r", catalogue=from_arrays(["a", "b", "c"], {"x": [10.0, 20.0, 30.0]}))
    assert drawn.at([10, 20, 30]).tolist() == [1, 5.5, 10]


def test_ticks_are_round_and_few() -> None:
    """Three to eight of them over fourteen decades, none outside."""
    for ten in range(-6, 8):
        for low, high in ((0, 1), (1, 9), (-3, 4), (2, 2.5), (19.1, 48.9)):
            found = ticks(low * 10.0**ten, high * 10.0**ten)
            assert 3 <= len(found) <= 8
            assert min(found) >= low * 10.0**ten * (1 - 1e-12)
            assert max(found) <= high * 10.0**ten * (1 + 1e-12)


# what a notebook shows


class Structure(HTMLParser):
    """The elements and attributes of a page, without its text."""

    def __init__(self, markup: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, tuple[str, ...]]] = []
        self.open: list[str] = []
        self.feed(markup)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, tuple(name for name, _ in attrs)))
        self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


HOSTILE = (
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "</title></svg><script>alert(1)</script>",
    "' onmouseover='alert(1)",
    "<!-- &lt;b&gt; ]]> &#60;script&#62;",
    "turned \u202e round",
)


def hostile_beds(folder: Path, word: str) -> Beds:
    """A formula and catalogue in which every text that is free is `word`."""
    said = json.dumps(word)
    form = f"""\
formula: trial
version: {said}
title: {said}
note: {said}
scale: {{from: 1, to: 10}}
bands: {{good: 5, poor: 1}}
cautions: [{said}]
attributes: {{maker: {{label: {said}}}}}
measures:
  noise: {{label: {said}, unit: "U"}}
  drop: {{label: {said}, unit: mm}}
ratings:
  quiet: {{label: {said}, note: {said}, measure: noise, curve: {{line: {{worst: 40, best: 20}}}}}}
  edge: {{label: {said}, measure: drop, curve: {{points: {{10: 10, 40: 1}}}}}}
scores:
  whole: {{label: {said}, blend: weighted mean, weights: {{quiet: 1, edge: 2}}}}
gates:
  - {{name: limit, when: drop > 30, withhold: {said}}}
"""
    formula = written(folder, form)
    measure, *others = formula.form.measures
    hostile = replace(formula.form, measures=(replace(measure, unit=word), *others))
    formula = Formula(hostile, compile_form(hostile), (f"x={word}",))
    catalogue = from_arrays([word, "b"], {"noise": [30.0, NAN], "drop": [20.0, 35.0]}, {"maker": [word, word]})
    drop = replace(catalogue.readings["noise"], reasons={(1, 0): word})
    catalogue = replace(
        catalogue, source=word, unused=(word,), readings={**catalogue.readings, "noise": drop}, units={"noise": word}
    )
    return formula, catalogue, score(formula, catalogue)


def shown(formula: Formula, catalogue: Catalogue, table: ScoreTable) -> list[str]:
    """All that a notebook shows of them."""
    curve = formula.curve("quiet")
    return [formula._repr_html_(), catalogue._repr_html_(), table._repr_html_(), curve._repr_svg_()]


@pytest.mark.parametrize("word", HOSTILE)
def test_no_text_becomes_markup(word: str, tmp_path: Path) -> None:
    """A formula and a catalogue full of it have the elements and attributes of harmless ones, one by one; it is XML, too."""
    for hostile, harmless in zip(
        shown(*hostile_beds(tmp_path, word)), shown(*hostile_beds(tmp_path, "word")), strict=True
    ):
        found = Structure(hostile)
        assert found.elements == Structure(harmless).elements
        assert not [name for _, names in found.elements for name in names if name.startswith("on")]
        assert "script" not in {tag for tag, _ in found.elements}
        said = "".join(ElementTree.fromstring(hostile).itertext())
        kept = word.replace("\u202e", "[U+202E]")
        assert kept[:8] in said


@pytest.mark.parametrize("letter", ["\x00", "\x08", "\x1b", "\x7f", "\ud800", "\ufffe", "\u202e", "\u2066"])
def test_what_no_document_may_hold_is_named_instead(letter: str) -> None:
    """By its number."""
    assert text(f"a{letter}b") == f"a[U+{ord(letter):04X}]b"


def test_a_notebook_shows_the_laboratory(laboratory: Beds) -> None:
    """The title, every measure with its unit, a curve a part, the weights; well formed; the same bytes each time."""
    formula, catalogue, table = laboratory
    page = ElementTree.fromstring(formula._repr_html_())
    curves = [part for output in formula.form.ratings for part in output.parts if part.curve is not None]
    assert len(page.findall(f".//{SVG}svg")) == len(curves)
    words = " ".join(page.itertext())
    for said in (formula.form.title, "edge_sink_mm", "mmHg", "stillness 0.26", "at most 5.0 when stillness < 3.0"):
        assert said in words
    assert shown(formula, catalogue, table) == shown(*laboratory)
    again = read_formula(LABORATORY / "guest-bed.yaml")
    assert again._repr_html_() == formula._repr_html_()


def test_a_table_shows_what_the_command_prints(laboratory: Beds) -> None:
    """The figures, places and statuses, in the order of the first score's places; partial ones starred."""
    table = laboratory[2]
    rows = [[cell.text or "" for cell in row] for row in ElementTree.fromstring(table._repr_html_()).iter("tr")]
    assert rows[0][:5] == ["product", "name", "two_abed", "#", "band"]
    frame = table.frame("two_abed")
    assert [row[0] for row in rows[1:]] == frame.sort_values("rank", kind="stable").index.tolist()
    for row in rows[1:]:
        status, figure = frame.loc[row[0], "status"], frame.loc[row[0], "shown"]
        star = "*" if status == "partial" else ""
        assert row[1] == frame.loc[row[0], "name"]
        assert row[2] == (status if math.isnan(figure) else f"{figure:.1f}{star}")
        assert row[3] == ("–" if math.isnan(figure) else f"{frame.loc[row[0], 'rank']:g}")


def test_a_catalogue_shows_its_cells_as_a_file_has_them(beds: Beds) -> None:
    """Figures with their units above; why one is missing is for no notebook, unless the formula publishes it."""
    rows = [[cell.text for cell in row] for row in ElementTree.fromstring(beds[1]._repr_html_()).iter("tr")]
    assert rows[0] == ["product", "noise_dba [dB]", "sit_drop [mm]", "surface_rise [delta_degC]"]
    assert rows[3] == ["A-03", "26.1", "95", "missing"]


def test_a_long_catalogue_is_cut_and_says_so(tmp_path: Path) -> None:
    """A hundred products are shown, and how many are left; the frame has them all."""
    formula = written(tmp_path, curve_form("line: {worst: 0, best: 9}"))
    catalogue = from_arrays([f"p{i}" for i in range(130)], {"x": np.linspace(0, 9, 130)})
    for what in (catalogue, score(formula, catalogue)):
        assert "30 more: frame() has them all." in what._repr_html_()
        assert len(list(ElementTree.fromstring(what._repr_html_()).iter("tr"))) == 101
        assert len(what.frame()) == 130


# loading


@pytest.mark.parametrize(
    ("line", "absent"),
    [
        ("import scoring", "numpy pandas sympy scipy matplotlib pint mpmath pyarrow openpyxl ruamel"),
        (
            "import scoring.door.formula",
            "pandas scipy.special scipy.stats scipy.optimize matplotlib pint pyarrow openpyxl",
        ),
        ("from scoring import SteelyardError", "numpy pandas sympy ruamel"),
    ],
)
def test_the_door_loads_no_more_than_is_asked_for(line: str, absent: str) -> None:
    """`import scoring` loads no library at all; pandas comes with the first frame."""
    code = f"import sys\n{line}\nprint(sorted({set(absent.split())!r} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    assert done.stdout.strip() == "[]"


def test_a_name_that_is_not_there_is_an_attribute_error() -> None:
    """Submodules are still found, and nothing else is made up."""
    import scoring

    assert {"read_formula", "read_catalogue", "score", "Formula"} <= set(dir(scoring))
    with pytest.raises(AttributeError, match="has no attribute 'read_formla'"):
        _ = scoring.read_formla  # type: ignore[attr-defined]


def test_the_guide_s_code_runs(beds: Beds, capsys: pytest.CaptureFixture[str]) -> None:
    """The code of the guide "From Python" as it stands, in a folder with the README's two files."""
    names: dict[str, object] = {}
    exec(block("python", "from scoring import", guide("python")), names)  # our own text
    assert capsys.readouterr().out.strip().endswith("Did you mean `scores.reading_upright.weights.quiet`?")
    frame, moved = names["frame"], names["moved"]
    assert isinstance(frame, pd.DataFrame)
    assert isinstance(moved, pd.Series)
    assert frame.attrs["units"] == {"value": "points", "shown": "points", "rank": "place"}
    assert moved.ne(0).all()


def test_the_guide_s_code_on_studies_runs(beds: Beds) -> None:
    """Every study that it names, after the code that it goes on from."""
    names: dict[str, object] = {}
    for first in ("from scoring import", "from analysis import", "methods = appendix"):
        exec(block("python", first, guide("python")), names)  # our own text
    assert isinstance(names["report"], Report)
    assert "Reading upright: nothing is said of its weights" in str(names["report"])
    assert Path("methods.html").read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    assert Path("beds-published.json").is_file()
    assert Path("weights.html").read_text(encoding="utf-8").startswith("<!DOCTYPE html>")


def test_the_guide_s_code_on_frames_runs(beds: Beds, capsys: pytest.CaptureFixture[str]) -> None:
    """As it stands too; 62 mm is 6.2 cm, a bed 3 dB quieter rises by what its curve says, and the fault is the one shown."""
    names: dict[str, object] = {}
    exec(block("python", "import pandas as pd", guide("python")), names)  # our own text
    shown = re.search(r"print\(fault\)  # (the frame, .*) \.\.\.", guide("python"))
    assert shown is not None
    assert capsys.readouterr().out.startswith(shown[1])
    table, quieter = names["table"], names["quieter"]
    assert isinstance(table, ScoreTable)
    assert isinstance(quieter, ScoreTable)
    assert table.readings_frame()["sit_drop"].iloc[0] == beds[2].readings_frame()["sit_drop"].iloc[0] == 62.0
    assert table.catalogue.source == "the frame"
    moved = quieter.frame("quiet")["value"] - beds[2].frame("quiet")["value"]
    assert moved.tolist() == pytest.approx([9 * 3 / 24] * 3)


def test_a_plain_prompt_shows_a_line(laboratory: Beds) -> None:
    """Not every array of a table or a catalogue."""
    for shown in map(repr, laboratory[1:]):
        assert len(shown) < 400
        assert "60 products" in shown
