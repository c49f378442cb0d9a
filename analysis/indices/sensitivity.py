"""Sensitivity of scores, ranks and winners to what a study varies: Sobol' indices by factor and by group, until they hold."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from analysis.indices.design import BaseSample, Design, Swap, swaps_of, without_tied
from analysis.indices.local import LocalSensitivity, local_sensitivity
from analysis.indices.precision import TARGET, Precision, quantities_asked
from analysis.indices.sobol import BLOCKS, Indices, Sums, indices
from analysis.indices.swap_runs import SwapRuns, SwapSums, more_points
from analysis.runs import Executor, Told, serially, untold
from analysis.study import Study
from analysis.trials.quantities import SHIFT, Quantities, quantities_of
from analysis.trials.trials import Trials, compile_trials
from scoring.errors import Place, Problem, StudyError
from scoring.numbers.array_types import Array
from scoring.table.table import ScoreTable

Progress = Callable[[int, int], None]
#: Base points: where the trail starts, and the budget unless another is asked for.
FIRST, BUDGET = 256, 4096
#: A factor whose total index lies below this, by the upper end of its interval, hardly matters.
SMALL = 0.01
#: Second order between more swaps than this is refused.
MOST_PAIRED = 24
GROUPINGS = ("kind", "rating", "section", "factor")


@dataclass(frozen=True, slots=True, eq=False)
class Step:
    """One step of the convergence trail; arrays of shape (swaps,).

    total, low, high: the total indices of the mean shift in rank and the ends of their intervals; half_width: of the widest
    interval, first order or total, of the quantities that a precision is asked of; NaN where none of them has an index.
    """

    points: int
    total: Array
    low: Array
    high: Array
    half_width: float


@dataclass(frozen=True, slots=True, eq=False)
class Together:
    """Factors that hardly move the ranking by themselves, swapped together: their joint total index and its interval."""

    factors: tuple[str, ...]
    total: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, eq=False)
class ScoreSensitivity:
    """What a study says of one score.

    swaps: factors and groups that reach it; idle: factors that do not; paired: those swaps that second order is between;
    precision: what was asked for; converged: whether it was reached before the budget ended; ended: why the trail ended;
    tied: factors that are correlated with others of their group, and so are swapped with it only; small: the factors that
    hardly move the ranking, together, where there are two or more.
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
    tied: tuple[str, ...] = ()
    precision: Precision = field(default_factory=Precision)
    small: Together | None = None

    @property
    def shift(self) -> int:
        """Which quantity is the mean shift in rank."""
        return int(self.quantities.family(SHIFT).start)


def sensitivity_study(
    study: Study,
    table: ScoreTable,
    *,
    by: str = "kind",
    budget: int = BUDGET,
    second_order: bool = False,
    precision: Precision | None = None,
    seed: int = 0,
    progress: Progress | None = None,
    execute: Executor = serially,
) -> tuple[ScoreSensitivity, ...]:
    """Sobol' indices of every score of a study.

    Parameters
    ----------
    table : the scores as published
    by : the groups that are swapped whole, beside each factor: "kind", "rating", "section", or "factor" for none
    budget : base points at most; rounded up to 16 blocks of a power of two; each is run twice, and twice with every swap
    precision : how closely which shares are to be known; by default those of the mean shift in rank, within 0.05
    progress : told how much is done, of how much at most
    execute : works the blocks of points out

    Raises
    ------
    StudyError
        Inputs are correlated across what is swapped, or second order is asked for between too many.
    """
    points = _block_points(budget)
    base = BaseSample(study.n_columns, seed, BLOCKS)
    asked = _Asked(by, second_order, precision or Precision(), base, points)
    found = []
    trials = compile_trials(study, table.catalogue)
    plans = [_plan(trials.alone(target), table, asked) for target in study.scores]
    whole = [_runs(plan) * points * BLOCKS for plan in plans]
    done = 0
    for plan, own in zip(plans, whole, strict=True):
        found.append(_run(plan, points, _told(progress, done, sum(whole)), execute))
        done += own
    return tuple(found)


def _runs(plan: _Plan) -> int:
    """How often a base point is run."""
    return 2 * len(plan.swaps) + 2


def most_points(budget: int) -> int:
    """The base points at most that a budget comes to, once it is rounded up.

    Examples
    --------
    >>> most_points(64), most_points(4096), most_points(4097)
    (256, 4096, 8192)
    """
    return _block_points(budget) * BLOCKS


def _block_points(budget: int) -> int:
    """Points of each block: the power of two that gives at least the budget."""
    points: int = 1
    while points * BLOCKS < max(budget, FIRST):
        points *= 2
    return points


def _told(progress: Progress | None, done: int, total: int) -> Progress:
    return (lambda _, __: None) if progress is None else lambda own, _: progress(done + own, total)


@dataclass(frozen=True, slots=True, eq=False)
class _Asked:
    """What is asked of every score, by the same sample; points: of each block of the base sample at most."""

    by: str
    second_order: bool
    precision: Precision
    base: BaseSample
    points: int


@dataclass(frozen=True, slots=True, eq=False)
class _Plan:
    runs: SwapRuns
    idle: tuple[str, ...]
    tied: tuple[str, ...]
    paired: tuple[int, ...]
    precision: Precision

    @property
    def quantities(self) -> Quantities:
        return self.runs.quantities

    @property
    def design(self) -> Design:
        return self.runs.design

    @property
    def swaps(self) -> tuple[Swap, ...]:
        return self.runs.design.swaps

    @property
    def reducer(self) -> SwapSums:
        """Of what the runs give."""
        return SwapSums(self.runs.near_mean(), len(self.swaps), self.paired, self.design.sha256)


def _plan(trials: Trials, table: ScoreTable, asked: _Asked) -> _Plan:
    """The swaps of one score, those that can be made; refused where second order would be between too many."""
    study, (target,) = trials.study, trials.targets
    reaching = tuple(factor for factor in study.factors if trials.reaches(factor.name, target))
    idle = tuple(factor.name for factor in study.factors if factor not in reaching)
    swaps, tied = without_tied(study, swaps_of(reaching, asked.by))
    level = "factor" if asked.by == "factor" else "group"
    paired = tuple(place for place, swap in enumerate(swaps) if asked.second_order and swap.level == level)
    if len(paired) > MOST_PAIRED:
        found = f"second order between {len(paired)} of them"
        expected = f"at most {MOST_PAIRED}"
        raise StudyError([Problem(Place("the study"), found, expected, "Take `--by kind`, or vary fewer.")])
    column = table.column(target)
    quantities = quantities_of(study.form, column, table.catalogue.products, study.top, study.pairs)
    design = Design(study, swaps, asked.points, asked.base.seed, shared=asked.base)
    return _Plan(SwapRuns(trials, quantities, design), idle, tied, paired, asked.precision)


def _run(plan: _Plan, points: int, progress: Progress, execute: Executor) -> ScoreSensitivity:
    """Double the points until the trail ends."""
    reducer, sums = plan.reducer, None
    trail: list[Step] = []
    start, stop = 0, FIRST // BLOCKS
    while True:
        told = _points_told(plan, progress, start)
        sums = more_points(plan.runs, reducer, range(start, stop), onto=sums, told=told, execute=execute)
        trail.append(_step(plan, sums))
        converged, ended = _state(trail, points * BLOCKS, plan.precision)
        if ended:
            break
        start, stop = stop, 2 * stop
    found = indices(sums, design=plan.design.sha256)
    small = _together(plan, found, stop, execute)
    progress(_runs(plan) * points * BLOCKS, 0)
    return ScoreSensitivity(
        quantities=plan.quantities,
        design=plan.design,
        swaps=plan.swaps,
        idle=plan.idle,
        indices=found,
        paired=plan.paired,
        trail=tuple(trail),
        converged=converged,
        ended=ended,
        local=local_sensitivity(plan.runs.trials, plan.quantities.output.name),
        tied=plan.tied,
        precision=plan.precision,
        small=small,
    )


def _points_told(plan: _Plan, progress: Progress, start: int) -> Told:
    """Progress in runs of the model, from points that are done."""
    return lambda done: progress(_runs(plan) * (start + done) * BLOCKS, 0)


def _together(plan: _Plan, found: Indices, points: int, execute: Executor) -> Together | None:
    """What the factors that hardly move the ranking do to it together: swapped at once, on the same points."""
    place = plan.quantities.family(SHIFT)
    high = found.total_high[:, place.start]
    names = tuple(s.name for row, s in enumerate(plan.swaps) if s.level == "factor" and high[row] < SMALL)
    if len(names) < 2 or found.lost[place.start]:
        return None
    swap = Swap("what hardly matters", names, "group")
    design = replace(plan.design, swaps=(swap,))
    own = replace(plan, runs=replace(plan.runs, design=design), paired=())
    sums = more_points(own.runs, own.reducer, range(points), onto=None, told=untold, execute=execute)
    of = indices(sums, design=design.sha256, of=place)
    return Together(names, float(of.total[0, 0]), float(of.total_low[0, 0]), float(of.total_high[0, 0]))


def _step(plan: _Plan, sums: Sums) -> Step:
    place = plan.quantities.family(SHIFT)
    shift = indices(sums, design=plan.design.sha256, of=place)
    asked = np.array(quantities_asked(plan.precision, plan.quantities), np.intp)
    widths = half_widths(indices(sums, design=plan.design.sha256, of=asked))
    widest = float(np.nanmax(widths)) if np.isfinite(widths).any() else float("nan")
    return Step(sums.rows * BLOCKS, shift.total[:, 0], shift.total_low[:, 0], shift.total_high[:, 0], widest)


def half_widths(found: Indices) -> Array:
    """Of the intervals of first order and total, shape (2, swaps, q); NaN where there is no index."""
    return np.stack([found.first_high - found.first_low, found.total_high - found.total_low]) / 2


def _state(trail: Sequence[Step], most: int, precision: Precision) -> tuple[bool, str]:
    """Whether what was asked for is reached, and why the trail ends here ("" where it goes on)."""
    last, within = trail[-1], precision.within
    if not np.isfinite(last.half_width):
        # what does not react yet may be rare: only the whole budget says that it does not react
        ended = last.points >= most
        return ended, "it does not react to anything that varies" if ended else ""
    narrow = last.half_width <= within
    held = precision.asked or (len(trail) > 1 and order_holds(trail[-2].total, last.total))
    if narrow and held and len(trail) > 1:
        why = f"every half-width is at most {within:g}"
        if not precision.asked:
            why += " and the order of the arguments held when the points doubled"
        return True, why
    if last.points >= most:
        why = (
            f"the widest half-width is {last.half_width:.2g}"
            if not narrow
            else "the order of the arguments still moves"
        )
        if narrow and precision.asked:
            return True, f"every half-width is at most {within:g}"
        return False, f"the budget ended, and {why}"
    return False, ""


def order_holds(before: Array, now: Array) -> bool:
    """Whether factors that now differ by more than the target half-width stood in the same order before.

    Totals of shape (swaps,); where an output did not react before, there was no order to hold.
    """
    if np.isnan(before).any():
        return False
    apart = now[:, np.newaxis] - now[np.newaxis] > TARGET
    turned = before[:, np.newaxis] < before[np.newaxis]
    return not bool((apart & turned).any())
