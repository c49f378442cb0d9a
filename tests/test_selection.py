"""A part of a catalogue, chosen by attributes: who is in it, what becomes of scores and places, and what is refused."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from written_classes import written

from analysis import compare, explain, flip, reread, score_report, sensitivity, stability, weights
from analysis.rankings.distinguishable import bench_of
from scoring import score
from scoring.errors import SteelyardError
from scoring.table.table import ScoreTable


def products_of(table: ScoreTable) -> list[str]:
    """Who the table is of, in the order of the catalogue."""
    return [table.catalogue.products[row] for row in table.rows.tolist()]


@pytest.mark.parametrize(
    ("where", "products", "called"),
    [
        ({"class": "hybrid"}, "BDG", "class hybrid"),
        ({"class": ["hybrid", "water"]}, "BDEG", "class hybrid or water"),
        (["class=hybrid,water"], "BDEG", "class hybrid or water"),
        (["class=hybrid", "class=water"], "BDEG", "class hybrid or water"),
        ("class=hybrid", "BDG", "class hybrid"),
        ({"class": "hybrid", "maker": "Tesk"}, "D", "class hybrid, maker Tesk"),
        (["class!=hybrid,foam"], "EF", "class not hybrid nor foam"),
        ({"class!": "hybrid", "maker": "Orvanne"}, "AF", "class not hybrid, maker Orvanne"),
        (["class!=hybrid", "class!=foam"], "EF", "class not hybrid nor foam"),
        (["class="], "F", "class not stated"),
    ],
)
def test_the_selected_are_those_that_every_condition_holds_of(
    tmp_path: Path, where: Any, products: str, called: str
) -> None:
    """Words of one attribute are alternatives, attributes go together, and `!=` is none of the words."""
    table = score(*written(tmp_path), where)
    assert [name[0] for name in products_of(table)] == list(products)
    assert table.selected is not None
    assert table.selected.called == called


def test_a_score_stays_what_it_is_in_the_whole_catalogue_and_places_are_counted_anew(tmp_path: Path) -> None:
    """Of a rating that leans on the live catalogue, too; whoever is outside has no figure, no place and no remark."""
    files = written(tmp_path)
    whole, part = score(*files), score(*files, {"class": "hybrid"})
    every, own = whole.column("both"), part.column("both")
    np.testing.assert_array_equal(own.value[[1, 3]], every.value[[1, 3]])
    np.testing.assert_array_equal(own.rank, [np.nan, 2, np.nan, 1, np.nan, np.nan, np.nan])
    assert [own.status_text(row) for row in (0, 1, 6)] == ["not selected", "rated", "withheld"]
    assert np.isnan(own.value[0])
    assert own.remarks == {6: ("too loud",)}
    np.testing.assert_array_equal(part.evaluation.values["both"], whole.evaluation.values["both"])


def test_a_word_that_has_a_comma_in_it_can_be_asked_for(tmp_path: Path) -> None:
    """The whole text is looked for first."""
    beds = 'product,drop,noise,class,maker\nA,40,24,"foam, firm",x\nB,50,24,foam,x\nC,60,24,firm,x\n'
    table = score(*written(tmp_path, beds=beds), ["class=foam, firm"])
    assert products_of(table) == ["A"]


@pytest.mark.parametrize(
    ("where", "said"),
    [
        (
            {"clas": "hybrid"},
            "--where: `clas`; expected an attribute that the formula declares and the catalogue has. Did you",
        ),
        (
            {"class": "hybird"},
            "`hybird` for class, which no product has; expected one of hybrid 3, foam 2, water 1, not stated 1.",
        ),
        (["class"], "--where: `class`; expected ATTRIBUTE=WORD, as class=hybrid, or ATTRIBUTE!=WORD."),
        (["=hybrid"], "--where: `=hybrid`; expected ATTRIBUTE=WORD"),
        (
            {"class": "water", "maker": "Orvanne"},
            "class water and maker Orvanne, which no product is; expected at least one product. By itself, class water: 1;"
            " maker Orvanne: 4.",
        ),
    ],
)
def test_what_is_not_there_is_refused_with_what_is(tmp_path: Path, where: Any, said: str) -> None:
    """An attribute, a word, a form of words, and a selection of nobody."""
    with pytest.raises(SteelyardError) as fault:
        score(*written(tmp_path), where)
    assert said in str(fault.value)


def test_every_fault_of_a_selection_is_said_at_once(tmp_path: Path) -> None:
    """Two at a time."""
    with pytest.raises(SteelyardError) as fault:
        score(*written(tmp_path), ["clas=x", "class=y"])
    assert len(fault.value.problems) == 2


def test_readings_err_by_the_same_draws_as_in_the_whole_catalogue(tmp_path: Path) -> None:
    """What a product's score does under noise, and whom it falls behind, is the same whoever else is selected."""
    files = written(tmp_path)
    whole, part = (bench_of(score(*files, where), seed=3)["both"].errors for where in (None, {"class": "hybrid"}))
    assert whole is not None
    assert part is not None
    # in the order of places: A D B C F E, of which D and B are hybrids
    np.testing.assert_array_equal(part.mean, whole.mean[[1, 2]])
    np.testing.assert_array_equal(part.not_above, whole.not_above[1:3, 1:3])


def test_ranks_of_a_study_are_those_among_the_selected(tmp_path: Path) -> None:
    """Two hybrids have a place: no draw gives a third."""
    report = stability(*written(tmp_path), where={"class": "hybrid"}, draws=100)
    (found,) = report.found.rankings
    assert found.quantities.ids == ("D-04", "B-02")
    both = found.drawn.by_source["both"]
    assert both.highest.max() == 2
    np.testing.assert_allclose(both.first.sum(), 1.0)


def test_every_report_says_what_is_selected(tmp_path: Path) -> None:
    """In its heading, its document, its tables and its lines."""
    files, where = written(tmp_path), {"class": "foam,hybrid"}
    reports = [
        score_report(*files, where=where),
        stability(*files, where=where, draws=100),
        sensitivity(*files, where=where, draws=16),
        weights(*files, where=where),
        reread(*files, where=where, readings=2),
        flip(*files, "A-01", "D-04", where=where),
        explain(*files, "D-04", where=where),
        compare(files[0], *files, where=where),
    ]
    for report in reports:
        assert "class foam or hybrid: 5 of 7 products" in report.heading, report.command
        assert report.document["where"] == {"conditions": ["class=foam,hybrid"], "selected": 5}, report.command
        assert "Selected, class foam or hybrid: 5 of 7 products." in report.source.lines(), report.command
        assert (report.source.on(report.frame)["where"] == "class=foam,hybrid").all(), report.command
        text = str(report.document)
        assert not any(f"'{name}'" in text for name in ("E-05", "F-06")), report.command


@pytest.mark.parametrize(
    "ask",
    [
        lambda files, where: explain(*files, "A-01", where=where),
        lambda files, where: flip(*files, "A-01", "B-02", where=where),
        lambda files, where: reread(*files, settle="A-01:B-02", where=where),
        lambda files, where: sensitivity(*files, pairs=[("A-01", "B-02")], where=where),
    ],
)
def test_a_product_outside_the_selection_is_not_asked_about(tmp_path: Path, ask: Any) -> None:
    """It is there, and the fault says so."""
    with pytest.raises(
        SteelyardError, match="`A-01`, a product that is not selected; expected one of the 3 with class"
    ):
        ask(written(tmp_path), {"class": "hybrid"})


def test_wanted_weights_are_scored_again_over_the_selected(tmp_path: Path) -> None:
    """The shares that they give are of the products that were asked about."""
    beds = "product,drop,noise,class,maker\n"
    for number in range(12):
        kind = "foam" if number % 3 else "hybrid"
        beds += f"P-{number:02},{40 + 7 * number % 53},{24 + 5 * number % 17},{kind},Tesk\n"
    files = written(tmp_path, beds=beds)
    (found,) = weights(*files, scores="both", want={"quiet": 0.4}, where={"class": "foam"}).found
    assert found.published is not None
    assert (found.published.products, found.published.published) == (8, 8)


def test_frames_hold_the_selected_alone(tmp_path: Path) -> None:
    """Of the table, one score, the readings, and the report; `attrs` say it."""
    table = score(*written(tmp_path), {"class": "foam"})
    for frame in (table.frame(), table.frame("both"), table.readings_frame()):
        assert list(frame.index) == ["A-01", "C-03"]
        assert frame.attrs["where"] == ["class=foam"]
    assert table.frame("both")["rank"].tolist() == [1, 2]
    assert repr(table) == "<ScoreTable of classes 1.0.0: 2 of 7 products>"
    assert "Selected, class foam: 2 of 7 products." in table._repr_html_()


def test_who_moves_is_counted_among_the_same_products_in_both_editions(tmp_path: Path) -> None:
    """Those that the new catalogue has in the class, by its words; whoever left it is in neither edition."""
    formula, old = written(tmp_path)
    new = tmp_path / "later.csv"
    # D leaves the class, C comes into it
    moved = old.read_text("utf-8").replace("26,hybrid", "26,foam").replace("31,foam", "31,hybrid")
    new.write_text(moved, encoding="utf-8")
    report = compare(formula, formula, old, catalogue_new=new, where={"class": "hybrid"})
    (found,) = (one for one in report.found.scores if one.name == "both")
    assert found.products == ("B-02", "C-03", "G-07")
    np.testing.assert_array_equal(found.old.rank, [1, 2, np.nan])
    np.testing.assert_array_equal(found.new.rank, [1, 2, np.nan])


def test_a_share_of_a_rank_move_is_of_a_place_among_the_selected(tmp_path: Path) -> None:
    """Shares of a product's places add up to what it moves among the selected."""
    formula, catalogue = written(tmp_path)
    other = tmp_path / "other.yaml"
    text = formula.read_text("utf-8").replace("quiet: 2", "quiet: 0.1").replace("worst: 46", "worst: 50")
    other.write_text(text, encoding="utf-8")
    report = compare(formula, other, catalogue, where={"class": ["foam", "hybrid"]})
    (found,) = (one for one in report.found.scores if one.name == "both")
    climbs = found.old.rank - found.new.rank
    known = ~np.isnan(climbs)
    np.testing.assert_allclose(-found.by_rank.shares.sum(axis=0)[known], climbs[known], atol=1e-9)
    assert np.abs(climbs[known]).sum() > 0
