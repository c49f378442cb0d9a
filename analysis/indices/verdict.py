"""What a sensitivity study or Shapley effects say of one score, in sentences that their own intervals carry."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence

import numpy as np

from analysis.indices.precision import Named, quantities_named
from analysis.indices.sensitivity import SMALL, ScoreSensitivity, half_widths
from analysis.indices.shapley_study import ScoreShapley
from analysis.indices.sobol import BLOCKS
from analysis.trials.quantities import SHIFT
from analysis.wording import MANY, between, counted, kind_in_words, listed, percent, some

#: An interval that covers so much of 0 to 1 says nothing of a share; what happens in less than this share of draws is rare.
SPANS, RARE = 0.9, 0.05
#: So many names are listed in a sentence.
NAMED = 3
SHARE = "of the variance of the mean shift in rank, interactions included"
#: What intervals of indices are of, said wherever they are printed.
SIMULATION = (
    "95 % intervals of shares are of the error of the simulation alone: what more draws would change. Other ranges in the study"
    " would give other shares."
)


def sensitivity_verdict(found: ScoreSensitivity) -> tuple[str, ...]:
    """Sentences, the first being the one to quote."""
    return (
        f"{found.quantities.output.label}: {what_moves(found, group_rows(found))}",
        *_how_far(found),
        *_the_winner(found),
        *_pairs(found),
        *_what_hardly_matters(found),
        *_tied(found),
        *_lost(found),
        how_far_known(found),
    )


def leading(found: ScoreSensitivity, quantity: int, rows: Sequence[int]) -> tuple[list[int], int | None]:
    """The rows whose totals cannot be told from the greatest, greatest first; and the next below them, if any.

    Two are told apart where their 95 % intervals do not meet. A row that meets any of the leading ones is one of them, so
    that the next lies below them all.
    """
    i = found.indices
    order = sorted(rows, key=lambda row: -i.total[row, quantity])
    first, rest = order[:1], order[1:]
    while True:
        floor = min(i.total_low[row, quantity] for row in first)
        near = [row for row in rest if i.total_high[row, quantity] >= floor]
        if not near:
            return [row for row in order if row in first], rest[0] if rest else None
        first += near
        rest = [row for row in rest if row not in near]


def group_rows(found: ScoreSensitivity) -> list[int]:
    """The swaps that are groups, or the factors where there are no groups."""
    groups = [row for row, swap in enumerate(found.swaps) if swap.level == "group"]
    return groups or list(range(len(found.swaps)))


def factor_rows(found: ScoreSensitivity) -> list[int]:
    """The swaps that are factors by themselves."""
    return [row for row, swap in enumerate(found.swaps) if swap.level == "factor"]


def _name(found: ScoreSensitivity, row: int) -> str:
    return kind_in_words(found.swaps[row].name)


def _share(found: ScoreSensitivity, row: int, quantity: int) -> str:
    """A total index and its interval."""
    i = found.indices
    ends = between(i.total_low[row, quantity], i.total_high[row, quantity])
    share = percent(i.total[row, quantity])
    return share if share == ends else f"{share}, {ends}"


def what_moves(found: ScoreSensitivity, rows: Sequence[int]) -> str:
    """Which of some swaps move the ranking most, with their shares; or that this sample cannot put them in order."""
    quantity = found.shift
    if not rows or not found.indices.reacts[quantity]:
        return "nothing that varies moves the ranking."
    if found.indices.lost[quantity]:
        return "the mean shift in rank is not a number in some draws, so that no share of it is given."
    first, following = leading(found, quantity, rows)
    text = _the_leader(found, first[0]) if len(first) == 1 else _the_leaders(found, first)
    if following is not None:
        text += f", more than {_name(found, following)} ({_share(found, following, quantity)})"
    return text + "."


def _the_leader(found: ScoreSensitivity, row: int) -> str:
    quantity = found.shift
    ends = between(found.indices.total_low[row, quantity], found.indices.total_high[row, quantity])
    share = f"{percent(found.indices.total[row, quantity])} {SHARE}; 95 % interval of the simulation's error {ends}"
    verb = "move" if found.swaps[row].name in MANY else "moves"
    return f"{_name(found, row)} {verb} the ranking most ({share})"


def _the_leaders(found: ScoreSensitivity, rows: Sequence[int]) -> str:
    names = some([_name(found, row) for row in rows], NAMED)
    shares = "; ".join(f"{_name(found, row)} {_share(found, row, found.shift)}" for row in rows[:NAMED])
    return (
        f"{names} move the ranking most, and this sample cannot put them in order (shares {SHARE}, with 95 % intervals of the"
        f" simulation's error: {shares})"
    )


def moved_scores(found: ScoreSensitivity) -> str:
    """Which groups have the largest share in the scores of most products, as their total indices are estimated."""
    indices, rows = found.indices, group_rows(found)
    known = [q for q in found.quantities.places("score") if indices.reacts[q] and not indices.lost[q]]
    moved = Counter(rows[int(np.argmax(indices.total[rows, q]))] for q in known)
    said = some([f"{_name(found, row)} ({count})" for row, count in moved.most_common()], NAMED)
    return f"{found.quantities.output.label}: largest share in the scores of {counted(len(known), 'product')}: {said}."


def _how_far(found: ScoreSensitivity) -> Iterator[str]:
    """How large that is of which shares are given."""
    mean = float(found.indices.mean[found.shift])
    if found.indices.reacts[found.shift] and not found.indices.lost[found.shift]:
        size = f"{mean:.1f}" if mean >= 0.95 else f"{mean:.2g}"
        yield f"Over these draws a product stands {size} places on average from its published one."


def _turns_on(found: ScoreSensitivity, quantity: int) -> str:
    """What a yes or no turns on, with its shares, or that these draws cannot say; "" where it does not react."""
    if not found.indices.reacts[quantity] or found.indices.lost[quantity]:
        return ""
    first, _ = leading(found, quantity, group_rows(found))
    if all(_says_nothing(found, row, quantity) for row in first):
        return f"{_too_few(float(found.indices.mean[quantity]))} to say what it turns on"
    shown = [f"{_name(found, row)} ({_share(found, row, quantity)})" for row in first]
    return f"turns most on {some(shown, NAMED)}"


def _too_few(chance: float) -> str:
    """Why a sample cannot say what something turns on that happens in such a share of its draws."""
    if min(chance, 1 - chance) >= RARE:
        return "these draws are too few"
    return "that it is otherwise is too rare in these draws" if chance > 0.5 else "that is too rare in these draws"


def _says_nothing(found: ScoreSensitivity, row: int, quantity: int) -> bool:
    """Whether an interval leaves open nearly everything from 0 to 1."""
    low, high = found.indices.total_low[row, quantity], found.indices.total_high[row, quantity]
    return bool(min(high, 1.0) - max(low, 0.0) >= SPANS)


def _clause(turns: str, subject: str) -> str:
    """How a sentence goes on with what a yes or no turns on."""
    if not turns:
        return "."
    return f"; {subject} {turns}." if turns.startswith("turns") else f"; {turns}."


def _the_winner(found: ScoreSensitivity) -> Iterator[str]:
    quantities = found.quantities
    if not quantities.ids or not found.swaps:
        return
    at = quantities.family("first")
    means = found.indices.mean[at]
    text = f"{quantities.ids[0]}, published first, is first in {_chance(found, means[0])}"
    likeliest = int(np.argmax(means))
    if means[likeliest] - means[0] > 3 * _error(found, means[likeliest] + means[0]):
        text += f", {quantities.ids[likeliest]} in {_chance(found, means[likeliest])}"
    yield text + _clause(_turns_on(found, at.start), "whether it is")


def _error(found: ScoreSensitivity, variance: float, known: float = 1.0) -> float:
    """The standard error of a mean over both base samples, or over a share of them, as if the draws were independent."""
    return math.sqrt(variance / (2 * found.indices.rows * BLOCKS * known))


def _chance(found: ScoreSensitivity, chance: float, known: float = 1.0, draws: str = "draws") -> str:
    """A chance in percent of draws, with its error where that says more than `percent` does."""
    give_or_take = math.ceil(196 * _error(found, max(0.0, chance * (1 - chance)), known))
    text = percent(chance)
    plain = text[0].isdigit()
    if not 0 < chance < 1 or (give_or_take <= 1 and not plain):
        return f"{text} of {draws}"
    return f"{text} of {draws} (give or take {give_or_take})"


def _pairs(found: ScoreSensitivity) -> Iterator[str]:
    ids = found.quantities.ids
    for quantity, (a, b) in zip(found.quantities.places("beats"), found.quantities.pairs, strict=True):
        if not found.swaps:
            break
        chance, known = float(found.indices.mean[quantity]), float(found.indices.known[quantity])
        above = f"{ids[a]} stands above {ids[b]} in "
        lacking = f"{ids[a]} or {ids[b]} has no score in {percent(1 - known)} of draws"
        if known == 0:
            yield f"{lacking}, so that neither stands above the other."
        elif known < 1:
            yield f"{above}{_chance(found, chance, known, 'the draws in which both have a score')}; {lacking}."
        else:
            yield above + _chance(found, chance) + _clause(_turns_on(found, quantity), "that")
    for pair in found.design.study.pairs:
        absent = [product for product in pair if product not in ids]
        if absent:
            has = "has" if len(absent) == 1 else "have"
            yield f"Whether {pair[0]} stands above {pair[1]} is not asked: {listed(absent)} {has} no published score here."


def _what_hardly_matters(found: ScoreSensitivity) -> Iterator[str]:
    rows = factor_rows(found)
    if not rows or not found.indices.reacts[found.shift] or found.indices.lost[found.shift]:
        return
    small = [row for row in rows if found.indices.total_high[row, found.shift] < SMALL]
    if small:
        verb = "moves" if len(small) == 1 else "move"
        text = (
            f"Of {counted(len(rows) + len(found.tied), 'argument')} that can reach this score, {len(small)} hardly {verb} the"
            f" ranking: under {100 * SMALL:g} % of that variance each, by the upper ends of their intervals"
        )
        if found.small is not None:
            joint = percent(found.small.total)
            ends = between(found.small.low, found.small.high)
            text += f"; together {joint if joint == ends else f'{joint} ({ends})'}"
        yield text + "."


def _tied(found: ScoreSensitivity) -> Iterator[str]:
    groups = [swap for swap in found.swaps if swap.level == "group"]
    for swap in groups:
        names = [name for name in swap.factors if name in found.tied]
        if names:
            group = kind_in_words(swap.name)
            yield f"{some(names, NAMED)} are correlated: they move only together, with {group}, and have no index of their own."


def _lost(found: ScoreSensitivity) -> Iterator[str]:
    at = found.quantities.family("score")
    draws = found.indices.rows * BLOCKS * (2 * len(found.swaps) + 2)
    lost = [(found.quantities.ids[i], n / draws) for i, n in enumerate(found.indices.lost[at].tolist()) if n]
    if lost:
        names = some([f"{name} ({percent(share)})" for name, share in sorted(lost, key=lambda pair: -pair[1])], NAMED)
        yield (
            f"No shares are given for the score and the rank of {names}: in so many draws what is missing outweighs the missing"
            " rule, and there is no score."
        )


def how_far_known(found: ScoreSensitivity) -> str:
    """Whether the shares are known as closely as was asked, and at how many base points the trail ended."""
    points = found.trail[-1].points
    if found.precision.asked:
        said = "; ".join(_reached(found))
        return f"Asked for within {found.precision.within:g}, at {points} base points: {said}."
    head = "Converged" if found.converged else "NOT converged"
    return f"{head} at {points} base points, for shares of the mean shift in rank and nothing else: {found.ended}."


def _reached(found: ScoreSensitivity) -> Iterator[str]:
    """Which of the quantities asked for are known so closely, and which are not."""
    within, widths = found.precision.within, half_widths(found.indices)
    for named in found.precision.of:
        known = [q for q in quantities_named(named, found.quantities) if np.isfinite(widths[..., q]).any()]
        if not known:
            yield f"{named.words}: {_no_shares(found, named)}"
            continue
        widest = np.nanmax(widths[..., known], axis=(0, 1))
        far = [q for q, width in zip(known, widest.tolist(), strict=True) if width > within]
        if not far:
            yield f"{named.words}: reached, the widest half-width being {widest.max():.2g}"
            continue
        order, row, at = np.unravel_index(int(np.nanargmax(widths[..., known])), widths[..., known].shape)
        kind = ("alone", "with interactions")[order]
        which, of = "", ""
        if len(known) > 1:
            which, of = f" for {len(far)} of {len(known)}", f" ({found.quantities.names[known[at]][1]})"
        where = f"of {_name(found, int(row))} {kind}{of}"
        yield f"{named.words}: NOT reached{which}, the widest half-width being {widest.max():.2g}, {where}"


def _no_shares(found: ScoreSensitivity, named: Named) -> str:
    """Why none of the quantities that are named so has an index."""
    places = quantities_named(named, found.quantities)
    if not places:
        return "not asked of this score, which is not published for that"
    return "not a number in some draws" if found.indices.lost[list(places)].any() else "nothing that varies moves it"


def shapley_verdict(found: ScoreShapley) -> tuple[str, ...]:
    """Sentences, the first being the one to quote."""
    label = found.quantities.output.label
    sentences = [f"{label}: {_largest_share(found)}"]
    if found.correlations:
        said = "; ".join(f"{a} with {b}: {value:g}" for a, b, value in found.correlations)
        sentences.append(
            f"Correlated inputs ({said}): a group may earn a share through another. `alone` and `last` are no shares here."
        )
    return tuple(sentences)


def _largest_share(found: ScoreShapley) -> str:
    """Whose share of the mean shift in rank is the largest, and whose this sample does not tell from it."""
    e, shift = found.effects, found.quantities.family(SHIFT).start
    if not e.reacts[shift]:
        return "nothing that varies moves the ranking."
    effects, low, high = e.effects[:, shift], e.low[:, shift], e.high[:, shift]
    if not (np.isfinite(effects) & np.isfinite(low) & np.isfinite(high)).all():
        return "the ranking moves so seldom, or is so seldom a number, that no shares can be given."
    order = np.argsort(-effects, kind="stable").tolist()
    lead = order[0]
    ties = [row for row in order[1:] if high[row] >= low[lead]]
    has = "have" if e.groups[lead] in MANY else "has"
    text = f"{kind_in_words(e.groups[lead])} {has} the largest share of the variance of the mean shift in rank"
    text += f" ({percent(effects[lead])}, 95 % interval of the simulation's error {between(low[lead], high[lead])})"
    if ties:
        text += (
            f", though this sample does not tell it from that of {some([_effect(found, row) for row in ties], NAMED)}"
        )
    return text + "."


def _effect(found: ScoreShapley, row: int) -> str:
    """A share of the mean shift in rank and its interval."""
    e, shift = found.effects, found.quantities.family(SHIFT).start
    ends = between(e.low[row, shift], e.high[row, shift])
    return f"{kind_in_words(e.groups[row])} ({percent(e.effects[row, shift])}, {ends})"
