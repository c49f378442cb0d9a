"""Warnings of a check: each said once, at its address, with its numbers; and not said where there is nothing to say."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
import pytest

from scoring.catalogue import State
from scoring.checks import Warning, check
from scoring.checks.bench_reach import reach_warnings
from scoring.checks.findings import WEIGHTS
from scoring.measurement_error import ErrorModel
from scoring.program.program import Program
from scoring.table.evaluate import Inputs

LINE_SAG = "{measure: sag, curve: {line: {worst: 50, best: 0}}}"
LINE_LIFT = "{measure: lift, curve: {line: {worst: 0, best: 50}}}"
TWO = f"ratings:\n  a: {LINE_SAG}\n  b: {LINE_LIFT}\n"


def readings(sag: list[float], lift: list[float] | None = None, **others: list[float]) -> Inputs:
    """A catalogue of invented readings; measures that are not given read 5 throughout."""
    count = len(sag)
    columns = {"sag": sag, "lift": lift or [5.0] * count} | {
        name: others.get(name, [5.0] * count) for name in ("width", "warmth", "noise")
    }
    values = {name: np.array([column], float) for name, column in columns.items()}
    states = {n: np.where(np.isnan(v[0]), State.MISSING, State.VALUE).astype(np.uint8) for n, v in values.items()}
    return Inputs(tuple(f"bed {i + 1}" for i in range(count)), values, states, {"filling": ("foam",) * count})


def said(
    program: Program, inputs: Inputs | None = None, u: Mapping[str, np.ndarray] | None = None, at: str = ""
) -> list[str]:
    """What is said at one address."""
    found: tuple[Warning, ...] = check(program, inputs, None if u is None else ErrorModel.of_values(u)).warnings
    return [warning.says for warning in found if warning.address == at]


STATIC = {
    "a weight of 0": (
        TWO + "scores: {s: {blend: weighted mean, weights: {a: 1, b: 0}}}",
        "scores.s.weights.b",
        "the part `b` has the weight 0 in s: it plays no part",
    ),
    "weights under a minimum": (
        TWO + "scores: {s: {blend: minimum, weights: {a: 1, b: 3}}}",
        "scores.s",
        "the weights 1, 3 of s play no part under `minimum`, beyond leaving out a 0",
    ),
    "a curve that is flat where readings lie": (
        "ratings: {a: {measure: lift, curve: {points: {-10: 3, -5: 4}}}}",
        "ratings.a.curve",
        "the curve gives 4 for every `lift` from 0 to 50 mm: it tells nothing apart",
    ),
    "a cap at the top": (
        TWO + "scores: {s: {blend: weighted mean, weights: {a: 1, b: 1}, limits: [{when: a < 4, at_most: 10}]}}",
        "scores.s.limits.1",
        "the limit never bites: where `a < 4` holds, s never lies above 10",
    ),
    "a condition that never holds": (
        TWO + "scores: {s: {blend: weighted mean, weights: {a: 1, b: 1}, limits: [{when: a < 0, at_most: 3}]}}",
        "scores.s.limits.1",
        "the limit never bites: `a < 0` never holds",
    ),
    "a cap that the mean never reaches where it holds": (
        TWO + "scores: {s: {blend: weighted mean, weights: {a: 1, b: 1}, limits: [{when: a < 4, at_most: 7.2}],"
        " missing: {needs: [a, b]}}}",
        "scores.s.limits.1",
        "the limit never bites: where `a < 4` holds, s never lies above 7.2",
    ),
    "a smooth cap above it all": (
        TWO
        + "scores: {s: {blend: minimum, weights: {a: 1, b: 1}, limits: [{on: a, at_most: {points: {0: 10, 5: 11}}}]}}",
        "scores.s.limits.1",
        "the limit never bites: s never passes the bound that `a` gives",
    ),
    "a measure that nothing uses": (
        f"ratings: {{a: {LINE_SAG}}}",
        "measures.noise",
        "the measure `noise` is declared, and nothing uses it",
    ),
    "a constant that nothing uses": (
        f"constants: {{k: 3}}\nratings: {{a: {LINE_SAG}}}",
        "constants.k",
        "the constant `k` is declared, and nothing uses it",
    ),
    "ratios of a unit with a zero by convention": (
        "ratings: {a: {measure: warmth, curve: {log: {worst: 1, best: 60}}}}",
        "ratings.a.curve",
        "a log curve works on ratios, and degC has a zero by convention: 20 degC is not twice 10 degC; take `warmth` in K, "
        "or as a difference (delta_degC)",
    ),
}


@pytest.mark.parametrize("name", STATIC)
def test_what_cannot_matter_is_said_without_a_catalogue(program_of: Callable[..., Program], name: str) -> None:
    """The formula alone tells."""
    body, address, says = STATIC[name]
    assert said(program_of(body), at=address) == [says]


QUIET = {
    "weights that count": (TWO + "scores: {s: {blend: minimum, weights: {a: 2, b: 2}}}", "scores.s"),
    "a cap that bites": (
        TWO + "scores: {s: {blend: weighted mean, weights: {a: 1, b: 1}, limits: [{when: a < 4, at_most: 6.9}]}}",
        "scores.s.limits.1",
    ),
    "a floor that bites": (
        TWO + "scores: {s: {blend: weighted mean, weights: {a: 1, b: 1}, limits: [{when: a > 8, at_least: 4.1}]}}",
        "scores.s.limits.1",
    ),
    "a smooth cap that bites": (
        TWO
        + "scores: {s: {blend: weighted mean, weights: {a: 1, b: 1}, limits: [{on: a, at_most: {points: {0: 4, 5: 10}}}]}}",
        "scores.s.limits.1",
    ),
    "a curve that rises": (f"ratings: {{a: {LINE_SAG}}}", "ratings.a.curve"),
    "ratios of a difference": ("ratings: {a: {measure: width, curve: {log: {worst: 1, best: 9}}}}", "ratings.a.curve"),
}


@pytest.mark.parametrize("name", QUIET)
def test_nothing_is_said_of_what_matters(program_of: Callable[..., Program], name: str) -> None:
    """The nearest thing that is as it should be."""
    body, address = QUIET[name]
    assert said(program_of(body), at=address) == []


def test_a_curve_that_holds_many_at_one_end_is_named_with_its_share(program_of: Callable[..., Program]) -> None:
    """Three of ten readings lie above the anchor, one below: the first is more than a tenth, the second is not."""
    program = program_of("ratings: {a: {measure: sag, curve: {points: {10: 10, 20: 5, 30: 1}}}}")
    inputs = readings([5, 10, 12, 15, 18, 22, 28, 31, 40, 45])
    assert said(program, inputs, at="ratings.a.curve") == [
        "the curve is held above its high end, 30 mm for 3 of 10 products (30 %): it does not tell them apart"
    ]


def test_a_z_curve_that_holds_many_at_the_scales_end_is_named(program_of: Callable[..., Program]) -> None:
    """A steep z: the best fifth all get the top."""
    program = program_of("ratings: {a: {measure: sag, curve: {z: {centre: 5, per_sd: 6}}}}")
    inputs = readings([10, 11, 12, 13, 14, 15, 16, 17, 30, 30])
    assert said(program, inputs, at="ratings.a.curve")[0] == (
        "the curve is held at the scale's high end, 10 for 2 of 10 products (20 %): it does not tell them apart"
    )


def test_a_live_reference_is_said_with_the_move_of_an_extreme_newcomer(program_of: Callable[..., Program]) -> None:
    """Ten readings of mean 5.5: one of 50 lifts the mean by 4.045, and every other product falls by that."""
    program = program_of('ratings: {a: {value: "5 - (mean(sag) - sag)"}}')
    (says,) = said(program, readings([float(i) for i in range(1, 11)]), at="ratings.a.value")
    assert says == (
        "a leans on the live readings of sag: one newcomer at 50 mm would move another product (bed 1) by 4 points"
    )


def test_a_newcomer_beyond_five_deviations_is_tried_without_a_range(program_of: Callable[..., Program]) -> None:
    """Noise states no plausible range: the newcomer is put at the mean and five standard deviations."""
    program = program_of("ratings: {a: {measure: noise, curve: {minmax: {better: lower}}}}")
    (says,) = said(program, readings([1.0] * 5, noise=[30.0, 35.0, 40.0, 45.0, 50.0]), at="ratings.a.curve")
    assert says.startswith("a leans on the live readings of noise: one newcomer at ")
    end = float(says.split(" at ")[1].split(" dB")[0])
    assert abs(end - 40) == pytest.approx(5 * np.std([30, 35, 40, 45, 50], ddof=1), rel=1e-5)


def test_a_frozen_reference_moves_nobody(program_of: Callable[..., Program]) -> None:
    """With its figures written down, a curve leans on no newcomer."""
    body = "ratings: {a: {measure: noise, curve: {minmax: {better: lower}, reference: {least: 30, greatest: 50}}}}"
    assert said(program_of(body), readings([1.0] * 3, noise=[30.0, 40.0, 50.0]), at="ratings.a.curve") == []


def test_close_weights_are_said_with_their_move_and_its_uncertainty(program_of: Callable[..., Program]) -> None:
    """Ratings 0.2 apart at most, each known to 0.1: weights of 0.52 and 0.48 made equal move a score by 0.02 (b - a), at most
    0.004, of which u is 0.02 x 0.1 x root 2 = 0.0028."""
    body = TWO + "scores: {s: {blend: weighted mean, weights: {a: 0.52, b: 0.48}}}"
    inputs = readings([10, 20, 25], lift=[41, 29.5, 25])
    u = {"sag": np.full(3, 0.5), "lift": np.full(3, 0.5)}
    (says,) = said(program_of(body), inputs, u, at="scores.s.weights.a")
    assert says == (
        "0.52 for `a` and 0.48 for `b` differ less than the bench can tell: made equal, no product moves by more than noise makes"
        " of that move, all products judged at once, at 95 % (at most 0.004 points, known to 0.0028: the same readings err alike"
        " under both)"
    )


def test_weights_that_the_bench_can_tell_apart_are_left_alone(program_of: Callable[..., Program]) -> None:
    """However near the weights: the move of one product is 14 of its standard uncertainties, since the same readings go into
    both scores, although it is far below what tells two products apart (0.04 against 0.2 points)."""
    inputs, u = readings([10, 20, 25], lift=[30, 29.5, 25]), {"sag": np.full(3, 0.5), "lift": np.full(3, 0.5)}
    for weights in ("{a: 0.6, b: 0.4}", "{a: 0.52, b: 0.48}", "{a: 0.5001, b: 0.4999}"):
        body = TWO + f"scores: {{s: {{blend: weighted mean, weights: {weights}}}}}"
        assert said(program_of(body), inputs, u, at="scores.s.weights.a") == []


def test_a_move_at_a_jump_is_no_small_one(program_of: Callable[..., Program]) -> None:
    """Where a reading lies on the edge of a table, nothing is known of what noise makes of the move: nothing is said."""
    table = "{measure: sag, curve: {steps: {0: 9, 20: 5}}}"
    body = f"ratings:\n  a: {table}\n  b: {LINE_LIFT}\nscores: {{s: {{blend: weighted mean, weights: {{a: 0.52, b: 0.48}}}}}}"
    u = {"sag": np.full(2, 0.5), "lift": np.full(2, 0.5)}
    assert said(program_of(body), readings([10, 19], lift=[45, 45.4]), u, at="scores.s.weights.a") != []
    assert said(program_of(body), readings([10, 20], lift=[45, 25.4]), u, at="scores.s.weights.a") == []


def test_parts_that_read_truly_alike_are_found_in_95_of_100_catalogues(program_of: Callable[..., Program]) -> None:
    """Twelve products, all judged at once: by chance alone one catalogue in twenty has a move that is taken for one."""
    program = program_of(TWO + "scores: {s: {blend: weighted mean, weights: {a: 0.6, b: 0.4}}}")
    rng, u = np.random.default_rng(8), {"sag": np.full(12, 0.5), "lift": np.full(12, 0.5)}
    found = 0
    for _ in range(300):
        truth = rng.uniform(10, 40, 12)
        sag, lift = truth + 0.5 * rng.normal(size=12), 50 - truth + 0.5 * rng.normal(size=12)
        warnings = reach_warnings(program, readings(sag.tolist(), lift=lift.tolist()), ErrorModel.of_values(u))
        found += any(warning.topic == WEIGHTS for warning in warnings)
    assert found / 300 == pytest.approx(0.95, abs=0.035)


def test_shown_steps_finer_than_the_bench_are_said_with_both_numbers(program_of: Callable[..., Program]) -> None:
    """u = 0.1 points tells 0.28 apart; a step of 0.1 is finer, one of 0.5 is not."""
    inputs, u = readings([10, 20, 30]), {"sag": np.full(3, 0.5)}
    (says,) = said(program_of(f"ratings: {{a: {LINE_SAG}}}"), inputs, u, at="ratings.a")
    assert says == (
        "shown in steps of 0.1, but the bench tells two products apart only from 0.28 points on (1.96 sqrt 2 times the "
        "median standard uncertainty, 0.1)"
    )
    coarse = f"ratings: {{a: {LINE_SAG}}}".replace("{measure", "{scale: {show: {step: 0.5}}, measure")
    assert said(program_of(coarse), inputs, u, at="ratings.a") == []


def test_without_repeatability_nothing_is_said_of_it(program_of: Callable[..., Program]) -> None:
    """Uncertainties that are not known, or of measures that do not count, give no warning."""
    program, inputs = program_of(f"ratings: {{a: {LINE_SAG}}}"), readings([10, 20, 30])
    assert said(program, inputs, None, at="ratings.a") == []
    assert said(program, inputs, {"sag": np.full(3, np.nan), "noise": np.ones(3)}, at="ratings.a") == []


def test_warnings_stand_in_the_order_of_the_formula(program_of: Callable[..., Program]) -> None:
    """By line, whatever found them."""
    body = (
        TWO
        + "scores:\n  t: {blend: minimum, weights: {a: 1, b: 3}}\n  s: {blend: weighted mean, weights: {a: 1, b: 0}}"
    )
    places = [warning.place for warning in check(program_of(body)).warnings]
    assert places == sorted(places)
    assert len(places) >= 5
