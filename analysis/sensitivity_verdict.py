"""What a sensitivity study found of one score, in sentences that its own intervals carry."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from analysis.sensitivity import ScoreSensitivity
from analysis.sobol import BLOCKS
from analysis.wording import between, counted, kind_in_words, listed, percent, some

#: An argument whose total index lies below this, by the upper end of its interval, hardly matters.
SMALL = 0.01
#: So many names are listed in a sentence.
NAMED = 3


def sensitivity_verdict(found: ScoreSensitivity) -> tuple[str, ...]:
    """Sentences, the first being the one to quote."""
    return (
        _what_moves_ranks(found),
        *_the_winner(found),
        *_pairs(found),
        *_what_hardly_matters(found),
        *_lost(found),
        _trail(found),
    )


def leading(found: ScoreSensitivity, quantity: int, rows: Sequence[int]) -> tuple[list[int], int | None]:
    """The rows whose totals cannot be told from the greatest, greatest first; and the next below them, if any.

    Two are told apart where their 95 % intervals do not meet.
    """
    totals = found.indices.total[:, quantity]
    order = sorted(rows, key=lambda row: -totals[row])
    floor = found.indices.total_low[order[0], quantity]
    first = [row for row in order if found.indices.total_high[row, quantity] >= floor]
    rest = [row for row in order if row not in first]
    return first, rest[0] if rest else None


def group_rows(found: ScoreSensitivity) -> list[int]:
    """The swaps that are groups, or the factors where there are no groups."""
    groups = [row for row, swap in enumerate(found.swaps) if swap.level == "group"]
    return groups or list(range(len(found.swaps)))


def _said(found: ScoreSensitivity, row: int, quantity: int) -> str:
    i = found.indices
    low, high = i.total_low[row, quantity], i.total_high[row, quantity]
    return f"{percent(max(0.0, i.total[row, quantity]))}, {between(max(0.0, low), high)}"


def _what_moves_ranks(found: ScoreSensitivity) -> str:
    label, quantity = found.quantities.output.label, found.shift
    if not found.swaps or not found.indices.reacts[quantity]:
        return f"{label}: nothing that varies moves the ranking."
    if found.indices.lost[quantity]:
        return f"{label}: the mean shift in rank is not a number in some draws, so that no index of it is given."
    first, following = leading(found, quantity, group_rows(found))
    names = [kind_in_words(found.swaps[row].name) for row in first]
    many = len(first) > 1
    said = "; ".join(_said(found, row, quantity) for row in first)
    text = f"{label}: {listed(names[:NAMED])} {'move' if many else 'moves'} the ranking most"
    if many:
        text += ", and this sample cannot put them in order"
    text += f" (total effect on the mean shift in rank, 95 % interval: {said})"
    if following is not None:
        beyond = kind_in_words(found.swaps[following].name)
        text += f", more than {beyond} ({_said(found, following, quantity)})"
    return text + "."


def _the_winner(found: ScoreSensitivity) -> Iterator[str]:
    quantities = found.quantities
    if not quantities.ids:
        return
    at = quantities.family("first")
    winner = quantities.ids[0]
    chance = float(found.indices.mean[at.start])
    text = f"{winner}, published first, is first in {_chance(found, chance)} of draws"
    means = found.indices.mean[at]
    likeliest = int(np.argmax(means))
    if likeliest != 0 and means[likeliest] - chance > 2 * _error(found, max(0.25, chance)):
        text += f"; most often first is {quantities.ids[likeliest]} ({_chance(found, float(means[likeliest]))})"
    if found.indices.reacts[at.start] and not found.indices.lost[at.start]:
        first, _ = leading(found, at.start, group_rows(found))
        names = listed([kind_in_words(found.swaps[row].name) for row in first[:NAMED]])
        text += f"; whether it is turns most on {names} ({'; '.join(_said(found, r, at.start) for r in first[:NAMED])})"
    yield text + "."


def _error(found: ScoreSensitivity, chance: float) -> float:
    """The standard error of a chance over both base samples, as if its draws were independent."""
    return math.sqrt(chance * (1 - chance) / (2 * found.indices.rows * BLOCKS))


def _chance(found: ScoreSensitivity, chance: float) -> str:
    error = 1.96 * _error(found, chance)
    return (
        f"{100 * chance:.0f} % (give or take {max(1, math.ceil(100 * error))})" if 0 < chance < 1 else percent(chance)
    )


def _pairs(found: ScoreSensitivity) -> Iterator[str]:
    at = found.quantities.family("beats")
    for offset, (a, b) in enumerate(found.quantities.pairs):
        quantity = at.start + 2 * offset
        one, other = found.quantities.ids[a], found.quantities.ids[b]
        chance = float(found.indices.mean[quantity])
        text = f"{one} stands above {other} in {_chance(found, chance)} of draws"
        if found.indices.reacts[quantity] and not found.indices.lost[quantity]:
            first, _ = leading(found, quantity, group_rows(found))
            text += f"; that turns most on {listed([kind_in_words(found.swaps[row].name) for row in first[:NAMED]])}"
        yield text + "."


def _what_hardly_matters(found: ScoreSensitivity) -> Iterator[str]:
    rows = [row for row, swap in enumerate(found.swaps) if swap.level == "factor"]
    if not found.indices.reacts[found.shift] or found.indices.lost[found.shift]:
        return
    small = [row for row in rows if found.indices.total_high[row, found.shift] < SMALL]
    if small:
        yield (
            f"Of {counted(len(rows), 'argument')} that reach it, {len(small)} move the ranking by less than"
            f" {100 * SMALL:g} % each, by the upper end of their intervals."
        )


def _lost(found: ScoreSensitivity) -> Iterator[str]:
    at = found.quantities.family("score")
    draws = found.indices.rows * BLOCKS * (len(found.swaps) + 2 + len(found.paired))
    lost = [(found.quantities.ids[i], n / draws) for i, n in enumerate(found.indices.lost[at].tolist()) if n]
    if lost:
        worst = max(lost, key=lambda pair: pair[1])
        names = some([name for name, _ in lost], NAMED)
        yield (
            f"No indices of {names}: in some draws {'they have' if len(lost) > 1 else 'it has'} no score, since what is missing"
            f" outweighs the missing rule under other weights ({worst[0]} in {percent(worst[1])} of draws)."
        )


def _trail(found: ScoreSensitivity) -> str:
    points = found.trail[-1].points
    head = "Converged" if found.converged else "NOT converged"
    return f"{head} at {points} base points: {found.ended}."
