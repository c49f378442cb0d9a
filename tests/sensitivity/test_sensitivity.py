"""Sensitivity studies end to end: exact answers of small forms, when the trail ends, correlated inputs, ranks and ties."""

from __future__ import annotations

import numpy as np
import pytest
from written_forms import HEAD, form_of
from written_studies import catalogue_of, study_of

import analysis.indices.sensitivity as engine
import analysis.indices.swap_runs as swap_runs
import analysis.indices.verdict as verdict
from analysis.indices.design import swaps_of, without_tied
from analysis.indices.document import sensitivity_body, sensitivity_frame
from analysis.indices.precision import Named, Precision, read_precision
from analysis.indices.sensitivity import SHIFT, TARGET, ScoreSensitivity, half_widths, order_holds, sensitivity_study
from analysis.indices.verdict import sensitivity_verdict
from analysis.study import Study
from analysis.study.reader import read_study
from analysis.trials.quantities import quantities_of
from analysis.wording import percent
from scoring.errors import StudyError
from scoring.numbers.ranks import rank, rank_rows
from scoring.table.table import ScoreTable, score_catalogue

NAN = float("nan")
#: total = 0.6 (x + p) + 0.4 (y + q z): p moves all products alike, q each by its z.
TWO = (
    HEAD.replace("{from: 1, to: 10}", "{from: -100, to: 100}").replace("measures", "constants: {p: 0, q: 0}\nmeasures")
    + """\
ratings:
  a: {value: "x + p"}
  b: {value: "y + q * z"}
scores:
  total: {weights: {a: 0.6, b: 0.4}}
"""
)
READINGS = {"x": [3.0, 2.0, 1.0, 2.5], "y": [2.0, 2.5, 3.0, 2.0], "z": [1.0, 2.0, 3.0, 1.0]}
P, Q = "{address: constants.p, uniform: [-1, 1]}", "{address: constants.q, uniform: [-1, 1]}"
BOTH = P + "\n" + Q
LINES = (
    HEAD
    + """\
ratings:
  a: {measure: x, curve: {line: {worst: 0, best: 90}}}
  b: {measure: y, curve: {line: {worst: 90, best: 0}}}
scores:
  total: {weights: {a: 3, b: 2}}
  other: {weights: {a: 1, b: 1}}
"""
)
ON_LINES = {"x": [80.0, 50.0, 20.0], "y": [70.0, 45.0, 12.0], "z": [1.0, 1.0, 1.0]}


def made(text: str, vary: str, rest: str = "", **readings: object) -> tuple[Study, ScoreTable]:
    """A study of a written form, and the published scores."""
    form, catalogue = form_of(text), catalogue_of(**(readings or READINGS))  # type: ignore[arg-type]
    return study_of(vary, form, catalogue, rest), score_catalogue(form, catalogue)


def found_of(
    text: str, vary: str, rest: str = "", *, readings: dict[str, list[float]] | None = None, **options: object
) -> ScoreSensitivity:
    """What a study says of the first score of a written form."""
    study, table = made(text, vary, rest, **(readings or READINGS))
    return sensitivity_study(study, table, **options)[0]  # type: ignore[arg-type]


def quantity(found: ScoreSensitivity, family: str, which: str = "") -> int:
    """Where one quantity stands."""
    return found.quantities.names.index((family, which))


def row(found: ScoreSensitivity, name: str) -> int:
    """Where one swap stands."""
    return [swap.name for swap in found.swaps].index(name)


def on_the_interval(found: ScoreSensitivity, kind: str, swap: int, q: int, exact: float) -> bool:
    """Whether an interval, each way twice as wide, holds the exact index."""
    low, high = getattr(found.indices, f"{kind}_low")[swap, q], getattr(found.indices, f"{kind}_high")[swap, q]
    return bool(low - (high - low) / 2 <= exact <= high + (high - low) / 2)


def test_a_weighted_mean_of_two_ratings_has_the_exact_indices() -> None:
    """Of a score: shares of (0.6 sd p)^2 and (0.4 z sd q)^2, alone and with interactions; mean and variance exact, too."""
    found = found_of(TWO, BOTH, by="factor", budget=4096)
    i = found.indices
    for product, x, y, z in zip(("p1", "p2", "p3", "p4"), *READINGS.values(), strict=True):
        q = quantity(found, "score", product)
        parts = np.array([0.6**2, (0.4 * z) ** 2])
        exact = parts / parts.sum()
        assert i.mean[q] == pytest.approx(0.6 * x + 0.4 * y, abs=0.01)
        assert i.variance[q] == pytest.approx(parts.sum() / 3, rel=0.03)
        for swap in (0, 1):
            for kind in ("first", "total"):
                assert getattr(i, kind)[swap, q] == pytest.approx(exact[swap], abs=0.05)
                assert on_the_interval(found, kind, swap, q, exact[swap])


def test_a_difference_turns_on_what_does_not_cancel() -> None:
    """p moves every product alike, so that gaps, ranks, the winner and the shift turn on q alone, exactly."""
    wide = BOTH.replace("q, uniform: [-1, 1]", "q, uniform: [-2, 2]")
    found = found_of(TWO, wide, "beats: [[p1, p3]]\n", by="factor", budget=1024)
    for family, which in [("gap", "p1 p3"), ("beats", "p1 p3"), ("rank", "p3"), ("first", "p1"), (SHIFT, "")]:
        q = quantity(found, family, which)
        assert found.indices.total[0, q] == pytest.approx(0, abs=1e-9)
        assert found.indices.first[0, q] == pytest.approx(0, abs=1e-9)
        assert found.indices.first[1, q] == pytest.approx(1, abs=0.1)
        assert found.indices.total[1, q] == pytest.approx(1, abs=0.1)
    # the gap is 0.6 (3 - 1) + 0.4 (2 - 3) + 0.4 q (1 - 3), above 0 while q < 1: in three of four draws
    assert found.indices.mean[quantity(found, "beats", "p1 p3")] == pytest.approx(0.75, abs=0.01)
    assert found.indices.mean[quantity(found, "gap", "p1 p3")] == pytest.approx(0.8, abs=0.01)


def test_chances_and_places_are_those_worked_out_by_hand() -> None:
    """Two products 0.2 apart by weights of x, y: (gap) 0.6 - 0.4 (1 + q) > 0 while q < 0.5, so in 3 of 4 draws."""
    readings = {"x": [2.0, 1.0], "y": [1.0, 2.0], "z": [1.0, 2.0]}
    found = found_of(TWO, Q, by="factor", readings=readings)
    mean = found.indices.mean
    assert mean[quantity(found, "first", "p1")] == pytest.approx(0.75, abs=0.01)
    assert mean[quantity(found, "beats", "p1 p2")] == pytest.approx(0.75, abs=0.01)
    assert mean[quantity(found, "rank", "p2")] == pytest.approx(1.75, abs=0.01)
    assert mean[found.shift] == pytest.approx(0.25, abs=0.01)
    assert found.indices.total[0, found.shift] == pytest.approx(1, abs=0.05)


def test_weights_fixed_and_anchors_varied_by_the_law_of_the_reciprocal() -> None:
    """a = 1 + 9 x / best with best uniform on 80 to 100: mean and variance from ln and 1 / best, x below them all."""
    vary = "{address: ratings.a.curve.line.best, uniform: [80, 100]}"
    found = found_of(LINES, vary, by="factor", readings=ON_LINES)
    mean, square = np.log(100 / 80) / 20, 1 / (80 * 100)
    q = quantity(found, "score", "p2")
    b = 10 - ON_LINES["y"][1] / 10
    assert found.indices.mean[q] == pytest.approx(0.6 * (1 + 9 * 50 * mean) + 0.4 * b, abs=1e-3)
    assert found.indices.variance[q] == pytest.approx((0.6 * 9 * 50) ** 2 * (square - mean**2), rel=0.02)
    assert found.indices.total[0, q] == pytest.approx(1, abs=0.03)
    assert found.local.names == ("ratings.a.curve.line.best",)


def test_groups_by_kind_stand_after_their_factors() -> None:
    """Factors first, then groups with their members; a group of one is its factor."""
    vary = BOTH + "\n{weights: total, factor: [0.8, 1.2]}"
    found = found_of(TWO, vary, by="kind")
    assert [(s.name, s.level, len(s.factors)) for s in found.swaps] == [
        ("constants.p", "factor", 1),
        ("constants.q", "factor", 1),
        ("scores.total.weights.a", "factor", 1),
        ("scores.total.weights.b", "factor", 1),
        ("numbers", "group", 2),
        ("weights", "group", 2),
    ]
    q = quantity(found, "score", "p1")
    assert found.indices.total[row(found, "numbers"), q] >= found.indices.total[row(found, "constants.p"), q] - 0.02


def test_two_groups_and_their_interaction_are_all_there_is() -> None:
    """First order of both and second order between them add to 1, and so do first order and the other's total."""
    vary = BOTH + "\n{weights: total, factor: [0.5, 1.5]}"
    found = found_of(TWO, vary, by="kind", second_order=True)
    assert [found.swaps[number].name for number in found.paired] == ["numbers", "weights"]
    i, at = found.indices, list(found.paired)
    assert i.second is not None
    score = found.quantities.family("score")
    np.testing.assert_allclose(i.first[at][:, score].sum(axis=0) + i.second[0, score], 1, atol=0.1)
    np.testing.assert_allclose(i.first[at][:, score] + i.total[at[::-1]][:, score], 1, atol=0.1)


def test_a_study_of_noise_alone_has_the_exact_variance() -> None:
    """No columns at all: 0.6^2 + 0.4^2 times the square of the repeatability, and one factor that moves everything."""
    text = TWO.replace('unit: "1"', 'unit: "1", repeatability: 0.5')
    found = found_of(text, "{readings: repeatability}", by="factor")
    assert [swap.name for swap in found.swaps] == ["readings"]
    q = quantity(found, "score", "p1")
    assert found.indices.variance[q] == pytest.approx((0.6**2 + 0.4**2) * 0.25, rel=0.03)
    assert found.indices.total[0, q] == pytest.approx(1, abs=0.05)


# --- the trail ---


def test_the_trail_ends_where_intervals_are_narrow_and_the_order_held() -> None:
    """Every step doubles the points; the last is narrow, and the words say so."""
    found = found_of(TWO, BOTH, by="factor", budget=1 << 14)
    points = [step.points for step in found.trail]
    assert points == [256 << step for step in range(len(points))]
    assert len(points) > 1
    assert found.trail[-1].half_width <= TARGET
    assert found.converged
    assert found.ended == "every half-width is at most 0.05 and the order of the arguments held when the points doubled"
    assert sensitivity_verdict(found)[-1] == (
        f"Converged at {points[-1]} base points, for shares of the mean shift in rank and nothing else: {found.ended}."
    )
    np.testing.assert_array_equal(found.trail[-1].total, found.indices.total[:, found.shift])


def test_the_trail_ends_with_the_budget_and_says_what_is_left() -> None:
    """512 points, with the half-width that was reached; the next power of two is taken of a budget between."""
    vary = "{weights: total, factor: [0.5, 1.5]}\n{address: ratings.a.curve.line.best, uniform: [40, 140]}"
    found = found_of(LINES, vary, by="factor", budget=300, readings=ON_LINES)
    assert found.trail[-1].points == 512
    assert not found.converged
    assert found.ended == f"the budget ended, and the widest half-width is {found.trail[-1].half_width:.2g}"
    assert sensitivity_verdict(found)[-1].startswith(
        "NOT converged at 512 base points, for shares of the mean shift in rank and nothing else: the budget ended"
    )


def test_the_budget_may_end_on_an_order_that_still_moves(monkeypatch: pytest.MonkeyPatch) -> None:
    """Narrow intervals, but no order to go by."""
    monkeypatch.setattr(engine, "order_holds", lambda before, now: False)
    found = found_of(TWO, BOTH, by="factor", budget=8192)
    assert found.trail[-1].points == 8192
    assert found.ended == "the budget ended, and the order of the arguments still moves"


def test_a_ranking_that_nothing_moves_is_said_to_after_the_whole_budget() -> None:
    """p alone moves every product alike; what a first look does not show might be rare, so that the budget is gone through."""
    found = found_of(TWO, P, by="factor", budget=1024)
    assert [step.points for step in found.trail] == [256, 512, 1024]
    assert found.converged
    assert found.ended == "it does not react to anything that varies"
    assert "nothing that varies moves the ranking" in sensitivity_verdict(found)[0]
    assert not found.indices.reacts[found.shift]
    assert found.indices.total[0, quantity(found, "score", "p1")] == pytest.approx(1, abs=0.05)


def test_nothing_that_reaches_a_score_is_no_fault() -> None:
    """All that varies is idle: no swaps, no indices, and a verdict all the same."""
    found = found_of(LINES, "{weights: other, factor: [0.5, 1.5]}", "scores: [total]\n", readings=ON_LINES)
    assert found.swaps == ()
    assert found.idle == ("scores.other.weights.a", "scores.other.weights.b")
    assert found.ended == "it does not react to anything that varies"
    assert "nothing that varies moves the ranking" in sensitivity_verdict(found)[0]


def test_what_does_not_reach_a_score_is_named() -> None:
    """And swapped by no one: weights of the other score."""
    vary = "{weights: total, factor: [0.5, 1.5]}\n{weights: other, factor: [0.5, 1.5]}"
    study, table = made(LINES, vary, **ON_LINES)
    total, other = sensitivity_study(study, table, by="factor", budget=256)
    assert total.idle == ("scores.other.weights.a", "scores.other.weights.b")
    assert other.idle == ("scores.total.weights.a", "scores.total.weights.b")
    assert sensitivity_body((total, other))["scores"]["total"]["does_not_reach"] == list(total.idle)


@pytest.mark.parametrize(
    ("before", "now", "held"),
    [
        pytest.param([0.5, 0.3, 0.2], [0.6, 0.3, 0.1], True, id="the same order"),
        pytest.param([0.3, 0.5, 0.2], [0.6, 0.3, 0.1], False, id="the first two changed places"),
        pytest.param([0.48, 0.5, 0.1], [0.5, 0.48, 0.1], True, id="they did, by less than the target"),
        pytest.param([0.5, 0.5, 0.1], [0.6, 0.3, 0.1], True, id="level before"),
        pytest.param([0.1, 0.2, 0.12], [0.2, 0.19, 0.1], False, id="only far ones count, and one of them turned"),
        pytest.param([NAN, NAN, NAN], [0.6, 0.3, 0.1], False, id="nothing reacted before"),
        pytest.param([], [], True, id="no factors"),
    ],
)
def test_the_order_holds_where_no_two_that_differ_changed_places(
    before: list[float], now: list[float], held: bool
) -> None:
    """Factors that now differ by more than the target half-width stood the same way round before."""
    assert order_holds(np.array(before), np.array(now)) is held


# --- seeds, pieces, progress ---


@pytest.mark.parametrize("held", [1 << 9, 1 << 12, 1 << 15])
def test_results_do_not_depend_on_how_many_outputs_are_held(monkeypatch: pytest.MonkeyPatch, held: int) -> None:
    """Noise, weights by rejection and columns, in pieces of one point, some, or all."""
    text = TWO.replace('unit: "1"', 'unit: "1", repeatability: 0.2')
    vary = BOTH + "\n{weights: total, between: {a: [40%, 80%]}}\n{readings: repeatability}"
    whole = found_of(text, vary, budget=512, second_order=True)
    monkeypatch.setattr(swap_runs, "HELD", held)
    pieces = found_of(text, vary, budget=512, second_order=True)
    for name in ("first", "first_low", "total", "total_high", "second", "mean", "variance"):
        one, other = getattr(whole.indices, name), getattr(pieces.indices, name)
        np.testing.assert_allclose(one, other, rtol=1e-9, atol=1e-9, err_msg=name)


def test_seed_0_gives_the_same_twice_and_seed_1_another() -> None:
    """To the last digit."""
    zero, again, one = (found_of(TWO, BOTH, budget=256, seed=seed) for seed in (0, 0, 1))
    np.testing.assert_array_equal(zero.indices.total_high, again.indices.total_high)
    assert zero.design.sha256 == again.design.sha256 != one.design.sha256
    assert zero.indices.total[1, 0] != one.indices.total[1, 0]


def test_progress_rises_to_the_whole() -> None:
    """One number for all scores together."""
    study, table = made(LINES, "{weights: total, factor: [0.5, 1.5]}", **ON_LINES)
    told: list[tuple[int, int]] = []
    sensitivity_study(study, table, by="factor", budget=256, progress=lambda done, total: told.append((done, total)))
    done = [each for each, _ in told]
    assert done == sorted(done)
    assert done[-1] == told[-1][1]


# --- a precision that is asked for ---


def asked(within: float, *names: Named, budget: int = 4096) -> ScoreSensitivity:
    """The small form, with shares asked for so closely."""
    return found_of(TWO, BOTH, by="factor", budget=budget, precision=Precision(within, names, asked=True))


def test_a_sample_is_doubled_until_what_is_named_is_known_so_closely() -> None:
    """The half-widths of the named quantity, first order and total of every swap; those of no other are looked at."""
    vary = "{weights: total, factor: [0.5, 1.5]}\n{address: ratings.a.curve.line.best, uniform: [40, 140]}"
    precision = Precision(0.03, (Named("rank", ("p2",)),), asked=True)
    found = found_of(LINES, vary, by="factor", readings=ON_LINES, budget=1 << 14, precision=precision)
    q = quantity(found, "rank", "p2")
    assert found.converged
    assert half_widths(found.indices)[..., q].max() == pytest.approx(found.trail[-1].half_width, rel=1e-12)
    assert found.trail[-1].half_width <= 0.03
    assert all(step.half_width > 0.03 for step in found.trail[1:-1])
    assert 512 < found.trail[-1].points < 1 << 14
    assert sensitivity_verdict(found)[-1] == (
        f"Asked for within 0.03, at {found.trail[-1].points} base points: the rank of p2: reached, the widest half-width being"
        f" {found.trail[-1].half_width:.2g}."
    )


def test_what_is_not_reached_is_named_beside_what_is() -> None:
    """Scores, which are sums, are known closely long before who is first; the verdict says by which argument it is not."""
    found = asked(0.004, Named("score"), Named("shift"), budget=1024)
    assert found.trail[-1].points == 1024
    assert not found.converged
    said = sensitivity_verdict(found)[-1]
    assert "the mean shift in rank: NOT reached, the widest half-width being" in said
    document = sensitivity_body([found])["scores"]["total"]["precision"]
    assert document["within"] == 0.004
    assert [one["what"] for one in document["of"]] == ["score"] * 4 + [SHIFT]
    widths = half_widths(found.indices)
    for one in document["of"]:
        q = found.quantities.names.index((one["what"], one["of"] or ""))
        assert one["widest_half_width"] == pytest.approx(widths[..., q].max(), rel=1e-6)


def test_what_has_no_shares_is_said_to_have_none() -> None:
    """A product's score without any draw of its own; a product that is not published here."""
    still = found_of(TWO, P, by="factor", budget=256, precision=Precision(0.02, (Named("shift"),), asked=True))
    assert sensitivity_verdict(still)[-1].endswith("the mean shift in rank: nothing that varies moves it.")
    absent = asked(0.02, Named("rank", ("p9",)), budget=256)
    assert "the rank of p9: not asked of this score" in sensitivity_verdict(absent)[-1]


@pytest.mark.parametrize(
    ("within", "of", "message"),
    [
        (None, ["rank"], "no precision; expected `--within` with it"),
        (0.0, [], "--within: 0; expected above 0 and below 0.5"),
        (0.7, [], "0.7; expected above 0 and below 0.5"),
        (0.02, ["rnk"], "`rnk`; expected one of score, rank, top, first, shift, beats, gap"),
        (0.02, ["rank:p7"], "`p7`; expected a product of the catalogue"),
        (0.02, ["shift:p1"], "expected `shift`: it is of the whole ranking"),
        (0.02, ["beats:p2,p1"], "the pair p2,p1; expected a pair that the study asks about"),
    ],
)
def test_a_precision_that_cannot_be_is_refused(within: float | None, of: list[str], message: str) -> None:
    """Where, what, and what to write; all at once."""
    with pytest.raises(StudyError) as fault:
        read_precision(within, of, ("p1", "p2"), [("p1", "p2")])
    assert message in str(fault.value)


def test_names_are_read_as_they_are_written() -> None:
    """Twice the same is once; a pair is two products; nothing named is the mean shift in rank, at the default nothing asked."""
    read = read_precision(0.02, ["rank: p1", "beats:p1,p2", "score", "score"], ("p1", "p2"), [("p1", "p2")])
    assert read == Precision(0.02, (Named("rank", ("p1",)), Named("beats", ("p1", "p2")), Named("score")), asked=True)
    assert read_precision(0.1, [], (), ()).of == (Named("shift"),)
    assert read_precision(None, [], (), ()) == Precision()


# --- what hardly matters ---

MANY = (
    HEAD.replace("{from: 1, to: 10}", "{from: -100, to: 100}").replace(
        "measures", "constants: {p: 0, q: 0, r: 0, s: 0}\nmeasures"
    )
    + 'scores:\n  total: {value: "x + p * y + 0.04 * z * (q + r + s)"}\n'
)


def test_what_hardly_matters_is_swapped_together(monkeypatch: pytest.MonkeyPatch) -> None:
    """Three that move little: their joint total is that of the three as a group of the study, which has it to itself."""
    for module in (engine, verdict):
        monkeypatch.setattr(module, "SMALL", 0.2)
    names = ("q", "r", "s")
    one = "\n".join(f"{{address: constants.{name}, uniform: [-1, 1]}}" for name in ("p", *names))
    group = one
    for name in names:
        group = group.replace(
            f"constants.{name}, uniform: [-1, 1]", f"constants.{name}, uniform: [-1, 1], group: these"
        )
    readings = {
        "x": [3.0, 2.0, 1.0, 2.5, 2.2, 1.4, 2.8, 1.9],
        "y": [2.0, 2.5, 3.0, 2.0, 2.2, 2.9, 1.8, 2.6],
        "z": [1.0, 2.0, 3.0, 1.0, 2.0, 1.0, 3.0, 2.0],
    }
    found = found_of(MANY, one, by="factor", budget=1024, readings=readings)
    grouped = found_of(MANY, group, by="kind", budget=1024, readings=readings)
    assert found.small is not None
    assert found.small.factors == tuple(f"constants.{name}" for name in names)
    place = row(grouped, "these")
    assert found.trail[-1].points == grouped.trail[-1].points
    assert found.small.total == pytest.approx(grouped.indices.total[place, grouped.shift], rel=1e-12)
    assert found.small.low == pytest.approx(grouped.indices.total_low[place, grouped.shift], rel=1e-12)
    own = [found.indices.total[row(found, f"constants.{name}"), found.shift] for name in names]
    assert found.small.total > max(own)
    (said,) = [line for line in sensitivity_verdict(found) if "hardly move" in line]
    assert "under 20 % of that variance each, by the upper ends of their intervals; together " in said


def test_what_moves_a_product_without_a_score_is_counted_over_all_draws() -> None:
    """Two runs a point, and two with every swap: a product that has no score in half of them has none in 50 %."""
    text = TWO.replace("0.4}}", "0.4}, missing: {absent_above: 0.4}}")
    readings = READINGS | {"y": [2.0, 2.5, NAN, 2.0], "z": [1.0, 2.0, 3.0, 1.0]}
    found = found_of(text, "{weights: total, factor: [0.5, 1.5]}", readings=readings, by="factor")
    lost = int(found.indices.lost[quantity(found, "score", "p3")])
    share = lost / (found.trail[-1].points * (2 + 2 * len(found.swaps)))
    assert any(f"of p3 ({100 * share:.0f} %)" in line for line in sensitivity_verdict(found))


# --- correlated inputs ---

TIED = "correlations: [{between: [constants.p, constants.q], correlation: 0.8}]\n"
GROUPED = """
{address: constants.p, uniform: [-1, 1], group: pair}
{address: constants.q, uniform: [-1, 1], group: pair}
{weights: total, factor: [0.8, 1.2]}
"""


def test_correlated_factors_by_themselves_are_refused() -> None:
    """With the pair, the correlation, the swap between them, and a way on."""
    with pytest.raises(StudyError) as fault:
        found_of(TWO, BOTH, TIED, by="factor")
    said = str(fault.value)
    assert "constants.p and constants.q, correlated by 0.8, on two sides of `constants.p`" in said
    assert "independent inputs: Sobol' indices have no meaning here" in said
    assert "`--shapley`" in said


def test_groups_that_part_correlated_factors_are_refused() -> None:
    """Each in a group of its own."""
    apart = GROUPED.replace("group: pair", "group: mine", 1)
    with pytest.raises(StudyError, match=r"correlated by 0\.8, on two sides of `mine`"):
        found_of(TWO, apart, TIED, by="kind")


def test_groups_that_hold_correlated_factors_together_are_swapped_whole() -> None:
    """The pair has no index of its own but as a group, and is named; what stands alone has both."""
    found = found_of(TWO, GROUPED, TIED, by="kind")
    assert [(swap.name, swap.level) for swap in found.swaps] == [
        ("scores.total.weights.a", "factor"),
        ("scores.total.weights.b", "factor"),
        ("pair", "group"),
        ("weights", "group"),
    ]
    assert found.tied == ("constants.p", "constants.q")
    said = [line for line in sensitivity_verdict(found) if "correlated" in line]
    assert said == [
        "constants.p and constants.q are correlated: they move only together, with pair, and have no index of their own."
    ]
    assert set(sensitivity_frame([found])["name"]) == {swap.name for swap in found.swaps}


def test_correlated_base_draws_are_what_the_scores_are_made_of() -> None:
    """Var(total) of z = 1: (0.36 + 0.16 + 2 (0.24) r) / 3, r being the correlation of the uniform pair, 6/pi asin(rho/2).

    (Pearson's of two uniforms whose normal scores are correlated by rho; from memory.)
    """
    pair = GROUPED.replace("{weights: total, factor: [0.8, 1.2]}", "")
    found = found_of(TWO, pair, TIED, by="kind")
    r = 6 / np.pi * np.arcsin(0.8 / 2)
    q = quantity(found, "score", "p1")
    assert found.indices.variance[q] == pytest.approx((0.36 + 0.16 + 0.48 * r) / 3, rel=0.03)
    assert found.indices.total[row(found, "pair"), q] == pytest.approx(1, abs=0.05)
    assert found_of(TWO, pair, by="kind").tied == ()


def test_a_correlation_with_what_does_not_reach_the_score_is_no_hindrance() -> None:
    """The idle one changes nothing, whatever it moves with."""
    vary = "{weights: total, factor: [0.5, 1.5]}\n{weights: other, factor: [0.5, 1.5]}"
    rest = "correlations: [{between: [scores.total.weights.a, scores.other.weights.a], correlation: 0.9}]\n"
    study, table = made(LINES, vary, rest, **ON_LINES)
    for found in sensitivity_study(study, table, by="factor", budget=256):
        assert len(found.swaps) == 2
        assert found.tied == ()


def test_only_the_tied_are_left_out() -> None:
    """By the study alone: swaps of the others and of every group stay."""
    study, _ = made(TWO, GROUPED, TIED)
    swaps, tied = without_tied(study, swaps_of(study.factors, "kind"))
    assert len(swaps) == 4
    assert tied == ("constants.p", "constants.q")
    free, none = without_tied(made(TWO, GROUPED)[0], swaps_of(study.factors, "kind"))
    assert len(free) == 6
    assert none == ()


def test_second_order_between_too_many_is_refused() -> None:
    """25 weights would be 300 pairs."""
    parts = [f"r{i}" for i in range(25)]
    ratings = "\n".join(f'  {name}: {{value: "x + {i} * y"}}' for i, name in enumerate(parts))
    text = (
        TWO[: TWO.index("ratings")]
        + f"ratings:\n{ratings}\nscores:\n  total: {{weights: {{{', '.join(f'{p}: 1' for p in parts)}}}}}\n"
    )
    with pytest.raises(StudyError, match="second order between 25 of them; expected at most 24"):
        found_of(
            text,
            "{weights: total, factor: [0.5, 1.5]}",
            by="factor",
            second_order=True,
            readings={"x": [1.0, 2.0], "y": [1.0, 0.5], "z": [0.0, 0.0]},
        )


# --- quantities ---


def ranked(ranks: str, **readings: list[float]) -> ScoreSensitivity:
    """Scores x + 0 p by a rule of ranks, p moving every one of them alike."""
    head = TWO.replace("formula: trial\n", f"formula: trial\nranks: {ranks}\n").replace(
        "{from: -100, to: 100}", "{from: -100, to: 100, show: {step: 1}}"
    )
    return found_of(head, P, readings=readings, by="factor", budget=256)


def test_ranks_on_shown_figures_are_those_of_the_rounded_scores() -> None:
    """0.6 x + 0.6 p, shown in whole points: 2.4 and 2.7 are both shown as 2 or 3, or as one each, as p falls."""
    readings = {"x": [4.5, 4.0], "y": [0.0, 0.0], "z": [0.0, 0.0]}
    shown, exact = ranked("{on: shown}", **readings), ranked("{on: unrounded}", **readings)
    # p1 is shown above p2 where a half lies between 2.4 + 0.6 p and 2.7 + 0.6 p: a stretch of 0.3 of the 1.2 that they move
    assert shown.indices.mean[quantity(shown, "beats", "p1 p2")] == pytest.approx(0.25, abs=0.02)
    assert shown.indices.mean[quantity(shown, "rank", "p2")] == pytest.approx(1.25, abs=0.02)
    assert exact.indices.mean[quantity(exact, "beats", "p1 p2")] == 1.0


def test_the_lowest_may_be_best() -> None:
    """The least score is first, and beats the other."""
    found = ranked("{best: lowest}", x=[4.5, 4.0], y=[0.0, 0.0], z=[0.0, 0.0])
    assert found.quantities.ids == ("p2", "p1")
    assert found.indices.mean[quantity(found, "first", "p2")] == 1.0
    assert found.indices.mean[quantity(found, "rank", "p1")] == 2.0


@pytest.mark.parametrize(
    ("ties", "ranks", "first"),
    [("shared-best", [1, 1, 3], 1), ("shared-mean", [1.5, 1.5, 3], 0), ("dense", [1, 1, 2], 1)],
)
def test_ties_share_places_as_the_form_says(ties: str, ranks: list[float], first: int) -> None:
    """Two alike and one below, in every draw; with a mean place neither is first."""
    found = ranked(f"{{ties: {ties}}}", x=[4.0, 4.0, 2.0], y=[0.0] * 3, z=[0.0] * 3)
    assert found.indices.mean[found.quantities.family("rank")].tolist() == ranks
    assert found.indices.mean[quantity(found, "first", "p1")] == first
    assert found.indices.mean[quantity(found, "beats", "p1 p2")] == 0.0
    assert not found.indices.reacts[found.quantities.family("rank")].any()


def test_quantities_of_draws_by_hand() -> None:
    """Three products under four draws, one of them without a score in the last; places, the top, the winner and the shift."""
    form, catalogue = form_of(TWO), catalogue_of(**{name: values[:3] for name, values in READINGS.items()})
    table = score_catalogue(form, catalogue)
    asked = quantities_of(form, table.column("total"), catalogue.products, 2, [("p3", "p1"), ("p1", "p2")])
    assert asked.ids == ("p1", "p2", "p3")
    values = np.array([[3.0, 2.0, 1.0], [1.0, 2.0, 3.0], [2.0, 2.0, 1.0], [1.0, NAN, 2.0]])
    found = {name: asked.of(values)[:, place].tolist() for place, name in enumerate(asked.names)}
    np.testing.assert_array_equal(found["score", "p2"], [2, 2, 2, NAN])
    np.testing.assert_array_equal(
        [found["rank", name] for name in asked.ids], [[1, 3, 1, 2], [2, 2, 1, NAN], [3, 1, 3, 1]]
    )
    assert [found["in the first 2", name] for name in asked.ids] == [[1, 0, 1, 1], [1, 1, 1, 0], [0, 1, 0, 1]]
    assert [found["first", name] for name in asked.ids] == [[1, 0, 1, 0], [0, 0, 1, 0], [0, 1, 0, 1]]
    np.testing.assert_allclose(found["mean shift in rank", ""], [0, 4 / 3, 1 / 3, 3 / 2])
    assert found["beats", "p3 p1"] == [0, 1, 0, 1]
    assert found["gap", "p3 p1"] == [-2, 2, -1, 1]
    np.testing.assert_array_equal(found["beats", "p1 p2"], [1, 0, 0, NAN])
    np.testing.assert_array_equal(found["gap", "p1 p2"], [1, -1, 0, NAN])


def test_a_product_that_some_draws_leave_without_a_score_is_counted() -> None:
    """A missing rating outweighs the rule under some weights: no index of its score and rank, and the verdict says how often."""
    text = TWO.replace("0.4}}", "0.4}, missing: {absent_above: 0.4}}")
    readings = READINGS | {"y": [2.0, 2.5, NAN, 2.0], "z": [1.0, 2.0, 3.0, 1.0]}
    weights = "{weights: total, factor: [0.5, 1.5]}"
    found = found_of(text, weights, "beats: [[p1, p3], [p1, p2]]\n", readings=readings, by="factor")
    q, pair = quantity(found, "score", "p3"), quantity(found, "beats", "p1 p3")
    assert 0 < found.indices.lost[q] < found.indices.rows * 32 * 4
    assert np.isnan(found.indices.total[:, [q, pair]]).all()
    assert found.indices.mean[pair] == 1.0
    assert found.indices.known[pair] == found.indices.known[q] < 1 == found.indices.known[found.shift]
    assert found.indices.mean[q] == pytest.approx(1.0)  # the score of what is there: x alone
    (said,) = [line for line in sensitivity_verdict(found) if line.startswith("p1 stands above p3")]
    share = percent(1 - found.indices.known[pair])
    assert said == (
        "p1 stands above p3 in 100 % of the draws in which both have a score; p1 or p3 has no score in"
        f" {share} of draws."
    )
    assert found.indices.lost[found.shift] == 0
    assert any(
        line.startswith("No shares are given for the score and the rank of p3") for line in sensitivity_verdict(found)
    )


def random_rows(kind: str) -> np.ndarray:
    """Rows of values that lie apart, in ties, within a few last digits of each other, missing, or at the ends of floats."""
    rng = np.random.default_rng(3)
    values = rng.normal(0, 5, (200, 37))
    dust = rng.choice([0, 1e-10, 1e-11, 5e-12, 2e-12, 1e-15, -1e-11], values.shape)
    return {
        "apart": values,
        "tied": np.round(values),
        "near": np.round(values, 1) * (1 + dust),
        "missing": np.where(rng.random(values.shape) < 0.3, NAN, np.round(values, 1)),
        "at the ends": rng.choice(
            [np.inf, -np.inf, 1e308, 1.5e308, -1e308, 1.0, NAN, 0.0, -0.0, 5e-324, 1e-305], values.shape
        ),
    }[kind]


@pytest.mark.parametrize("kind", ["apart", "tied", "near", "missing", "at the ends"])
@pytest.mark.parametrize("best", ["highest", "lowest"])
@pytest.mark.parametrize("ties", ["shared-best", "shared-mean", "dense"])
def test_ranks_of_many_rows_are_those_of_each(kind: str, best: str, ties: str) -> None:
    """`rank_rows` sorts by a short cut where it may; `rank` takes one row the plain way."""
    values = random_rows(kind)
    given = values.copy()
    expected = np.stack([rank(each, best, ties) for each in values])
    np.testing.assert_array_equal(rank_rows(values, best, ties), expected)
    np.testing.assert_array_equal(values, given)


@pytest.mark.parametrize("shape", [(0, 5), (5, 0), (3, 1), (2, 40_000)], ids=str)
def test_rows_of_any_number_are_ranked(shape: tuple[int, int]) -> None:
    """None, one, or more than the short cut takes."""
    values = np.random.default_rng(0).normal(size=shape)
    expected = [rank(each) for each in values]
    np.testing.assert_array_equal(rank_rows(values), np.reshape(expected, shape))


def test_the_hash_answers_to_the_studys_text() -> None:
    """The same words, the same hash; another range, another hash."""
    form, catalogue = form_of(TWO), catalogue_of(**READINGS)
    table = score_catalogue(form, catalogue)
    hashes = []
    for width in (1, 1, 2):
        text = f"study: trial\nvary: [{{address: constants.q, uniform: [-{width}, {width}]}}]\n"
        (found,) = sensitivity_study(read_study(text, "study.yaml", form, catalogue), table, budget=256)
        hashes.append(found.design.sha256)
    assert hashes[0] == hashes[1] != hashes[2]
