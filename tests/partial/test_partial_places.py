"""Places that a missing reading may lead to: by hand, and against scoring the catalogue with each reading written into it."""

from __future__ import annotations

import numpy as np
import pytest
from written_forms import NAN, form_of
from written_studies import catalogue_of

from analysis.partial.bounds import Bounds, Stretch, bounds_of, joint_places, stretches, stretches_of
from analysis.partial.filling import Filled, Lacking, filled_of, lacking
from analysis.partial.partial_place import first_places, partial_places
from scoring.catalogue import Catalogue
from scoring.form import Form
from scoring.program.program import compile_form
from scoring.table.table import ScoreTable, score_catalogue

PLAUSIBLE = "{unit: mm, plausible: [0, 20]}"


def form_with(
    x: str = PLAUSIBLE, curve: str = "line: {worst: 0, best: 20}", rest: str = "", rule: str = "reweight"
) -> Form:
    """Half the weight on x, half on y, which is rated 1 at 0 and 10 at 20 as x is by default."""
    return form_of(
        f"""\
formula: trial
scale: {{from: 1, to: 10}}
measures:
  x: {x}
  y: {{unit: mm}}
ratings:
  a: {{measure: x, curve: {{{curve}}}}}
  b: {{measure: y, curve: {{line: {{worst: 0, best: 20}}}}}}
scores:
  s: {{weights: {{a: 1, b: 1}}, missing: {{absent_above: 0.5, otherwise: {rule}}}}}
{rest}"""
    )


#: p1 lacks x and is first with 9.1 of y alone; the others have 8.2 and 5.5.
READINGS = {"x": [NAN, 16.0, 10.0], "y": [18.0, 16.0, 10.0]}


def found(form: Form, held: Catalogue) -> tuple[ScoreTable, Filled, list[Lacking]]:
    """The table of a score `s`, ready to be filled, and what its products lack."""
    table, program = score_catalogue(form, held), compile_form(form)
    lacks = list(lacking(table, program, table.column("s"), range(len(held.products))))
    return table, filled_of(table, program, "s"), lacks


def bounds_in(form: Form, held: Catalogue) -> Bounds:
    """The bounds of the only partial product."""
    _, filled, (lacks,) = found(form, held)
    return bounds_of(filled, lacks)


def test_worst_and_best_by_hand() -> None:
    """At 0 its score is (1 + 9.1) / 2, last of three; at 20 it is (10 + 9.1) / 2, first; the second then moves up or not."""
    bounds = bounds_in(form_with(), catalogue_of(**READINGS))
    assert bounds.lacks == Lacking(0, ("x",), 0.5)
    assert bounds.worst is not None
    assert bounds.best is not None
    assert (bounds.worst.readings, bounds.worst.value, bounds.worst.place) == ((0.0,), pytest.approx(5.05), 3.0)
    assert (bounds.best.readings, bounds.best.value, bounds.best.place) == ((20.0,), pytest.approx(9.55), 1.0)
    assert bounds.worst.others == ((1, 1.0), (2, 2.0))
    assert bounds.best.others == ()
    assert not bounds.may_be_withheld


def test_the_reading_at_which_the_first_place_is_lost_by_hand() -> None:
    """(1 + 9 x / 20 + 9.1) / 2 is 8.2 at 14 and 5.5 at 2, where ties share the better place."""
    _, filled, (lacks,) = found(form_with(), catalogue_of(**READINGS))
    (axis,), _ = filled.axes(lacks)
    told = stretches_of(filled, lacks, axis)
    assert [stretch.place for stretch in told] == [3.0, 2.0, 1.0]
    assert [stretch.start for stretch in told] == pytest.approx([0, 2, 14], abs=1e-9)


def test_the_sentence_carries_its_figures() -> None:
    """What is missing, its share of the weight, both places, the range, and where the first place is held."""
    (first,) = first_places(score_catalogue(form_with(), catalogue_of(**READINGS)))
    assert first.says == (
        "S: the first place of p1 stands on a missing part: x (50 % of the weight) was not read."
        " Read at its worst it would hold place 3, at its best place 1 (x from 0 to 20 mm)."
        " It holds the first place where x reads 14 mm or more."
    )


def test_a_first_place_that_no_reading_takes_away_says_so() -> None:
    """The second is far below whatever x is."""
    held = catalogue_of(x=[NAN, 1.0, 1.0], y=[18.0, 1.0, 2.0])
    (first,) = first_places(score_catalogue(form_with(), held))
    assert first.says.endswith("It would hold the first place whatever it reads, x from 0 to 20 mm.")


def test_no_sentence_where_the_first_place_stands_on_all_its_parts() -> None:
    """Though another product lacks a part."""
    held = catalogue_of(x=[NAN, 19.0, 10.0], y=[12.0, 19.0, 10.0])
    assert first_places(score_catalogue(form_with(), held)) == ()


def test_a_curve_that_turns_has_its_best_within_the_range() -> None:
    """Best at 10, worst at both ends: first in a stretch about the middle, lost on both sides."""
    form = form_with(curve="target: {low: 2, best: 10, high: 18}")
    bounds = bounds_in(form, catalogue_of(**READINGS))
    assert bounds.best is not None
    assert bounds.best.readings[0] == pytest.approx(10, abs=1e-4)
    (first,) = first_places(score_catalogue(form, catalogue_of(**READINGS)))
    spans = [stretch for stretch in first.stretches[0][1] if stretch.place == 1]
    assert len(spans) == 1
    assert 2 < spans[0].start < 10 < spans[0].stop < 18


def test_a_rule_that_takes_a_missing_part_at_its_lowest_is_bounded_too() -> None:
    """Its published place is its worst one."""
    bounds = bounds_in(form_with(rule="lowest"), catalogue_of(**READINGS))
    assert bounds.worst is not None
    assert bounds.worst.value == pytest.approx(5.05)
    assert bounds.worst.others == ()


def test_without_a_plausible_range_the_rating_goes_over_its_scale() -> None:
    """a from 1 to 10: first from 7.3 on."""
    (first,) = first_places(score_catalogue(form_with(x="{unit: mm}"), catalogue_of(**READINGS)))
    ((axis, spans),) = first.stretches
    assert (axis.name, axis.low, axis.high, axis.measures) == ("a", 1.0, 10.0, ("x",))
    assert spans[-1].start == pytest.approx(7.3, abs=1e-9)
    assert "It holds the first place where the rating a is 7.3 points or more." in first.says


def test_a_gate_on_the_missing_reading_may_withhold_the_score() -> None:
    """Above 17 it has no place; its best is then the one just below."""
    form = form_with(rest="gates:\n  - {name: g, when: x > 17, withhold: too much of x}\n")
    bounds = bounds_in(form, catalogue_of(**READINGS))
    assert bounds.may_be_withheld
    assert bounds.best is not None
    assert bounds.best.readings[0] == pytest.approx(17, abs=1e-4)
    (first,) = first_places(score_catalogue(form, catalogue_of(**READINGS)))
    assert "It holds the first place where x reads 14 to 17 mm." in first.says
    assert "At some readings it would have no published score." in first.says


def written(readings: dict[str, list[float]], product: int, x: float) -> Catalogue:
    """The catalogue with x of a product read."""
    return catalogue_of(**{**readings, "x": [x if i == product else v for i, v in enumerate(readings["x"])]})


@pytest.mark.parametrize(
    "curve",
    [
        "steps: {0: 1, 5: 8, 7: 3, 16: 10}",
        "smooth: {0: 1, 10: 6, 20: 10}",
        "z: {better: higher, centre: 5.5, per_sd: 1.5}, reference: live",
    ],
    ids=["steps that fall and rise", "smooth", "a live reference"],
)
def test_every_stretch_is_what_scoring_again_gives(curve: str) -> None:
    """The place of the middle of each stretch, and of a point on either side of each of its edges."""
    readings = {"x": [NAN, 16.0, 10.0, 3.0, 12.0, 7.5], "y": [15.0, 16.0, 10.0, 19.0, 12.0, 4.0]}
    form = form_with(curve=curve)
    _, filled, (lacks,) = found(form, catalogue_of(**readings))
    told = stretches_of(filled, lacks, filled.axes(lacks)[0][0])
    assert len(told) > 1
    for stretch in told:
        near = 1e-7
        for x in (stretch.start + near, (stretch.start + stretch.stop) / 2, stretch.stop - near):
            assert score_catalogue(form, written(readings, 0, x)).column("s").rank[0] == stretch.place


def test_stretches_of_a_place_that_changes_twice_between_two_points_of_the_grid() -> None:
    """Both changes are found, since the places at both ends differ."""

    def place_at(x: np.ndarray) -> np.ndarray:
        return np.where(x < 0.50012, 3.0, np.where(x < 0.50031, 2.0, np.where(x < 0.9, 1.0, NAN)))

    told = stretches(place_at, 0.0, 1.0)
    assert [stretch.place for stretch in told[:3]] == [3.0, 2.0, 1.0]
    assert np.isnan(told[3].place)
    assert [stretch.start for stretch in told] == pytest.approx([0, 0.50012, 0.50031, 0.9], abs=1e-12)
    assert told[-1] == Stretch(told[-1].start, 1.0, told[-1].place)


def test_joint_places_hold_whatever_two_products_read() -> None:
    """Each of two partial products at a grid of readings, both scored again: no place lies outside its bounds, all ends are met."""
    readings = {"x": [NAN, 16.0, NAN, 10.0], "y": [18.0, 16.0, 13.0, 10.0]}
    form = form_with()
    _, filled, lacks = found(form, catalogue_of(**readings))
    best, worst = joint_places(filled, [bounds_of(filled, one) for one in lacks])
    met = []
    for one in np.linspace(0, 20, 9):
        for other in np.linspace(0, 20, 9):
            held = {**readings, "x": [one, 16.0, other, 10.0]}
            met.append(score_catalogue(form, catalogue_of(**held)).column("s").rank)
    np.testing.assert_array_equal(np.min(met, axis=0), best)
    np.testing.assert_array_equal(np.max(met, axis=0), worst)


@pytest.mark.parametrize("ties", ["shared-best", "shared-mean", "dense"])
@pytest.mark.parametrize("best", ["highest", "lowest"])
@pytest.mark.parametrize("on", ["unrounded", "shown"])
def test_a_place_is_that_of_the_whole_table_under_every_rule(ties: str, best: str, on: str) -> None:
    """Three others, two of them level; readings at which the product is level with them too."""
    form = form_with(rest=f"ranks: {{on: {on}, ties: {ties}, best: {best}}}\n")
    readings = {"x": [NAN, 16.0, 10.0, 10.0], "y": [12.0, 16.0, 10.0, 10.0]}
    _, filled, (lacks,) = found(form, catalogue_of(**readings))
    rows = np.array([[0.0], [8.0], [8.05], [20.0]])
    expected = [score_catalogue(form, written(readings, 0, x)).column("s").rank[0] for x in rows[:, 0]]
    assert filled.own_places(lacks, filled.axes(lacks)[0], rows).tolist() == expected


def test_the_share_of_what_is_missing_goes_through_ratings() -> None:
    """Half of a rating that has a quarter of the weight is an eighth of it."""
    form = form_of(
        """\
formula: trial
scale: {from: 1, to: 10}
measures: {x: {unit: mm, plausible: [0, 20]}, y: {unit: mm}}
ratings:
  m: {mix: [{measure: x, weight: 1, curve: {line: {worst: 0, best: 20}}}, {measure: y, weight: 1, curve: {line: {worst: 0, best: 20}}}], missing: {absent_above: 0.6, otherwise: reweight}}
  b: {measure: y, curve: {line: {worst: 0, best: 20}}}
scores:
  s: {weights: {m: 1, b: 3}}
"""
    )
    _, _, (lacks,) = found(form, catalogue_of(**READINGS))
    assert lacks.share == pytest.approx(1 / 8)


def test_another_place_that_stands_on_a_missing_part_is_told_by_its_number() -> None:
    """Second with y of 12 alone (6.4); with x it has (1 + 9 x / 20 + 6.4) / 2, 5.5 or more from x = 8 on."""
    table = score_catalogue(form_with(), catalogue_of(x=[NAN, 16.0, 10.0], y=[12.0, 16.0, 10.0]))
    (found,) = partial_places(table, table.column("s"), range(3))
    assert found.says.startswith("S: place 2 of p1 stands on a missing part: x (50 % of the weight) was not read.")
    assert "at its worst it would hold place 3, at its best place 1" in found.says
    assert "It holds place 2 where x reads 8 to 20 mm." in found.says
