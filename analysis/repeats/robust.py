"""What wild repeats make of a pooled standard deviation: its robust value, and the products that carry it."""

from __future__ import annotations

import math

import numpy as np
import scipy
from numpy.typing import ArrayLike

from analysis.repeats.cells import Cells
from scoring.measurement_error.variance_components import sd_interval

#: The share of cells that `robust_pooled_sd` cuts down where all is well.
CUT = 0.1
#: So many products are named, at most, that carry s_r away from what is declared.
FEW_PRODUCTS = 3


def robust_pooled_sd(sds: ArrayLike, freedom: ArrayLike) -> float:
    """Pool standard deviations so that a few wild ones hardly count.

    Parameters
    ----------
    sds, freedom : shape (n_cells,), a standard deviation (NaN is passed over) and repeats less one

    Returns
    -------
    float; NaN where there is nothing to pool, 0 where so many cells are 0 that the method has no other answer

    Notes
    -----
    Algorithm S of ISO 5725-5:1998 as the documentation of R's package metRology, algS, describes it (read; the standard
    was not): s_i is cut down to eta s*, eta^2 = q / nu with q the 0.9 quantile of chi-squared, and
    s*^2 = xi^2 mean(min(s_i, eta s*)^2), xi^-2 = E min(chi-squared / nu, eta^2) = P(chi-squared_{nu + 2} < q) +
    0.1 eta^2. Worked out here for unequal nu_i: s*^2 = sum nu_i min(s_i^2, eta_i^2 s*^2) / sum nu_i xi_i^-2, whose mean
    is right at the normal for any numbers of repeats. The right side is concave in s*^2, so that it is solved by
    finding which cells are cut, without iteration.
    """
    spread, spare = np.asarray(sds, dtype=np.float64), np.asarray(freedom, dtype=np.float64)
    here = np.isfinite(spread) & (spare > 0)
    if not here.any():
        return math.nan
    squares, spare = spread[here] ** 2, spare[here]
    caps = scipy.stats.chi2.isf(CUT, spare) / spare
    expected = float((spare * (scipy.stats.chi2.cdf(spare * caps, spare + 2) + CUT * caps)).sum())
    edges = squares / caps
    order = np.argsort(edges)
    kept = np.concatenate([[0.0], np.cumsum((spare * squares)[order])])
    cut = np.concatenate([[0.0], np.cumsum((spare * caps)[order][::-1])])[::-1]
    whole = int((kept[1:] + cut[1:] * edges[order] >= expected * edges[order]).sum())
    return math.sqrt(kept[whole] / (expected - cut[whole])) if kept[whole] > 0 else 0.0


def made_by(cells: Cells, declared: float | None) -> tuple[tuple[str, ...], float]:
    """The products that carry s_r above what is declared, and s_r without them; none and NaN where no few do."""
    known = np.isfinite(cells.sds)
    size = len(cells.names)
    freedom = np.bincount(cells.products[known], cells.counts[known] - 1, minlength=size)
    squares = np.bincount(cells.products[known], (cells.counts[known] - 1) * cells.sds[known] ** 2, minlength=size)
    order = np.argsort(-squares, kind="stable")
    for n_gone in range(FEW_PRODUCTS + 1):
        rest = order[n_gone:]
        spare = float(freedom[rest].sum())
        if declared is None or not spare:
            break
        sd = math.sqrt(float(squares[rest].sum()) / spare)
        low, high = sd_interval(sd, spare)
        if declared >= low:
            is_made = n_gone > 0 and declared <= high
            names = tuple(cells.names[product] for product in order[:n_gone].tolist())
            return (names, sd) if is_made else ((), math.nan)
    return (), math.nan
