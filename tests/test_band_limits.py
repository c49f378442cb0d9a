"""A band by condition: no band better than a named one, whatever the figure says, and without touching it."""

from __future__ import annotations

from pathlib import Path

import pytest
from written_forms import HEAD, faults_of, form_of, score

from analysis.explanation.explanation import explanation_of
from scoring.addresses.addresses import set_address
from scoring.catalogue import from_arrays, read_catalogue
from scoring.checks import check
from scoring.checks.findings import BANDS
from scoring.program.program import compile_form
from scoring.table.table import ScoreTable, score_catalogue

LIMITED = (
    HEAD
    + """\
bands: {strong: 7, fair: 4, weak: 1}
attributes: {fire: {values: [ok, none]}}
ratings:
  whole: {value: "clamp(x, 1, 10)"}
  edge: {value: "clamp(y, 1, 10)"}
scores:
  held:
    value: whole
    band_limits:
    - {when: edge < 4, no_better_than: fair}
    - {name: worst, when: z > 8 and edge < 2, no_better_than: none}
"""
)


def bands(table: ScoreTable, name: str = "held") -> list[str]:
    """The band of each product."""
    column = table.column(name)
    return [table.band_name(column, product) for product in range(len(column.value))]


def test_a_condition_lowers_the_band_and_nothing_else() -> None:
    """A weak edge allows no more than fair; with a bad z besides, no band. Figures and places are as without the limits."""
    readings = {"x": [9, 8, 5, 3, 7.5], "y": [9, 3, 3, 1, 1], "z": [1, 1, 1, 1, 9]}
    table, plain = score(LIMITED, readings), score(LIMITED.split("    band_limits")[0], readings)
    assert bands(table) == ["strong", "fair", "fair", "weak", ""]
    assert bands(plain) == ["strong", "strong", "fair", "weak", "strong"]
    for noun in ("value", "shown", "rank", "status"):
        assert getattr(table.column("held"), noun).tolist() == getattr(plain.column("held"), noun).tolist()
    assert dict(table.column("held").remarks) == {
        1: ("no band better than fair: edge < 4",),
        4: ("no band: z > 8 and edge < 2",),
    }


def test_a_band_is_not_given_where_nothing_says_whether_the_condition_holds(tmp_path: Path) -> None:
    """An edge that was not read may be weak; a z of 1 settles the second condition without it. What is not there at all does
    not hold anything back."""
    form = form_of(LIMITED)
    path = tmp_path / "beds.csv"
    path.write_text("product,x,y,z,fire\na,9,missing,1,ok\nb,9,not applicable,1,ok\nc,9,missing,9,ok\n")
    table = score_catalogue(form, read_catalogue(path, form))
    assert bands(table) == ["fair", "strong", ""]
    assert table.column("held").remarks[0] == ("no band better than fair: whether edge < 4 is not known",)
    assert table.column("held").remarks[2] == ("no band: whether z > 8 and edge < 2 is not known",)


def test_a_condition_on_a_word_and_one_without_a_value() -> None:
    """`none` is weak evidence, no word is none at all, and a division by 0 earns nothing."""
    text = LIMITED.replace("when: edge < 4", "when: fire == none").replace("z > 8 and edge < 2", "1 / z > 2")
    table = score(text, {"x": [9, 9, 9, 9], "y": [9] * 4, "z": [1, 1, 1, 0]}, {"fire": ["ok", "none", "", "ok"]})
    assert bands(table) == ["strong", "fair", "fair", ""]
    assert table.column("held").remarks[3] == ("no band: whether 1 / z > 2 is not known",)


def test_where_less_is_better_the_limit_goes_the_other_way() -> None:
    """A loss of 2 is light; under the condition it is no better than medium."""
    text = (
        HEAD
        + """\
scores:
  loss:
    value: x
    scale: {from: 0, to: 10}
    ranks: {best: lowest}
    bands: {heavy: 6, medium: 3, light: 0}
    band_limits: [{when: y > 5, no_better_than: medium}]
"""
    )
    table = score(text, {"x": [2, 2, 7, 4], "y": [1, 9, 9, 9], "z": [1] * 4})
    assert bands(table, "loss") == ["light", "medium", "heavy", "medium"]


def test_the_way_to_the_next_band_goes_by_the_condition() -> None:
    """The figure of 8 is strong already: what is wanting is 4 of y, and no x helps."""
    form = form_of(LIMITED.replace('y: {unit: "1"}', 'y: {unit: "1", plausible: [0, 10]}'))
    table = score_catalogue(form, from_arrays(["a"], {"x": [8], "y": [3], "z": [1]}))
    (note,) = explanation_of(table, "a", only="held").outputs
    assert note.next_band == ("strong", 7.0)
    changes = {one.measure: one.reading for one in note.changes}
    assert changes["y"] == pytest.approx(4)
    assert changes["x"] is None


FAULTS = {
    "{when: edge < 4}": "no `no_better_than` in scores.held.band_limits.1",
    "{no_better_than: fair}": "no `when` in scores.held.band_limits.1",
    "{when: edge < 4, no_better_than: fine}": "expected a band of its own, or none. Known: weak, fair, strong.",
    "{when: edge, no_better_than: fair}": "expected a condition",
    "{when: edge < 4, no_better_than: fair, apply: never}": "the key `apply` in scores.held.band_limits.1",
}


@pytest.mark.parametrize(("written", "message"), FAULTS.items())
def test_what_cannot_be_read_is_a_fault(written: str, message: str) -> None:
    """With its address, and what was expected."""
    text = LIMITED.replace("- {when: edge < 4, no_better_than: fair}", f"- {written}")
    assert any(message in fault for fault in faults_of(text)), faults_of(text)


def test_a_score_without_bands_has_none_to_limit() -> None:
    """Nor has one with a band of the name that says there is none."""
    (fault,) = faults_of(LIMITED.replace("value: whole", "value: whole\n    bands: none"))
    assert "`band_limits` in scores.held, which has no bands" in fault
    faults = faults_of(LIMITED.replace("value: whole", "value: whole\n    bands: {none: 1, fair: 4}"))
    assert "a band called `none` beside scores.held.band_limits.1" in faults[0]


def said(text: str) -> list[str]:
    """What a check warns of the bands of a form whose measures lie from 0 to 10."""
    ranged = text.replace('{unit: "1"}', '{unit: "1", plausible: [0, 10]}')
    return [one.says for one in check(compile_form(form_of(ranged))).warnings if one.topic == BANDS]


def test_check_proves_which_limits_lower_nothing_and_which_bands_are_out_of_reach() -> None:
    """A rating is never below 1, and never above 10."""
    assert said(LIMITED) == []
    assert said(LIMITED.replace("edge < 4", "edge < 0.9")) == [
        "the limit of bands lowers none where all is read: `edge < 0.9` never holds"
    ]
    assert said(LIMITED.replace("edge < 4", "edge <= 10")) == [
        "`strong` can never be reached: `edge <= 10` always holds"
    ]
    assert said(LIMITED.replace("no_better_than: fair", "no_better_than: strong")) == [
        "the limit of bands lowers none: no band is better than `strong`"
    ]


def test_numbers_and_bands_of_a_limit_can_be_set() -> None:
    """The condition's number, and the band; a band of another set is refused."""
    form = form_of(LIMITED)
    moved = set_address(form, "scores.held.band_limits.1.when.1", "2.5")
    catalogue = from_arrays(["a"], {"x": [9], "y": [3], "z": [1]})
    assert bands(score_catalogue(moved, catalogue)) == ["strong"]
    weak = set_address(form, "scores.held.band_limits.1.no_better_than", "weak")
    assert bands(score_catalogue(weak, catalogue)) == ["weak"]
