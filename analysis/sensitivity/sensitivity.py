"""Sensitivity of scores, ranks and winners to what a study varies: Sobol' indices by factor and by group, until they hold."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.sensitivity.design import Design, Swap, swaps_of, without_tied
from analysis.sensitivity.local import LocalSensitivity, local_sensitivity
from analysis.sensitivity.sobol import BLOCKS, Indices, Sums, indices, near_mean
from analysis.study import Draws, Study
from analysis.trials.quantities import SHIFT, Quantities, quantities_of
from analysis.trials.trials import Trials, compile_trials
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
    converged: whether half-widths and the ranking of factors held before the budget ended; ended: why the trail ended;
    tied: factors that are correlated with others of their group, and so are swapped with it only.
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
    tied: tuple[str, ...]
    paired: tuple[int, ...]


def _plan(study: Study, table: ScoreTable, target: str, by: str, points: int, second_order: bool, seed: int) -> _Plan:
    trials = compile_trials(study, table.catalogue, [target])
    reaching = tuple(factor for factor in study.factors if trials.reaches(factor.name, target))
    idle = tuple(factor.name for factor in study.factors if factor not in reaching)
    swaps, tied = without_tied(study, swaps_of(reaching, by))
    paired = tuple(i for i, s in enumerate(swaps) if s.level == ("factor" if by == "factor" else "group"))
    if second_order and len(paired) > MOST_PAIRED:
        found = f"second order between {len(paired)} of them"
        expected = f"at most {MOST_PAIRED}"
        raise StudyError([Problem(Place("the study"), found, expected, "Take `--by kind`, or vary fewer.")])
    moved = tuple(frozenset().union(*(trials.reach[name] for name in swap.factors)) for swap in swaps)
    column = table.column(target)
    quantities = quantities_of(study.form, column, table.catalogue.products, study.top, study.pairs)
    design = Design(study, swaps, points, seed)
    return _Plan(quantities, trials, design, swaps, moved, idle, tied, paired if second_order else ())


def _run(plan: _Plan, points: int, progress: Progress) -> ScoreSensitivity:
    """Double the points until the trail ends."""
    sums = Sums(_shift(plan), len(plan.swaps), plan.paired, design=plan.design.sha256)
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
    found = _indices(plan, sums)
    progress((len(plan.swaps) + 2) * points * BLOCKS, 0)
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
        local=local_sensitivity(plan.trials, plan.quantities.output.name),
        tied=plan.tied,
    )


def _shift(plan: _Plan) -> Array:
    """A value near every quantity's mean: of the first point of every block."""
    draws, _ = next(plan.design.pieces(0, 1, 1))
    return near_mean(_outputs(plan, draws)[1])


def _indices(plan: _Plan, sums: Sums, of: slice = slice(None)) -> Indices:
    rng = np.random.default_rng([plan.design.seed, 3])
    return indices(sums, design=plan.design.sha256, resamples=RESAMPLES, rng=rng, of=of)


def _add(plan: _Plan, sums: Sums, start: int, stop: int, progress: Progress) -> None:
    """Take in the points from `start` to `stop` of every block."""
    done = (len(plan.swaps) + 2) * start * BLOCKS
    for one, other in plan.design.pieces(start, stop, _rows(plan)):
        at_one, of_one = _outputs(plan, one)
        at_other, of_other = _outputs(plan, other)
        a, b = sums.add_base(of_one, of_other, design=plan.design.sha256)
        swapped: dict[int, Array] = {}
        for number, swap in enumerate(plan.swaps):
            _, mixed = _outputs(plan, plan.design.mixed(one, other, swap), at_one, plan.moved[number])
            ab = sums.add_swap(number, mixed, a, b)
            if number in plan.paired:
                swapped[number] = ab
            done += len(one)
            progress(done, 0)
        if plan.paired:
            back = [plan.design.mixed(other, one, plan.swaps[number]) for number in plan.paired]
            moved = [plan.moved[number] for number in plan.paired]
            bas = [sums.centred(_outputs(plan, draws, at_other, m)[1]) for draws, m in zip(back, moved, strict=True)]
            sums.add_second([swapped[number] for number in plan.paired], bas, a, b)


def _rows(plan: _Plan) -> int:
    """How many points of every block are taken at a time."""
    return max(1, HELD // (BLOCKS * max(len(plan.quantities.names), len(plan.trials.inputs.products))))


def _outputs(
    plan: _Plan, draws: Draws, before: Mapping[str, Evaluation] | None = None, moved: frozenset[str] = frozenset()
) -> tuple[Mapping[str, Evaluation], Array]:
    """What was worked out under some draws, and every quantity."""
    known = plan.trials.work_out(plan.trials.study.setting(draws), before, moved)
    values = plan.trials.values(known, plan.quantities.output.name, len(draws))
    return known, plan.quantities.of(values)


def _step(plan: _Plan, sums: Sums, place: slice) -> Step:
    found = _indices(plan, sums, place)
    widths = np.stack([found.first_high - found.first_low, found.total_high - found.total_low]) / 2
    widest = float(np.nanmax(widths)) if np.isfinite(widths).any() else float("nan")
    return Step(sums.rows * BLOCKS, found.total[:, 0], found.total_low[:, 0], found.total_high[:, 0], widest)


def _state(trail: Sequence[Step], points: int, most: int) -> tuple[bool, str]:
    """Whether the trail has converged, and why it ends here ("" where it goes on)."""
    last = trail[-1]
    if not np.isfinite(last.total).any():  # only the whole budget says so of what may be rare
        return points >= most, "the ranking does not react to anything that varies" if points >= most else ""
    narrow = last.half_width <= TARGET
    if narrow and len(trail) > 1 and order_holds(trail[-2].total, last.total):
        why = f"every half-width of the ranking's shares is at most {TARGET:g}"
        return True, f"{why} and the order of the factors held when the points doubled"
    if points >= most:
        why = (
            f"the widest half-width is {last.half_width:.2g}" if not narrow else "the order of the factors still moves"
        )
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
