"""Who overtakes whom: pairs by hand, and what the bench tells apart of them, the same as letters the published groups."""

from __future__ import annotations

import numpy as np
import pytest
from comparison.test_comparison import compared
from extent import is_long
from written_forms import NAN, form_of
from written_studies import catalogue_of, demo

from analysis.comparison.overtaking import overtakings
from analysis.comparison.report import overtakings_table
from analysis.comparison.verdict import comparison_verdict, told_swaps
from analysis.rankings.distinguishable import bench_of
from scoring.addresses.addresses import set_addresses
from scoring.catalogue import Catalogue
from scoring.form import Form
from scoring.table.table import score_catalogue

FORM = """\
formula: trial
scale: {from: 0, to: 100}
measures:
  x: {unit: "1", better: higher, repeatability: 1}
  y: {unit: "1", better: higher, repeatability: 1}
ratings:
  a: {measure: x, curve: {line: {worst: 0, best: 100}}}
  b: {measure: y, curve: {line: {worst: 0, best: 100}}}
scores:
  s: {blend: weighted mean, weights: {a: 3, b: 1}}
"""
TURNED = ["scores.s.weights.a=1", "scores.s.weights.b=3"]


def pair(*places: tuple[int, int], products: int = 4) -> np.ndarray:
    """Which products are told apart."""
    flags = np.zeros((products, products), bool)
    for one, other in places:
        flags[one, other] = flags[other, one] = True
    return flags


def test_pairs_that_swap_by_hand() -> None:
    """1 2 3 4 becomes 2 1 4 -: of three pairs that both rank one swaps; a product that goes, and a tie, swap with nobody."""
    found = overtakings(np.array([1.0, 2, 3, 4]), np.array([2.0, 1, 4, NAN]), (pair((0, 1)), pair()))
    assert (found.pairs, found.above.tolist(), found.below.tolist()) == (3, [1], [0])
    assert (found.before.tolist(), found.now.tolist(), found.known) == ([True], [False], True)
    tied = overtakings(np.array([1.0, 1, 3, 4]), np.array([2.0, 1, 3, 3]), (None, None))
    assert (tied.pairs, len(tied.above), tied.known) == (6, 0, False)


def test_every_overtaking_is_counted_once_for_each_side() -> None:
    """The last of four becomes the first: three pairs swap, neighbours or not; it overtakes three, each other is overtaken."""
    found = overtakings(
        np.array([1.0, 2, 3, 4]), np.array([2.0, 3, 4, 1]), (pair((0, 3)), pair((0, 3), (2, 3), (0, 1)))
    )
    assert list(zip(found.above.tolist(), found.below.tolist(), strict=True)) == [(3, 0), (3, 1), (3, 2)]
    assert [counts.tolist() for counts in found.counts(4)] == [[0, 0, 0, 3], [1, 1, 1, 0]]
    assert [counts.tolist() for counts in found.counts(4, told=True)] == [[0, 0, 0, 2], [1, 0, 1, 0]]
    assert found.told.tolist() == [True, False, True]


def editions() -> tuple[str, Form, Form, Catalogue]:
    """A score, its form before and after, and products: two dozen by chance, or those of the laboratory in a long run."""
    if is_long():
        form, catalogue = demo()
        return "two_abed", form, set_addresses(form, ["scores.two_abed.weights.quiet=0.6"]), catalogue
    rng = np.random.default_rng(6)
    readings = {name: rng.uniform(40, 60, 24) for name in "xy"}
    readings["x"][5] = NAN
    form = form_of(FORM)
    return "s", form, set_addresses(form, TURNED), catalogue_of(**readings)


def test_what_is_told_apart_is_what_letters_the_published_groups() -> None:
    """Two products share a letter exactly where they are not told apart, by the figures of the table's own bench."""
    name, form, new, catalogue = editions()
    found = compared(form, new, catalogue, only=[name], seed=3)
    (score,) = found.scores
    for table, edition in ((found.old, score.old), (found.new, score.new)):
        published = int((~np.isnan(edition.rank)).sum())
        ranked = np.argsort(np.where(np.isnan(edition.rank), np.inf, edition.rank), kind="stable")[:published]
        bench = bench_of(table, 3)[name]
        assert [edition.letters[i] for i in ranked] == list(bench.groups.letters)
        assert edition.apart is not None
        np.testing.assert_array_equal(edition.apart[np.ix_(ranked, ranked)], bench.sets.beats | bench.sets.beats.T)
    swaps = score.overtakings
    for side, edition in ((swaps.before, score.old), (swaps.now, score.new)):
        shared = [
            bool(set(edition.letters[i]) & set(edition.letters[j]))
            for i, j in zip(swaps.above, swaps.below, strict=True)
        ]
        assert side.tolist() == [not one for one in shared]
    assert 0 < swaps.told.sum() < len(swaps.above)


def matters(found: object) -> str:
    """The sentence that says whether it matters."""
    return next(s for s in comparison_verdict(found, ()) if s.startswith("Does it matter"))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("x", "y", "said"),
    [
        (
            [50.0, 51, 52],
            [52.0, 51, 50],
            "Does it matter: of 3 pairs of products that both editions rank, 3 swap order, and the bench tells none of them apart,"
            " before or now (joint 95 %).",
        ),
        (
            [50.0, 60, 20],
            [70.0, 60, 20],
            "Does it matter: of 3 pairs of products that both editions rank, 1 swaps order, and the bench tells 1 of them apart,"
            " before or now (joint 95 %): p1 past p2 (before and now).",
        ),
        (
            [50.0, 60, 20],
            [61.5, 60, 20],
            "Does it matter: of 3 pairs of products that both editions rank, 1 swaps order, and the bench tells 1 of them apart,"
            " before or now (joint 95 %): p1 past p2 (before).",
        ),
        (
            [50.0, 60, 20],
            [50.0, 60, 20.5],
            "Does it matter: of 3 pairs of products that both editions rank, none swaps order.",
        ),
    ],
    ids=["moves that settle nothing", "told apart both times", "told apart before", "no swap"],
)
def test_whether_it_matters_is_who_overtakes_whom_and_is_told_apart(x: list[float], y: list[float], said: str) -> None:
    """However many scores move beyond their own noise: with weights turned round, every score here moves for sure."""
    form = form_of(FORM)
    turned = TURNED if said.count("(before)") == 0 else ["scores.s.weights.a=1", "scores.s.weights.b=8"]
    (score,) = compared(form, set_addresses(form, turned), catalogue_of(x=x, y=y), only=["s"]).scores
    assert matters(score) == said


def test_without_repeatability_no_pair_is_held_to_the_bench() -> None:
    """The swaps are counted all the same, and no line of the picture is called anything."""
    form = form_of(FORM.replace(", repeatability: 1", ""))
    new = set_addresses(form, TURNED)
    (score,) = compared(form, new, catalogue_of(x=[50.0, 60, 20], y=[70.0, 60, 20]), only=["s"]).scores
    assert matters(score) == (
        "Does it matter: of 3 pairs of products that both editions rank, 1 swaps order; no repeatability is known of what goes"
        " into it, so that none can be held to the bench's noise."
    )
    assert told_swaps(score, np.arange(3)) is None


def test_who_overtakes_whom_is_listed_by_the_product_that_does() -> None:
    """p1 rises past two that are told apart from it; the third stays where it is."""
    form = form_of(FORM)
    new = set_addresses(form, TURNED)
    (score,) = compared(form, new, catalogue_of(x=[50.0, 60, 58, 20], y=[80.0, 60, 58, 20]), only=["s"]).scores
    table = overtakings_table(score)
    assert list(table.cells()) == [["p1", "3, now 1", "2", "2", "p2 (now) and p3 (now)"]]
    assert list(table.in_brief().cells()) == [["p1", "3 -> 1", "2", "2", "p2 (now) and p3 (now)"]]
    assert table.frame().to_dict("records") == [
        {
            "product": "p1",
            "old_rank": 3,
            "new_rank": 1,
            "overtakes": 2,
            "overtakes_told": 2,
            "these": ("p2 (now)", "p3 (now)"),
        }
    ]
    marks = told_swaps(score, np.arange(4))
    assert marks is not None
    assert marks.tolist() == [True, True, True, False]
    assert bench_of(score_catalogue(form, catalogue_of(x=[50.0], y=[80.0])), 0)["s"].settled == (0,)
