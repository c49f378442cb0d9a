"""The bench's noise of a difference: shared readings err alike, those read again do not; closed forms for linear scores."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from written_editions import read_by_all
from written_forms import form_of
from written_studies import catalogue_of, demo_as_far

from analysis.comparison.bridging import bridged, fit_bridge
from analysis.comparison.comparison import compare_tables
from analysis.comparison.shared_noise import SharedNoise, mapped_uncertainty, shared_noise
from scoring.addresses.addresses import set_addresses
from scoring.catalogue import Catalogue
from scoring.checks.bench_reach import reach_warnings
from scoring.checks.findings import WEIGHTS
from scoring.form import Form
from scoring.program.program import compile_form
from scoring.table.table import score_catalogue

#: Both ratings rise by 0.45 points a unit; one reading errs by 0.8 and by 0.5.
LINEAR = """\
formula: trial
scale: {from: 1, to: 10}
measures:
  x: {unit: "1", repeatability: 0.8}
  y: {unit: "1", repeatability: 0.5}
ratings:
  a: {measure: x, curve: {line: {worst: 0, best: 20}}}
  b: {measure: y, curve: {line: {worst: 0, best: 20}}}
scores:
  s: {weights: {a: 0.5, b: 0.5}}
"""
RISE, OF_X, OF_Y = 0.45, 0.8, 0.5
READ = {"x": np.array([8.0, 10, 12, 9]), "y": np.array([11.0, 9, 10, 12])}
#: 8192 draws know a standard deviation to 0.8 %; four times that.
SAMPLED = 0.032


def noise(old: Form, new: Form, before: Catalogue, after: Catalogue | None = None, seed: int = 0) -> SharedNoise:
    """The noise of two editions over the products of both."""
    after = after or before
    came = [name for name in before.products if name not in after.products]
    tables = score_catalogue(old, before), score_catalogue(new, after)
    return shared_noise(*tables, ("s",), (*after.products, *came), seed=seed)


def difference(*given: object) -> NDArray[np.float64]:
    """The standard uncertainty of the difference of s."""
    return np.asarray(noise(*given).difference["s"])  # type: ignore[arg-type]


def test_two_equal_formulas_differ_by_nothing() -> None:
    """Whatever the readings are, both err alike: exactly 0, while each by itself errs as worked out here."""
    found = noise(form_of(LINEAR), form_of(LINEAR), catalogue_of(**READ))
    assert found.difference["s"].tolist() == [0, 0, 0, 0]
    np.testing.assert_allclose(found.old["s"], RISE * 0.5 * np.hypot(OF_X, OF_Y), rtol=SAMPLED)
    np.testing.assert_array_equal(found.old["s"], found.new["s"])


def test_weights_that_pass_from_one_rating_to_another_err_by_what_passes() -> None:
    """0.5, 0.5 to 0.8, 0.2: the difference is 0.3 (a - b), so that u is 0.3 x 0.45 x root(0.8^2 + 0.5^2): worked out here."""
    new = set_addresses(form_of(LINEAR), ["scores.s.weights.a=0.8", "scores.s.weights.b=0.2"])
    expected = 0.3 * RISE * np.hypot(OF_X, OF_Y)
    np.testing.assert_allclose(difference(form_of(LINEAR), new, catalogue_of(**READ)), expected, rtol=SAMPLED)


def test_a_steeper_curve_errs_by_what_it_is_steeper() -> None:
    """a rises by 0.6 a unit instead of 0.45 (best at 15): u is half of 0.15 x 0.8: worked out here."""
    new = set_addresses(form_of(LINEAR), ["ratings.a.curve.line.best=15"])
    np.testing.assert_allclose(difference(form_of(LINEAR), new, catalogue_of(**READ)), 0.5 * 0.15 * OF_X, rtol=SAMPLED)


def test_repeats_make_it_smaller_by_their_root() -> None:
    """Four repeats of each: half of one reading's u."""
    new = set_addresses(form_of(LINEAR), ["scores.s.weights.a=0.8", "scores.s.weights.b=0.2"])
    four = {name: np.repeat(values[:, np.newaxis], 4, axis=1) for name, values in READ.items()}
    expected = 0.3 * RISE * np.hypot(OF_X, OF_Y) / 2
    np.testing.assert_allclose(difference(form_of(LINEAR), new, catalogue_of(**four)), expected, rtol=SAMPLED)


def test_what_was_read_again_errs_anew_and_the_rest_does_not() -> None:
    """p2's x: its two readings err independently, root 2 x 0.5 x 0.45 x 0.8; everyone else's difference is exact."""
    again = {name: values.copy() for name, values in READ.items()}
    again["x"][1] += 1.0
    found = difference(form_of(LINEAR), form_of(LINEAR), catalogue_of(**READ), catalogue_of(**again))
    assert found[[0, 2, 3]].tolist() == [0, 0, 0]
    assert found[1] == pytest.approx(np.sqrt(2) * 0.5 * RISE * OF_X, rel=SAMPLED)


def test_repeats_that_both_have_err_alike() -> None:
    """One of five repeats of x set aside: means of 5 and 4 that share 4 differ by s root(1/4 - 1/5): worked out here."""
    five = np.array([[8.0, 8.1, 8.2, 8.3, 12.0]])
    old = catalogue_of(x=five, y=np.full((1, 5), 10.0))
    new = catalogue_of(x=np.where(five == 12, np.nan, five), y=np.full((1, 5), 10.0))
    expected = 0.5 * RISE * OF_X * np.sqrt(1 / 4 - 1 / 5)
    assert difference(form_of(LINEAR), form_of(LINEAR), old, new)[0] == pytest.approx(expected, rel=0.05)


def test_the_same_readings_summed_up_otherwise_err_alike() -> None:
    """The mean and the median of the same repeats: no second reading was taken."""
    repeats = np.array([[8.0, 8.5, 10.0], [9, 9.2, 11]])
    catalogue = catalogue_of(x=repeats, y=repeats)
    new = set_addresses(form_of(LINEAR), ["measures.x.repeats=median"])
    assert (difference(form_of(LINEAR), new, catalogue) < 0.3 * 0.5 * RISE * OF_X).all()


def test_a_product_of_one_edition_has_no_difference() -> None:
    """Its noise in its own edition stands; the others keep theirs though the rows stand elsewhere."""
    start = catalogue_of(**READ)
    after = catalogue_of(**{name: values[[3, 2, 0]] for name, values in READ.items()})
    after = replace(after, products=("p4", "p3", "p1"))
    found = noise(form_of(LINEAR), form_of(LINEAR), start, after)
    assert np.isnan(found.difference["s"]).tolist() == [False, False, False, True]
    assert found.difference["s"][:3].tolist() == [0, 0, 0]
    assert np.isnan(found.new["s"]).tolist() == [False, False, False, True]
    assert found.old["s"][3] == pytest.approx(RISE * 0.5 * np.hypot(OF_X, OF_Y), rel=SAMPLED)


def test_where_no_repeatability_is_known_no_uncertainty_is_made_up() -> None:
    """Not 0, by which every move would be told, but none."""
    bare = LINEAR.replace(", repeatability: 0.8", "").replace(", repeatability: 0.5", "")
    new = set_addresses(form_of(bare), ["scores.s.weights.a=0.8"])
    assert np.isnan(difference(form_of(bare), new, catalogue_of(**READ))).all()
    read = read_by_all(catalogue_of(**READ), catalogue_of(**READ))
    tables = score_catalogue(form_of(bare), read[False, False]), score_catalogue(new, read[True, True])
    (score,) = compare_tables(*tables, read).scores
    assert (np.abs(score.move) > 0).any()
    assert not score.told.any()


def test_a_move_is_told_where_it_is_beyond_what_noise_makes_of_any() -> None:
    """Just under and just over, on the demo: told is the comparison of two columns, for all scores and products at once."""
    form, catalogue = demo_as_far()
    new = set_addresses(
        form, ["scores.two_abed.weights.quiet=0.24", "ratings.cooling.mix.heat_flux_w_m2.curve.line.best=93"]
    )
    read = read_by_all(catalogue, catalogue)
    tables = score_catalogue(form, catalogue), score_catalogue(new, catalogue)
    found = compare_tables(*tables, read, only=["two_abed", "cool_night"])
    told = []
    for score in found.scores:
        assert 3.0 < score.critical < 6.0  # 53 normal ones: 3.3; some are at the end of a curve here
        moves = ~np.isnan(score.move)
        beyond = np.abs(score.move[moves]) > score.critical * score.u[moves]
        np.testing.assert_array_equal(score.told[moves], beyond)
        assert not score.told[~moves].any()
        assert (np.abs(score.move[moves]) > 1.96 * score.u[moves]).sum() > beyond.sum()
        told += score.told[moves].tolist()
    assert {True, False} == set(told)


def test_noise_alone_is_taken_for_a_move_in_one_catalogue_of_twenty() -> None:
    """Twenty products whose two ratings are truly alike: the critical value is that of the largest of 20 independent normal
    errors (2.8), so that 5 % of catalogues have a move beyond it; product by product at 1.96, 64 % have one."""
    rng = np.random.default_rng(2)
    truth = np.full(20, 10.0)
    new = set_addresses(form_of(LINEAR), ["scores.s.weights.a=0.8", "scores.s.weights.b=0.2"])
    found = noise(form_of(LINEAR), new, catalogue_of(x=truth, y=truth))
    moves = 0.3 * RISE * (OF_X * rng.normal(size=(4000, 20)) - OF_Y * rng.normal(size=(4000, 20)))
    largest = np.abs(moves / found.difference["s"]).max(axis=1)
    assert (largest > found.critical["s"]).mean() == pytest.approx(0.05, abs=0.015)
    assert (largest > 1.96).mean() == pytest.approx(1 - 0.95**20, abs=0.04)


def test_one_product_by_itself_is_judged_as_one() -> None:
    """Only p2 was read again: 1.96 standard deviations, however many stand still."""
    again = {name: values.copy() for name, values in READ.items()}
    again["x"][1] += 1.0
    found = noise(form_of(LINEAR), form_of(LINEAR), catalogue_of(**READ), catalogue_of(**again))
    assert found.critical["s"] == pytest.approx(1.96, abs=0.06)


def test_where_noise_makes_no_difference_there_is_no_critical_value() -> None:
    """Two equal formulas: nothing moves, and nothing is told; a constant added moves everyone, for sure."""
    assert np.isnan(noise(form_of(LINEAR), form_of(LINEAR), catalogue_of(**READ)).critical["s"])
    shifted = form_of(
        LINEAR.replace("scale:", "constants: {k: 0.5}\nscale:").split("scores:")[0] + "  s: {value: a + k}\n"
    )
    plain = set_addresses(shifted, ["constants.k=0"])
    read = read_by_all(catalogue_of(**READ), catalogue_of(**READ))
    tables = score_catalogue(plain, read[False, False]), score_catalogue(shifted, read[True, True])
    (score,) = compare_tables(*tables, read, only=["s"]).scores
    assert np.isnan(score.critical)
    assert score.told.all()


@pytest.mark.parametrize(("apart", "alike"), [(0.0, True), (4.0, False)], ids=["parts alike", "parts apart"])
def test_check_and_compare_say_the_same_of_weights_made_equal(apart: float, alike: bool) -> None:
    """`check` warns of close weights exactly where `compare` finds no product moved beyond what noise makes of the move."""
    form = set_addresses(form_of(LINEAR), ["scores.s.weights.a=0.55", "scores.s.weights.b=0.45"])
    read = catalogue_of(x=np.array([8.0, 10, 12, 9]), y=np.array([8.3, 9.7, 12.2 + apart, 9]))
    table = score_catalogue(form, read)
    warned = any(one.topic == WEIGHTS for one in reach_warnings(compile_form(form), table.inputs, table.errors))
    equal = set_addresses(form, ["scores.s.weights.a=0.5", "scores.s.weights.b=0.5"])
    by_all = read_by_all(read, read)
    tables = score_catalogue(form, by_all[False, False]), score_catalogue(equal, by_all[True, True])
    (score,) = compare_tables(*tables, by_all, only=["s"]).scores
    assert warned == alike
    assert score.told.any() != alike


def test_the_same_seed_gives_the_same_noise() -> None:
    """And another one other noise."""
    new = set_addresses(form_of(LINEAR), ["scores.s.weights.a=0.8"])
    one, other, third = (noise(form_of(LINEAR), new, catalogue_of(**READ), seed=seed) for seed in (3, 3, 4))
    np.testing.assert_array_equal(one.difference["s"], other.difference["s"])
    assert (one.difference["s"] != third.difference["s"]).all()


def test_mapped_readings_err_as_those_they_were_mapped_from_and_as_the_map() -> None:
    """A map of slope 1 about which products scatter by 0.3: u of a product far from none is half of 0.45 times the map's own.

    The line's error at a reading and one product's scatter about it, in squares; a product read anew errs by its two readings.
    """
    rng = np.random.default_rng(2)
    x = np.linspace(5, 15, 12)
    bridge = fit_bridge(
        "x", {f"p{i + 1}": x[i] for i in range(8)}, {f"p{i + 1}": x[i] + 0.3 * rng.standard_normal() for i in range(8)}
    )
    before = catalogue_of(x=x, y=np.full(12, 10.0))
    after = bridged(before, bridge)
    tables = score_catalogue(form_of(LINEAR), before), score_catalogue(form_of(LINEAR), after)
    found = shared_noise(*tables, ("s",), before.products, bridges=[bridge], seed=1).difference["s"]
    at = np.stack([np.ones(12), x])
    line = np.sqrt(np.einsum("ip,ij,jp->p", at, bridge.covariance, at) + bridge.residual_sd**2)
    np.testing.assert_allclose(found[8:], 0.5 * RISE * line[8:], rtol=0.04)
    np.testing.assert_allclose(found[:8], 0.5 * RISE * OF_X * np.sqrt(2), rtol=0.04)


def test_a_mapped_reading_errs_as_the_old_one_times_the_slope() -> None:
    """new = 3 + old / 2, exactly: x of p4 errs by 0.8 before and by 0.4 after; of p1 to p3, read anew, by 0.8 both times.

    Worked out here: the map has no error of its own, so that p4's difference is half of 0.45 x (0.8 - 0.4).
    """
    x = np.array([4.0, 8.0, 12.0, 10.0])
    bridge = fit_bridge("x", {f"p{i + 1}": x[i] for i in range(3)}, {f"p{i + 1}": 3 + x[i] / 2 for i in range(3)})
    before = catalogue_of(x=x, y=np.full(4, 10.0))
    tables = score_catalogue(form_of(LINEAR), before), score_catalogue(form_of(LINEAR), bridged(before, bridge))
    found = shared_noise(*tables, ("s",), before.products, bridges=[bridge], seed=1)
    assert found.difference["s"][3] == pytest.approx(0.5 * RISE * OF_X / 2, rel=SAMPLED)
    assert found.new["s"][3] == pytest.approx(0.5 * RISE * np.hypot(OF_X / 2, OF_Y), rel=SAMPLED)
    np.testing.assert_allclose(found.new["s"][:3], 0.5 * RISE * np.hypot(OF_X, OF_Y), rtol=SAMPLED)


def test_of_a_product_that_came_the_reading_is_mapped_back() -> None:
    """A repeatability of 5 %: p4 comes, at 2 + 10 / 2 by the new method, and errs by half of 5 % of 10: worked out here."""
    form = form_of(LINEAR.replace("repeatability: 0.8", "repeatability: 5%"))
    x = np.array([4.0, 8.0, 12.0, 10.0])
    bridge = fit_bridge("x", {f"p{i + 1}": x[i] for i in range(3)}, {f"p{i + 1}": 2 + x[i] / 2 for i in range(3)})
    before, after = catalogue_of(x=x[:3], y=np.full(3, 10.0)), catalogue_of(x=x, y=np.full(4, 10.0))
    tables = score_catalogue(form, before), score_catalogue(form, bridged(after, bridge))
    found = mapped_uncertainty(*tables, bridge)
    np.testing.assert_allclose(found, [0.05 * 4, 0.05 * 6, 0.05 * 8, 0.05 * 10 / 2], rtol=1e-12)
