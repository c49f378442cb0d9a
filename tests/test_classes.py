"""Places within classes: `ranks: {within: ATTRIBUTE}`, beside the overall ones; ties, gaps, and who is alone."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from written_classes import BEDS, FORM, written

from analysis import explain, score_report
from analysis.scores.class_firsts import ALONE, NO_NOISE, TOLD
from scoring import read_formula, score
from scoring.errors import SteelyardError
from scoring.numbers.ranks import rank
from scoring.table.classes import Classes, places_within

WITHIN = FORM.replace("attributes", "ranks: {within: class}\nattributes")
NAN = np.nan


def test_places_within_a_class_stand_beside_the_overall_ones(tmp_path: Path) -> None:
    """A withheld product has none, nor has one without a class; one alone in its class is first of one."""
    column = score(*written(tmp_path, WITHIN)).column("both")
    assert column.within is not None
    np.testing.assert_array_equal(column.rank, [1, 3, 4, 2, 6, 5, NAN])
    np.testing.assert_array_equal(column.within.place, [1, 2, 2, 1, 1, NAN, NAN])
    np.testing.assert_array_equal(column.within.of, [2, 2, 2, 2, 1, NAN, NAN])
    np.testing.assert_array_equal(column.within.first, [True, False, False, True, False, False, False])


def test_a_formula_that_names_no_classes_counts_none(tmp_path: Path) -> None:
    """As by default; and the attribute is an address, which can be tried."""
    files = written(tmp_path)
    assert score(*files).column("both").within is None
    tried = read_formula(files[0], set={"ranks.within": "class"})
    assert score(tried, files[1]).column("both").within is not None
    assert tried.addresses()["ranks.within"] == "class"


@pytest.mark.parametrize(
    ("form", "said"),
    [
        (
            FORM.replace("attributes", "ranks: {within: clas}\nattributes"),
            "one of none, class, maker. Did you mean `class`?",
        ),
        (FORM.replace("attributes: {class: {}, maker: {}}", "ranks: {within: class}"), "expected one of none."),
    ],
)
def test_an_attribute_that_is_not_declared_is_a_fault(tmp_path: Path, form: str, said: str) -> None:
    """With those that are."""
    with pytest.raises(SteelyardError) as fault:
        score(*written(tmp_path, form))
    assert said in str(fault.value)


def test_an_attribute_that_is_not_published_makes_no_classes(tmp_path: Path) -> None:
    """Their places would say the words."""
    with pytest.raises(SteelyardError, match=r"`class` for ranks\.within, an attribute with"):
        score(*written(tmp_path, WITHIN.replace("class: {}", "class: {public: no}")))


def test_a_catalogue_that_states_no_class_has_no_places_within_one(tmp_path: Path) -> None:
    """It is said of every product, and under the table of classes."""
    form = WITHIN.replace("class: {}", "class: {required: no}")
    files = written(tmp_path, form, "product,drop,noise,maker\nA,40,24,x\nB,50,24,x\n")
    within = score(*files).column("both").within
    assert within is not None
    assert np.isnan(within.place).all()
    (table,) = (one for one in score_report(*files, score="both").tables.values() if one.name == "classes")
    assert len(table) == 0
    assert table.notes[-1] == "Without a stated class: 2 of 2 products."


@pytest.mark.parametrize(
    ("ties", "places"), [("shared-best", [1, 1, 3]), ("shared-mean", [1.5, 1.5, 3]), ("dense", [1, 1, 2])]
)
def test_ties_within_a_class_go_by_the_form(tmp_path: Path, ties: str, places: list[float]) -> None:
    """As those of the whole table do."""
    form = WITHIN.replace("within: class", f"within: class, ties: {ties}")
    beds = "product,drop,noise,class,maker\nA,40,24,foam,x\nB,40,24,foam,x\nC,60,24,foam,x\nD,20,20,water,x\n"
    within = score(*written(tmp_path, form, beds)).column("both").within
    assert within is not None
    np.testing.assert_array_equal(within.place, [*places, 1])


@given(
    st.lists(st.tuples(st.sampled_from(["", "a", "b", "c"]), st.sampled_from([NAN, 1.0, 2.0, 3.0, 4.5])), max_size=12)
)
def test_places_within_classes_are_those_of_each_class_by_itself(drawn: list[tuple[str, float]]) -> None:
    """Each class ranked alone, one by one."""
    words, values = tuple(word for word, _ in drawn), np.array([value for _, value in drawn], float)
    found = places_within(Classes("class", "class", words), values, rank)
    for word in {"a", "b", "c"}:
        rows = [row for row, one in enumerate(words) if one == word]
        np.testing.assert_array_equal(found.place[rows], rank(values[rows]))
    assert np.isnan(found.place[[row for row, word in enumerate(words) if not word]]).all()


def test_a_selection_of_one_class_has_the_same_places(tmp_path: Path) -> None:
    """`where` and `within` count alike."""
    files = written(tmp_path, WITHIN)
    part = score(*files, {"class": "hybrid"}).column("both")
    whole = score(*files).column("both")
    assert part.within is not None
    assert whole.within is not None
    rows = [1, 3, 6]
    np.testing.assert_array_equal(part.rank[rows], whole.within.place[rows])
    np.testing.assert_array_equal(part.within.place[rows], whole.within.place[rows])
    assert np.isnan(part.within.place[0])


def test_a_score_may_count_classes_of_its_own(tmp_path: Path) -> None:
    """By another attribute than the formula, or by none."""
    own = WITHIN.replace(
        "absent_above: 0.5}}",
        "absent_above: 0.5}, ranks: {within: maker}}\n  two: {weights: {edge: 1}, ranks: {within: none}}",
    )
    table = score(*written(tmp_path, own))
    both, two = table.column("both"), table.column("two")
    assert both.within is not None
    assert two.within is None
    # Orvanne: A B F, Tesk: D C E
    np.testing.assert_array_equal(both.within.place, [1, 2, 2, 1, 3, 3, NAN])
    assert table.frame("both")["rank_within"].tolist()[:2] == [1, 2]


def test_documents_and_frames_have_places_within_classes(tmp_path: Path) -> None:
    """Nothing of them where none are counted."""
    table = score(*written(tmp_path, WITHIN))
    document: dict[str, Any] = score_report(*written(tmp_path, WITHIN)).document
    by_id = {one["id"]: one["scores"]["both"] for one in document["products"]}
    assert by_id["B-02"]["within"] == {"attribute": "class", "word": "hybrid", "rank": 2, "of": 2}
    assert by_id["F-06"]["within"] == {"attribute": "class", "word": None, "rank": None, "of": None}
    assert list(table.frame("both").columns) == [
        "value", "shown", "status", "rank", "rank_within", "of_within", "band", "remarks",
    ]  # fmt: skip
    assert table.frame().loc["D-04", "both.rank_within"] == 1
    assert "first of 2" in table._repr_html_()
    plain = score_report(*written(tmp_path))
    assert "within" not in str(plain.document)
    assert "both.rank_within" not in plain.frame


def test_the_first_of_a_class_is_said_with_what_the_bench_can_tell(tmp_path: Path) -> None:
    """Told apart, or from whom not; alone; and nothing is told where no noise is known."""
    report = score_report(*written(tmp_path, WITHIN), score="both")
    frame = report.frames["both.classes"]
    assert frame["class"].tolist() == ["foam", "hybrid", "water"]
    assert frame["first"].tolist() == ["A-01", "D-04", "E-05"]
    assert frame["members"].tolist() == [2, 3, 1]
    assert frame["placed"].tolist() == [2, 2, 1]
    assert frame["bench"].tolist() == [TOLD, "not told apart from B-02", ALONE]
    silent = WITHIN.replace(", repeatability: 2", "").replace(", repeatability: 1", "")
    frame = score_report(*written(tmp_path, silent), score="both").frames["both.classes"]
    assert frame["bench"].tolist() == [NO_NOISE, NO_NOISE, ALONE]


def test_a_class_that_shares_its_first_place_and_one_without_a_place_are_said(tmp_path: Path) -> None:
    """Nobody of two is the best; of a class that is withheld nobody is first."""
    beds = "product,drop,noise,class,maker\nA,40,24,foam,x\nB,40,24,foam,x\nC,60,45,water,x\n"
    frame = score_report(*written(tmp_path, WITHIN, beds), score="both").frames["both.classes"]
    assert frame["first"].tolist() == ["A and B", "–"]
    assert frame["bench"].tolist() == ["all of its class share its first place", ""]


def test_the_first_of_a_class_is_called_by_its_name_too(tmp_path: Path) -> None:
    """And so is whom it is not told apart from."""
    form = WITHIN.replace("maker: {}", "maker: {shown_as: name}")
    frame = score_report(*written(tmp_path, form), score="both").frames["both.classes"]
    assert frame["first"].tolist() == ["A-01 (Orvanne)", "D-04 (Tesk)", "E-05 (Tesk)"]
    assert frame["bench"].tolist()[1] == "not told apart from B-02 (Orvanne)"


def test_an_explanation_says_the_place_in_the_class(tmp_path: Path) -> None:
    """In its headline and its document; who is alone says so."""
    files = written(tmp_path, WITHIN)
    for product, said in (
        ("B-02", "place 3 of 6, 2 of 2 in class hybrid"),
        ("E-05", "place 6 of 6, alone in its class"),
        ("F-06", "place 5 of 6, no class stated"),
    ):
        report = explain(*files, product, score="both")
        assert any(said in line for line in report.verdict)
        if product == "B-02":
            within = {"attribute": "class", "word": "hybrid", "rank": 2, "of": 2}
            assert str(within) in str(report.document)


def test_a_page_says_in_words_who_is_first_of_a_class(tmp_path: Path) -> None:
    """By no colour: `first of 2`, `alone in its class`, `no class stated`."""
    (table,) = (one for one in score_report(*written(tmp_path, WITHIN)).tables.values() if one.name == "places")
    at = table.headings.index("in class")
    cells = [row[at] for row in table.cells()]
    assert cells == ["first of 2", "first of 2", "2 of 2", "2 of 2", "no class stated", "alone in its class", ""]
    assert BEDS.count("hybrid") == 3
