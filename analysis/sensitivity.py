"""Sensitivity of scores, ranks and winners to what a study varies: Sobol' indices by factor and by group, until they hold."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.design import Design, Swap
from analysis.local_sensitivity import LocalSensitivity, local_sensitivity
from analysis.quantities import SHIFT, Quantities, quantities_of
from analysis.sobol import BLOCKS, Indices, Sums, indices
from analysis.study import Draws, Study
from analysis.study.study import Factor
from analysis.trials import Trials, compile_trials
from scoring.errors import Place, Problem, StudyError
from scoring.evaluate import Evaluation
from scoring.table import ScoreTable

Array = NDArray[np.float64]
Progress = Callable[[int, int], None]
#: Base points: where the trail starts, and the budget unless another is asked for.
FIRST, BUDGET = 256, 4096
RESAMPLES = 500
#: The half-width of every index's interval at which the trail may end.
TARGET = 0.05
#: So many output values of one batch of draws are held at a time.
HELD = 1 << 19
#: Second order between more swaps than this is refused.
MOST_PAIRED = 24
GROUPINGS = ("kind", "rating", "section", "factor")


@dataclass(frozen=True, slots=True, eq=False)
class Step:
    """One step of the convergence trail: the indices of the mean shift in rank; arrays of shape (swaps,).

    total, low, high: the total indices and the ends of their intervals; half_width: of the widest interval, first order or
    total.
    """

    points: int
    total: Array
    low: Array
    high: Array
    half_width: float


@dataclass(frozen=True, slots=True, eq=False)
class ScoreSensitivity:
    """What a study says of one score.

    swaps: factors and groups that reach it; idle: factors that do not; paired: those swaps that second order is between;
    converged: whether half-widths and the ranking of factors held before the budget ended; ended: why the trail ended.
    """

    quantities: Quantities
    design: Design
    swaps: tuple[Swap, ...]
    idle: tuple[str, ...]
    indices: Indices
    paired: tuple[int, ...]
    trail: tuple[Step, ...]
    converged: bool
    ended: str
    local: LocalSensitivity

    @property
    def shift(self) -> int:
        """Which quantity is the mean shift in rank."""
        return int(self.quantities.family(SHIFT).start)


def sensitivity(
    study: Study,
    table: ScoreTable,
    *,
    by: str = "kind",
    budget: int = BUDGET,
    second_order: bool = False,
    seed: int = 0,
    progress: Progress | None = None,
) -> tuple[ScoreSensitivity, ...]:
    """Sobol' indices of every score of a study.

    Parameters
    ----------
    table : the scores as published
    by : the groups that are swapped whole, beside each factor: "kind", "rating", "section", or "factor" for none
    budget : base points at most; rounded up to 32 blocks of a power of two
    progress : told how much is done, of how much at most

    Raises
    ------
    StudyError
        Inputs are correlated across what is swapped, or second order is asked for between too many.
    """
    points = _block_points(budget)
    found = []
    plans = [_plan(study, table, target, by, points, second_order, seed) for target in study.scores]
    total = sum(len(plan.swaps) + 2 for plan in plans) * points * BLOCKS
    done = 0
    for plan in plans:
        found.append(_run(plan, points, _told(progress, done, total)))
        done += (len(plan.swaps) + 2) * points * BLOCKS
    return tuple(found)


def _block_points(budget: int) -> int:
    """Points of each block: the power of two that gives at least the budget."""
    points: int = 1
    while points * BLOCKS < max(budget, FIRST):
        points *= 2
    return points


def _told(progress: Progress | None, done: int, total: int) -> Progress:
    return (lambda _, __: None) if progress is None else lambda own, _: progress(done + own, total)


@dataclass(frozen=True, slots=True, eq=False)
class _Plan:
    quantities: Quantities
    trials: Trials
    design: Design
    swaps: tuple[Swap, ...]
    moved: tuple[frozenset[str], ...]
    idle: tuple[str, ...]
    paired: tuple[int, ...]


def _plan(study: Study, table: ScoreTable, target: str, by: str, points: int, second_order: bool, seed: int) -> _Plan:
    trials = compile_trials(study, table.catalogue, [target])
    reaching = tuple(factor for factor in study.factors if trials.reaches(factor.name, target))
    idle = tuple(factor.name for factor in study.factors if factor not in reaching)
    swaps = swaps_of(reaching, by)
    refuse_correlated(study, swaps)
    paired = tuple(i for i, s in enumerate(swaps) if s.level == ("factor" if by == "factor" else "group"))
    if second_order and len(paired) > MOST_PAIRED:
        found = f"second order between {len(paired)} of them"
        expected = f"at most {MOST_PAIRED}"
        raise StudyError([Problem(Place("the study"), found, expected, "Take `--by kind`, or vary fewer.")])
    moved = tuple(frozenset().union(*(trials.reach[name] for name in swap.factors)) for swap in swaps)
    column = table.column(target)
    quantities = quantities_of(study.form, column, table.catalogue.products, study.top, study.pairs)
    design = Design(study, swaps, points, seed)
    return _Plan(quantities, trials, design, swaps, moved, idle, paired if second_order else ())


def swaps_of(factors: Sequence[Factor], by: str) -> tuple[Swap, ...]:
    """Every factor by itself, then every group of the chosen grouping."""
    found = [Swap(factor.name, (factor.name,), "factor") for factor in factors]
    groups: dict[str, list[str]] = {}
    for factor in factors:
        if by != "factor":
            groups.setdefault(group_of(factor, by), []).append(factor.name)
    return (*found, *(Swap(name, tuple(members), "group") for name, members in groups.items()))


def group_of(factor: Factor, by: str) -> str:
    """The group that a factor belongs to."""
    return factor.kind if by == "kind" else factor.section if by == "section" else factor.output or factor.section


def refuse_correlated(study: Study, swaps: Sequence[Swap]) -> None:
    """A fault where a correlation runs across what would be swapped: variance cannot be shared out there."""
    problems = []
    for first, second, correlation in study.correlations:
        for swap in swaps:
            if (first in swap.factors) != (second in swap.factors):
                found = f"{first} and {second}, correlated by {correlation:g}, on two sides of `{swap.name}`"
                expected = "independent inputs: Sobol' indices have no meaning here"
                hint = "`--shapley` shares the variance out among correlated groups."
                problems.append(Problem(Place("the study"), found, expected, hint))
    if problems:
        raise StudyError(problems)


def _run(plan: _Plan, points: int, progress: Progress) -> ScoreSensitivity:
    """Double the points until the trail ends."""
    stated = plan.trials.work_out(plan.trials.study.stated())
    shift = np.nan_to_num(plan.quantities.of(_target(plan, stated, 1)))[0]
    sums = Sums(shift, len(plan.swaps), plan.paired)
    place = plan.quantities.family(SHIFT)
    trail: list[Step] = []
    start, stop = 0, max(1, FIRST // BLOCKS)
    while True:
        _add(plan, sums, start, stop, progress)
        trail.append(_step(plan, sums, place))
        converged, ended = _state(trail, stop * BLOCKS, points * BLOCKS)
        if ended:
            break
        start, stop = stop, 2 * stop
    found = indices(sums, resamples=RESAMPLES, rng=_resampling(plan))
    progress((len(plan.swaps) + 2) * points * BLOCKS, 0)
    local = local_sensitivity(plan.trials, plan.quantities.output.name)
    return ScoreSensitivity(
        plan.quantities, plan.design, plan.swaps, plan.idle, found, plan.paired, tuple(trail), converged, ended, local
    )


def _resampling(plan: _Plan) -> np.random.Generator:
    return np.random.default_rng([plan.design.seed, 3])


def _target(plan: _Plan, known: Mapping[str, Evaluation], n_draws: int) -> Array:
    return plan.trials.values(known, plan.quantities.output.name, n_draws)


def _add(plan: _Plan, sums: Sums, start: int, stop: int, progress: Progress) -> None:
    """Take in the points from `start` to `stop` of every block."""
    study, trials = plan.trials.study, plan.trials
    rows = max(1, HELD // (BLOCKS * max(len(plan.quantities.names), len(trials.inputs.products))))
    done = (len(plan.swaps) + 2) * start * BLOCKS

    def outputs(draws: Draws, before: Mapping[str, Evaluation] | None, moved: frozenset[str]) -> Array:
        known = trials.work_out(study.setting(draws), before, moved)
        return plan.quantities.of(_target(plan, known, len(draws)))

    for one, other in plan.design.pieces(start, stop, rows):
        at_one, at_other = (trials.work_out(study.setting(draws)) for draws in (one, other))
        a, b = sums.add_base(
            plan.quantities.of(_target(plan, at_one, len(one))), plan.quantities.of(_target(plan, at_other, len(other)))
        )
        swapped: dict[int, Array] = {}
        for number, swap in enumerate(plan.swaps):
            ab = sums.add_swap(number, outputs(plan.design.mixed(one, other, swap), at_one, plan.moved[number]), a, b)
            if number in plan.paired:
                swapped[number] = ab
            done += len(one)
            progress(done, 0)
        if plan.paired:
            back = [
                sums.centred(outputs(plan.design.mixed(other, one, plan.swaps[n]), at_other, plan.moved[n]))
                for n in plan.paired
            ]
            sums.add_second([swapped[n] for n in plan.paired], back, a, b)


def _step(plan: _Plan, sums: Sums, place: slice) -> Step:
    found = indices(sums, resamples=RESAMPLES, rng=_resampling(plan), of=place)
    widths = np.stack([found.first_high - found.first_low, found.total_high - found.total_low]) / 2
    widest = float(np.nanmax(widths)) if np.isfinite(widths).any() else float("nan")
    return Step(sums.rows * BLOCKS, found.total[:, 0], found.total_low[:, 0], found.total_high[:, 0], widest)


def _state(trail: Sequence[Step], points: int, most: int) -> tuple[bool, str]:
    """Whether the trail has converged, and why it ends here ("" where it goes on)."""
    last = trail[-1]
    if not np.isfinite(last.total).any():
        return True, "the ranking does not react to anything that varies"
    narrow = last.half_width <= TARGET
    if narrow and len(trail) > 1 and order_holds(trail[-2].total, last.total):
        return True, f"every half-width is at most {TARGET:g} and the order of the factors held when the points doubled"
    if points >= most:
        why = (
            f"the widest half-width is {last.half_width:.2g}" if not narrow else "the order of the factors still moves"
        )
        return False, f"the budget ended at {points} base points: {why}"
    return False, ""


def order_holds(before: Array, now: Array) -> bool:
    """Whether factors that now differ by more than the target half-width stood in the same order before."""
    apart = now[:, np.newaxis] - now[np.newaxis] > TARGET
    turned = before[:, np.newaxis] < before[np.newaxis]
    return not bool((apart & turned).any())
