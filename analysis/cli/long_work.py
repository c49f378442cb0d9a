"""What takes long on a large catalogue, said before it begins: what it will cost, and how to go on."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass

from analysis.wording import counted
from scoring.form import Form

#: Work that takes longer than this many seconds is announced.
WORTH_SAYING = 30.0
#: What the costs below were measured on: so many products, scores, and draws of each source (the five scores of the invented
#: laboratory, on one processor of 2026). Another machine takes another time, but not of another order.
PRODUCTS, SCORES, DRAWS = 500, 5, 1_024
#: How much of the work of `stability` at so many draws goes by their number (judgement, bench, both and re-test, 3 s each); the
#: rest is the confidence sets of ranks, which go by the products alone.
BY_DRAWS = 0.36


@dataclass(frozen=True, slots=True)
class Cost:
    """Seconds of one command, how they grow with the products (`power`), and what takes less.

    Measured with 500 and 1 000 products: stability 30 and 118 s without a re-test, weights 16 and 33. compare is 41 s and what
    the bench tells apart in both editions, 10 s more a score and edition than its confidence sets by themselves.
    """

    seconds: float
    power: int
    hint: str


COSTS = {
    "compare": Cost(145.0, 2, "`--score NAME` compares one score alone."),
    "stability": Cost(33.0, 2, "Fewer `--draws` take less, and so does `--score NAME`, one score alone."),
    "weights": Cost(16.0, 1, "`--score NAME` looks at one score alone."),
}
GROWTH = {1: "in proportion to their number", 2: "with the square of their number"}


def announce(command: str, n_products: int, share: float) -> None:
    """Say on standard error what a command will take, where that is long.

    Parameters
    ----------
    share : of the measured work, by anything but the number of products

    Notes
    -----
    Nobody is kept from it: it can be waited for, or stopped, and then nothing is written.
    """
    cost = COSTS[command]
    seconds = cost.seconds * share * (n_products / PRODUCTS) ** cost.power
    if seconds >= WORTH_SAYING:
        sys.stderr.write(
            f"{command}: {counted(n_products, 'product')}, about {in_words(seconds)}; it grows {GROWTH[cost.power]}."
            f" {cost.hint} Ctrl-C stops it, and nothing is written.\n"
        )


def share_of_draws(draws: int) -> float:
    """How much of the measured work of `stability` some draws of each source are."""
    return 1 - BY_DRAWS + BY_DRAWS * draws / DRAWS


def share_of(only: Sequence[str], form: Form) -> float:
    """How much of the measured work some scores are; all of the form's where none is named."""
    return (len(set(only)) or len(form.scores) or len(form.ratings)) / SCORES


def in_words(seconds: float) -> str:
    """A rough length of time: two figures would promise too much.

    Examples
    --------
    >>> in_words(41), in_words(181), in_words(20_000)
    ('40 seconds', '3 minutes', '6 hours')
    """
    if seconds < 60:
        return f"{round(seconds, -1):.0f} seconds"
    size, name = (60, "minute") if seconds < 3600 else (3600, "hour")
    return counted(round(seconds / size), name)
