"""A pandas frame is a catalogue: by the rules of files, its faults named by row, label and column, itself left as it is."""

from __future__ import annotations

import datetime
import decimal
import hashlib
import re
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from catalogues import BED, PLAIN, read_text
from extent import examples
from forms import attribute, form, measure
from from_readme import write_beds
from hypothesis import given, settings
from hypothesis import strategies as st
from written_forms import form_of

from scoring import Formula, read_catalogue, read_formula, score
from scoring.catalogue import Catalogue, State, from_arrays
from scoring.catalogue import read_catalogue as read_for_form
from scoring.errors import CatalogueError, Problem, SteelyardError
from scoring.form import Form
from scoring.texts.file_limits import lifted

ROOT = Path(__file__).parents[1]
DATED = form(BED.measures, [*BED.attributes, attribute("made")])


def faults(frame: pd.DataFrame, using: Form = BED) -> list[str]:
    """What is wrong with a frame."""
    try:
        read_for_form(frame, using)
    except CatalogueError as fault:
        return [str(problem) for problem in fault.problems]
    return []


def values(catalogue: Catalogue, name: str = "noise") -> list[list[float]]:
    """The readings of a measure."""
    found: list[list[float]] = catalogue.readings[name].values.tolist()
    return found


# the same as a file


def held(catalogue: Catalogue, header: int) -> dict[str, Any]:
    """All that a catalogue holds but for where it is from; rows are counted from the first one under the header."""
    readings = {
        name: (
            one.values.tolist(),
            one.states.tolist(),
            dict(one.reasons),
            one.written.tolist(),
            one.marks.tolist(),
            np.where(one.rows > 0, one.rows - header, 0).tolist(),
            one.columns,
        )
        for name, one in catalogue.readings.items()
    }
    extras = {key: {name: texts.tolist() for name, texts in of.items()} for key, of in catalogue.extras.items()}
    names = ("products", "attributes", "unused", "left_out", "units", "product_sessions", "set_aside")
    return {name: getattr(catalogue, name) for name in names} | {"readings": readings, "extras": extras}


def told(problems: Sequence[Problem], header: int) -> set[tuple[object, ...]]:
    """Where each fault stands, by the same count of rows, what was expected and what to try."""
    said = set()
    for one in problems:
        line = one.place.line - header if one.place.line else 0
        said.add((max(line, 0), one.place.column_name, one.expected, one.hint))
    return said


def outcome(given: pd.DataFrame | Path, using: Form) -> object:
    """What is read, or what it is refused for; NaN as a word, so that it is equal to itself."""
    header = 0 if isinstance(given, pd.DataFrame) else 1
    try:
        return repr(held(read_for_form(given, using), header))
    except CatalogueError as fault:
        return told(fault.problems, header)


GAP = st.sampled_from([None, float("nan"), pd.NA, "", "missing", "missing: mute", "n/a: too soft", "not applicable"])
NUMBER = st.floats(-1e6, 1e6).map(lambda x: round(x, 3))
PLAUSIBLE = st.integers(80, 270).map(lambda n: n / 4 + 0.1)
READING = st.one_of(PLAUSIBLE, PLAUSIBLE, PLAUSIBLE, GAP, st.sampled_from(["< 22", "30.5", " 31 ", 30, 45]))
ODD = st.sampled_from(["2,5", "soft", "1e400", "> 3", "\x07", "NaN", "< x", 1e9, -4.5])
CELL = st.integers(0, 19).flatmap(lambda n: ODD if n == 0 else READING)
ID = st.one_of(st.sampled_from(["A", "B", "C-1", "007", "Ünder", 'with "quotes", commas']), st.integers(1, 9))
WORD = st.sampled_from(["", None, "S1", "S2", "  S3", "day, two", 7])


def same_kind(cells: Sequence[object]) -> list[Any]:
    """Ways to hold a column: as objects, and, where its cells allow it, as floats, as nullable floats, as categories."""
    columns: list[Any] = [pd.Series(list(cells), dtype=object)]
    if all(cell is None or cell is pd.NA or (isinstance(cell, float)) for cell in cells):
        numbers = [np.nan if cell is None or cell is pd.NA else cell for cell in cells]
        columns += [pd.Series(numbers, dtype=float), pd.array(numbers, dtype="Float64")]
    if all(isinstance(cell, str) for cell in cells):
        columns += [pd.Series(cells, dtype="category"), pd.array(list(cells), dtype="string")]
    if all(isinstance(cell, int) for cell in cells):
        columns += [pd.Series(cells, dtype=np.int64), pd.array(list(cells), dtype="Int64")]
    return columns


@st.composite
def framed(draw: st.DrawFn, rows: st.SearchStrategy[dict[str, Any]], *, once: bool = False) -> pd.DataFrame:
    """A frame of rows, each column held in some way; products in a column or in the index, `once` each once."""
    drawn = draw(st.lists(rows, min_size=1, max_size=7, unique_by=(lambda row: str(row["product"])) if once else None))
    cells = {name: [row[name] for row in drawn] for name in drawn[0]}
    frame = pd.DataFrame({name: draw(st.sampled_from(same_kind(of))) for name, of in cells.items()})
    return frame.set_index("product") if draw(st.booleans()) else frame


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One folder for the files of a property."""
    return tmp_path_factory.mktemp("frames")


def check_as_csv(frame: pd.DataFrame, place: Path, using: Form) -> None:
    """A frame and the CSV file that pandas writes of it are read as the same, or refused for the same; the frame stays."""
    before = frame.copy(deep=True)
    by_index = frame.index.name is not None
    frame.to_csv(place / "bench.csv", index=by_index)
    assert outcome(frame, using) == outcome(place / "bench.csv", using)
    pd.testing.assert_frame_equal(frame, before)
    assert frame.attrs == before.attrs


WIDE = {
    "product": ID,
    "class": st.sampled_from(["foam", "coil", "", None, "hybrid"]),
    "session": WORD,
    "noise #1": READING,
    "noise #2": READING,
    "room [degF]": PLAUSIBLE.map(lambda n: 50 + n / 10),
    "brightness": st.sampled_from([1.5, 2.5]),
    "notes": st.sampled_from(["x", "", None]),
}
FAULTY_WIDE = WIDE | {"noise #2": CELL, "class": st.sampled_from(["foam", "fomm", None])}


@given(frame=framed(st.fixed_dictionaries(WIDE), once=True) | framed(st.fixed_dictionaries(FAULTY_WIDE)))
@settings(deadline=None, max_examples=examples(400))
def test_a_wide_frame_is_read_as_its_csv_is(place: Path, frame: pd.DataFrame) -> None:
    """Values, states, reasons, attributes, sessions, rows; what is unused and left out; and every fault at its place."""
    check_as_csv(frame, place, BED)


#: What stands together in the columns `value`, `flag` and `reason`.
FLAGGED = st.sampled_from(
    [
        (30.5, "", ""),
        (41.25, None, None),
        ("< 25", "", ""),
        (22.0, "below", ""),
        (None, "missing", "dropped"),
        ("", "", ""),
    ]
)
LONG = {
    "product": ID,
    "measure": st.sampled_from(["noise", "noise", "noise", "heat_flux", "loudness"]),
    "unit": st.sampled_from(["", "", None]),
    "session": st.sampled_from(["S1", "S2", "day, two", 7]),
    "specimen": st.sampled_from(["a", "b"]),
    "date": st.sampled_from(["2020-01-02", None]),
}
SOUND_LONG = st.tuples(st.fixed_dictionaries(LONG), FLAGGED).map(
    lambda row: row[0] | dict(zip(("value", "flag", "reason"), row[1], strict=True))
)
FAULTY_LONG = LONG | {
    "measure": st.sampled_from(["noise", "noise", "room", "loudness", "noize"]),
    "value": CELL,
    "repeat": st.integers(0, 3).map(lambda n: n or 1),
    "unit": st.sampled_from(["", "", None, "dB", "degC"]),
    "flag": st.sampled_from(["", None, "", None, "below", "missing", "not_applicable", "lost"]),
    "reason": st.sampled_from(["", None, "dropped"]),
    "session": WORD,
    "specimen": WORD,
}
SHARED = form_of(
    "formula: trial\nmeasures:\n  noise: {unit: dB, between_sessions: 0.5, between_specimens: 0.2}\n  room: {unit: degC}\n"
    "ratings: {r: {measure: noise, curve: {line: {worst: 60, best: 20}}}}\n"
)


@given(
    frame=framed(SOUND_LONG) | framed(st.fixed_dictionaries(FAULTY_LONG)), using=st.sampled_from([BED, PLAIN, SHARED])
)
@settings(deadline=None, max_examples=examples(600))
def test_a_long_frame_is_read_as_its_csv_is(place: Path, frame: pd.DataFrame, using: Form) -> None:
    """The same, with flags, conditions and what else stands beside each reading; with repeats numbered, and in order."""
    check_as_csv(frame, place, using)


@given(frame=framed(SOUND_LONG.map(lambda row: row | {"measure": "noise"})))
@settings(deadline=None, max_examples=examples(40))
def test_sound_frames_are_read(frame: pd.DataFrame) -> None:
    """So that the properties are of catalogues, and not of refusals alone."""
    assert isinstance(outcome(frame, PLAIN), str)


def test_a_wide_and_a_long_frame_worked_by_hand() -> None:
    """Readings, states, reasons, attributes and sessions."""
    wide = pd.DataFrame(
        {"product": ["A", 7], "noise #1": [30.5, None], "noise #2": ["< 22", "missing: mute"], "class": ["foam", None]}
    )
    catalogue = read_for_form(wide, BED)
    assert catalogue.products == ("A", "7")
    np.testing.assert_array_equal(values(catalogue), [[30.5, 22.0], [np.nan, np.nan]])
    assert catalogue.readings["noise"].states.tolist() == [[State.VALUE, State.BELOW], [State.MISSING, State.MISSING]]
    assert catalogue.readings["noise"].reasons == {(1, 1): "mute"}
    assert catalogue.attributes == {"class": ("foam", "")}
    long = pd.DataFrame(
        {
            "id": ["A", "A"],
            "measure": "noise",
            "value": [22.0, np.nan],
            "flag": ["below", "missing"],
            "session": ["S1", "S2"],
        }
    )
    catalogue = read_for_form(long, BED)
    assert catalogue.readings["noise"].states.tolist() == [[State.BELOW, State.MISSING]]
    assert catalogue.extras["session"]["noise"].tolist() == [["S1", "S2"]]


# cells


@pytest.mark.parametrize(
    "missing",
    [None, float("nan"), np.nan, pd.NA, pd.NaT, decimal.Decimal("NaN"), np.datetime64("NaT"), np.timedelta64("NaT")],
    ids=repr,
)
def test_what_is_not_there_is_missing(missing: object) -> None:
    """However it is written, in a measure and in an attribute."""
    frame = pd.DataFrame(
        {
            "product": ["A", "B"],
            "noise": pd.Series([30.0, missing], dtype=object),
            "class": pd.Series(["foam", missing], dtype=object),
        }
    )
    catalogue = read_for_form(frame, BED)
    assert catalogue.readings["noise"].states[:, 0].tolist() == [State.VALUE, State.MISSING]
    assert catalogue.attributes == {"class": ("foam", "")}


def test_nan_that_is_no_gap_of_a_nullable_column_is_missing_too() -> None:
    """0/0 in a column of nullable floats is not `pd.NA`."""
    cells = pd.array([0.0, 30.0], dtype="Float64") / pd.array([0.0, 1.0], dtype="Float64")
    catalogue = read_for_form(pd.DataFrame({"product": ["A", "B"], "noise": cells}), BED)
    np.testing.assert_array_equal(values(catalogue), [[np.nan], [30.0]])


@pytest.mark.parametrize(
    "column",
    [
        np.array([30, 31], dtype=np.int8),
        np.array([30, 31], dtype=np.float32),
        pd.array([30, 31], dtype="Int64"),
        pd.array([30, 31], dtype="UInt8"),
        pd.array([30.0, 31.0], dtype="double[pyarrow]"),
        pd.Categorical([30, 31]),
        pd.arrays.SparseArray([30.0, 31.0]),
        np.array([np.float64(30), np.int64(31)], dtype=object),
        [decimal.Decimal(30), "31"],
    ],
    ids=lambda column: str(getattr(column, "dtype", "objects")),
)
def test_numbers_of_any_kind_are_readings(column: Any) -> None:
    """Of numpy, of pandas, of arrow and of Python."""
    assert values(read_for_form(pd.DataFrame({"product": ["A", "B"], "noise": column}), BED)) == [[30.0], [31.0]]


@pytest.mark.parametrize(
    ("cell", "words"),
    [
        (True, "`True`, a truth value where a number should stand"),
        (np.bool_(True), "`True`, a truth value where a number should stand"),
        (pd.Timestamp("2020-01-02"), "`2020-01-02`, a date or a time where a number should stand"),
        (np.datetime64("2020-01-02", "ns"), "`2020-01-02`, a date or a time where a number should stand"),
        (datetime.timedelta(1), "a date or a time where a number should stand"),
        (float("inf"), "`inf`, not a finite number"),
        (3 + 4j, r"`\(3\+4j\)`, a cell of type complex where a number should stand"),
        ([30, 31], r"`\[30, 31\]`, a cell of type list where a number should stand"),
        (np.array([30.0, 31.0]), "a cell of type ndarray where a number should stand"),
        (b"30", "a cell of type bytes where a number should stand"),
        (pd.Period("2020-01"), "a cell of type Period where a number should stand"),
        ("2,5", "A decimal comma"),
    ],
    ids=lambda case: str(case)[:30],
)
def test_a_cell_that_is_no_reading_is_named(cell: object, words: str) -> None:
    """By the number of its row, the label of it, and the column."""
    frame = pd.DataFrame({"product": ["A", "B"], "noise": pd.Series([30.0, cell], dtype=object)})
    (fault,) = faults(frame)
    assert re.match(rf"the frame, row 2 \(index `1`\), column noise: .*{words}", fault)
    assert cell is frame["noise"].tolist()[1] or cell == frame["noise"].tolist()[1]


@pytest.mark.parametrize(
    ("ids", "read"),
    [
        ([7, 8], ("7", "8")),
        ([7.0, 8.0], ("7", "8")),
        (["007", "8"], ("007", "8")),
        (pd.Categorical(["A", "B"]), ("A", "B")),
        (pd.array([1, 2], dtype="Int64"), ("1", "2")),
        (pd.array(["A", "B"], dtype="string"), ("A", "B")),
    ],
    ids=str,
)
@pytest.mark.parametrize("by_index", [False, True], ids=["column", "index"])
def test_ids_that_have_one_way_of_being_written_are_taken(ids: Any, read: tuple[str, ...], by_index: bool) -> None:
    """Whole numbers and texts, in a column or in the index."""
    frame = pd.DataFrame({"product": ids, "noise": [30.0, 31.0]})
    assert read_for_form(frame.set_index("product") if by_index else frame, BED).products == read


@pytest.mark.parametrize(
    ("cell", "words"),
    [
        (7.5, "the id `7.5`, a number with decimals"),
        (True, "the id `True`, a truth value"),
        (pd.Timestamp("2020-01-02"), "the id `2020-01-02`, a date or a time"),
        (("A", 1), r"the id `\('A', 1\)`, a cell of type tuple"),
        (None, "no id; .*Every row needs one"),
        (" A", "the id ` A` with a blank at its edge"),
        ("A\u202e", ".*with a control or invisible character"),
    ],
    ids=str,
)
def test_an_id_that_is_no_text_is_refused(cell: object, words: str) -> None:
    """With a sentence, at its row."""
    frame = pd.DataFrame({"product": pd.Series(["B", cell], dtype=object), "noise": [30.0, 31.0]})
    frame.index = pd.Index(["x", "y"])
    (fault,) = faults(frame)
    assert re.match(rf"the frame, row 2 \(index `y`\), column product: {words}", fault)


def test_dates_are_read_as_a_column_store_s_are(tmp_path: Path) -> None:
    """As days where there is no time in them, and in Greenwich's time, as the same frame is read from Parquet."""
    frame = pd.DataFrame(
        {
            "product": ["A", "B", "C"],
            "noise": 30.0,
            "made": pd.to_datetime(["2020-01-02", "2020-01-02 12:30", None], format="mixed"),
        }
    )
    frame["made"] = frame["made"].dt.tz_localize("UTC").dt.tz_convert("Asia/Tokyo")
    frame.to_parquet(tmp_path / "bench.parquet", index=False)
    expected = {"class": ("", "", ""), "made": ("2020-01-02", "2020-01-02T12:30:00", "")}
    assert (
        read_for_form(frame, DATED).attributes
        == read_for_form(tmp_path / "bench.parquet", DATED).attributes
        == expected
    )


def test_words_are_text_numbers_or_dates() -> None:
    """A list is none of them: in a column that is read it is refused, in one that is left out nobody looks at it."""
    lists = pd.Series([["foam"], ["coil"]], dtype=object)
    frame = pd.DataFrame({"product": ["A", "B"], "noise": [30.0, 31.0], "class": lists, "parts": lists})
    assert faults(frame) == [
        f"the frame, row {row} (index `{row - 1}`), column class: `['{word}']`, a cell of type list; "
        "expected text, a number, a date or nothing."
        for row, word in ((1, "foam"), (2, "coil"))
    ]
    assert read_for_form(frame.drop(columns="class"), BED).left_out == ("parts",)


# columns, rows and the index


@pytest.mark.parametrize(
    ("frame", "words"),
    [
        (pd.DataFrame(), "the frame: no columns; expected columns with names"),
        (pd.DataFrame(index=["A"]), "the frame: no columns"),
        (
            pd.DataFrame({"product": [], "noise": []}),
            "the frame: columns and no rows; expected a row for every product or reading",
        ),
        (
            pd.DataFrame([["A", 30, 31]], columns=["product", "noise", "noise"]),
            "the frame, column noise: a second column of this name (columns 2 and 3)",
        ),
        (
            pd.DataFrame([["A", 30]], columns=pd.MultiIndex.from_tuples([("product", ""), ("noise", "1")])),
            "the frame: columns of 2 levels; expected one name a column",
        ),
        (
            pd.DataFrame({"noise": [30.0]}),
            "the frame: no column of products; expected a column called `product` or `id`",
        ),
        (pd.DataFrame({"noise": [30.0]}, index=["A-01"]), 'give `frame.rename_axis("product")`'),
        (
            pd.DataFrame({"product": ["A", "A"], "noise": [30, 31]}),
            "the frame, row 2 (index `1`), column product: a second row of `A`, after row 1",
        ),
        (
            pd.DataFrame({"product": ["A", "B"], "noise": [30, 31]}, index=pd.Index(["B", "A"], name="product")),
            "an index and a column that are both called `product`, and differ",
        ),
        (
            pd.DataFrame({"product": ["A"], "noize": [30]}),
            "the frame, column noize: a column that the formula does not know; expected a measure or an attribute. Did you mean `noise`?",
        ),
        (
            pd.DataFrame([["A", 30, "x"]], columns=["product", "noise", None]),
            "the frame, column 3: a column without a name",
        ),
        (
            pd.DataFrame([["A", 30, "x"]], columns=["product", "noise", "a\u202e"]),
            "the frame, column 3: a column name `a\\u202e` with a control or invisible character",
        ),
        (
            pd.DataFrame({"product": ["A"], "noise": [300.0]}),
            "the frame, row 1 (index `0`), column noise: `noise` of `300` dB; expected 18 to 75 dB, the plausible range",
        ),
        (
            pd.DataFrame({"product": ["A"], "tester": ["Ida"]}),
            "the frame: no column that names a measure of the formula",
        ),
        (
            pd.DataFrame({"product": ["A"], "noise [loud]": [30.0]}),
            "the frame, column noise [loud]: the unit `loud`",
        ),
    ],
    ids=lambda case: case[:40] if isinstance(case, str) else "",
)
def test_a_frame_that_is_no_catalogue_is_refused(frame: pd.DataFrame, words: str) -> None:
    """In one fault, which says where, what, what was expected and what to try."""
    (fault,) = faults(frame)
    assert words in fault


def test_labels_of_rows_may_stand_there_twice_and_be_of_any_kind() -> None:
    """They are told beside the number of the row and mean nothing else."""
    frame = pd.DataFrame({"product": ["A", "B"], "noise": [30.0, 31.0]}, index=["x", "x"])
    assert read_for_form(frame, BED).products == ("A", "B")
    frame = pd.DataFrame(
        {"product": ["A", "B"], "noise": [30.0, 300.0]}, index=pd.MultiIndex.from_tuples([("x", 1), ("x", 2)])
    )
    assert faults(frame)[0].startswith("the frame, row 2 (index `x, 2`), column noise: ")
    frame.index = pd.to_datetime(["2020-01-02", "2020-01-03"])
    assert faults(frame)[0].startswith("the frame, row 2 (index `2020-01-03`), column noise: ")


def test_named_levels_of_the_index_are_columns() -> None:
    """As they are in a file that pandas writes: means by group are a long catalogue."""
    rows = pd.DataFrame({"product": ["B", "A", "B"], "measure": "noise", "value": [30.0, 40.0, 32.0]})
    assert read_for_form(rows.groupby(["product", "measure"]).mean(), BED).products == ("A", "B")
    assert values(read_for_form(rows.groupby(["product", "measure"]).mean(), BED)) == [[40.0], [31.0]]
    kept = rows.set_index("product", drop=False)
    assert values(read_for_form(kept, BED)) == [[30.0, 32.0], [40.0, np.nan]] or np.isnan(
        values(read_for_form(kept, BED))[1][1]
    )


def test_columns_that_nobody_knows_are_as_in_a_file() -> None:
    """Numbers are unused measures, words are left out; both are named."""
    frame = pd.DataFrame({"product": ["A"], "noise": [30.0], "weight": [7.5], "tester": ["Ida"], 5: [1]})
    catalogue = read_for_form(frame, BED)
    assert (catalogue.unused, catalogue.left_out) == (("weight", "5"), ("tester",))


def test_limits_hold_for_frames_too() -> None:
    """Cells become objects, of which each takes a hundred bytes and more."""
    frame = pd.DataFrame({"product": ["A", "B"], "noise": [30.0, 31.0]})
    with lifted(cells=3):
        assert faults(frame)[0].startswith("the frame: 4 cells; expected at most 3.")
    with lifted(rows=1):
        assert faults(frame)[0].startswith("the frame: 2 rows; expected at most 1.")


# units


def test_units_beside_a_frame_are_those_in_its_header() -> None:
    """By column, by measure, for each repeat; converted as those of a file."""
    bare = pd.DataFrame({"product": ["A"], "sag": [2.5], "noise #1": [30.0], "noise #2": [31.0]})
    named = bare.rename(columns={"sag": "sag [in]"})
    expected = values(read_for_form(named, PLAIN), "sag")
    assert expected == [[63.5]]
    bare.attrs["units"] = {"sag": "in", "noise": "dB", "gone": "points"}
    catalogue = read_for_form(bare, PLAIN)
    assert values(catalogue, "sag") == expected
    assert values(catalogue) == [[30.0, 31.0]]
    assert catalogue.units == {"sag": "mm", "noise": "dB"}
    bare.attrs["units"] = {"sag": "in", "noise #1": "dB"}
    assert values(read_for_form(bare, PLAIN), "sag") == expected


def test_units_beside_a_long_frame_go_by_measure() -> None:
    """For the rows that state none; a row that states another one contradicts them."""
    frame = pd.DataFrame(
        {
            "product": ["A", "A", "B"],
            "measure": ["sag", "noise", "sag"],
            "value": [2.5, 30.0, 63.5],
            "unit": [None, None, "mm"],
        }
    )
    frame.attrs["units"] = {"sag": "in"}
    assert faults(frame, PLAIN) == [
        "the frame, row 3 (index `2`), column unit: the unit `mm`, and `in` beside the table; expected one unit a reading. "
        "Units beside a frame stay as they are when its numbers are worked on: take away what no longer holds."
    ]
    frame["unit"] = None
    assert values(read_for_form(frame, PLAIN), "sag") == [[63.5], [1612.9]]
    assert values(read_for_form(frame.drop(columns="unit"), PLAIN), "sag") == [[63.5], [1612.9]]


@pytest.mark.parametrize(
    ("units", "words"),
    [
        ({"sag": "hands_wide"}, "the frame, column sag: the unit `hands_wide`, which is not known"),
        ({"sag": "kPa"}, "the frame, column sag: the unit `kPa` .*The two measure different things"),
        ({"sag": 3}, r'the frame: `attrs\["units"\]` with `3` for `sag`; expected the unit as text'),
        ({5: "mm"}, r'the frame: `attrs\["units"\]` with `mm` for `5`'),
        ("mm", r'the frame: `attrs\["units"\]`, a cell of type str; expected a mapping'),
    ],
    ids=str,
)
def test_a_unit_beside_a_frame_that_nobody_knows_is_refused(units: object, words: str) -> None:
    """As one in a header is."""
    frame = pd.DataFrame({"product": ["A"], "sag": [2.5]})
    frame.attrs["units"] = units
    (fault,) = faults(frame, PLAIN)
    assert re.match(words, fault)


def test_a_header_and_the_units_beside_it_must_agree() -> None:
    """Two spellings of one unit do."""
    frame = pd.DataFrame({"product": ["A"], "sag [in]": [2.5]})
    frame.attrs["units"] = {"sag": "inch"}
    assert values(read_for_form(frame, PLAIN), "sag") == [[63.5]]
    frame.attrs["units"] = {"sag": "mm"}
    (fault,) = faults(frame, PLAIN)
    assert fault.startswith(
        "the frame, column sag [in]: the unit `in`, and `mm` beside the table; expected one unit a column."
    )


def test_a_column_that_the_formula_calls_otherwise_has_its_unit_by_either_name() -> None:
    """The measure's name, or the column's."""
    using = form_of(
        "formula: trial\nmeasures: {sag: {unit: mm, column: Sag at the edge}}\n"
        "ratings: {r: {measure: sag, curve: {line: {worst: 60, best: 20}}}}\n"
    )
    for name in ("sag", "Sag at the edge"):
        frame = pd.DataFrame({"product": ["A"], "Sag at the edge": [2.5]})
        frame.attrs["units"] = {name: "in"}
        assert values(read_for_form(frame, using), "sag") == [[63.5]]


# the hash


def test_the_hash_of_a_frame_is_of_what_it_holds() -> None:
    """Written down by hand: units, then each column with its cells as text."""
    frame = pd.DataFrame({"product": ["A", "B"], "sag": [2.5, None], "noise": pd.array([30, 31], dtype="Int64")})
    frame.attrs["units"] = {"sag": "in"}
    text = '{"units": {"sag": "in"}}\n["product", "A", "B"]\n["sag", "2.5", ""]\n["noise", "30", "31"]'
    assert read_for_form(frame, PLAIN).sha256 == hashlib.sha256(text.encode()).hexdigest()
    assert read_for_form(frame, PLAIN).source == "the frame"


def test_the_same_frame_has_the_same_hash_and_another_has_another() -> None:
    """However its columns are held, and whatever its rows are called; not with another cell, name, unit or order."""
    frame = pd.DataFrame({"product": ["A", "B"], "noise": [30.0, 31.0], "class": ["foam", "coil"]})
    sha256 = read_for_form(frame, BED).sha256
    same = [
        frame.copy(),
        frame.set_index("product"),
        frame.set_axis(["x", "y"], axis=0),
        frame.astype({"class": "category", "noise": "Int64"}),
    ]
    assert {read_for_form(one, BED).sha256 for one in same} == {sha256}
    changed = frame.copy()
    changed.loc[0, "noise"] = 30.1
    united = frame.copy()
    united.attrs["units"] = {"noise": "dB"}
    others = [
        changed,
        united,
        frame[["product", "class", "noise"]],
        frame.iloc[::-1],
        frame.rename(columns={"product": "id"}),
    ]
    assert len({sha256, *(read_for_form(one, BED).sha256 for one in others)}) == 6


def test_another_process_finds_the_same_hash() -> None:
    """Nothing in it hangs on where an object lies in memory, nor on the seed of Python's own hashes."""
    code = (
        "import pandas as pd\n"
        "from forms import form, measure\n"
        "from scoring.catalogue import read_catalogue\n"
        "frame = pd.DataFrame({'product': ['A'], 'sag': [2.5], 'what': pd.Series([object()], dtype=object)})\n"
        "print(read_catalogue(frame, form([measure('sag', unit='mm')])).sha256)\n"
    )
    said = {
        subprocess.run(
            [sys.executable, "-c", code],
            capture_output=True,
            text=True,
            check=True,
            cwd=ROOT,
            env={"PYTHONPATH": f"{ROOT}:{ROOT / 'tests'}", "PYTHONHASHSEED": seed},
        ).stdout
        for seed in ("1", "2")
    }
    assert len(said) == 1


# the door


@pytest.fixture
def beds(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Formula:
    """The README's formula, in a folder with its two files."""
    write_beds(tmp_path)
    monkeypatch.chdir(tmp_path)
    return read_formula("beds.yaml")


def test_a_frame_of_ours_is_a_catalogue_of_ours(beds: Formula) -> None:
    """Every reading, state and reason is there again, in its unit; what it counts as is left to the formula."""
    catalogue = read_catalogue("beds.csv", beds)
    again = read_catalogue(catalogue.frame(), beds)
    assert again.left_out == ("counts_as", "as_read", "unit_as_read")
    assert again.products == catalogue.products
    for name, readings in catalogue.readings.items():
        np.testing.assert_array_equal(again.readings[name].values, readings.values)
        np.testing.assert_array_equal(again.readings[name].states, readings.states)
        assert again.readings[name].reasons == readings.reasons
    summed = read_catalogue(score(beds, catalogue).readings_frame(), beds)
    assert summed.units == catalogue.units
    assert values(summed, "noise_dba") == values(catalogue, "noise_dba")


def test_a_formula_and_a_catalogue_may_be_given_in_any_way(beds: Formula, tmp_path: Path) -> None:
    """Paths as text or not, a formula, a frame, a catalogue: the same figures."""
    frame = pd.read_csv("beds.csv")
    catalogue = read_catalogue("beds.csv", "beds.yaml")
    expected = score(beds, catalogue).frame()
    for formula in ("beds.yaml", tmp_path / "beds.yaml", beds):
        for one in ("beds.csv", tmp_path / "beds.csv", frame, frame.set_index("product"), catalogue):
            found = score(formula, one).frame()
            pd.testing.assert_frame_equal(found, expected)
            assert found.attrs["sha256"] == beds.form.sha256
    assert score(beds, frame).frame().attrs["catalogue"] == "the frame"
    assert read_catalogue(catalogue, beds) is catalogue
    assert read_formula(beds) is beds
    assert read_formula(beds, set={"scale.show.step": 0.5}).settings == ("scale.show.step=0.5",)
    assert score(beds.set({"scale.show.step": 0.5}), frame).settings == ("scale.show.step=0.5",)


@pytest.mark.parametrize(
    "given",
    [5, None, ["beds.csv"], {"product": ["A"]}, pd.Series([1.0]), b"beds.csv"],
    ids=lambda given: type(given).__name__,
)
def test_what_is_no_catalogue_at_all_is_a_type_error(beds: Formula, given: Any) -> None:
    """In one sentence, which says what was given; and so is what is no formula."""
    kind = type(given).__name__
    for attempt in (
        lambda: read_catalogue(given, beds),
        lambda: score(beds, given),
        lambda: read_for_form(given, beds.form),
    ):
        with pytest.raises(TypeError, match=f"a catalogue is .* a pandas DataFrame.*not (from|as) {kind}$"):
            attempt()
    for attempt in (
        lambda: read_formula(given),
        lambda: score(given, "beds.csv"),
        lambda: read_catalogue("beds.csv", given),
    ):
        with pytest.raises(TypeError, match=f"a formula is given as a path or as a Formula, and not as {kind}$"):
            attempt()


def test_a_formula_in_the_place_of_a_catalogue_is_named(beds: Formula) -> None:
    """The two were given in the wrong order."""
    with pytest.raises(TypeError, match=r"not from Formula$"):
        score(beds, beds)
    with pytest.raises(TypeError, match=r"not as Catalogue$"):
        read_catalogue("beds.csv", from_arrays(["A"], {"noise_dba": [30.0]}))  # type: ignore[arg-type]


def test_faults_of_a_frame_are_gathered(beds: Formula) -> None:
    """Both at once, as those of a file are."""
    frame = pd.read_csv("beds.csv", index_col="product")
    frame.iloc[0, 0], frame.iloc[1, 1] = 900.0, 900.0
    with pytest.raises(SteelyardError) as raised:
        score(beds, frame)
    assert [(one.place.line, one.place.label) for one in raised.value.problems] == [
        (1, "index `A-01`"),
        (2, "index `A-02`"),
    ]


def test_a_catalogue_of_a_frame_keeps_what_the_frame_held_when_it_was_read(beds: Formula) -> None:
    """Writing into the frame afterwards changes no reading."""
    frame = pd.read_csv("beds.csv", index_col="product")
    catalogue = read_catalogue(frame, beds)
    before = values(catalogue, "noise_dba")
    frame.loc[:, [name for name in frame.columns if name.startswith("noise")]] = 1.0
    assert values(catalogue, "noise_dba") == before


def test_a_text_file_s_frame_is_its_file(tmp_path: Path) -> None:
    """A file read as text by pandas, cell by cell, is what the file is to us."""
    text = "product,measure,value,flag,session\nA,noise,22,below,S1\nB,noise,,missing,S1\n"
    catalogue = read_text(tmp_path, text)
    frame = pd.read_csv(tmp_path / "bench.csv", dtype=str, keep_default_na=False)
    assert repr(held(read_for_form(frame, BED), 0)) == repr(held(catalogue, 1))


MEASURED = form([measure("sag", unit="mm")], [attribute("product_line")])


def test_an_attribute_in_the_index_is_one() -> None:
    """Products in a column, an attribute that is declared in the index."""
    frame = pd.DataFrame({"product": ["A", "B"], "sag": [1.0, 2.0], "product_line": ["x", "y"]}).set_index(
        "product_line"
    )
    assert read_for_form(frame, MEASURED).attributes == {"product_line": ("x", "y")}
