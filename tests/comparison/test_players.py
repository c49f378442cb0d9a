"""The causes of a comparison: which edits stand alone, which go together, and what counts as a difference of readings."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from comparison.test_coalitions import swapped, without
from written_editions import read_by_all
from written_forms import form_of
from written_studies import SMALL, catalogue_of, small_catalogue, small_form

from analysis.changes.changes import changes
from analysis.comparison.editions import ReadBy, differing_readings
from analysis.comparison.players import Player, players_of
from scoring.addresses.addresses import set_addresses
from scoring.catalogue import read_catalogue
from scoring.form import Form

NOISY = """\
formula: trial
scale: {from: 1, to: 10}
measures:
  noise: {unit: dB, reporting_limit: 22}
ratings:
  quiet: {measure: noise, curve: {line: {worst: 46, best: 22}}}
"""


def players(old: Form, new: Form, readings: ReadBy | None = None) -> tuple[Player, ...]:
    """The players between two forms, on one catalogue where no other is given."""
    return players_of(changes(old, new), old, new, readings or read_by_all(small_catalogue(), small_catalogue()))


def kinds(found: tuple[Player, ...]) -> list[str]:
    """What kind each player is."""
    return [player.kind for player in found]


def test_nothing_that_differs_is_no_player() -> None:
    """The same form, and one with other comments and spellings of numbers."""
    assert players(small_form(), small_form()) == ()
    assert players(small_form(), form_of(SMALL.replace("a: 0.5", "a: 0.50") + "# said\n")) == ()


def test_each_value_at_an_address_is_a_player_with_what_stood_there() -> None:
    """An edit can be made on the old form with `after`, and taken back on the new one with `before`."""
    new = set_addresses(small_form(), ["scores.s.weights.a=0.2", "scores.s.blend=geometric mean"])
    found = {player.address: (player.kind, player.before, player.after) for player in players(small_form(), new)}
    assert found == {
        "scores.s.weights.a": ("edit", "0.5", "0.2"),
        "scores.s.blend": ("edit", "weighted mean", "geometric mean"),
    }


@pytest.mark.parametrize(
    ("setting", "kind"),
    [
        ("ranks.best=lowest", ["structure"]),
        ("scale.show.step=0.5", ["structure"]),
        ("scale.to=20", ["edit"]),
        ("measures.x.repeats=median", ["edit"]),
        ("measures.x.better=lower", []),
        ("ratings.a.curve.outside=error", ["edit"]),
    ],
)
def test_what_moves_places_only_goes_with_the_structure_and_what_moves_nothing_is_no_player(
    setting: str, kind: list[str]
) -> None:
    """Ranks and rounding change no score; which way a measure is better is only said."""
    assert kinds(players(small_form(), set_addresses(small_form(), [setting]))) == kind


def test_rounding_of_one_score_goes_with_the_structure() -> None:
    """A score's own scale says how it is shown; that changes no score, either."""
    old = swapped(small_form(), ("t: {blend", "t: {scale: {from: 1, to: 10, show: {step: 0.1}}, blend"))
    new = set_addresses(old, ["scores.t.scale.show.step=0.5"])
    assert kinds(players(old, new)) == ["structure"]


def test_numbers_of_a_curve_that_pass_each_other_are_one_edit_of_the_curve() -> None:
    """Points at 0, 10, 20 to 12, 18, 25: with only the first one moved, they would not ascend."""
    new = set_addresses(small_form(), ["ratings.b.curve={points: {12: 1, 18: 4, 25: 10}}", "scores.s.weights.a=0.4"])
    found = players(small_form(), new)
    assert sorted(player.address for player in found) == ["ratings.b.curve", "scores.s.weights.a"]
    (curve,) = [player for player in found if player.address == "ratings.b.curve"]
    assert "12" in curve.after
    assert "20" in curve.before
    assert all(word in curve.says for word in ("12", "18", "25"))


def test_numbers_of_a_curve_that_keep_their_order_are_edits_of_their_own() -> None:
    """Points at 0, 10, 20 to 2, 12, 22."""
    new = set_addresses(small_form(), ["ratings.b.curve={points: {2: 1, 12: 4, 22: 10}}"])
    assert [player.address for player in players(small_form(), new)] == [
        f"ratings.b.curve.points.{k}.at" for k in (1, 2, 3)
    ]


def test_the_ends_of_a_scale_that_pass_each_other_go_together() -> None:
    """1 to 10 becomes 20 to 100: from 20 to 10 would be no scale."""
    text = "formula: t\nscale: {from: 1, to: 10}\nmeasures: {x: {unit: '1'}}\nratings: {r: {measure: x, curve: {line: {worst: 0, best: 9}}}}\n"
    new = form_of(text.replace("from: 1, to: 10", "from: 20, to: 100"))
    assert kinds(players(form_of(text), new)) == ["structure"]


@pytest.mark.parametrize("back", [False, True], ids=["comes", "goes"])
def test_a_blend_that_comes_or_goes_with_a_number_of_its_own_goes_with_the_structure(back: bool) -> None:
    """A power mean without its exponent is no formula, so that neither is an edit by itself; the weight still is one."""
    old = small_form()
    new = swapped(old, ("s: {weights: {a: 0.5", "s: {blend: power mean, exponent: 2, weights: {a: 0.6"))
    found = players(new, old) if back else players(old, new)
    assert [(player.kind, player.address) for player in found] == [("edit", "scores.s.weights.a"), ("structure", "")]
    assert "exponent of the blend" in found[1].says
    assert ("power mean -> weighted mean" if back else "weighted mean -> power mean") in found[1].says


def test_things_added_and_removed_are_one_player_that_says_them_all() -> None:
    """A rating added and a part removed cannot be shared out."""
    new = swapped(
        small_form(),
        ("  m: {mix", "  c: {measure: z, curve: {line: {worst: 0, best: 20}}}\n  m: {mix"),
        ("a: 0.5, b: 0.3, m: 0.2}", "a: 0.5, b: 0.3, c: 0.2}"),
    )
    (only,) = players(small_form(), new)
    assert only.kind == "structure"
    assert only.says.count(";") >= 1


def test_products_that_came_and_went_are_named() -> None:
    """In the order of the catalogues."""
    start = small_catalogue(5)
    found = players(small_form(), small_form(), read_by_all(without(start, "p1"), without(start, "p3", "p5")))
    assert [(player.kind, player.says) for player in found] == [("products", "gone p3, p5; new p1")]


def test_differing_readings_name_products_and_measures() -> None:
    """A value, a repeat more, a reading lost; another order of the repeats is no difference."""
    one = {"x": np.array([[1.0, 2], [3, 4], [5, 6], [7, 8]]), "y": np.ones(4), "z": np.ones(4)}
    other = {
        "x": np.array([[2.0, 1], [3, 4.5], [5, np.nan], [7, 8]]),
        "y": np.array([1, 1, 1, np.nan]),
        "z": np.ones(4),
    }
    read = read_by_all(catalogue_of(**one), catalogue_of(**other))
    assert differing_readings(read, small_form(), small_form()) == {"p2": ("x",), "p3": ("x",), "p4": ("y",)}


def test_words_that_differ_are_readings_where_the_formula_declares_them() -> None:
    """An attribute of the formula; any other column is nobody's business."""
    form = swapped(small_form(), ("measures:", "attributes: {kind: {values: [foam, coil]}}\nmeasures:"))
    ones = {"x": np.ones(2), "y": np.ones(2), "z": np.ones(2)}
    read = read_by_all(
        catalogue_of({"kind": ["foam", "coil"], "maker": ["A", "B"]}, **ones),
        catalogue_of({"kind": ["foam", "foam"], "maker": ["C", "D"]}, **ones),
    )
    assert differing_readings(read, form, form) == {"p2": ("kind",)}


@pytest.mark.parametrize("cell", ["missing: lost", "not applicable: too small"])
def test_why_a_reading_is_absent_is_a_difference(tmp_path: Path, cell: str) -> None:
    """Missing and not applicable score differently; a limit that only one formula has makes no difference."""
    old = form_of(NOISY)
    new = form_of(NOISY.replace("reporting_limit: 22", "reporting_limit: 24"))
    for name, text in (("old", "missing: lost"), ("new", cell)):
        (tmp_path / f"{name}.csv").write_text(f"product,noise\nA,23\nB,{text}\n", encoding="utf-8")
    read = {
        (is_new, by_new): read_catalogue(tmp_path / ("new.csv" if is_new else "old.csv"), (old, new)[by_new])
        for is_new in (False, True)
        for by_new in (False, True)
    }
    expected = {} if cell.startswith("missing") else {"B": ("noise",)}
    assert differing_readings(read, old, new) == expected
