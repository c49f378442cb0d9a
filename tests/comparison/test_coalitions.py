"""Mixtures of two editions: the empty and the full one are the published tables, any other is the formula set by hand."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from extent import is_long
from numpy.typing import NDArray
from written_editions import by_hand, check_ends, editions, published
from written_forms import HEAD, form_of
from written_studies import LABORATORY, SMALL, catalogue_of, demo, small_catalogue, small_form

from analysis.comparison.coalitions import Coalitions
from analysis.shapley import every_coalition, shapley_shares
from scoring.addresses.addresses import set_addresses
from scoring.catalogue import Catalogue, State, read_catalogue
from scoring.form import Form

WEIGHTS = ("scores.s.weights.a=0.35", "scores.s.weights.b=0.45")
ANCHORS = (
    "ratings.a.curve.line.worst=1.5",
    "ratings.b.curve.points.2.gives=6.5",
    "ratings.m.mix.z.curve.target.best=11",
)
EXPRESSION = HEAD + 'ratings:\n  r: {value: "clamp(1 + 0.3 * x + 0.1 * y)"}\nscores: {s: {weights: {r: 1}}}\n'
LIVE = (
    HEAD
    + """\
ratings:
  a: {measure: x, curve: {z: {centre: 5.5, per_sd: 2}, reference: live}}
  b: {measure: y, curve: {line: {worst: 0, best: 20}}}
scores:
  s: {weights: {a: 0.5, b: 0.5}}
"""
)
GATED = (
    SMALL
    + """\
gates:
  - {name: loud, when: x > 12, withhold: too loud}
  - {name: poor, when: b < 3, withhold: too poor}
"""
)


def swapped(form: Form, *pairs: tuple[str, str]) -> Form:
    """The form with texts of its file replaced."""
    text = form.sources[0].text
    for before, after in pairs:
        assert before in text
        text = text.replace(before, after)
    return form_of(text)


def corrected(catalogue: Catalogue, product: int = 1, by: float = 3.0, measure: str = "x") -> Catalogue:
    """One product's readings of a measure moved."""
    readings = {name: one.values.copy() for name, one in catalogue.readings.items()}
    readings[measure][product] += by
    return catalogue_of(**readings)


def without(catalogue: Catalogue, *products: str) -> Catalogue:
    """The catalogue without some products."""
    keep = np.array([name not in products for name in catalogue.products])
    shorter = catalogue_of(**{name: one.values[keep] for name, one in catalogue.readings.items()})
    return replace(shorter, products=tuple(np.array(catalogue.products)[keep].tolist()))


FORMS = {
    "weights": set_addresses(small_form(), WEIGHTS),
    "anchors": set_addresses(small_form(), ANCHORS),
    "blend": set_addresses(small_form(), ["scores.s.blend=geometric mean", "scores.t.blend=weighted mean"]),
    "limits off": set_addresses(small_form(), ["scores.s.limits.1.apply=never"]),
    "limit moved": set_addresses(small_form(), ["scores.s.limits.1.when.1=6", "scores.s.limits.1.at_most=3"]),
    "curve kind": set_addresses(small_form(), ["ratings.b.curve={line: {worst: 20, best: 1}}"]),
    "curve outside and anchors": set_addresses(small_form(), ["ratings.a.curve.line.best=14", *WEIGHTS]),
    "anchors that pass each other": set_addresses(
        small_form(), ["ratings.b.curve={points: {12: 1, 18: 4, 25: 10}}", "scores.s.weights.a=0.1"]
    ),
    "scale": set_addresses(small_form(), ["scale.to=100", "ratings.b.curve.points.3.gives=60"]),
    "missing rule": set_addresses(
        small_form(), ["scores.s.missing.absent_above=0.6", "ratings.m.missing.otherwise=lowest"]
    ),
    "rating added and used": swapped(
        small_form(),
        ("  m: {mix", "  c: {measure: z, curve: {line: {worst: 0, best: 20}}}\n  m: {mix"),
        ("m: 0.2}, limits", "m: 0.3, c: 0.4}, limits"),
    ),
    "part removed": swapped(small_form(), ("a: 0.5, b: 0.3, m: 0.2", "a: 0.6, b: 0.4")),
    "score added": swapped(small_form(), ("  t: {blend", "  u: {weights: {a: 1, b: 2}}\n  t: {blend")),
    "score removed": swapped(small_form(), ("  t: {blend: minimum, weights: {s: 1, m: 1}}\n", "")),
    "lowest is best": set_addresses(small_form(), ["ranks.best=lowest", "scores.s.weights.a=0.1"]),
    "ranks on shown": set_addresses(small_form(), ["ranks.on=shown", "scale.show.step=0.5", "scores.s.weights.a=0.1"]),
    "ties": set_addresses(small_form(), ["ranks.on=shown", "scale.show.step=1", "ranks.ties=dense"]),
    "gates": form_of(GATED),
}


@pytest.mark.parametrize("name", FORMS)
def test_the_ends_are_the_published_tables_whatever_changes_in_the_formula(name: str) -> None:
    """Old to new and new to old, with a product that lacks a reading."""
    catalogue = small_catalogue(9)
    values = {name: one.values.copy() for name, one in catalogue.readings.items()}
    values["z"][4] = np.nan
    catalogue = catalogue_of(**values)
    for old, new in ((small_form(), FORMS[name]), (FORMS[name], small_form())):
        mixtures = editions(old, new, catalogue)
        assert mixtures.players
        check_ends(mixtures)


@pytest.mark.parametrize(
    "form", [small_form(), form_of(LIVE), form_of(GATED)], ids=["fixed anchors", "live reference", "gates"]
)
@pytest.mark.parametrize("what", ["corrected", "gone", "come", "all three", "reordered"])
def test_the_ends_are_the_published_tables_whatever_changes_in_the_catalogue(form: Form, what: str) -> None:
    """Readings corrected, products gone and come, with the formula changed as well and not."""
    start = small_catalogue(9)
    catalogues = {
        "corrected": (start, corrected(start)),
        "gone": (start, without(start, "p3", "p9")),
        "come": (without(start, "p3", "p9"), start),
        "all three": (without(start, "p1"), without(corrected(start, 4, -2.0), "p8")),
        "reordered": (start, catalogue_of(**{n: one.values[::-1] for n, one in start.readings.items()})),
    }
    before, after = catalogues[what]
    if what == "reordered":
        after = replace(after, products=before.products[::-1])
    changed = set_addresses(form, ["scores.s.weights.b=0.9", "ratings.b.missing.absent_above=0.3"])
    for new in (form, changed):
        check_ends(editions(form, new, before, after))


def test_a_renamed_measure_takes_its_own_column_in_every_mixture() -> None:
    """The new catalogue has the column under its new name; each formula finds its own, and all mixtures have scores."""
    old = small_form()
    new = swapped(old, ("  x: {unit", "  sound: {unit"), ("measure: x", "measure: sound"), ("a: 0.5", "a: 0.3"))
    before = small_catalogue(7)
    readings = {("sound" if name == "x" else name): one.values for name, one in before.readings.items()}
    for after in (catalogue_of(**readings), corrected(catalogue_of(**readings), measure="y")):
        mixtures = editions(old, new, before, after)
        check_ends(mixtures)
        assert {player.kind for player in mixtures.players} == {"edit", "structure"} | (
            {"readings"} if after.readings["y"].values[1] != before.readings["y"].values[1] else set()
        )
        scores = mixtures.scores(every_coalition(len(mixtures.players)))
        assert np.isfinite(scores["s"]).all()


def test_a_column_that_only_the_new_catalogue_has_is_a_difference_of_readings() -> None:
    """Both formulas ask for z; the old catalogue lacks it, so that it is no renaming."""
    before = small_catalogue(6)
    lacking = catalogue_of(**{name: one.values for name, one in before.readings.items() if name != "z"})
    mixtures = editions(small_form(), small_form(), lacking, before)
    assert [player.kind for player in mixtures.players] == ["readings"]
    check_ends(mixtures)


def test_a_measure_that_only_the_new_formula_knows_is_compared_as_well() -> None:
    """It stands in both files; where its readings differ, the readings are a cause."""
    old = small_form()
    new = swapped(
        old,
        ('  z: {unit: "1"}\n', '  z: {unit: "1"}\n  w: {unit: "1"}\n'),
        ("measure: x, curve: {line", "measure: w, curve: {line"),
    )
    before = catalogue_of(**{n: r.values for n, r in small_catalogue(6).readings.items()}, w=np.arange(3.0, 9.0))
    mixtures = editions(old, new, before, corrected(before, measure="w"))
    assert [player.kind for player in mixtures.players] == ["structure", "readings"]
    check_ends(mixtures)


def demo_read(old: Form, new: Form) -> tuple[Catalogue, Catalogue, dict[tuple[bool, bool], Catalogue]]:
    """The laboratory's readings as either formula reads them; one file, so that old and new readings are the same."""
    by = {False: read_catalogue(LABORATORY, old), True: read_catalogue(LABORATORY, new)}
    return by[False], by[True], {(is_new, by_new): by[by_new] for is_new in (False, True) for by_new in (False, True)}


def check_all_by_hand(
    mixtures: Coalitions, coalitions: NDArray[np.bool_], read: Callable[[Form], Catalogue] | None = None
) -> None:
    """Values to 1e-9 and places of mixtures, beside tables scored by hand."""
    scores = mixtures.scores(coalitions)
    places = {name: mixtures.ranks(name, scores[name], coalitions) for name in mixtures.targets}
    for row, members in enumerate(coalitions):
        table = by_hand(mixtures, members, read)
        for name in mixtures.targets:
            value, rank = published(table, name, mixtures.products)
            np.testing.assert_allclose(scores[name][row], value, rtol=0, atol=1e-9, err_msg=f"{name} {members}")
            np.testing.assert_array_equal(places[name][row], rank, err_msg=f"{name} {members}")


@pytest.mark.parametrize(
    "name", ["weights", "anchors", "blend", "limit moved", "curve kind", "anchors that pass each other", "missing rule"]
)
def test_every_mixture_of_edits_is_the_formula_with_those_settings(name: str) -> None:
    """Brute force on the small form; with readings corrected and products gone and come besides."""
    start = small_catalogue(7)
    before, after = without(start, "p2"), without(corrected(start, 4, 2.5, "y"), "p6")
    mixtures = editions(small_form(), FORMS[name], before, after)
    assert 3 <= len(mixtures.players) <= 6
    check_all_by_hand(mixtures, every_coalition(len(mixtures.players)))


def test_mixtures_under_live_references_take_the_crowd_of_the_mixture() -> None:
    """A product that comes moves the least and greatest reading, and so every other product's score."""
    start = small_catalogue(6)
    start = corrected(start, 5, 30.0)
    new = set_addresses(form_of(LIVE), ["scores.s.weights.a=0.8"])
    mixtures = editions(form_of(LIVE), new, without(start, "p6"), corrected(start, 0, 1.0))
    assert [player.kind for player in mixtures.players] == ["edit", "readings", "products"]
    check_all_by_hand(mixtures, every_coalition(3))
    scores = mixtures.scores(np.array([[False, False, False], [False, False, True]]))["s"]
    assert (np.abs(scores[1, :5] - scores[0, :5])[scores[0, :5] > 3.3] > 0.01).any()


def test_gates_are_asked_anew_in_every_mixture() -> None:
    """A rating that an edit moves opens and shuts a gate; so does a reading; a product that comes may be withheld."""
    start = small_catalogue(8)
    values = {name: one.values.copy() for name, one in start.readings.items()}
    values["x"][:, 0] = np.array([11.0, 5, 6, 7, 8, 9, 10, 15])
    values["y"][:, 0] = np.array([15.0, 12, 8, 16, 17, 14, 9, 15])
    start = catalogue_of(**values)
    new = set_addresses(form_of(GATED), ["ratings.b.curve.points.2.gives=1.5", "scores.s.weights.a=0.9"])
    mixtures = editions(form_of(GATED), new, without(start, "p8"), corrected(start, 0, 2.0))
    assert [player.kind for player in mixtures.players] == ["edit", "edit", "readings", "products"]
    every = every_coalition(4)
    check_all_by_hand(mixtures, every)
    ranks = mixtures.ranks("s", mixtures.scores(every)["s"], every)
    assert len({tuple(np.isnan(row)) for row in ranks}) >= 4


def test_a_score_in_between_is_unknown_where_a_mixture_has_none() -> None:
    """A product without z is unrated under one missing rule and rated under the other; no number is made up."""
    values = {name: one.values.copy() for name, one in small_catalogue(5).readings.items()}
    values["z"][1] = values["x"][1] = np.nan
    new = set_addresses(small_form(), ["scores.s.missing.absent_above=0.9", "scores.s.weights.b=0.5"])
    mixtures = editions(small_form(), new, catalogue_of(**values))
    scores = mixtures.scores(every_coalition(len(mixtures.players)))["s"]
    assert np.isnan(scores[:, 1]).any()
    assert np.isfinite(scores[:, [0, 2, 3, 4]]).all()


def test_random_mixtures_of_the_demo_are_its_formula_with_those_settings() -> None:
    """Weights, anchors, a blend, limits and a repeats rule of the invented laboratory; 12 (4) of 512 mixtures, all scores."""
    form, _ = demo()
    settings = [
        "scores.two_abed.weights.quiet=0.26",
        "scores.two_abed.limits.1.when.1=4",
        "scores.cool_night.blend=geometric mean",
        "ratings.quiet.curve.line.worst=50",
        "ratings.cooling.mix.evap_res_m2pa_w.curve.log.best=40",
        "ratings.edge.mix.edge_ratio.weight=0.7",
        "measures.noise_dba.repeats=median",
        "measures.noise_dba.reporting_limit=27",
        "scores.steady_rise.limits.1.apply=never",
    ]
    new = set_addresses(form, settings)
    mixtures = editions(form, new, *demo_read(form, new))
    assert {player.address for player in mixtures.players} == {setting.partition("=")[0] for setting in settings}
    check_ends(mixtures)
    some = every_coalition(9)[np.random.default_rng(1).choice(512, 12 if is_long() else 4, replace=False)]
    check_all_by_hand(mixtures, some, lambda made: read_catalogue(LABORATORY, made))


def test_shares_of_all_mixtures_add_up_to_score_and_rank_moves() -> None:
    """Product by product: scores to 1e-9, places to the rank change."""
    start = small_catalogue(8)
    mixtures = editions(small_form(), FORMS["anchors"], start, without(corrected(start), "p4"))
    every = every_coalition(len(mixtures.players))
    scores = mixtures.scores(every)["s"]
    for values, ends in ((scores, 0), (mixtures.ranks("s", scores, every), 1)):
        shares = shapley_shares(values, len(mixtures.players)).sum(axis=0)
        old, new = (published(table, "s", mixtures.products)[ends] for table in (mixtures.old, mixtures.new))
        here = ~np.isnan(old) & ~np.isnan(new)
        assert here.sum() == 7
        np.testing.assert_allclose(shares[here], (new - old)[here], rtol=0, atol=1e-9)


def test_nine_choices_at_one_output_are_no_more_formulas_than_can_be_compiled() -> None:
    """Beyond eight, choices at one rating go with the structure, and the ends are still the published tables."""
    curves = ("{line: {worst: 0, best: 20}}", "{log: {worst: 40, best: 2}}")
    parts = ", ".join(f"{{measure: m{k}, weight: 1, curve: {{line: {{worst: {k}, best: 20}}}}}}" for k in range(10))
    names = "".join(f'  m{k}: {{unit: "1"}}\n' for k in range(10))
    old = form_of(f"formula: trial\nscale: {{from: 1, to: 10}}\nmeasures:\n{names}ratings:\n  r: {{mix: [{parts}]}}\n")
    new = set_addresses(old, [f"ratings.r.mix.m{k}.curve={curves[1]}" for k in range(10)])
    rng = np.random.default_rng(0)
    mixtures = editions(old, new, catalogue_of(**{f"m{k}": rng.uniform(1, 20, 4) for k in range(10)}))
    assert [player.kind for player in mixtures.players] == ["structure"]
    check_ends(mixtures)


def test_weights_that_could_all_be_nothing_go_together() -> None:
    """All weight passes from one part to another: with only one edit made, nothing would be left to weigh."""
    one, other = ({"a": 1, "b": 0, "m": 0}, {"a": 0, "b": 1, "m": 0})
    old, new = (set_addresses(small_form(), [f"scores.s.weights.{n}={v}" for n, v in w.items()]) for w in (one, other))
    mixtures = editions(old, new, small_catalogue(5))
    assert [player.kind for player in mixtures.players] == ["structure"]
    check_ends(mixtures)


def test_a_gate_counts_repeats_as_each_mixture_does() -> None:
    """Repeats 11, 11.5, 20: withheld over 12 by their mean, not by their median."""
    values = {name: np.repeat(one.values, 3, axis=1) for name, one in small_catalogue(5).readings.items()}
    values["x"][1], values["x"][2] = [11, 11.5, 20], [5, 12.5, 13]
    values["y"][1:3] = 18.0
    new = set_addresses(form_of(GATED), ["measures.x.repeats=median", "scores.s.weights.a=0.9"])
    mixtures = editions(form_of(GATED), new, catalogue_of(**values))
    assert [player.kind for player in mixtures.players] == ["edit", "edit"]
    check_all_by_hand(mixtures, every_coalition(2))
    ranks = mixtures.ranks("s", mixtures.scores(every_coalition(2))["s"], every_coalition(2))
    at = [player.address for player in mixtures.players].index("measures.x.repeats")
    medians = every_coalition(2)[:, at]
    assert np.isnan(ranks[:, 1]).tolist() == (~medians).tolist()
    assert np.isnan(ranks[:, 2]).tolist() == medians.tolist()


def test_readings_below_the_floor_are_of_the_formula_that_counts_them() -> None:
    """A limit moved is an edit; the readings themselves do not differ."""
    form, catalogue = demo()
    new = set_addresses(form, ["measures.noise_dba.reporting_limit=24"])
    mixtures = editions(form, new, *demo_read(form, new))
    assert [player.kind for player in mixtures.players] == ["edit"]
    assert (catalogue.readings["noise_dba"].states == State.BELOW).any()
