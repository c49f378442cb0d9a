"""Robustness to the catalogue: who moves when products are dropped, cloned and added; nobody under fixed anchors."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pytest
from extent import examples
from generated_forms import Drawn, scored_forms
from hypothesis import given, settings
from numpy.typing import ArrayLike, NDArray
from written_forms import NAN, curve_form, score

from analysis.rankings.catalogue_robustness import CatalogueChange, CatalogueRobustness, catalogue_robustness
from analysis.trials.quantities import quantities_of
from scoring.errors import ScoringError
from scoring.program.program import compile_form

Array = NDArray[np.float64]
KINDS = ("drop one", "clone one", "add a middling one", "add a dominated one")


def robustness(
    text: str, words: Mapping[str, Sequence[str]] | None = None, **readings: ArrayLike
) -> dict[str, CatalogueRobustness]:
    """The robustness of every score that publishes a product, or of the ratings where there are no scores."""
    table = score(text, readings, words)
    columns = {output.name: table.column(output.name) for output in table.form.scores or table.form.ratings}
    asked = {
        name: quantities_of(table.form, column, table.catalogue.products, 5, ()) for name, column in columns.items()
    }
    asked = {name: quantities for name, quantities in asked.items() if quantities.ids}
    return catalogue_robustness(compile_form(table.form), table.inputs, asked)


def changes(text: str, name: str = "r", **readings: ArrayLike) -> dict[str, CatalogueChange]:
    """The changes of one score by what they are."""
    found = robustness(text, **readings)[name].changes
    assert tuple(change.what for change in found) == KINDS
    return {change.what: change for change in found}


def moved(change: CatalogueChange) -> tuple[int, int, int]:
    """How many times it was tried, how often scores moved, how often the order."""
    return change.tried, change.scores_moved, change.ranks_moved


@settings(max_examples=examples(40))
@given(drawn=scored_forms(missing=True, count=5))
def test_under_fixed_anchors_nobody_moves(drawn: tuple[Drawn, dict[str, list[float]]]) -> None:
    """Whatever the form, gaps or none: where no figure of the live catalogue goes in, no product moves another; where one
    does, that is said."""
    form, held = drawn
    program = compile_form(form.form)
    try:
        found = robustness(form.text, **held)
    except ScoringError:  # a standing among nobody
        assert program.figures
        return
    for one in found.values():
        assert one.leans == bool(program.figures)
        if not one.leans:
            assert [moved(change)[1:] for change in one.changes] == [(0, 0)] * 4
            assert [(change.most, change.lost, change.who) for change in one.changes] == [
                (pytest.approx(0, abs=1e-9), 0, ())
            ] * 4


X = [3.0, 1.0, 9.0, 5.0]


def z_scores(x: Array) -> Array:
    """5 plus the reading in standard deviations (n - 1) from the mean."""
    return 5 + (x - x.mean()) / x.std(ddof=1)


def minmax_scores(x: Array) -> Array:
    """1 to 10 from the least to the greatest."""
    return 1 + 9 * (x - x.min()) / (x.max() - x.min())


def standing_scores(x: Array) -> Array:
    """1 to 10 by the share of the tested that is below, ties counting half."""
    below = (x < x[:, np.newaxis]).sum(axis=1) + (x == x[:, np.newaxis]).sum(axis=1) / 2
    return 1 + 9 * below / len(x)


LIVE = {
    "z: {centre: 5, per_sd: 1, better: higher}": z_scores,
    "minmax: {better: higher}": minmax_scores,
    "standing: {better: higher}": standing_scores,
}


@pytest.mark.parametrize("curve", LIVE, ids=lambda curve: curve.split(":")[0])
def test_a_live_reference_moves_scores_as_worked_by_hand(curve: str) -> None:
    """The largest change over dropping, cloning, a middling and a dominated product, from the plain formula of each curve."""
    of, x = LIVE[curve], np.array(X)
    before = of(x)
    dropped = [np.delete(of(np.delete(x, i)) - np.delete(before, i), []) for i in range(4)]
    cloned = [of(np.append(x, x[i]))[:4] - before for i in range(4)]
    middling = [of(np.append(x, 4.0))[:4] - before]  # the median of 1, 3, 5, 9
    dominated = [of(np.append(x, 1.0))[:4] - before]  # the worst of them
    text = curve_form(curve).replace('{unit: "1"}', '{unit: "1", better: higher}')
    found = changes(text, x=X)
    for what, expected in zip(KINDS, (dropped, cloned, middling, dominated), strict=True):
        sizes = [np.abs(change).max() for change in expected]
        assert found[what].most == pytest.approx(max(sizes), abs=1e-12)
        assert moved(found[what]) == (len(expected), sum(size > 1e-9 for size in sizes), 0)
    assert found["drop one"].scores_moved > 0


REVERSAL = """\
formula: reversal
scale: {from: 1, to: 10}
measures:
  x: {unit: "1", better: higher}
  y: {unit: "1", better: higher}
ratings:
  a: {measure: x, curve: {minmax: {better: higher}, reference: REFERENCE}}
  b: {measure: y, curve: {minmax: {better: higher}, reference: REFERENCE}}
scores:
  s: {blend: weighted mean, weights: {a: 1, b: 1}}
"""
#: The ends of both ranges stand there twice but for p3, which alone reaches y = 20.
SEVEN = {"x": [9, 5, 2, 0, 10, 10, 0], "y": [4, 8, 20, 0, 0, 0, 0]}


def test_dropping_a_product_turns_the_order_of_others() -> None:
    """Worked by hand. With p3 there y runs from 0 to 20: p1 is (9.1 + 2.8) / 2 = 5.95, p5 and p6 5.5, p2 (5.5 + 4.6) / 2 =
    5.05, p4 and p7 1. Without it y runs from 0 to 8: p2 is (5.5 + 10) / 2 = 7.75, p1 (9.1 + 5.5) / 2 = 7.3, p5 and p6 5.5.
    Among the others p2 goes from place 4 to 1, p1, p5 and p6 lose one place each; p2's 2.7 points are the most that move."""
    drop = changes(REVERSAL.replace("REFERENCE", "live"), "s", **SEVEN)["drop one"]
    assert moved(drop) == (7, 1, 1)
    assert drop.who == (("p2", 3.0), ("p1", 1.0), ("p5", 1.0), ("p6", 1.0))
    assert drop.by == "p3"
    assert drop.most == pytest.approx(2.7, abs=1e-12)


def test_the_same_under_a_frozen_reference_moves_nobody() -> None:
    """The population of the first edition, written down, keeps everyone where they are."""
    frozen = REVERSAL.replace("REFERENCE", "{values: [0, 20]}")
    found = changes(frozen, "s", **SEVEN)
    assert [moved(found[what]) for what in KINDS] == [(7, 0, 0), (7, 0, 0), (1, 0, 0), (1, 0, 0)]


def test_ranks_where_the_lowest_is_best() -> None:
    """The same seven with the lowest score best: p2 goes from place 3 to 6 when p3 goes."""
    text = "ranks: {best: lowest}\n" + REVERSAL.replace("REFERENCE", "live")
    drop = changes(text, "s", **SEVEN)["drop one"]
    assert moved(drop) == (7, 1, 1)
    assert (drop.by, drop.who[0]) == ("p3", ("p2", 3.0))


def test_a_product_with_a_gap_is_dropped_like_any_other() -> None:
    """p2 has no reading: dropping or cloning it moves nobody, dropping an end of the range does."""
    found = changes(curve_form("minmax: {better: higher}"), x=[3, NAN, 7, 5, 1])
    assert moved(found["drop one"]) == (5, 2, 0)
    assert moved(found["clone one"]) == (5, 0, 0)


def test_a_product_that_loses_its_score_counts_as_moved() -> None:
    """Two readings of three: without either of them there is no standard deviation left, and the other has no score."""
    found = changes(curve_form("z: {centre: 5, per_sd: 1, better: higher}"), x=[3, NAN, 7])
    assert (moved(found["drop one"]), found["drop one"].lost) == ((3, 2, 2), 2)
    assert found["clone one"].lost == 0


def test_a_withheld_product_still_moves_others_and_is_not_told() -> None:
    """A gate keeps p2, the greatest reading, out of the table: dropping it moves the others, who are three."""
    text = curve_form("minmax: {better: higher}").replace('{unit: "1"}}', '{unit: "1"}, y: {unit: "1"}}')
    text += "gates: [{name: odour, when: y > 1, withhold: too strong}]\nscores:\n  s: {parts: [r]}\n"
    table = score(text, {"x": [3, 9, 7, 5], "y": [0, 2, 0, 0]})
    assert table.column("s").rank.tolist()[:1] == [3]
    drop = changes(text, "s", x=[3, 9, 7, 5], y=[0, 2, 0, 0])["drop one"]
    assert moved(drop) == (4, 2, 0)
    assert drop.most == pytest.approx(1 + 9 - (1 + 9 * 4 / 6), abs=1e-12)


@pytest.mark.parametrize("x", [[3.0], [3.0, 5.0]], ids=["one product", "two products"])
@pytest.mark.parametrize(
    "curve", ["line: {worst: 0, best: 9}", "standing: {better: higher}", "ratio: {better: higher}"]
)
def test_of_one_or_two_products_none_is_dropped(curve: str, x: list[float]) -> None:
    """One or none would be left, which is no order; cloning and adding go on."""
    found = changes(curve_form(curve), x=x)
    assert moved(found["drop one"]) == (0, 0, 0)
    assert found["clone one"].tried == len(x)


def test_words_and_states_go_with_their_product() -> None:
    """Where an attribute decides a rating, a clone has its product's word and nobody moves."""
    text = """\
formula: words
scale: {from: 1, to: 10}
attributes: {class: {values: [foam, coil]}}
measures: {x: {unit: "1", better: higher}}
ratings:
  r: {value: "where(class == foam, clamp(x, 1, 10), 1.5)"}
"""
    found = robustness(text, {"class": ["foam", "coil", "foam"]}, x=[3, 9, 7])["r"]
    assert [moved(change)[1:] for change in found.changes] == [(0, 0)] * 4
    assert not found.leans
