"""Two editions compared: shares that add up, what is said of moves, tops, retractions, and editions with little in common."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from comparison.test_coalitions import FORMS, GATED, corrected, swapped, without
from written_editions import read_by_all
from written_forms import form_of
from written_studies import catalogue_of, demo_as_far, small_catalogue, small_form

from analysis.comparison.comparison import Comparison, compare_tables
from analysis.comparison.report import comparison_report
from analysis.comparison.verdict import comparison_verdict, retractions, unscored
from scoring.addresses.addresses import set_addresses
from scoring.catalogue import Catalogue
from scoring.errors import AddressError
from scoring.form import Form
from scoring.table.table import score_catalogue


def compared(old: Form, new: Form, before: Catalogue, after: Catalogue | None = None, **options: object) -> Comparison:
    """Two editions compared, of catalogues held in memory."""
    read = read_by_all(before, after or before)
    tables = score_catalogue(old, read[False, False]), score_catalogue(new, read[True, True])
    return compare_tables(*tables, read, **options)  # type: ignore[arg-type]


def check_shares(found: Comparison) -> None:
    """Shares add up to each product's move to 1e-9 and to its change of rank; there are none where there is no move."""
    for score in found.scores:
        for shares, move in (
            (score.by_score.shares, score.move),
            (score.by_rank.shares, score.new.rank - score.old.rank),
        ):
            there = ~np.isnan(move)
            np.testing.assert_allclose(shares[:, there].sum(axis=0), move[there], rtol=0, atol=1e-9)
            assert np.isnan(shares[:, ~there]).all()


@pytest.mark.parametrize("name", FORMS)
def test_shares_add_up_to_every_move_whatever_changes(name: str) -> None:
    """Formula, readings and products at once; every product published in both has known shares."""
    start = small_catalogue(9)
    found = compared(small_form(), FORMS[name], without(start, "p2"), without(corrected(start, 4, 2.5, "y"), "p6"))
    check_shares(found)
    assert {player.kind for player in found.players} >= {"readings", "products"}
    for score in found.scores:
        assert score.by_score.exact
        there = ~np.isnan(score.move)
        assert there.sum() >= 3
        assert np.isfinite(score.by_score.shares[:, there]).all()


def test_thirteen_causes_are_sampled_and_still_add_up() -> None:
    """13 numbers of the demo: shares of scores and places add up exactly, with intervals about them."""
    form, catalogue = demo_as_far()
    outputs = {output.name: output for output in form.outputs}
    weights = [part.weight for name in ("two_abed", "propped_page", "restless_night") for part in outputs[name].parts]
    settings = [f"{w.address}={w.value + 0.03:g}" for w in weights if w is not None][:13]
    found = compared(form, set_addresses(form, settings), catalogue, only=["propped_page"])
    assert len(found.players) == 13
    check_shares(found)
    (score,) = found.scores
    assert not score.by_score.exact
    there = ~np.isnan(score.move)
    assert np.isfinite(score.by_score.shares[:, there]).all()
    assert (score.by_score.low[:, there] <= score.by_score.shares[:, there]).all()
    own = [player.address.startswith("scores.propped_page.") for player in found.players]
    assert np.nanmax(np.abs(score.by_score.shares[~np.array(own)])) == 0
    assert "by sampled orders" in " ".join(comparison_verdict(score, found.players))


def test_editions_that_are_the_same_say_so_in_one_sentence() -> None:
    """No move, no cause."""
    found = compared(small_form(), small_form(), small_catalogue())
    assert (found.changes, found.players) == ((), ())
    assert [comparison_verdict(score, found.players) for score in found.scores] == [
        ("S: no score and no place changes.",),
        ("T: no score and no place changes.",),
    ]


def test_a_product_that_goes_moves_nobodys_score_and_keeps_the_order_of_the_rest() -> None:
    """Without live references a score hangs on nobody else."""
    start = small_catalogue(9)
    found = compared(small_form(), small_form(), start, without(start, "p5"))
    for score in found.scores:
        rest = ~np.isnan(score.new.rank)
        assert np.nanmax(np.abs(score.move)) == 0
        np.testing.assert_array_equal(np.argsort(score.old.rank[rest]), np.argsort(score.new.rank[rest]))
        assert score.products[-1] == "p5"
        assert score.new.status[-1] == "not in the catalogue"


def test_a_withheld_product_has_no_move_and_no_shares() -> None:
    """What is not published is not explained, either; it is said to be withheld."""
    values = {name: one.values.copy() for name, one in small_catalogue(6).readings.items()}
    values["x"][:, 0], values["y"][:, 0] = [5, 6, 7, 13, 8, 9], [9, 12, 14, 15, 16, 17]
    new = set_addresses(form_of(GATED), ["scores.s.weights.a=0.8"])
    (score, _) = compared(form_of(GATED), new, catalogue_of(**values)).scores
    assert (score.old.status[3], score.new.status[3]) == ("withheld", "withheld")
    assert np.isnan([score.move[3], score.climb[3], *score.by_score.shares[:, 3], *score.by_rank.shares[:, 3]]).all()
    assert not score.told[3]


def test_scores_of_one_formula_only_are_named_and_not_compared() -> None:
    """Added one way, removed the other."""
    found = compared(small_form(), FORMS["score removed"], small_catalogue())
    assert ([score.name for score in found.scores], found.added, found.removed) == (["s"], (), ("t",))
    back = compared(FORMS["score removed"], small_form(), small_catalogue())
    assert ([score.name for score in back.scores], back.added, back.removed) == (["s"], ("t",), ())


def test_formulas_without_a_common_score_are_refused() -> None:
    """Scores of other names that also hold other things are not the same under another name."""
    other = swapped(
        small_form(),
        ("  s: {weights: {a: 0.5", "  v: {weights: {a: 0.6"),
        ("weights: {s: 1, m: 1}", "weights: {v: 1, m: 2}"),
        ("  t: {bl", "  w: {bl"),
    )
    with pytest.raises(AddressError, match="no score in both"):
        compared(small_form(), other, small_catalogue())


@pytest.mark.parametrize("count", [1, 2])
def test_catalogues_of_hardly_any_product_are_compared(count: int) -> None:
    """The top is no more than there are; with one product there is no ranking to speak of."""
    found = compared(small_form(), FORMS["weights"], small_catalogue(count))
    (score, _) = found.scores
    assert score.top == count
    said = " ".join(comparison_verdict(score, found.players))
    assert "nan" not in said
    assert ("fewer than two products in common" in said) == (count == 1)


def test_catalogues_without_a_common_product_are_compared() -> None:
    """All go, all come."""
    start = small_catalogue(4)
    found = compared(small_form(), small_form(), without(start, "p1", "p2"), without(start, "p3", "p4"))
    (score, _) = found.scores
    assert np.isnan(score.move).all()
    said = " ".join(comparison_verdict(score, found.players))
    assert "0 of 0 products published in both" in said
    assert "nan" not in said
    json.dumps(comparison_report(found, seed=0).document, allow_nan=False)


def test_editions_in_which_nobody_is_published_are_compared() -> None:
    """Every product is withheld in the new one."""
    gated = form_of(GATED.replace("x > 12", "x > 0"))
    found = compared(small_form(), gated, small_catalogue(4))
    (score, _) = found.scores
    assert np.isnan(score.new.rank).all()
    assert len([line for line in retractions(score) if "not published" in line]) == 8
    assert "passes from" in comparison_verdict(score, found.players)[0]
    assert compared(gated, gated, small_catalogue(4)).scores[0].agreement["Spearman"] is not None


def test_what_must_be_retracted_is_named() -> None:
    """Three beds change places, worked out here: x alone decides, turned round; the worst becomes the best."""
    text = """\
formula: t
scale: {from: 1, to: 10}
bands: {strong: 7, fair: 4, weak: 1}
measures: {x: {unit: "1", repeatability: 0.1}}
ratings: {r: {measure: x, curve: {line: {worst: 0, best: 9}}}}
"""
    new = form_of(text.replace("worst: 0, best: 9", "worst: 9, best: 0"))
    found = compared(form_of(text), new, catalogue_of(x=[1.0, 4.0, 8.0]))
    (score,) = found.scores
    assert retractions(score) == (
        "p3 as best",
        "p1 as worst",
        "p1 as weak (now strong)",
        "p3 as strong (now weak)",
        "p1 at 2.0 (now 9.0)",
        "p2 at 5.0 (now 6.0)",
        "p3 at 9.0 (now 2.0)",
        "p1 in place 3 (now 1)",
        "p3 in place 1 (now 3)",
    )
    said = comparison_verdict(score, found.players)
    assert said[0].startswith("R: 2 of 3 products published in both change place, p1 most (3 to 1, up 2)")
    assert "the first place passes from p3 to p1" in said[0]
    assert any(line.endswith("; the places of 2 products.") for line in said)


def test_places_alone_may_have_to_be_retracted() -> None:
    """A product that comes in first pushes all others down; no band and no score changes but `best`."""
    start = small_catalogue(6)
    (score, _) = compared(small_form(), small_form(), start, start).scores
    first = score.products[int(np.flatnonzero(score.old.rank == 1)[0])]
    found = compared(small_form(), small_form(), without(start, first), start)
    (score, _) = found.scores
    said = " ".join(comparison_verdict(score, found.players))
    assert "the places of 5 products" in said
    assert f"passes from {score.products[int(np.flatnonzero(score.old.rank == 1)[0])]} to {first}" in said
    assert "no score moves" in said


def test_who_enters_and_leaves_the_top_is_said() -> None:
    """The first two of the old and of the new ranking, set against each other."""
    found = compared(small_form(), FORMS["lowest is best"], small_catalogue(8), top=2)
    (score, _) = found.scores
    old, new = ({p for p, r in zip(score.products, e.rank, strict=True) if r <= 2} for e in (score.old, score.new))
    (line,) = [one for one in comparison_verdict(score, found.players) if one.startswith("The first 2:")]
    into, out = line.removeprefix("The first 2: ").split(" in, ")
    assert new - old == set(into.replace(" and ", ", ").split(", "))
    assert old - new == set(out.removesuffix(" out.").replace(" and ", ", ").split(", "))


def test_document_and_table_hold_the_same_figures() -> None:
    """Every figure of the table stands in the document; the document is JSON without NaN."""
    start = small_catalogue(7)
    found = compared(small_form(), FORMS["anchors"], start, without(corrected(start), "p3"))
    found = replace(found, new=replace(found.new, settings=("a=1",)))
    report = comparison_report(found, seed=4)
    document = json.loads(json.dumps(report.document, allow_nan=False))
    frame = report.frame
    assert len(frame) == 2 * 7
    for _, row in frame.iterrows():
        product = next(one for one in document["scores"][row["score"]]["products"] if one["id"] == row["product"])
        for column, value in (
            ("old_value", product["old"]["value"]),
            ("move", product["move"]),
            ("climb", product["climb"]),
        ):
            assert row[column] == pytest.approx(np.nan if value is None else value, rel=1e-8, abs=1e-8, nan_ok=True)
        for cause in document["causes"]:
            share = product["why"][cause["name"]]["score"]
            assert row[f"why {cause['name']}"] == pytest.approx(
                np.nan if share is None else share, rel=1e-8, abs=1e-8, nan_ok=True
            )
    assert (document["set"], document["seed"]) == (["a=1"], 4)
    assert (set(frame["set"]), set(frame["seed"])) == ({"a=1"}, {4})


ONE_MEASURE = """\
formula: t
scale: {from: 1, to: 10}
measures: {x: {unit: "1", repeatability: 0.1}}
ratings: {r: {measure: x, curve: {line: {worst: 0, best: 9}}}}
"""


@pytest.mark.parametrize(
    ("before", "after", "said"),
    [
        ([8, 4, 4], [8, 4, 8], "; p1 now shares first place with p3."),
        ([8, 4, 4], [8, 8, 8], "; p1 now shares first place with p2 and p3."),
        ([8, 4, 8], [8, 8, 8], "; p1 and p3 now share first place with p2."),
        ([8, 8, 4], [8, 4, 4], "; p1 no longer shares first place with p2."),
        ([8, 8, 8], [8, 4, 8], "; p1 and p3 no longer share first place with p2."),
        ([8, 8, 4], [8, 4, 8], "; p1 now shares first place with p3, no longer with p2."),
        ([8, 4, 4], [4, 8, 8], "; the first place passes from p1 to p2 and p3."),
        ([8, 8, 4], [8, 8, 5], "; the first place stays with p1 and p2."),
    ],
)
def test_who_shares_the_first_place_is_said(before: list[float], after: list[float], said: str) -> None:
    """Whoever keeps it does not pass it on."""
    form = form_of(ONE_MEASURE)
    (score,) = compared(form, form, catalogue_of(x=before), catalogue_of(x=after)).scores
    assert comparison_verdict(score, ())[0].endswith(said)


def test_why_is_said_without_a_label_twice_and_with_one_percentage_a_cause() -> None:
    """Two weights of the score and an anchor of a rating: each with its part, its words and its two values."""
    new = set_addresses(
        small_form(),
        ["scores.s.weights.a=0.2", "scores.s.weights.b=0.45", "ratings.a.curve.line.best=14", "scores.s.limits.1.apply=never"],
    )  # fmt: skip
    found = compared(small_form(), new, small_catalogue(9))
    (why,) = [line for line in comparison_verdict(found.scores[0], found.players) if line.startswith("Why: ")]
    assert why.count(" % of all movement comes of ") == 1
    assert "the weight of a (0.5 to 0.2)" in why
    assert "the weight of b (0.30 to 0.45)" in why
    assert "the anchor `best` of x in A (20 to 14)" in why
    assert "S:" not in why
    assert "->" not in why
    assert why.count("%") == why.count(" % of ") == 4
    assert ") (" not in why


def test_one_cause_alone_is_said_in_the_same_words() -> None:
    """Also where other causes move nothing of the score."""
    new = set_addresses(small_form(), ["scores.s.weights.a=0.2"])
    found = compared(small_form(), new, small_catalogue(9))
    expected = "All of it comes of one thing: the weight of a (0.5 to 0.2)."
    assert comparison_verdict(found.scores[0], found.players)[1] == expected
    both = set_addresses(small_form(), ["scores.s.weights.a=0.2", "scores.t.weights.m=2"])
    found = compared(small_form(), both, small_catalogue(9))
    assert len(found.players) == 2
    assert comparison_verdict(found.scores[0], found.players)[1] == expected


def test_weights_that_all_have_the_same_factor_are_one_change_and_no_cause_of_anything() -> None:
    """Three weights doubled: said once; with another edit, that one is the whole cause."""
    doubled = [f"scores.s.weights.{part}" for part in ("a=1", "b=0.6", "m=0.4")]
    found = compared(small_form(), set_addresses(small_form(), doubled), small_catalogue(9))
    assert [change.says for change in found.changes] == [
        "S: all weights multiplied by the same factor, 2, so that every share stays the same"
    ]
    assert comparison_verdict(found.scores[0], found.players) == ("S: no score and no place changes.",)
    both = compared(
        small_form(), set_addresses(small_form(), [*doubled, "ratings.a.curve.line.best=14"]), small_catalogue(9)
    )
    check_shares(both)
    assert len(both.changes) == 2
    said = comparison_verdict(both.scores[0], both.players)[1]
    assert said == "All of it comes of one thing: the anchor `best` of x in A (20 to 14)."


@pytest.mark.parametrize(
    ("blend", "settings"),
    [
        ("weighted mean", ["a=1", "b=0.6"]),
        ("weighted mean", ["a=1", "b=0.6", "m=0.5"]),
        ("sum", ["a=0.25", "b=0.15", "m=0.1"]),
    ],
)
def test_weights_are_told_one_by_one_where_a_share_or_the_score_changes(blend: str, settings: list[str]) -> None:
    """One weight left alone, one with another factor, and a sum, whose scores go with its weights."""
    old = set_addresses(small_form(), [f"scores.s.blend={blend}"])
    found = compared(old, set_addresses(old, [f"scores.s.weights.{one}" for one in settings]), small_catalogue(9))
    assert [change.kind for change in found.changes] == ["value"] * len(settings)


def test_products_that_are_published_in_neither_edition_are_named_with_the_reason() -> None:
    """One withheld in both, one that lost its readings; none where all are published."""
    values = {name: one.values.copy() for name, one in small_catalogue(6).readings.items()}
    values["x"][:, 0], values["y"][:, 0] = [5, 6, 7, 13, 8, 9], [9, 12, 14, 15, 16, 17]
    gated = form_of(GATED)
    found = compared(gated, gated, catalogue_of(**values))
    assert unscored(found.scores[0]) == "Without a score in either edition: p4 (withheld)."
    (score, _) = compared(small_form(), small_form(), catalogue_of(**values)).scores
    assert unscored(score) == ""


@pytest.mark.parametrize("asked", ["t", "v", None])
def test_a_renamed_score_is_compared_under_either_name(asked: str | None) -> None:
    """t is called v in the new formula; its shares add up, and it is neither new nor gone."""
    new = swapped(small_form(), ("  t: {blend", "  v: {blend"))
    new = set_addresses(new, ["ratings.a.curve.line.best=14"])
    start = small_catalogue(9)
    found = compared(small_form(), new, start, without(start, "p2"), only=[asked] if asked else [])
    assert [score.name for score in found.scores] == (["v"] if asked else ["s", "v"])
    assert (found.added, found.removed) == ((), ())
    check_shares(found)
    tables = score_catalogue(small_form(), start), score_catalogue(new, without(start, "p2"))
    score, there = found.scores[-1], [p for p in start.products if p != "p2"]
    for product in there:
        i = score.products.index(product)
        old, now = (t.column(n).value[t.catalogue.products.index(product)] for t, n in zip(tables, "tv", strict=True))
        assert score.move[i] == pytest.approx(now - old, abs=1e-12)
        assert score.u[i] >= 0 or np.isnan(score.u[i])


def test_a_gate_of_a_renamed_score_withholds_it_in_both_editions() -> None:
    """The gate names it by the name that its own formula has."""
    text = GATED.replace("withhold: too loud}", "withhold: too loud, scores: [t]}")
    values = {name: one.values.copy() for name, one in small_catalogue(6).readings.items()}
    values["x"][:, 0], values["y"][:, 0] = [5, 6, 7, 13, 8, 9], [9, 12, 14, 15, 16, 17]
    values["z"][:, 0] = [18, 17, 17, 9, 17, 16]  # p4 would be first
    new = form_of(text.replace("  t: {blend", "  v: {blend").replace("scores: [t]", "scores: [v]"))
    found = compared(form_of(text), set_addresses(new, ["scores.s.weights.a=0.2"]), catalogue_of(**values))
    check_shares(found)
    score = found.scores[-1]
    assert (score.name, score.old.status[3], score.new.status[3]) == ("v", "withheld", "withheld")
    assert np.isnan(score.by_rank.shares[:, 3]).all()
