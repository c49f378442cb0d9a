"""How often what was not read lies where its draws say: of readings, of scores and of the places of a table. By hand.

    PYTHONPATH=.:tests python tests/unread_campaign.py --catalogues 500

Each line: products, measures, correlation of each pair, law; then the share of catalogues in which the true reading, and the true
score that stands on it, lies in the 95 % interval of 500 draws.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterator

import numpy as np
from forms import form, measure
from numpy.typing import NDArray
from scipy import stats

from scoring.catalogue import from_arrays
from scoring.measurement_error.unread import unread_draws

Array = NDArray[np.float64]
NAN = float("nan")
LAWS: dict[str, Callable[[Array], Array]] = {
    "normal": stats.norm.ppf,
    "lognormal": lambda share: np.exp(stats.norm.ppf(share)),
    "gamma 2": lambda share: stats.gamma.ppf(share, 2),
    "mirrored gamma 2": lambda share: 20 - stats.gamma.ppf(share, 2),
    "uniform": lambda share: share,
}
SHAPES = ((1, 0.0), (2, 0.9), (6, 0.0), (6, 0.7))


def hits(
    n: int, measures: int, correlation: float, law: str, catalogues: int, draws: int
) -> Iterator[tuple[bool, bool]]:
    """Catalogue by catalogue: whether the interval of the first product's first reading holds it, and that of its score.

    The first product lacks half of its readings (one at least). The score is the mean of its readings, which have one law, so that it stands on draws of several measures that belong together.
    """
    using = form([measure(f"m{i}") for i in range(measures)])
    root = np.linalg.cholesky(np.full((measures, measures), correlation) + (1 - correlation) * np.eye(measures))
    lacking = max(1, measures // 2)
    for seed in range(catalogues):
        rng = np.random.default_rng([seed, n, measures, round(100 * correlation), len(law)])
        values = LAWS[law](stats.norm.cdf(rng.standard_normal((n, measures)) @ root.T))
        held = values.copy()
        held[0, :lacking] = NAN
        catalogue = from_arrays([f"p{i}" for i in range(n)], {f"m{i}": held[:, i] for i in range(measures)})
        found = unread_draws(using, catalogue, draws, rng).measures
        drawn = np.stack([found[f"m{i}"].missing.values[:, 0] for i in range(lacking)], axis=1)
        yield held_in(drawn[:, 0], values[0, 0]), held_in(drawn.mean(axis=1), values[0, :lacking].mean())


def held_in(drawn: Array, true: float) -> bool:
    """Whether the 95 % interval of draws holds a value; both its ends belong to it."""
    low, high = np.quantile(drawn, [0.025, 0.975])
    return bool(low - 1e-12 <= true <= high + 1e-12)


def main() -> None:
    """Print a line a condition."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--catalogues", type=int, default=500)
    asked.add_argument("--draws", type=int, default=500)
    asked.add_argument("--laws", default=",".join(LAWS))
    asked.add_argument("--products", default="10,20,40,60")
    options = asked.parse_args()
    print("products measures correlation law: reading, score held")
    for law in options.laws.split(","):
        for n in map(int, options.products.split(",")):
            for measures, correlation in SHAPES:
                found = np.array(list(hits(n, measures, correlation, law, options.catalogues, options.draws)))
                shares = 100 * found.mean(axis=0)
                print(f"{n} {measures} {correlation} {law}: {shares[0]:.1f} % {shares[1]:.1f} %", flush=True)


if __name__ == "__main__":
    main()
