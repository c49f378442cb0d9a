"""Bands, places and a scale that a rating or score has of its own: read, set, scored, checked, recorded, compared."""

from __future__ import annotations

import pytest
from written_forms import HEAD, faults_of, form_of, score

from analysis.changes.changes import changes
from analysis.explanation.next_band import next_band
from analysis.records.record import SECTIONS
from analysis.records.sections import sections_of
from scoring.addresses.addresses import addresses, difference, set_address, written
from scoring.addresses.publication import is_of_publication
from scoring.checks import check
from scoring.checks.findings import BANDS
from scoring.errors import AddressError, FormulaError
from scoring.program.program import compile_form

#: A score of points per price beside an index, and a loss, of which less is better.
OWN = (
    HEAD
    + """\
bands: {strong: 7, fair: 4, weak: 1}
ratings:
  index: {value: "clamp(x, 1, 10)"}
scores:
  value:
    value: "clamp(index / 2, 0, 5)"
    scale: {from: 0, to: 5}
    bands: {good: 2, poor: 0}
  loss: {value: "10 - index", scale: {from: 0, to: 10}, ranks: {best: lowest}, bands: none}
  plain: {value: "clamp(index / 2, 0, 5)", scale: {from: 0, to: 5}}
"""
)
READINGS = {"x": [8.0, 3.9, 2.0]}


def test_each_score_has_its_own_bands_and_direction() -> None:
    """8, 3.9 and 2 are 4, 1.95 (shown 2.0) and 1 points a price, and lose 2, 6.1 and 8."""
    table = score(OWN, READINGS)
    names = {
        name: [table.band_name(table.column(name), i) for i in range(3)] for name in ("index", "value", "loss", "plain")
    }
    assert names == {
        "index": ["strong", "weak", "weak"],
        "value": ["good", "good", "poor"],
        "loss": ["", "", ""],
        "plain": ["fair", "weak", "weak"],
    }
    assert table.column("value").rank.tolist() == [1, 2, 3]
    assert table.column("loss").rank.tolist() == [1, 2, 3]
    assert table.column("loss").value.tolist() == pytest.approx([2, 6.1, 8])


def test_what_is_not_written_is_as_in_the_formula() -> None:
    """Ties of the formula hold beside a direction of one's own; another direction of the formula moves those without one."""
    form = form_of(OWN + "ranks: {ties: dense}\n")
    assert [form.output(name).ranks.ties.value for name in ("value", "loss")] == ["dense", "dense"]
    turned = set_address(form, "ranks.best", "lowest")
    assert [turned.output(name).ranks.best.address for name in ("value", "loss")] == [
        "ranks.best",
        "scores.loss.ranks.best",
    ]
    assert [turned.output(name).ranks.best.value for name in ("index", "value", "loss")] == ["lowest"] * 3


def test_every_edge_and_choice_has_an_address() -> None:
    """And the whole can be set, in words or written out."""
    form = form_of(OWN)
    own = [address for address in addresses(form) if is_of_publication(address) and address.startswith("scores.")]
    assert [address for address in own if ".scale." not in address] == [
        "scores.value.bands",
        "scores.value.bands.poor",
        "scores.value.bands.good",
        "scores.loss.ranks.best",
        "scores.loss.bands",
    ]
    assert written(form, addresses(form)["scores.value.bands"]) == "{good: 2, poor: 0}"
    bands = {
        value: set_address(form, "scores.value.bands", value).output("value").bands for value in ("none", "formula")
    }
    assert [len(one.edges) for one in bands.values()] == [0, 3]
    assert [edge.name for edge in set_address(form, "scores.loss.bands", "{low: 0}").output("loss").bands.edges] == [
        "low"
    ]
    with pytest.raises(AddressError, match="one of formula, none"):
        set_address(form, "scores.loss.bands", "own")


def test_a_difference_names_edges_bands_and_directions() -> None:
    """One edit a number; bands that come or go are one edit."""
    form = form_of(OWN)
    moved = form_of(OWN.replace("good: 2", "good: 3").replace("best: lowest", "best: highest"))
    assert [str(edit) for edit in difference(form, moved)] == [
        "scores.value.bands.good: 2 -> 3",
        "scores.loss.ranks.best: lowest -> highest",
    ]
    without = form_of(OWN.replace("    bands: {good: 2, poor: 0}\n", "").replace(", bands: none", ""))
    assert [str(edit) for edit in difference(form, without)] == [
        "scores.value.bands: removed, was {good: 2, poor: 0}",
        "scores.loss.bands: removed, was none",
    ]
    assert [(change.kind, change.says) for change in changes(form, moved)] == [
        ("value", "Value: lower edge of `good` 2 -> 3 points"),
        ("value", "Loss: ranks: best end lowest -> highest"),
    ]
    renamed = form_of(OWN.replace("good: 2", "fine: 2"))
    assert [change.says for change in changes(form, renamed)] == [
        "Value: lower edge of `good` removed, was 2 points",
        "Value: lower edge of `fine` added, 2 points",
    ]


@pytest.mark.parametrize(
    ("bands", "message"),
    [
        ("nobody", "`nobody` for scores.value.bands; expected one of formula, none"),
        ("{}", "no band in scores.value.bands"),
        ("{a: 1, b: 1.0}", "the bands `a` and `b` both from 1.0"),
        ("{a: x}", "expected a number for scores.value.bands.a"),
        ("[1, 2]", "for scores.value.bands"),
    ],
)
def test_bands_that_cannot_be_read_are_faults(bands: str, message: str) -> None:
    """Each with its address."""
    with pytest.raises(FormulaError, match=message.replace("{", r"\{").replace("`", "`")):
        form_of(OWN.replace("{good: 2, poor: 0}", bands))


def test_the_next_band_is_that_of_the_score() -> None:
    """From 1 point a price the next is `good` from 2; a loss with bands gets better downwards."""
    form = form_of(OWN)
    assert next_band(form.output("value"), 0) == ("good", 2.0)
    assert next_band(form.output("loss"), -1) is None
    banded = set_address(form, "scores.loss.bands", "{heavy: 6, light: 0}").output("loss")
    assert next_band(banded, 1) == ("light", 6.0)


def test_a_claim_of_direction_goes_by_the_score_s_own_best_end() -> None:
    """More x is better: the index and the value may not fall with it, the loss may not rise."""
    text = OWN.replace('x: {unit: "1"}', 'x: {unit: "1", better: higher, plausible: [0, 12]}')
    found = check(compile_form(form_of(text)))
    claims = {one.output: (one.claim, one.verdict) for one in found.findings if one.kind == "direction"}
    assert claims["value"] == ("does not fall as x rises", "proved")
    assert claims["loss"] == ("does not rise as x rises", "proved")
    turned = check(compile_form(form_of(text.replace("ranks: {best: lowest}, ", ""))))
    assert {one.output: one.verdict for one in turned.findings if one.kind == "direction"}["loss"] == "refuted"


def test_check_warns_of_bands_out_of_reach_and_claims_each_set_by_itself() -> None:
    """The formula's bands on a scale to 5 hold no `strong`; bands of one's own cover the scale of one's own."""
    text = OWN.replace('x: {unit: "1"}', 'x: {unit: "1", plausible: [0, 12]}')
    found = check(compile_form(form_of(text)))
    claims = [(one.output, one.claim, one.verdict) for one in found.findings if one.kind == "bands"]
    assert claims == [
        ("", "bands cover the scale from 0 to 5", "refuted"),
        ("value", "its bands cover the scale from 0 to 5", "proved"),
    ]
    assert [(one.address, one.says) for one in found.warnings if one.topic == BANDS] == [
        (
            "scores.plain.bands",
            "it has the formula's bands, of which `strong` can never be reached: it lies between 0.5 and 5; "
            "write `bands:` at scores.plain, or `bands: none`",
        )
    ]


def test_check_says_where_there_is_but_one_band_and_where_the_formulas_hold_for_none() -> None:
    """From 0 to 3 everything is `low`; and nobody has the formula's bands then."""
    text = HEAD.replace('x: {unit: "1"}', 'x: {unit: "1", plausible: [0, 1]}')
    text += 'bands: {one: 1}\nscores:\n  a: {value: "3 * x", scale: {from: 0, to: 3}, bands: {low: 0, high: 3.5}}\n'
    says = {one.address: one.says for one in check(compile_form(form_of(text))).warnings if one.topic == BANDS}
    assert says == {
        "bands": "the formula's bands hold for no score: each has its own, or none",
        "scores.a.bands": "it has bands of its own, of which none but `low` can ever be reached: it lies between 0 and 3",
    }


def test_a_shown_figure_may_reach_a_band_that_the_value_does_not() -> None:
    """2.96 at most is shown as 3.0: the band from 3 is reached by what is shown, and not by what is not rounded."""
    text = HEAD.replace('x: {unit: "1"}', 'x: {unit: "1", plausible: [0, 2.96]}')
    text += "scores:\n  a: {value: x, scale: {from: 0, to: 3}, bands: {low: 0, high: 3}}\n"
    for on, count in (("shown", 0), ("unrounded", 1)):
        found = check(compile_form(form_of(text + f"bands_on: {on}\n")))
        assert len([one for one in found.warnings if one.topic == BANDS]) == count


def test_a_record_holds_the_rules_of_each_score() -> None:
    """Where they are not those of all; a table without any is recorded as before."""
    table = score(OWN, READINGS)
    rules = sections_of(table, table.program, ())["rules"]["outputs"]
    assert rules["loss"]["ranks"] == {"on": "unrounded", "ties": "shared-best", "best": "lowest"}
    assert rules["loss"]["bands"] == []
    assert rules["value"]["bands"] == [{"name": "poor", "from": 0}, {"name": "good", "from": 2}]
    assert set(rules["index"]) == {"section", "label", "step", "rule"}
    assert "rules" in SECTIONS


def test_bands_of_the_formula_are_one_and_the_same_noun() -> None:
    """So that an edge that is moved moves them all."""
    form = form_of(OWN)
    assert form.output("plain").bands.edges == form.bands
    assert form.band_names == ("weak", "fair", "strong", "poor", "good")
    lower = set_address(form, "bands.strong", "3.5").output("plain").bands
    assert [edge.edge.value for edge in lower.edges] == [1, 3.5, 4]


@pytest.mark.parametrize(
    ("written", "hint"),
    [
        ("ratings: {a: {value: x}}\nscores: {s: {mix: [{rating: a}]}}\n", "It is a rating's: make one under `ratings`"),
        ("scores: {s: {measure: x, curve: {ratio: {}}}}\n", "It is a rating's: make one under `ratings`"),
        (
            "ratings: {a: {value: x}, b: {parts: [a]}}\n",
            "It is a score's: write `mix: [{rating: NAME, weight: 2}, ...]`",
        ),
    ],
)
def test_a_key_of_a_rating_at_a_score_is_answered_with_what_to_write(written: str, hint: str) -> None:
    """And the other way round."""
    head = "formula: trial\nscale: {from: 0, to: 10}\nmeasures: {x: {unit: mm}}\n"
    assert hint in "\n".join(faults_of(head + written))
