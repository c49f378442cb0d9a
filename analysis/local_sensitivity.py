"""Local sensitivity: how a score's value answers to each number at the stated setting, by derivatives."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.trials import Trials

Array = NDArray[np.float64]
#: The step of a central difference, as a share of a number's own standard deviation in the study.
STEP = 1e-3


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
    Central differences through the kernel at one and two steps; slopes that differ with the step mean a jump or a corner.
    A weight is moved with the others as they stand, in a blend that divides by their sum.
    """
    study = trials.study
    sds = {f.name: f.sd for f in study.factors if np.isfinite(f.sd) and f.sd > 0 and trials.reaches(f.name, target)}
    n_products = len(trials.inputs.products)
    if not sds:
        return LocalSensitivity((), np.empty((0, n_products)))
    setting = study.stated(4 * len(sds))
    for row, (name, sd) in enumerate(sds.items()):
        for offset, steps in enumerate((1, -1, 2, -2)):
            setting.numbers[name][4 * row + offset] += steps * STEP * sd
    found = trials.values(trials.work_out(setting), target, setting.n_draws)
    near = (found[::4] - found[1::4]) / (2 * STEP)
    far = (found[2::4] - found[3::4]) / (4 * STEP)
    broken = np.abs(near - far) > 0.02 * np.maximum(np.abs(near), np.abs(far)) + 1e-6
    return LocalSensitivity(tuple(sds), np.where(broken, np.nan, near))
