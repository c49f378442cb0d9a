"""Blends over boxes: what a weighted mean and its shares can be where values, weights and presence are intervals."""

from __future__ import annotations

from collections.abc import Sequence

from scoring.numbers.intervals import INFINITY, ONE, ZERO, Interval

#: The weight of a part, whether it is there (0 to 1: it may be), and its value.
Triple = tuple[Interval, Interval, Interval]


def triples_of(rest: Sequence[Interval]) -> list[Triple]:
    """The arguments of a blend, three by three."""
    return list(zip(rest[::3], rest[1::3], rest[2::3], strict=True))


def there(rest: Sequence[Interval]) -> list[Triple]:
    """The parts that may be there and carry weight."""
    return [triple for triple in triples_of(rest) if triple[0].high > 0 and triple[1].high > 0]


def mean_within(parts: Sequence[Triple]) -> Interval:
    """The weighted mean of values, over every choice of the parts that need not be there (at least one part is).

    Leaving out all but the lowest of the uncertain parts gives the least mean: one helps just where it lies below the
    mean of the rest. So only the uncertain parts in rising order, cut off anywhere, need be tried.
    """
    turned = [(weight, here, -value) for weight, here, value in parts]
    return Interval(_least_mean(parts), -_least_mean(turned))


def _least_mean(parts: Sequence[Triple]) -> float:
    certain = [part for part in parts if part[1].low > 0]
    uncertain = sorted((part for part in parts if part[1].low <= 0), key=lambda part: part[2].low)
    weighted = total = ZERO
    least = INFINITY
    for count, (weight, _, value) in enumerate([*certain, *uncertain], start=1):
        weighted = weighted + weight * Interval(value.low, value.low)
        total = total + weight
        if count >= len(certain):
            least = min(least, (weighted / total).low)
    return least


def share_of(index: int, triples: Sequence[Triple]) -> Interval:
    """The share of the weight that one part has, 0 where it is not there."""
    weight, here, _ = triples[index]
    if weight.high <= 0 or here.high <= 0:
        return ZERO
    others = [triple for at, triple in enumerate(triples) if at != index]
    fewest = weight + sum_of([w for w, h, _ in others if h.low > 0])
    all_there = weight + sum_of([w for w, h, _ in others if h.high > 0])
    share = (weight / all_there).hull(weight / fewest).lesser_of(ONE)
    return share if here.low > 0 else share.hull(ZERO)


def turned(args: Sequence[Interval]) -> list[Interval]:
    """Triples with the values' signs turned round."""
    return [-arg if index % 3 == 2 else arg for index, arg in enumerate(args)]


def sum_of(intervals: Sequence[Interval]) -> Interval:
    """All intervals added up."""
    total = ZERO
    for interval in intervals:
        total = total + interval
    return total
