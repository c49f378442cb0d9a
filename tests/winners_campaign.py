"""How often the corrected intervals of a lead and of a first score hold, and plain ones do not; by hand.

    PYTHONPATH=. .venv/bin/python tests/winners_campaign.py --tables 2000 --seed 0

Each line is one truth: tables are drawn about it, the first two are picked, and the intervals at 95 % are held against the true
figures of those who were picked. `above` is the share of tables whose estimate lies above the truth: 50 % where the median is
right.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.rankings.winners import Corrected, leads_of

Array = NDArray[np.float64]


def truths() -> dict[str, tuple[Array, Array]]:
    """What is true, and the covariance of the errors, by name."""
    near = np.linspace(1.0, 0.0, 10)
    leader = np.array([4.0, *np.zeros(9)])
    run = 0.8 * np.ones((10, 10)) + 0.2 * np.eye(10)
    mixed = np.random.default_rng(3).standard_normal((10, 14))
    return {
        "two equal": (np.zeros(2), np.eye(2)),
        "ten equal": (np.zeros(10), np.eye(10)),
        "fifty equal": (np.zeros(50), np.eye(50)),
        "one leader, 4 sd ahead": (leader, np.eye(10)),
        "near ties": (near, np.eye(10)),
        "unequal errors, equal products": (np.zeros(10), np.diag(np.linspace(0.3, 2, 10) ** 2)),
        "unequal errors, near ties": (near, np.diag(np.linspace(0.3, 2, 10) ** 2)),
        "errors correlated 0.8, equal": (np.zeros(10), run),
        "errors correlated 0.8, near ties": (near, run),
        "errors of any correlation, near ties": (near, mixed @ mixed.T / 14),
    }


@dataclass(frozen=True)
class Held:
    """Shares of tables: whose hybrid and plain interval hold the truth, whose estimates lie above it."""

    hybrid: float
    plain: float
    estimate_above: float
    conditional_above: float
    published_above: float


def held(corrected: list[Corrected], true: list[float]) -> Held:
    """How the figures of many tables stand to what is true of those who were picked in each."""
    pairs = list(zip(corrected, true, strict=True))
    return Held(
        hybrid=float(np.mean([c.low <= t <= c.high for c, t in pairs])),
        plain=float(np.mean([c.plain_low <= t <= c.plain_high for c, t in pairs])),
        estimate_above=float(np.mean([c.estimate > t for c, t in pairs])),
        conditional_above=float(np.mean([c.conditional > t for c, t in pairs])),
        published_above=float(np.mean([c.published > t for c, t in pairs])),
    )


def simulated(true: Array, covariance: Array, tables: int, rng: np.random.Generator) -> dict[str, Held]:
    """Both figures of many tables drawn about a truth."""
    drawn = rng.multivariate_normal(true, covariance, size=tables, method="eigh")
    leads = [lead for lead in leads_of(drawn, covariance) if lead is not None]
    assert len(leads) == tables
    return {
        "lead": held([lead.margin for lead in leads], [float(true[one.first] - true[one.second]) for one in leads]),
        "score": held([lead.score for lead in leads], [float(true[one.first]) for one in leads]),
    }


def main() -> None:
    """Print a line for each truth and figure."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--tables", type=int, default=2000)
    asked.add_argument("--seed", type=int, default=0)
    options = asked.parse_args()
    heads = f"{'':<38}{'':<7}{'hybrid':>8}{'plain':>8}{'above: hybrid':>15}{'conditional':>13}{'published':>11}\n"
    sys.stdout.write(heads)
    for row, (name, (true, covariance)) in enumerate(truths().items()):
        rng = np.random.default_rng([options.seed, row])
        for figure, one in simulated(true, covariance, options.tables, rng).items():
            sys.stdout.write(
                f"{name:<38}{figure:<7}{one.hybrid:>8.1%}{one.plain:>8.1%}{one.estimate_above:>15.1%}"
                f"{one.conditional_above:>13.1%}{one.published_above:>11.1%}\n"
            )


if __name__ == "__main__":
    main()
