"""The study that is derived from a formula, and the invented laboratory's own: every range, by hand."""

from __future__ import annotations

import functools
import math
from collections import Counter

import numpy as np
import pytest
from written_forms import HEAD, form_of
from written_studies import LABORATORY, catalogue_of, demo, draws_of, even_uniforms, small_catalogue

from analysis.study import Draws, Study, default_study, load_study
from analysis.study.distributions import LogUniform, Uniform
from analysis.study.moves import ChoiceMove, NoiseMove, NumberMove, WeightsMove
from analysis.study.weight_rules import ByFactor, PlusMinus
from scoring.form import Form
from scoring.measurement_error import error_model

#: Where the invented laboratory's curves begin and end, and whether along the logarithm.
CURVES = {
    "bounce.curve.line": (5, 65, False),
    "stillness.mix.shake_m_s2.curve.log": (1.6, 0.08, True),
    "stillness.mix.settle_s.curve.log": (3.0, 0.2, True),
    "edge.mix.edge_sink_mm.curve.line": (135, 40, False),
    "edge.mix.edge_ratio.curve.line": (0.35, 1.15, False),
    "cooling.mix.heat_flux_w_m2.curve.line": (35, 95, False),
    "cooling.mix.evap_res_m2pa_w.curve.log": (200, 30, True),
    "quiet.curve.line": (46, 22, False),
    "pressure.mix.peak_mmhg.curve.line": (85, 32, False),
    "pressure.mix.contact_cm2.curve.line": (2300, 4200, False),
    "turning.mix.recover_s.curve.log": (40, 0.4, True),
    "turning.mix.rebound_pct.curve.line": (5, 65, False),
    "lasting.curve.log": (25, 2.5, True),
}
WEIGHTS = {
    "two_abed": (0.26, 0.2, 0.18, 0.14, 0.12, 0.1),
    "propped_page": (0.3, 0.22, 0.2, 0.12, 0.1, 0.06),
    "restless_night": (0.34, 0.22, 0.12, 0.12, 0.1, 0.1),
    "steady_rise": (0.38, 0.2, 0.18, 0.14, 0.1),
    "cool_night": (0.5, 0.14, 0.14, 0.12, 0.1),
}
SHARES = {
    "stillness": (0.65, 0.35),
    "edge": (0.6, 0.4),
    "cooling": (0.6, 0.4),
    "pressure": (0.6, 0.4),
    "turning": (0.7, 0.3),
}
#: The standard deviation of one reading and how many there are of most products: (amount, is a share, repeats).
BENCH = {
    "rebound_pct": (1.5, False, 5),
    "settle_s": (0.10, True, 5),
    "edge_sink_mm": (2.5, False, 3),
    "edge_ratio": (0.03, False, 3),
    "heat_flux_w_m2": (1.6, False, 3),
    "evap_res_m2pa_w": (0.05, True, 3),
    "noise_dba": (1.2, False, 5),
    "shake_m_s2": (0.09, True, 5),
    "peak_mmhg": (3.0, False, 4),
    "contact_cm2": (70, False, 4),
    "hardness_n_mm": (0.15, False, 3),
    "recover_s": (0.08, True, 3),
    "height_loss_mm": (0.12, True, 3),
}


@functools.cache
def laboratory() -> Study:
    """The invented laboratory's own study."""
    form, held = demo()
    return load_study(LABORATORY / "study.yaml", form, held)


def numbers_of(study: Study) -> dict[str, NumberMove]:
    """The numbers that vary one by one, by address."""
    return {move.address: move for move in study.moves if isinstance(move, NumberMove)}


def rules_of(study: Study) -> dict[str, ByFactor | PlusMinus]:
    """The rule of each output's weights, by the output's name."""
    found = {}
    for move in study.moves:
        if isinstance(move, WeightsMove):
            assert isinstance(move.rule, ByFactor | PlusMinus)
            found[move.factors[0].output] = move.rule
    return found


def test_the_laboratory_moves_each_weight_of_its_scores_by_a_factor_from_0_7_to_1_3() -> None:
    """Then rescaled to the sum of 1."""
    rules = {name: rule for name, rule in rules_of(laboratory()).items() if isinstance(rule, ByFactor)}
    assert {name: rule.stated for name, rule in rules.items()} == WEIGHTS
    assert {(rule.low, rule.high) for rule in rules.values()} == {(0.7, 1.3)}


def test_the_laboratory_moves_each_share_of_its_ratings_by_15_points() -> None:
    """Of the five ratings that have two parts; rescaled."""
    rules = {name: rule for name, rule in rules_of(laboratory()).items() if isinstance(rule, PlusMinus)}
    assert {name: rule.stated for name, rule in rules.items()} == SHARES
    assert {rule.width for rule in rules.values()} == {0.15}


@pytest.mark.parametrize("curve", CURVES)
def test_the_laboratory_moves_each_worst_and_best_by_8_percent_of_their_distance(curve: str) -> None:
    """Of the distance of logarithms for a log curve; uniformly."""
    worst, best, is_log = CURVES[curve]
    for end, value in (("worst", worst), ("best", best)):
        law = numbers_of(laboratory())[f"ratings.{curve}.{end}"].distribution
        if is_log:
            reach = 0.08 * abs(math.log(worst / best))
            assert isinstance(law, LogUniform)
            assert (law.low, law.high) == pytest.approx((value * math.exp(-reach), value * math.exp(reach)))
        else:
            reach = 0.08 * abs(worst - best)
            assert isinstance(law, Uniform)
            assert (law.low, law.high) == pytest.approx((value - reach, value + reach))


def test_a_few_of_the_laboratorys_ranges_to_the_last_figure() -> None:
    """By hand: 8 % of 24 dB is 1.92; of 8.5 N/mm 0.68; of ln(20), 0.2397, a factor of 1.2709."""
    laws = {address: move.distribution for address, move in numbers_of(laboratory()).items()}
    assert laws["ratings.quiet.curve.line.best"].ends == pytest.approx((20.08, 23.92))
    assert laws["ratings.quiet.curve.line.worst"].ends == pytest.approx((44.08, 47.92))
    for name, ends in (("low", (2.82, 4.18)), ("best", (6.82, 8.18)), ("high", (11.32, 12.68))):
        assert laws[f"ratings.firm_fit.curve.target.{name}"].ends == pytest.approx(ends)
    shake = laws["ratings.stillness.mix.shake_m_s2.curve.log.best"].ends
    assert shake == pytest.approx((0.08 / 1.2709, 0.08 * 1.2709), rel=1e-4)
    assert len(laws) == 2 * len(CURVES) + 3


def options_at(address: str) -> list[str]:
    """The options of a choice but for the stated one, as they are set."""
    move = next(m for m in laboratory().moves if isinstance(m, ChoiceMove) and m.factor.name == address)
    assert move.options[0] == ()
    assert move.chances == (0.5, 0.5)
    return [value for option in move.options[1:] for _, value in option]


def test_the_laboratory_argues_about_two_curves_the_mean_and_the_limits() -> None:
    """Quiet straight in decibels or by loudness, stillness in logarithms or straight, mean or geometric, limits on or off."""
    assert options_at("ratings.stillness.mix.shake_m_s2.curve") == ["{line: {worst: 1.6, best: 0.08}}"]
    assert options_at("ratings.stillness.mix.settle_s.curve") == ["{line: {worst: 3.0, best: 0.2}}"]
    for score in WEIGHTS:
        assert options_at(f"scores.{score}.blend") == ["geometric mean"]
        assert set(options_at(f"scores.{score}.limits")) == {"never"}
    kinds = Counter(factor.kind for factor in laboratory().factors)
    assert kinds == {
        "weights": 28,
        "shares of parts": 10,
        "anchors": 29,
        "choice of curve": 3,
        "choice of mean": 5,
        "limits": 5,
        "bench noise": 1,
    }


def test_the_other_curve_of_quiet_is_straight_in_loudness() -> None:
    """From 46 dB, rated 1, to 22 dB, rated 10, in sones: 2 ** ((L - 40) / 10).

    Ten phons sound twice as loud, 40 phons being one sone: ISO 131:1979, Expression of physical and subjective magnitudes
    of sound or noise in air (from memory), here extended below 40 dB, where it is rough.
    """
    (curve,) = options_at("ratings.quiet.curve")
    assert curve == "{points: {22: 10, 28: 8.92, 34: 7.27, 40: 4.78, 46: 1}}"
    levels = np.array([22, 28, 34, 40, 46])
    sones = 2 ** ((levels - 40) / 10)
    straight = 1 + 9 * (sones[-1] - sones) / (sones[-1] - sones[0])
    np.testing.assert_allclose([10, 8.92, 7.27, 4.78, 1], straight, atol=0.006)


@pytest.mark.parametrize("measure", BENCH)
def test_the_laboratorys_noise_is_its_repeatability_over_the_root_of_repeats(measure: str) -> None:
    """Of the first product that has all its repeats."""
    form, held = demo()
    amount, is_share, repeats = BENCH[measure]
    values = held.readings[measure].values
    product = int(np.flatnonzero((~np.isnan(values)).sum(axis=1) == repeats)[0])
    size = abs(np.nanmean(values[product])) if is_share else 1
    errors = error_model(form, held).measures[measure]
    u = errors.component_u(errors.component("repeatability"))[product]
    assert u == pytest.approx(amount * size / math.sqrt(repeats), rel=1e-9)
    noise = next(move for move in laboratory().moves if isinstance(move, NoiseMove))
    assert measure in noise.measures


def test_the_laboratorys_questions() -> None:
    """All five scores, the first five places, two pairs."""
    study = laboratory()
    assert (study.name, study.scores, study.top) == ("judgement-and-bench", tuple(WEIGHTS), 5)
    assert study.pairs == (("QB-029", "QB-039"), ("QB-044", "QB-050"))
    assert (study.correlations, study.notes) == ((), ())


def test_draws_of_the_laboratorys_study_stay_in_their_ranges() -> None:
    """A factor of 0.7 for one weight and 1.3 for all others is the furthest that a share can go."""
    study = laboratory()
    setting = study.setting(draws_of(study, 2000))
    for score, stated in WEIGHTS.items():
        addresses = [a for a in setting.numbers if a.startswith(f"scores.{score}.weights.")]
        drawn = np.stack([setting.numbers[a] for a in addresses], axis=1)
        np.testing.assert_allclose(drawn.sum(axis=1), 1)
        least = np.array([0.7 * w / (0.7 * w + 1.3 * (1 - w)) for w in stated])
        most = np.array([1.3 * w / (1.3 * w + 0.7 * (1 - w)) for w in stated])
        assert ((drawn > least) & (drawn < most)).all()
    for address, move in numbers_of(study).items():
        low, high = move.distribution.ends
        assert ((setting.numbers[address] >= low) & (setting.numbers[address] <= high)).all()
    for picks in setting.choices.values():
        assert np.bincount(picks, minlength=2) == pytest.approx([1000, 1000], abs=4.5 * math.sqrt(500))


# the derived study


@functools.cache
def derived() -> Study:
    """What is derived from the invented laboratory's formula."""
    return default_study(*demo())


def test_a_derived_study_moves_what_it_says() -> None:
    """By hand: 28 weights, 5 x 2 shares, 13 straight or log curves in use (not `lasting`) and a target, 6 bounds;
    3 ratings and 5 scores that some product has in spite of a missing part."""
    study = derived()
    assert (study.name, study.source, study.sha256, study.top) == ("default", "derived from the formula", "", 5)
    assert study.scores == tuple(WEIGHTS)
    assert Counter(factor.kind for factor in study.factors) == {
        "weights": 28,
        "shares of parts": 10,
        "anchors": 2 * 12 + 3,
        "choice of mean": 10,
        "limits": 6 + 5,
        "missing rule": 3 + 5,
        "bench noise": 1,
        "what was not read": 1,
    }
    assert {
        rule.stated: (rule.low, rule.high) for rule in rules_of(study).values() if isinstance(rule, ByFactor)
    } == dict.fromkeys((*WEIGHTS.values(), *SHARES.values()), (0.75, 1.25))


def test_a_derived_study_says_where_each_range_comes_from() -> None:
    """In the resolved table, for want of a line in a file."""
    origins = {factor.name: (factor.says, factor.origin) for factor in derived().factors}
    assert origins["ratings.quiet.curve.line.best"] == (
        "uniform, 20.8 to 23.2",
        "default: anchors by 5 % of their stretch",
    )
    assert origins["scores.two_abed.limits.1.at_most"] == (
        "uniform, 4.55 to 5.45",
        "default: bounds by 5 % of the scale",
    )
    assert origins["scores.two_abed.blend"][1] == "default: the mean and its rival"
    assert origins["scores.two_abed.limits"][1] == "default: limits on or off"
    assert origins["scores.two_abed.weights.edge"][1] == "default: weights by 25 %"
    assert origins["readings"][1] == "default: repeatability"


def test_a_derived_study_looks_at_what_leads_to_its_scores_only() -> None:
    """`cool_night` has no use for bounce, stillness, firmness or height."""
    form, held = demo()
    study = default_study(form, held, ("cool_night",), top=3)
    outputs = {factor.output for factor in study.factors}
    assert outputs == {"cool_night", "cooling", "pressure", "quiet", "turning", "edge", ""}
    assert (study.scores, study.top) == (("cool_night",), 3)


def of(text: str) -> Study:
    """The study derived from ratings and scores of x, y and z."""
    return default_study(form_of(HEAD + text), small_catalogue())


def says(study: Study) -> dict[str, str]:
    """Each factor, in words."""
    return {factor.name: factor.says for factor in study.factors}


PAIR = "ratings:\n  a: {measure: x, curve: {line: {worst: 0, best: 20}}}\n  b: {measure: y, curve: {line: {worst: 0, best: 20}}}\n"


def test_exponents_move_by_a_fifth() -> None:
    """Of a curve and of a power mean, a negative one too."""
    text = (
        PAIR.replace("line: {worst: 0, best: 20}", "power: {worst: 0, best: 20, exponent: 0.5}", 1)
        + "scores:\n  s: {blend: power mean, exponent: -2, weights: {a: 1, b: 1}}\n"
    )
    found = says(of(text))
    assert found["ratings.a.curve.power.exponent"] == "uniform, 0.4 to 0.6"
    assert found["scores.s.exponent"] == "uniform, -2.4 to -1.6"


@pytest.mark.parametrize(
    ("scale", "blend", "has_rival"),
    [
        ("{from: 1, to: 10}", "weighted mean", True),
        ("{from: 0, to: 10}", "weighted mean", True),
        ("{from: -5, to: 10}", "weighted mean", False),
        ("{from: -5, to: 10}", "minimum", False),
    ],
)
def test_a_mean_has_a_rival_where_the_scale_lets_it(scale: str, blend: str, has_rival: bool) -> None:
    """A geometric mean of negative ratings is no number."""
    text = PAIR + f"scores:\n  s: {{scale: {scale}, blend: {blend}, weights: {{a: 1, b: 1}}}}\n"
    assert ("scores.s.blend" in says(of(text))) is has_rival


@pytest.mark.parametrize(
    ("bound", "expected"),
    [
        ("5", "uniform, 4.55 to 5.45"),
        ("1.2", "uniform, 1 to 1.65"),
        ("9.9", "uniform, 9.45 to 10"),
        ("12", None),
        ("0", None),
    ],
)
def test_a_bound_moves_within_the_scale(bound: str, expected: str | None) -> None:
    """One that stands outside it holds nothing back, and stays."""
    text = PAIR + f"scores:\n  s: {{weights: {{a: 1, b: 1}}, limits: [{{when: a < 3, at_most: {bound}}}]}}\n"
    assert says(of(text)).get("scores.s.limits.1.at_most") == expected


def test_limits_that_never_apply_are_left_alone() -> None:
    """Neither their bound nor whether they are on."""
    text = PAIR + "scores:\n  s: {weights: {a: 1, b: 1}, limits: [{when: a < 3, at_most: 5, apply: never}]}\n"
    assert not [name for name in says(of(text)) if "limits" in name]


def test_a_form_without_scores_is_studied_by_its_ratings() -> None:
    """And one weight alone is no weight to argue about."""
    study = of("ratings:\n  a: {mix: [{measure: x, weight: 3, curve: {line: {worst: 0, best: 20}}}]}\n")
    assert study.scores == ("a",)
    assert set(says(study)) == {"ratings.a.mix.x.curve.line.worst", "ratings.a.mix.x.curve.line.best"}


def test_no_noise_is_derived_where_no_repeatability_is_known() -> None:
    """It is said instead."""
    study = of(PAIR)
    assert "readings" not in says(study)
    assert study.notes == ("No repeatability is known of x, y, z: the bench's noise does not move it.",)


def anchored(curve: str) -> Form:
    """One rating of x by a curve."""
    return form_of(HEAD + f"ratings:\n  a: {{measure: x, curve: {{{curve}}}}}\n")


@pytest.mark.parametrize(
    ("curve", "moved"),
    [
        ("line: {worst: 0, best: 20}", ["worst", "best"]),
        ("log: {worst: 20, best: 2}", ["worst", "best"]),
        ("power: {worst: 0, best: 20, exponent: 2}", ["worst", "best", "exponent"]),
        ("points: {0: 1, 10: 4, 20: 10}", ["1.at", "2.at", "3.at"]),
        ("smooth: {0: 1, 10: 4, 20: 10}", ["1.at", "2.at", "3.at"]),
        ("steps: {0: 1, 10: 4, 20: 10}", ["1.at", "2.at", "3.at"]),
        ("logistic: {middle: 10, spread: 3}", ["middle"]),
        ("target: {low: 0, best: 10, high: 20}", ["low", "best", "high"]),
        ("standing: {}", []),
        ("z: {centre: 5, per_sd: 2}", []),
        ("minmax: {}", []),
        ("ratio: {}", []),
    ],
    ids=lambda value: value.split(":")[0] if isinstance(value, str) else "",
)
def test_the_anchors_of_every_kind_of_curve_move(curve: str, moved: list[str]) -> None:
    """Those that lean on the catalogue have none; every draw is a curve of its kind."""
    study = default_study(anchored(curve), small_catalogue())
    kind = curve.split(":")[0]
    assert list(says(study)) == [f"ratings.a.curve.{kind}.{name}" for name in moved]


def test_the_stretch_of_a_logistic_curve_is_from_a_tenth_to_nine_tenths() -> None:
    """By hand: 2 ln(9) spreads, 13.18 for a spread of 3; 5 % of it to each side of 10."""
    study = default_study(anchored("logistic: {middle: 10, spread: 3}"), small_catalogue())
    law = numbers_of(study)["ratings.a.curve.logistic.middle"].distribution
    assert law.ends == pytest.approx((10 - 0.05 * 6 * math.log(9), 10 + 0.05 * 6 * math.log(9)))


def test_points_near_each_other_move_by_less_than_those_far_apart() -> None:
    """By hand: 5 % of 0 to 100 is 5, but 10 and 12 are 2 apart: 0.45 of it, 0.9, and never the one past the other."""
    study = default_study(anchored("points: {0: 1, 10: 4, 12: 8, 100: 10}"), small_catalogue())
    laws = [numbers_of(study)[f"ratings.a.curve.points.{n}.at"].distribution for n in (1, 2, 3, 4)]
    np.testing.assert_allclose([law.ends for law in laws], [(-4.5, 4.5), (9.1, 10.9), (11.1, 12.9), (95, 105)])
    drawn = study.setting(Draws(even_uniforms(50, 4), {})).numbers
    assert (np.diff(np.stack(list(drawn.values())), axis=0) > 0).all()


def test_one_product_is_enough() -> None:
    """Nothing here needs a second one."""
    study = default_study(form_of(HEAD + PAIR), catalogue_of(x=[3.0], y=[4.0]))
    assert [factor.name for factor in study.factors][:1] == ["ratings.a.curve.line.worst"]


RULED = (
    HEAD
    + """\
ratings:
  a: {measure: x, curve: {line: {worst: 0, best: 20}}}
  b: {measure: y, curve: {line: {worst: 0, best: 20}}}
scores:
  s: {weights: {a: 1, b: 1}, missing: {absent_above: 0.5, otherwise: lowest}}
  t: {weights: {a: 1, b: 1}}
"""
)


def test_what_a_missing_part_counts_as_varies_where_a_product_lacks_one() -> None:
    """The stated rule and the other, alike; not where the product is left without a score, nor where nothing is missing."""
    form = form_of(RULED)
    lacking = catalogue_of(x=[3.0, math.nan, 5.0], y=[1.0, 2.0, 3.0])
    moves = [move for move in default_study(form, lacking).moves if move.factors[0].kind == "missing rule"]
    assert [move.factors[0].name for move in moves] == ["scores.s.missing.otherwise"]
    (rule,) = moves
    assert isinstance(rule, ChoiceMove)
    assert rule.options == ((), (("scores.s.missing.otherwise", "reweight"),))
    assert rule.chances == (0.5, 0.5)
    whole = catalogue_of(x=[3.0, 4.0, 5.0], y=[1.0, 2.0, 3.0])
    assert not [move for move in default_study(form, whole).moves if move.factors[0].kind == "missing rule"]
