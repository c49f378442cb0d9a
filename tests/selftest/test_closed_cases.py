"""The closed cases hold as the tool stands, and do not hold where it is made wrong."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from extent import only_long

import analysis.flips.weight_changes
import analysis.indices.sensitivity
import analysis.indices.shapley_study
import analysis.rankings.rank_sets
import analysis.repeats.repeatability
import analysis.selftest.selftest
import scoring.numbers.rounding
import scoring.table.gates
import scoring.table.uncertainty
from analysis.selftest import (
    precision_cases,
    ranking_cases,
    sensitivity_cases,
    uncertainty_cases,
    weights_cases,
)
from analysis.selftest.closed_case import ClosedCase
from analysis.selftest.selftest import GROUPS, closed_cases
from analysis.study.gaussian_copula import GaussianCopula
from analysis.study.moves import NoiseMove
from analysis.study.weight_rules import Simplex

Patch = pytest.MonkeyPatch
FEW = 8192
BY_NAME = {group.__name__: group for group in GROUPS}


@pytest.fixture(autouse=True)
def few_points(monkeypatch: Patch) -> None:
    """An eighth of the base points: the room of an estimate widens with its own interval."""
    monkeypatch.setattr(sensitivity_cases, "BASE_POINTS", FEW)


@pytest.fixture(scope="module", params=[pytest.param(0, id="seed 0"), pytest.param(1, id="seed 1", marks=only_long)])
def by_group(request: pytest.FixtureRequest) -> Iterator[dict[str, list[ClosedCase]]]:
    """Every case of a seed, by its group."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sensitivity_cases, "BASE_POINTS", FEW)
        yield {group.__name__: list(group(request.param)) for group in GROUPS}


@pytest.fixture(scope="module")
def cases(by_group: dict[str, list[ClosedCase]]) -> list[ClosedCase]:
    """Every case of a seed."""
    return [case for own in by_group.values() for case in own]


def test_every_case_holds(cases: list[ClosedCase]) -> None:
    """All of them, at both seeds."""
    assert [case for case in cases if not case.holds] == []


def test_names_are_unique_and_areas_known(cases: list[ClosedCase]) -> None:
    """A case is spoken of by its name; there are enough of them, and the room of each is finite."""
    names = [case.name for case in cases]
    assert len(set(names)) == len(names) >= 50
    assert {case.area for case in cases} == {
        "rounding",
        "uncertainty",
        "precision",
        "weights",
        "ranking",
        "sensitivity",
    }
    assert all(0 <= case.within < 0.6 for case in cases)


def test_every_case_says_where_its_figure_is_from_and_what_its_room_rests_on(cases: list[ClosedCase]) -> None:
    """Read, worked out, or from memory; and a reason."""
    assert [case.name for case in cases if not re.search(r"\bread\b|worked out|from memory", case.source)] == []
    assert all(case.why for case in cases)


def test_the_same_seed_gives_the_same_figures_and_another_seed_others() -> None:
    """Of a group of draws, to the last bit."""
    first, again, other = ([case.ours for case in ranking_cases.two_criteria(seed)] for seed in (0, 0, 1))
    assert first == again != other


def test_what_is_no_number_does_not_hold() -> None:
    """Neither ours nor the room."""
    case = ClosedCase("ranking", "n", "read", 1.0, 0.1, "w", 1.05)
    assert case.holds
    assert not replace(case, ours=float("nan")).holds
    assert not replace(case, within=float("nan")).holds
    assert not replace(case, ours=1.11).holds
    assert replace(case, within=0.0, ours=1.0 + 2e-16).holds
    assert not replace(case, within=0.0, ours=1.0 + 1e-11).holds


def swapped_rules(patch: Patch) -> None:
    """Each rule of rounding is another one."""
    rules = dict(scoring.numbers.rounding.ROUNDING_RULES)
    for name, other in (("half-up", "half-even"), ("half-even", "half-up"), ("down", "up")):
        patch.setitem(scoring.numbers.rounding.ROUNDING_RULES, name, rules[other])


def scaled(patch: Patch, owner: Any, name: str, factor: float) -> None:
    """A function gives `factor` times what it gave."""
    real = getattr(owner, name)
    patch.setattr(owner, name, lambda *args, **options: _times(real(*args, **options), factor))


def _times(found: Any, factor: float) -> Any:
    if isinstance(found, tuple):
        return (None if found[0] is None else found[0] * factor, *found[1:])
    return found * factor


def wider_first_order(patch: Patch) -> None:
    """Uncertainties to first order are 5 % and 0.1 too large."""
    real = scoring.table.uncertainty._summed
    patch.setattr(scoring.table.uncertainty, "_summed", lambda *given: real(*given) * 1.05 + 0.1)


def wider_draws(patch: Patch) -> None:
    """What draws say is 5 % too large."""
    real = scoring.table.uncertainty._spread

    def wider(results: Any) -> Any:
        found = real(results)
        return replace(found, mean=found.mean * 1.05, sd=found.sd * 1.05, high=found.high * 1.05)

    patch.setattr(scoring.table.uncertainty, "_spread", wider)


def longer_gauge(patch: Patch) -> None:
    """Values are a millionth too large, and degrees of freedom a tenth."""
    real = uncertainty_cases.evaluate

    def longer(*args: Any) -> Any:
        found = real(*args)
        return replace(found, values={name: value * (1 + 1e-6) for name, value in found.values.items()})

    patch.setattr(uncertainty_cases, "evaluate", longer)
    scaled(patch, uncertainty_cases, "effective_freedom", 1.1)


def wider_guard(patch: Patch) -> None:
    """Guards take each uncertainty for a tenth more than it is."""
    real = scoring.table.gates._near
    patch.setattr(
        scoring.table.gates, "_near", lambda g, p, i, u: real(g, p, i, {name: 1.1 * one for name, one in u.items()})
    )


def noisier_bench(patch: Patch) -> None:
    """Draws of noise are half as large again."""
    real = NoiseMove.draw
    patch.setattr(NoiseMove, "draw", lambda self, n, rng: {k: 1.5 * v for k, v in real(self, n, rng).items()})


def other_components(patch: Patch) -> None:
    """Every standard deviation and mean square is a hundredth more."""
    home = analysis.repeats.repeatability
    real = home.variance_components

    def larger(values: Any, *others: Any) -> Any:
        return real(values * 1.01, *others)

    patch.setattr(home, "variance_components", larger)


def other_criticals(patch: Patch) -> None:
    """Every statistic and critical value is a hundredth more."""
    for name in ("furthest", "grubbs_critical", "cochran_critical", "mandel_h_critical", "mandel_k_critical"):
        scaled(patch, precision_cases, name, 1.01)


def uncorrelated_parts(patch: Patch) -> None:
    """Parts are taken as if none moved with another."""
    for name in ("covariance_split", "wanted_weights"):
        real = getattr(weights_cases, name)
        patch.setattr(weights_cases, name, _by_kind(real, name))


def _by_kind(real: Callable[..., Any], name: str) -> Callable[..., Any]:
    def alone(one: Any, other: Any) -> Any:
        if name == "wanted_weights":
            return real(np.diag(np.diag(np.asarray(one, float))), other)
        return real(one, np.diag(np.diag(np.asarray(other, float))))

    return alone


def larger_changes(patch: Patch) -> None:
    """A twentieth more of one weight than is needed."""
    scaled(patch, weights_cases, "one_weight", 1.05)
    scaled(patch, analysis.flips.weight_changes, "one_weight", 1.05)


def other_technology(patch: Patch) -> None:
    """Weights without limits, and indicators in logarithms."""
    doubt, together = weights_cases.benefit_of_the_doubt, weights_cases.redundancy
    patch.setattr(weights_cases, "benefit_of_the_doubt", lambda values, *_: doubt(values))
    patch.setattr(weights_cases, "redundancy", lambda values: together(np.log(values)))


def surer_differences(patch: Patch) -> None:
    """Simulated errors are smaller than stated, so that more countries are told apart."""
    scaled(patch, analysis.rankings.rank_sets, "simulated_errors", 0.7)


def uneven_weights(patch: Patch) -> None:
    """Weight vectors are not drawn uniformly: the middle of the simplex has more than its share."""
    real = Simplex.weights
    patch.setattr(Simplex, "weights", lambda self, unit: real(self, 0.2 + 0.6 * unit))


def other_overlaps(patch: Patch) -> None:
    """Ties count nothing, depths are one less, the reader gives up sooner."""
    tau, distance = ranking_cases.kendall_tau_b, ranking_cases.partial_kendall
    average, by_depth = ranking_cases.average_overlap, ranking_cases.agreement_by_depth
    biased, weight = ranking_cases.overlap_of_lists, ranking_cases.prefix_weight
    patch.setattr(ranking_cases, "kendall_tau_b", lambda a, b: 0.98 * tau(a, b))
    patch.setattr(ranking_cases, "partial_kendall", lambda a, b: distance(a, b, 0.0))
    patch.setattr(ranking_cases, "average_overlap", lambda a, b, depth: average(a, b, depth - 1))
    patch.setattr(ranking_cases, "agreement_by_depth", lambda a, b: by_depth(a, b)[:-1])
    patch.setattr(ranking_cases, "overlap_of_lists", lambda a, b, p, *ties: biased(a, b, p - 0.01, *ties))
    patch.setattr(ranking_cases, "prefix_weight", lambda p, depth: weight(p, depth - 1))


def first_for_total(patch: Patch) -> None:
    """First order and total change places, intervals and all."""
    real = analysis.indices.sensitivity.indices

    def swapped(*args: Any, **options: Any) -> Any:
        found = real(*args, **options)
        ends = ("", "_low", "_high")
        first = {f"first{end}": getattr(found, f"total{end}") for end in ends}
        return replace(found, **first, **{f"total{end}": getattr(found, f"first{end}") for end in ends})

    patch.setattr(analysis.indices.sensitivity, "indices", swapped)


def small_variance(patch: Patch) -> None:
    """First-order and second-order indices are a quarter too large."""
    real = analysis.indices.sensitivity.indices

    def larger(*args: Any, **options: Any) -> Any:
        found = real(*args, **options)
        names = [f"{kind}{end}" for kind in ("first", "second") for end in ("", "_low", "_high")]
        held = {name: getattr(found, name) for name in names}
        return replace(found, **{name: value * 1.25 for name, value in held.items() if value is not None})

    patch.setattr(analysis.indices.sensitivity, "indices", larger)


def forgotten_correlation(patch: Patch) -> None:
    """Inputs are taken as independent where they are not."""
    closed = sensitivity_cases.linear_gaussian_effects
    patch.setattr(
        sensitivity_cases,
        "linear_gaussian_effects",
        lambda beta, sigma: closed(beta, np.diag(np.diag(np.array(sigma)))),
    )
    home = analysis.indices.shapley_study
    patch.setattr(home, "GaussianCopula", lambda matrix, columns: GaussianCopula(np.eye(len(matrix)), columns))


def effects_of_first_order(patch: Patch) -> None:
    """Shapley effects leave the interactions out."""
    home = analysis.indices.shapley_study
    real = home.shapley_effects

    def first(*args: Any, **options: Any) -> Any:
        found = real(*args, **options)
        return replace(found, effects=found.first, low=found.first_low, high=found.first_high)

    patch.setattr(home, "shapley_effects", first)


#: What is made wrong, the groups that look at it, and which of their cases must no longer hold ("" for all).
WRONG: list[tuple[Callable[[Patch], None], tuple[str, ...], str]] = [
    (swapped_rules, ("rounded",), ""),
    (wider_first_order, ("end_gauge", "blind_first_order"), "part of|combined|first order"),
    (wider_draws, ("end_gauge", "sum_of_four", "blind_first_order"), "draws|upper end"),
    (longer_gauge, ("end_gauge",), "length|freedom"),
    (wider_guard, ("guard_band",), ""),
    (noisier_bench, ("told_apart",), ""),
    (other_components, ("silicon", "pooled"), ""),
    (other_criticals, ("critical_values",), ""),
    (uncorrelated_parts, ("importance",), "dean|correlative|structural"),
    (larger_changes, ("single_weight",), ""),
    (other_technology, ("technology",), ""),
    (surer_differences, ("countries",), ""),
    (uneven_weights, ("two_criteria", "three_criteria"), ""),
    (other_overlaps, ("correlations", "rank_biased"), ""),
    (first_for_total, ("ishigami", "g_function", "product"), "first order|total"),
    (small_variance, ("ishigami", "weighted_sum", "product"), "second order|weighted sum"),
    (forgotten_correlation, ("correlated_pair",), ""),
    (effects_of_first_order, ("ishigami_effects",), ""),
]


@pytest.mark.parametrize(("make_wrong", "groups", "says"), WRONG, ids=[wrong.__name__ for wrong, _, _ in WRONG])
def test_a_tool_made_wrong_is_found_out(
    make_wrong: Callable[[Patch], None], groups: tuple[str, ...], says: str, monkeypatch: Patch
) -> None:
    """Each case that the fault concerns does not hold, none of them by chance."""
    make_wrong(monkeypatch)
    found = [case for group in groups for case in BY_NAME[group](0)]
    concerned = [case for case in found if re.search(says, case.name)]
    assert concerned
    assert [case.name for case in concerned if case.holds] == []


def test_every_case_can_fail(by_group: dict[str, list[ClosedCase]]) -> None:
    """Each case is among those that some fault of the table concerns."""
    unconcerned = [
        case.name
        for group, own in by_group.items()
        for case in own
        if not any(group in groups and re.search(says, case.name) for _, groups, says in WRONG)
    ]
    assert unconcerned == []


def test_cases_come_group_after_group(monkeypatch: Patch) -> None:
    """`closed_cases` goes through the groups in order, with the seed, and works a group out when it is asked for."""
    asked: list[tuple[str, int]] = []

    def group(name: str) -> Callable[[int], Iterator[ClosedCase]]:
        def own(seed: int) -> Iterator[ClosedCase]:
            asked.append((name, seed))
            yield ClosedCase("ranking", name, "read", 1.0, 0.0, "w", 1.0)

        return own

    monkeypatch.setattr(analysis.selftest.selftest, "GROUPS", (group("one"), group("other")))
    found = closed_cases(7)
    assert (next(found).name, asked) == ("one", [("one", 7)])
    assert [case.name for case in found] == ["other"]
    assert asked == [("one", 7), ("other", 7)]
