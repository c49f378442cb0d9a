"""A first formula from a catalogue's columns: what is read of them, what is guessed, and that what is written can be read."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.draft.columns import CatalogueColumns, read_columns
from analysis.draft.draft import draft_formula
from analysis.draft.guesses import better_of, name_of, plain
from analysis.draft.marked import guesses_in
from scoring.catalogue import read_catalogue
from scoring.errors import CatalogueError
from scoring.form import Form
from scoring.reader import read_form, read_sources
from scoring.table.table import score_catalogue
from scoring.texts.source import Source
from scoring.units.in_name import words_and_unit

OWN = """Model,Maker,Noise level (dB),"Edge drop, mm",Surface rise [delta_degC] #1,Surface rise [delta_degC] #2,VOC (mg/m3)
Alder,Invented,31.5,62,3.4,3.6,0.12
Birch,Invented,38.0,48,2.2,2.1,<0.05
Cedar,Invented,26.1,95,missing: probe failed,,0.3
"""
LONG = """product,measure,repeat,value,unit
A,noise_dba,1,31.5,dB
A,noise_dba,2,32.5,dB
B,noise_dba,1,28,dB
A,sit_drop,1,2.5,in
B,sit_drop,1,3.5,in
"""


def columns_of(text: str, folder: Path) -> CatalogueColumns:
    """What is read of a CSV."""
    path = folder / "own.csv"
    path.write_text(text, encoding="utf-8")
    return read_columns(path)


def form_of(columns: CatalogueColumns) -> Form:
    """The draft of them, read."""
    return read_sources([Source("draft", draft_formula(columns, "own", "own.csv"))])


def test_columns_are_told_apart_by_what_stands_in_them(tmp_path: Path) -> None:
    """The products, five measures' columns as four, words; units in brackets, in parentheses, after a comma."""
    found = columns_of(OWN, tmp_path)
    assert (found.products, found.by_rule, found.words) == ("Model", False, ("Maker",))
    assert [(m.column, m.unit, m.repeats, m.below) for m in found.measures] == [
        ("Noise level (dB)", "dB", 1, 0),
        ("Edge drop, mm", "mm", 1, 0),
        ("Surface rise", "delta_degC", 2, 0),
        ("VOC (mg/m3)", "mg/m3", 1, 1),
    ]
    assert sorted(found.measures[2].values) == [2.1, 2.2, 3.4, 3.6]


def test_long_readings_are_grouped_by_their_measure(tmp_path: Path) -> None:
    """A measure's unit is the one that its rows state; its repeats are those numbered."""
    found = columns_of(LONG, tmp_path)
    assert [(m.column, m.unit, m.repeats) for m in found.measures] == [("noise_dba", "dB", 2), ("sit_drop", "in", 1)]
    assert [measure.name for measure in form_of(found).measures] == ["noise_dba", "sit_drop"]


def test_the_draft_scores_the_catalogue_that_it_came_from(tmp_path: Path) -> None:
    """Nothing need be renamed; the worst reading gets 1 and the best 10; what is missing gets no score."""
    columns = columns_of(OWN, tmp_path)
    path = tmp_path / "draft.yaml"
    path.write_text(draft_formula(columns, "own", "own.csv"), encoding="utf-8")
    form = read_form(path)
    catalogue = read_catalogue(tmp_path / "own.csv", form)
    assert catalogue.products == ("Alder", "Birch", "Cedar")
    table = score_catalogue(form, catalogue)
    edge = next(column for column in table.ratings if column.output.name == "edge_drop")
    assert edge.value.tolist() == pytest.approx([10 - 9 * 14 / 47, 10, 1])
    (overall,) = table.scores
    assert [overall.status_text(i) for i in range(3)] == ["rated", "rated", "unrated"]


def test_every_guess_is_marked(tmp_path: Path) -> None:
    """The products' column; ends, ranges and curves of four measures; units out of three names; one scatter; blend, weights and gap of the score."""
    text = draft_formula(columns_of(OWN, tmp_path), "own", "own.csv")
    unmarked = [line for line in text.splitlines() if "guess:" not in line]
    for key in (
        "better",
        "plausible",
        "curve",
        "blend",
        "missing",
        "weights",
        "repeatability: pooled",
        "product_column",
    ):
        assert not [line for line in unmarked if line.strip().startswith(key)], key
    assert guesses_in(text) == 1 + 3 * 4 + 3 + 1 + 3


@pytest.mark.parametrize(
    ("name", "words", "unit"),
    [
        ("Noise level (dB)", "Noise level", "dB"),
        ("sit_drop_mm", "sit_drop", "mm"),
        ("Drop, mm", "Drop", "mm"),
        ("Rebound %", "Rebound", "%"),
        ("Edge (front)", "Edge (front)", ""),
        ("Test point", "Test point", ""),
        ("Rebound", "Rebound", ""),
        ("VOC (mg/m3)", "VOC", "mg/m3"),
        ("Surface temp rise (°C) after 15 min", "Surface temp rise after 15 min", "°C"),
        ("Noise dB(A)", "Noise", "dB(A)"),
        ("Noise (dB(A))", "Noise", "dB(A)"),
        ("Drop (mm) run 1", "Drop run 1", "mm"),
        ("Rise after 15 min", "Rise after 15 min", ""),
        ("(mm)", "(mm)", ""),
    ],
)
def test_a_unit_that_ends_a_name_is_taken_for_one(name: str, words: str, unit: str) -> None:
    """In parentheses any known unit; without, only those of the bench."""
    assert words_and_unit(name) == (words, unit)


@pytest.mark.parametrize(
    ("words", "better"),
    [("Noise level", "lower"), ("ball rebound", "higher"), ("Wibble", "higher"), ("sit_drop", "lower")],
)
def test_which_end_is_better_rests_on_words(words: str, better: str) -> None:
    """And where no word says it, the guess says that, loudly."""
    guess = better_of(words)
    assert guess.value == better
    assert ("DECIDE" in guess.because) == (words == "Wibble")


def test_names_are_made_fit_and_unlike() -> None:
    """Letters, digits and _, not a digit first, none twice."""
    assert name_of("3rd Noise (dB)", ()) == "m_3rd_noise_db"
    assert name_of("µ", ()) == "measure"
    assert name_of("edge", {"edge", "edge_2"}) == "edge_3"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("Maker,Model\nx,a\nx,b\n", "no column of numbers"),
        ("Maker,noise\nx,1\nx,2\nx,2\n", "no column that names products"),
    ],
)
def test_a_catalogue_that_says_too_little_is_refused(text: str, words: str, tmp_path: Path) -> None:
    """Nothing is made up where products or numbers are lacking."""
    with pytest.raises(CatalogueError, match=words):
        columns_of(text, tmp_path)


HEADERS = st.text(st.characters(codec="utf-8", exclude_categories=["C", "Z"]), min_size=1, max_size=12)


@given(st.lists(HEADERS, min_size=1, max_size=4), st.lists(st.floats(-1e9, 1e9), min_size=2, max_size=4))
def test_whatever_the_columns_are_called_the_draft_can_be_read(
    tmp_path_factory: pytest.TempPathFactory, names: list[str], values: list[float]
) -> None:
    """Hostile names, huge and tiny readings: the draft is a formula without a fault, or the columns are refused."""
    path = tmp_path_factory.mktemp("any") / "own.csv"
    quoted = ['"' + name.replace('"', '""') + '"' for name in names]
    rows = [f"P{i}," + ",".join(plain(value) for _ in names) for i, value in enumerate(values)]
    path.write_text("product," + ",".join(quoted) + "\n" + "\n".join(rows) + "\n", encoding="utf-8")
    try:
        columns = read_columns(path)
    except CatalogueError:
        return
    form = form_of(columns)
    assert len(form.measures) == len(columns.measures) == len(form.ratings)
    if not any(column.faults for column in columns.measures):
        read_catalogue(path, form)


def test_sessions_and_specimens_are_neither_measures_nor_products(tmp_path: Path) -> None:
    """A numbered session is a word; a specimen beside a reading names no product where another column does."""
    wide = columns_of("product,session,noise\nA,1,30\nB,2,31\n", tmp_path)
    assert ([one.column for one in wide.measures], wide.words) == (["noise"], ("session",))
    long = columns_of("bed,specimen,measure,value\nA,a,noise,30\nA,b,noise,31\n", tmp_path)
    assert long.products == "bed"
    alone = columns_of("specimen,measure,value\nA,noise,30\nB,noise,31\n", tmp_path)
    assert alone.products == "specimen"
