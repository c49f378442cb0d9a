"""Sessions and specimens: read from every kind of file, kept beside each reading, and asked for where the errors need them."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
from catalogues import BED, folder, read_text
from written_forms import form_of

from scoring.catalogue import Catalogue, from_arrays, read_catalogue, without
from scoring.catalogue.conditions_of_reading import conditions_of
from scoring.catalogue.joining import for_products
from scoring.errors import CatalogueError
from scoring.form import Form

LONG = """\
id,measure,repeat,value,session,specimen
A,noise,1,30,S1,a
A,noise,2,31,S1,b
B,noise,1,40,S2,a
A,room,1,20,,
"""


def bed(noise: str = "", attributes: str = "{}") -> Form:
    """Two measures; of the errors of one of them something is said."""
    return form_of(
        f"formula: trial\nattributes: {attributes}\nmeasures:\n  noise: {{unit: dB{noise}}}\n  room: {{unit: degC}}\n"
        "ratings: {r: {measure: noise, curve: {line: {worst: 60, best: 20}}}}\n"
    )


SESSIONS = bed(", between_sessions: 0.5")
SPECIMENS = bed(", between_specimens: 0.5")


def sessions(catalogue: Catalogue, measure: str = "noise") -> list[list[str]]:
    """The sessions of a measure."""
    found: list[list[str]] = conditions_of(catalogue, measure).sessions.tolist()
    return found


def faults(read: Path | tuple[Path, str], form: Form) -> list[str]:
    """What is wrong with a catalogue for a form, without the folder."""
    path, text = read if isinstance(read, tuple) else (read, "")
    if text:
        (path / "bench.csv").write_text(text, encoding="utf-8")
        path = path / "bench.csv"
    try:
        read_catalogue(path, form)
    except CatalogueError as fault:
        return [str(problem).replace(f"{path}/", "").replace(str(path), path.name) for problem in fault.problems]
    return []


def test_a_long_file_names_both_beside_each_reading(tmp_path: Path) -> None:
    """In the shape of the readings; "" where nothing is named or read."""
    catalogue = read_text(tmp_path, LONG)
    found = conditions_of(catalogue, "noise")
    assert found.sessions.tolist() == [["S1", "S1"], ["S2", ""]]
    assert found.specimens.tolist() == [["a", "b"], ["a", ""]]
    assert sessions(catalogue, "room") == [[""], [""]]
    assert sorted(catalogue.extras) == ["session", "specimen"]


@pytest.mark.parametrize("attributes", ["{}", "{session: {}}"])
def test_the_session_of_a_product_stands_in_a_wide_file(tmp_path: Path, attributes: str) -> None:
    """For all its measures and repeats; declared as an attribute it is published too, and else it is not."""
    text = "product,session,noise #1,noise #2,room\nA,S1,30,31,20\nB,2,40,41,21\n"
    catalogue = read_text(tmp_path, text, bed(attributes=attributes))
    assert sessions(catalogue) == [["S1", "S1"], ["2", "2"]]
    assert sessions(catalogue, "room") == [["S1"], ["2"]]
    assert catalogue.attributes == ({"session": ("S1", "2")} if attributes != "{}" else {})
    assert (catalogue.unused, catalogue.left_out) == ((), ())


@pytest.mark.parametrize("attributes", ["{}", "{session: {}}"])
def test_the_session_of_a_product_stands_among_the_items(tmp_path: Path, attributes: str) -> None:
    """What stands beside a reading comes first."""
    where = folder(tmp_path, items="id,session\nA,S1\nB,S2\n", readings="id,measure,value\nA,noise,30\nB,noise,40\n")
    assert sessions(read_catalogue(where, bed(attributes=attributes))) == [["S1"], ["S2"]]
    folder(tmp_path, readings="id,measure,value,session\nA,noise,30,\nA,noise,31,S9\nB,noise,40,\n")
    if attributes == "{}":
        assert sessions(read_catalogue(where, bed())) == [["S1", "S9"], ["S2", "S2"]]


def test_a_measure_may_be_called_session(tmp_path: Path) -> None:
    """Then its column is no name of a session."""
    form = form_of('formula: t\nmeasures: {session: {unit: "1"}}\nratings: {r: {value: session}}\n')
    catalogue = read_text(tmp_path, "product,session\nA,3\n", form)
    assert catalogue.readings["session"].values.tolist() == [[3.0]]
    assert sessions(catalogue, "session") == [[""]]


def test_a_wide_file_and_the_items_must_agree_on_a_session(tmp_path: Path) -> None:
    """As on any word about a product."""
    where = folder(tmp_path, items="id,session\nA,S1\n", readings="id,session,noise\nA,S2,30\n")
    (fault,) = faults(where, bed())
    assert "column session: the session `S2` of `A`, which is `S1` among the items" in fault


def test_repeats_may_be_numbered_anew_in_each_session_and_specimen(tmp_path: Path) -> None:
    """Then they are laid out in the order of the file; a product whose repeats stand once keeps their numbers."""
    text = (
        "id,measure,repeat,value,session,specimen\nA,noise,1,30,S1,a\nA,noise,2,31,S1,a\nA,noise,1,32,S2,a\nB,noise,1,40,S1,a\n"
        "A,noise,1,33,S1,b\nB,noise,3,42,S1,a\nA,room,2,20,S1,a\n"
    )
    catalogue = read_text(tmp_path, text)
    noise, found = catalogue.readings["noise"], conditions_of(catalogue, "noise")
    np.testing.assert_array_equal(noise.values, [[30, 31, 32, 33], [40, np.nan, 42, np.nan]])
    assert noise.rows.tolist() == [[2, 3, 4, 6], [5, 0, 7, 0]]
    assert found.sessions.tolist() == [["S1", "S1", "S2", "S1"], ["S1", "", "S1", ""]]
    assert found.specimens.tolist() == [["a", "a", "a", "b"], ["a", "", "a", ""]]
    np.testing.assert_array_equal(catalogue.readings["room"].values, [[np.nan, 20], [np.nan, np.nan]])


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("id,measure,repeat,value\nA,noise,1,30\nA,noise,1,31\n", "bench.csv, row 3, column repeat: a second reading of repeat 1, after row 2; expected one reading for a product, a measure and a repeat. Repeats that are numbered anew in each session or specimen need a column that names it."),
        ("id,measure,repeat,value,session\nA,noise,1,30,S1\nA,noise,1,31,S1\nA,noise,1,32,S2\n", "bench.csv, row 3, column repeat: a second reading of repeat 1, after row 2; expected one reading for a product, a measure, a session and a repeat."),
        ("id,measure,repeat,value,session,specimen\nA,noise,1,30,S1,a\nA,noise,1,31,S1,a\n", "bench.csv, row 3, column repeat: a second reading of repeat 1, after row 2; expected one reading for a product, a measure, a session, a specimen and a repeat."),
    ],
)  # fmt: skip
def test_a_second_reading_of_one_repeat_is_still_a_fault(tmp_path: Path, text: str, says: str) -> None:
    """Within one session and specimen."""
    assert faults((tmp_path, text), BED) == [says]


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("S\u200b1", "bench.csv, row 3, column session: the session `S\\u200b1` with a control or invisible character; expected characters that show."),
        ("S" * 400, "bench.csv, row 3, column session: the session of 400 characters,"),
    ],
    ids=["invisible", "long"],
)  # fmt: skip
def test_a_name_of_a_session_must_show(tmp_path: Path, name: str, says: str) -> None:
    """Two sessions that look alike would be told apart."""
    text = f"id,measure,value,session\nA,noise,30,S1\nA,noise,31,{name}\nB,noise,31,{name}\n"
    (fault,) = faults((tmp_path, text), bed())
    assert fault.startswith(says)


def test_many_sessions_and_specimens_are_told_apart(tmp_path: Path) -> None:
    """Each row its own: as many keys as rows, whatever the product of their numbers."""
    rows = "".join(f"A,noise,1,{30 + index % 9},S{index},p{index}\n" for index in range(300))
    catalogue = read_text(tmp_path, f"id,measure,repeat,value,session,specimen\n{rows}")
    assert catalogue.readings["noise"].values.shape == (1, 300)
    assert sessions(catalogue)[0] == [f"S{index}" for index in range(300)]


def test_a_reading_is_set_aside_by_its_number_in_the_order_of_the_file(tmp_path: Path) -> None:
    """And a number that there is none of is told with what each is of."""
    text = "id,measure,repeat,value,session,specimen\nA,noise,1,30,S1,a\nA,noise,1,31,S2,\nA,noise,1,32,,\n"
    catalogue = read_text(tmp_path, text)
    left = without(catalogue, "A", "noise", 2)
    np.testing.assert_array_equal(left.readings["noise"].values, [[30, np.nan, 32]])
    assert sessions(left) == sessions(catalogue)
    with pytest.raises(
        CatalogueError, match=r"Repeats read there: 1 \(session S1, specimen a\), 2 \(session S2\), 3\."
    ):
        without(catalogue, "A", "noise", 4)


@pytest.mark.parametrize(
    ("form", "text", "says"),
    [
        (SESSIONS, "id,measure,value\nA,noise,30\nA,room,20\n", "bench.csv: no session of `noise`, which declares `between_sessions`; expected the session of every reading. Add a column `session` in the readings, or, for all readings of a product, in a wide file or among the items; or write `between_sessions: none`."),
        (SESSIONS, "id,measure,value,session\nA,noise,30,S1\nA,noise,31,\nB,noise,32,\nB,room,20,\n", "bench.csv, row 3, column session: no session for 2 of 3 readings of `noise`, the first of A; expected the session of every reading, as `between_sessions` is declared. Name the session there, or write `between_sessions: none`."),
        (SESSIONS, "product,session,noise\nA,S1,30\nB,,31\n", "bench.csv, row 3, column session: no session for 1 of 2 readings of `noise`, the first of B; expected the session of every reading, as `between_sessions` is declared. Name the session there, or write `between_sessions: none`."),
        (SESSIONS, "product,sesion,noise\nA,S1,30\n", "bench.csv, row 1, column sesion: a column that the formula does not know; expected a measure or an attribute. Did you mean `session`? Another measure is declared under `measures`; a description goes to an items file, or is declared as an attribute. Where it is neither, a recipe passes over it: `ignore: [sesion]`."),
        (SPECIMENS, "id,measure,value,specimen\nA,noise,30,a\nA,noise,31,\nB,noise,40,\n", "bench.csv, row 3, column specimen: no specimen for a reading of `noise`, beside readings of A with one; expected a specimen for all readings of the product, or for none. Name the specimen there."),
        (SPECIMENS, "id,measure,value,specimen\nA,noise,30,a\nA,noise,missing: torn,b\nA,room,missing,a\n", "bench.csv, row 3, column specimen: the specimen `b` of A without a reading; expected a reading of every specimen. Give its reading, or leave the specimen out where a reading is missing."),
        (SPECIMENS, "product,specimen,noise\nA,a,30\n", "bench.csv, row 1, column specimen: a column of specimens with a row a product; expected specimens beside the readings of them. Move it to a long file of readings; where no specimen is named, each product is one."),
    ],
)  # fmt: skip
def test_what_a_declared_error_needs_and_is_not_there_is_a_fault(
    tmp_path: Path, form: Form, text: str, says: str
) -> None:
    """With the row and column, and what to write."""
    found = faults((tmp_path, text), form)
    assert found == [says]
    assert faults((tmp_path, text), bed()) == []


def test_correlated_measures_must_both_name_their_specimens(tmp_path: Path) -> None:
    """Or neither: nobody says which is which else."""
    text = (
        "formula: t\nmeasures:\n  noise: {unit: dB, between_specimens: 1}\n  room: {unit: degC, between_specimens: 1}\n"
        "ratings: {r: {value: noise + room}}\n"
    )
    both = "error_correlations: {one: {measures: [noise, room], component: between_specimens, coefficient: 0.5}}\n"
    bench = "id,measure,value,specimen\nA,noise,30,a\nA,room,20,\nB,noise,31,\nB,room,20,\nC,room,20,c\n"
    assert faults((tmp_path, bench), form_of(text)) == []
    assert faults((tmp_path, bench), form_of(text + both)) == [
        "bench.csv, row 3, column specimen: no specimen of A for `room`, as there is for `noise`; expected specimens of both, or of"
        " neither, as their errors between specimens are correlated. Name the specimen there."
    ]


@pytest.mark.parametrize("word", ["specimen", "session"])
def test_products_may_be_called_specimens_or_sessions(tmp_path: Path, word: str) -> None:
    """Where the formula says that the column of ids is called so, it names products and nothing else."""
    form = form_of(
        f"formula: t\nproduct_column: {word}\nmeasures: {{noise: {{unit: dB, between_specimens: 1}}}}\nratings: {{r: {{value: noise}}}}\n"
    )
    for text in (f"{word},measure,repeat,value\nA,noise,1,30\nA,noise,2,31\n", f"{word},noise #1,noise #2\nA,30,31\n"):
        catalogue = read_text(tmp_path, text, form)
        assert catalogue.products == ("A",)
        found = conditions_of(catalogue, "noise")
        assert (found.sessions.tolist(), found.specimens.tolist()) == ([["", ""]], [["", ""]])
    assert faults((tmp_path, f"{word},measure,repeat,value\nA,noise,1,30\nA,noise,1,31\n"), form) == [
        "bench.csv, row 3, column repeat: a second reading of repeat 1, after row 2; expected one reading for a product, a measure"
        " and a repeat. Repeats that are numbered anew in each session or specimen need a column that names it."
    ]


def test_a_specimen_among_the_items_is_a_fault_where_specimens_count(tmp_path: Path) -> None:
    """A row a product cannot say of which specimen a reading is."""
    where = folder(tmp_path, items="id,specimen\nA,a\n", readings="id,measure,value\nA,noise,30\n")
    (fault,) = faults(where, SPECIMENS)
    assert fault.startswith("items.csv, row 1, column specimen: a column of specimens with a row a product;") or (
        "items.csv" in fault and "a column of specimens with a row a product" in fault
    )
    assert faults(where, bed()) == []


@pytest.mark.parametrize(
    ("form", "text"),
    [
        (SPECIMENS, "id,measure,value\nA,noise,30\n"),
        (SPECIMENS, "id,measure,value,specimen\nA,noise,30,a\nB,noise,31,\nA,room,20,\n"),
        (SESSIONS, "id,measure,value,session\nA,noise,30,S1\nA,noise,missing: torn,\nA,room,20,\n"),
        (SESSIONS, "product,session,noise,room\nA,S1,30,\nB,S1,31,20\nC,,missing: torn,20\n"),
    ],
    ids=["no specimen at all", "none at one product", "none at a gap", "none at a product without a reading"],
)
def test_what_is_not_needed_is_no_fault(tmp_path: Path, form: Form, text: str) -> None:
    """A product whose specimens are not named is one specimen; a gap has no session; other measures need none."""
    assert faults((tmp_path, text), form) == []


def test_arrays_may_name_both() -> None:
    """A text a product, or one a reading; what does not fit is a fault, and the hash tells them apart."""
    readings = {"noise": [[30.0, 31.0], [40.0, 41.0]]}
    plain = from_arrays(["A", "B"], readings)
    catalogue = from_arrays(
        ["A", "B"], readings, sessions={"noise": ["S1", "S2"]}, specimens={"noise": [["a", "b"], ["a", "a"]]}
    )
    assert sessions(catalogue) == [["S1", "S1"], ["S2", "S2"]]
    assert conditions_of(catalogue, "noise").specimens.tolist() == [["a", "b"], ["a", "a"]]
    assert sessions(plain) == [["", ""], ["", ""]]
    assert plain.sha256 != catalogue.sha256
    with pytest.raises(
        CatalogueError, match=r"the sessions of `noise`, of shape \(3, 1\); expected \(2,\) or \(2, 2\)"
    ):
        from_arrays(["A", "B"], readings, sessions={"noise": ["S1", "S2", "S3"]})
    with pytest.raises(CatalogueError, match=r"the specimens of `room`.*expected a measure that has readings"):
        from_arrays(["A", "B"], readings, specimens={"room": ["a", "b"]})


def joined(first: Catalogue, second: Catalogue, products: Sequence[str]) -> Catalogue:
    """One catalogue's readings for the products of another."""
    return for_products(first, second, products)


def test_sessions_and_specimens_come_along_where_catalogues_are_joined(tmp_path: Path) -> None:
    """From a long file and from a wide one, each product's own."""
    first = read_text(tmp_path, LONG, name="first.csv")
    second = read_text(
        tmp_path, "product,session,noise #1,noise #2,noise #3\nC,S7,50,51,52\nA,S8,21,21,21\n", name="two.csv"
    )
    found = joined(first, second, ("C", "A", "B"))
    assert sessions(found) == [["S7", "S7", "S7"], ["S1", "S1", ""], ["S2", "", ""]]
    assert conditions_of(found, "noise").specimens.tolist() == [["", "", ""], ["a", "b", ""], ["a", "", ""]]
    back = joined(second, first, ("A", "B"))
    assert sessions(back) == [["S8", "S8", "S8"], ["S2", "", ""]]
    assert joined(first, first, first.products).extras["session"]["noise"].tolist() == [["S1", "S1"], ["S2", ""]]


def test_the_frame_of_a_catalogue_shows_both(tmp_path: Path) -> None:
    """In the columns of a long file."""
    frame = read_text(tmp_path, LONG).frame()
    assert list(frame.columns) == [
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
    assert frame["session"].tolist() == ["S1", "S1", "", "S2"]
    assert frame["specimen"].tolist() == ["a", "b", "", "a"]


def test_a_product_read_again_in_another_session_keeps_the_session_that_its_items_say(tmp_path: Path) -> None:
    """`session` is an attribute of the items; beside the readings two words of one product speak of the readings alone."""
    (tmp_path / "items.csv").write_text("id,session\nA,S1\nB,S2\n", encoding="utf-8")
    (tmp_path / "readings.csv").write_text(LONG + "A,noise,1,33,S2,a\n", encoding="utf-8")
    found = read_catalogue(tmp_path, bed(attributes="{session: {}}"))
    assert found.attributes["session"] == ("S1", "S2")
    assert sessions(found)[0] == ["S1", "S1", "S2"]
