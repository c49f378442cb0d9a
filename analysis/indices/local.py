"""Local sensitivity: how a score's value answers to each number at the stated setting, by derivatives."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.trials.trials import Trials
from scoring.numbers.array_types import Array

#: The step of a central difference, as a share of a number's own standard deviation in the study.
STEP = 1e-3
#: The steps that a number is moved by.
STEPS = (-2, -1, 0, 1, 2)
#: Slopes that differ by more than this share of the greater mean a jump or a corner.
BREAK = 0.02


@dataclass(frozen=True, slots=True, eq=False)
class LocalSensitivity:
    """Derivatives of one score at the stated setting.

    names: the factors that are numbers and reach the score; per_sd: the change of each product's score, in points, that a
    standard deviation of the number makes to first order, shape (names, products); NaN on a jump or corner, and where a
    product has no score.
    """

    names: tuple[str, ...]
    per_sd: Array


def local_sensitivity(trials: Trials, target: str) -> LocalSensitivity:
    """The derivative of a score with respect to each number that varies, times that number's standard deviation.

    Notes
    -----
    With f at 0, one and two steps h to either side, the slope is (8 (f1 - f-1) - (f2 - f-2)) / 12 h, central differences
    freed of their cubic term. A jump makes the central differences at one and two steps differ; a corner makes the second
    differences (f1 - 2 f0 + f-1) / h and (f2 - 2 f0 + f-2) / 4h differ, which are alike where f is smooth. Either gives
    NaN. A weight is moved with the others as they stand, in a blend that divides by their sum.
    """
    study = trials.study
    sds = {f.name: f.sd for f in study.factors if np.isfinite(f.sd) and f.sd > 0 and trials.reaches(f.name, target)}
    n_products = len(trials.inputs.products)
    if not sds:
        return LocalSensitivity((), np.empty((0, n_products)))
    setting = study.stated(len(STEPS) * len(sds))
    for row, (name, sd) in enumerate(sds.items()):
        at = slice(len(STEPS) * row, len(STEPS) * (row + 1))
        setting.numbers[name][at] += STEP * sd * np.array(STEPS)
    found = trials.values(trials.work_out(setting), target, setting.n_draws)
    return LocalSensitivity(tuple(sds), _slopes(found.reshape(len(sds), len(STEPS), n_products)))


def _slopes(found: Array) -> Array:
    """Slopes by step, NaN where they break, of values of shape (names, steps, products)."""
    back2, back, here, ahead, ahead2 = (found[:, place] for place in range(len(STEPS)))
    near, far = (ahead - back) / (2 * STEP), (ahead2 - back2) / (4 * STEP)
    bend, far_bend = (ahead - 2 * here + back) / STEP, (ahead2 - 2 * here + back2) / (4 * STEP)
    least = BREAK * np.maximum(np.abs(near), np.abs(far)) + 1e-6
    broken = (np.abs(near - far) > least) | (2 * np.abs(bend - far_bend) > least)
    return np.where(broken, np.nan, (4 * near - far) / 3)
