"""What a comparison found of one score, in sentences."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from analysis.comparison.comparison import DUST, ScoreMoves
from analysis.comparison.in_classes import changed_within, class_sentence, first_no_longer
from analysis.comparison.players import Player
from analysis.comparison.shared_noise import COVERAGE
from analysis.wording import counted, percent, some
from scoring.numbers.ranks import rank, significant

NAMED = 4
MOST_UNSCORED = 12


def _told_apart(found: ScoreMoves) -> Iterator[str]:
    """How many pairs the bench tells apart, where that is another number now: as when what errors are made of is changed."""
    before, now = found.overtakings.apart
    if before != now:
        yield found.noise.at_best(
            f"Of {counted(found.overtakings.pairs, 'pair')} of products that both editions rank the bench tells {before} apart"
            f" before, and {now} now."
        )


def comparison_verdict(found: ScoreMoves, players: Sequence[Player]) -> tuple[str, ...]:
    """Sentences, the first being the one to quote."""
    moving = moved(found)
    if not touched(found).any():
        return (f"{found.label}: no score and no place changes.", *_told_apart(found), *_retract(found))
    return (
        f"{found.label}: {_places(found)}{_first(found)}.",
        *_overtaking(found),
        *_told_apart(found),
        *_why(found, players),
        _matters(found),
        _scores(found, moving),
        *_top(found),
        *class_sentence(found.products, found.old.within, found.new.within),
        *_retract(found),
        _whole(found),
    )


def moved(found: ScoreMoves) -> np.ndarray:
    """Which products have another score."""
    return np.abs(np.nan_to_num(found.move)) > DUST


def came_or_went(found: ScoreMoves) -> np.ndarray:
    """Which products are published in one edition only."""
    return np.asarray(np.isnan(found.old.rank) != np.isnan(found.new.rank))


def changed_place(found: ScoreMoves) -> np.ndarray:
    """Which products are published in both editions, at another place."""
    return np.asarray(np.nan_to_num(found.climb) != 0)


def touched(found: ScoreMoves) -> np.ndarray:
    """Which products move, come, go or change place, in the whole table or in their class, shape (products,)."""
    within = changed_within(found.old.within, found.new.within)
    moves = moved(found) | came_or_went(found) | changed_place(found)
    return np.asarray(moves if within is None else moves | within)


def _places(found: ScoreMoves) -> str:
    both = int((~np.isnan(found.climb)).sum())
    changed = changed_place(found)
    text = f"{int(changed.sum())} of {counted(both, 'product')} published in both change place"
    if changed.any():
        most = int(np.nanargmax(np.abs(found.climb)))
        climb = found.climb[most]
        way = "up" if climb > 0 else "down"
        text += f", {found.products[most]} most ({found.old.rank[most]:g} to {found.new.rank[most]:g}, {way} {abs(climb):g})"
    return text


def _overtaking(found: ScoreMoves) -> Iterator[str]:
    """Whether the order changes among the products of both, where others came or went."""
    both = ~np.isnan(found.old.rank) & ~np.isnan(found.new.rank)
    if both.sum() < 2 or not came_or_went(found).any():
        return
    old, new = (rank(edition.rank[both], "lowest") for edition in (found.old, found.new))
    changed = int((old != new).sum())
    same = f"Among the {counted(int(both.sum()), 'product')} of both"
    scores = int(moved(found)[both].sum())
    if not changed and not scores:
        yield f"{same}, no score changes and nobody overtakes anybody."
    elif not changed:
        yield f"{same}, nobody overtakes anybody, though {counted(scores, 'score')} {'changes' if scores == 1 else 'change'}."
    else:
        yield f"{same}, {changed} stand at another place in their own order."


def _first(found: ScoreMoves) -> str:
    old, new = (_at_first(found, edition.rank) for edition in (found.old, found.new))
    if old == new:
        return f"; the first place stays with {some(old, NAMED)}" if old else ""
    stay = [name for name in old if name in new]
    come, leave = (some([name for name in one if name not in stay], NAMED) for one in (new, old))
    if stay:
        who, share = some(stay, NAMED), "share" if len(stay) > 1 else "shares"
        if not leave:
            return f"; {who} now {share} first place with {come}"
        if not come:
            return f"; {who} no longer {share} first place with {leave}"
        return f"; {who} now {share} first place with {come}, no longer with {leave}"
    return f"; the first place passes from {some(old, NAMED) or 'nobody'} to {some(new, NAMED) or 'nobody'}"


def _at_first(found: ScoreMoves, rank: np.ndarray) -> list[str]:
    return [name for name, place in zip(found.products, rank, strict=True) if place == 1]


def _why(found: ScoreMoves, players: Sequence[Player]) -> Iterator[str]:
    """Each cause's share of all movement: the sizes of its shares, summed over products."""
    if len(players) < 2:
        if players:
            yield _one_thing(found, players, 0)
        return
    sizes = np.nansum(np.abs(found.by_score.shares), axis=1)
    if sizes.sum() <= DUST:
        return
    order = np.argsort(-significant(sizes), kind="stable").tolist()
    order = [i for i in order if sizes[i] > DUST]
    if len(order) == 1:
        yield _one_thing(found, players, order[0])
        return
    first, *others = [(percent(float(sizes[i] / sizes.sum())), found.causes[i]) for i in order]
    parts = [f"{first[0]} of all movement comes of {first[1]}", *(f"{share} of {cause}" for share, cause in others)]
    how = "" if found.by_score.exact else ", by sampled orders"
    yield f"Why: {some(parts, NAMED)}; a cause's part is the size of its shares, summed over the products{how}."


def _one_thing(found: ScoreMoves, players: Sequence[Player], i: int) -> str:
    says = found.causes[i] if players[i].kind == "edit" else players[i].says
    return f"All of it comes of one thing: {says}."


def _matters(found: ScoreMoves) -> str:
    """Who overtakes whom, and whether the bench tells any of these pairs apart, in the old edition or the new."""
    swaps = found.overtakings
    if not swaps.pairs:
        return "Does it matter: fewer than two products are ranked in both, so that nobody can overtake anybody."
    of_all = f"of {counted(swaps.pairs, 'pair')} of products that both editions rank, "
    lead = f"Does it matter: {of_all}"
    if not len(swaps.above):
        return f"{lead}none swaps order."
    swap = f"{lead}{len(swaps.above)} {'swaps' if len(swaps.above) == 1 else 'swap'} order"
    if not swaps.known:
        return f"{swap}; no repeatability is known of what goes into it, so that none can be held to the bench's noise."
    at_best, most = found.noise.at_best, "at most " if found.noise.unknown else ""
    told = np.flatnonzero(swaps.told).tolist()
    level = f"(joint {100 * COVERAGE:g} %)"
    if not told:
        return at_best(f"{swap}, and the bench tells none of them apart, before or now {level}.")
    named = some([overtaking_in_words(found, swap) for swap in told], NAMED)
    return at_best(f"{swap}, and the bench tells {most}{len(told)} of them apart, before or now {level}: {named}.")


def overtaking_in_words(found: ScoreMoves, swap: int) -> str:
    """A pair that swaps order, with when the bench tells its products apart."""
    swaps = found.overtakings
    when = {(True, True): " (before and now)", (True, False): " (before)", (False, True): " (now)", (False, False): ""}
    above, below = (found.products[side[swap]] for side in (swaps.above, swaps.below))
    return f"{above} past {below}{when[bool(swaps.before[swap]), bool(swaps.now[swap])]}"


def told_swaps(found: ScoreMoves, products: np.ndarray) -> np.ndarray | None:
    """Which of some products swap places with one that the bench tells apart from them; None where no noise is known."""
    if not found.overtakings.known:
        return None
    passed, passed_by = found.overtakings.counts(len(found.products), told=True)
    return np.asarray((passed + passed_by > 0)[products])


def _scores(found: ScoreMoves, moving: np.ndarray) -> str:
    """How many scores move beyond what noise makes of the same readings under both."""
    both = moving & ~np.isnan(found.u)
    told = int((both & found.told).sum())
    shown = sum(a != b for a, b, c in zip(found.old.shown, found.new.shown, moving, strict=True) if c)
    verb = "moves" if int(both.sum()) == 1 else "move"
    figures = f"{counted(shown, 'shown figure')} {'changes' if shown == 1 else 'change'}"
    if not moving.any():
        return "Scores: no score moves, only who is published or how they are ranked."
    if not both.any():
        why = f": {found.noise.of_nothing}" if found.noise.unknown else ""
        return f"Scores: {counted(int(moving.sum()), 'move')}, of which no repeatability is known{why}; {figures}."
    beyond = (
        ""
        if np.isnan(found.critical)
        else f" (beyond {found.critical:.1f} u; all judged at once, {100 * COVERAGE:g} %)"
    )
    return found.noise.at_best(
        f"Scores: of {int(both.sum())} that {verb}, {told} by more than the bench's noise makes of the same readings under both"
        f"{beyond}; {figures}."
    )


def unscored(found: ScoreMoves) -> str:
    """Which products are published in neither edition, with the reason of each; "" where there are none."""
    neither = np.flatnonzero(np.isnan(found.old.rank) & np.isnan(found.new.rank)).tolist()
    parts = []
    for i in neither:
        old, new = found.old.status[i], found.new.status[i]
        parts.append(f"{found.products[i]} ({old if old == new else f'{old}, now {new}'})")
    return f"Without a score in either edition: {some(parts, MOST_UNSCORED)}." if parts else ""


def letters_span(letters: Sequence[str]) -> str:
    """The letters of a product's rank groups: the first and the last.

    Examples
    --------
    >>> letters_span(["b", "c", "d"]), letters_span(["a"]), letters_span([])
    ('b-d', 'a', '')
    """
    if len(letters) < 2:
        return "".join(letters)
    return f"{letters[0]}-{letters[-1]}"


def _top(found: ScoreMoves) -> Iterator[str]:
    inside = [np.nan_to_num(e.rank, nan=np.inf) <= found.top for e in (found.old, found.new)]
    enters = [found.products[i] for i in np.flatnonzero(inside[1] & ~inside[0])]
    leaves = [found.products[i] for i in np.flatnonzero(inside[0] & ~inside[1])]
    if enters or leaves:
        yield f"The first {found.top}: {some(enters, NAMED) or 'nobody'} in, {some(leaves, NAMED) or 'nobody'} out."


def retractions(found: ScoreMoves) -> tuple[str, ...]:
    """What was printed of a product and holds no longer: best, worst, band, figure, place."""
    return (*_of_extremes_and_bands(found), *_of_figures(found), *_of_places(found))


def _of_figures(found: ScoreMoves) -> Iterator[str]:
    for product, old, new in zip(found.products, found.old.shown, found.new.shown, strict=True):
        if old and old != new:
            yield f"{product} at {old} (now {new or 'not published'})"


def _of_extremes_and_bands(found: ScoreMoves) -> Iterator[str]:
    ranks = found.old.rank, found.new.rank
    worst = [np.nanmax(rank) if not np.isnan(rank).all() else 0.0 for rank in ranks]
    for (before, now), word in (((1.0, 1.0), "best"), ((worst[0], worst[1]), "worst")):
        for i in np.flatnonzero((ranks[0] == before) & (ranks[1] != now)):
            yield f"{found.products[i]} as {word}"
    yield from first_no_longer(found.products, found.old.within, found.new.within)
    published = ~np.isnan(found.new.rank)
    for at, (old, new) in enumerate(zip(found.old.band, found.new.band, strict=True)):
        without = "in no band" if published[at] else "not published"
        if old and old != new:
            yield f"{found.products[at]} as {old} (now {new or without})"


def _of_places(found: ScoreMoves) -> Iterator[str]:
    old, new = found.old.rank, found.new.rank
    for i in np.flatnonzero(~np.isnan(old) & (old != new)):
        now = "not published" if np.isnan(new[i]) else f"{new[i]:g}"
        yield f"{found.products[i]} in place {old[i]:g} (now {now})"


def _retract(found: ScoreMoves) -> Iterator[str]:
    said = list(_of_extremes_and_bands(found))
    counts = [(len(list(_of_figures(found))), "figure"), (len(list(_of_places(found))), "place")]
    others = [f"the {noun if n == 1 else noun + 's'} of {counted(n, 'product')}" for n, noun in counts if n]
    parts = [some(said, NAMED)] * bool(said) + others
    if parts:
        yield f"No longer true of what was printed: {'; '.join(parts)}."


def _whole(found: ScoreMoves) -> str:
    if int((~np.isnan(found.climb)).sum()) < 2:
        return "The two rankings have fewer than two products in common, so that they cannot be compared as wholes."
    ranked = max(int((~np.isnan(ranks)).sum()) for ranks in (found.old.rank, found.new.rank))
    a = {name: f"{value:.3f}" if not np.isnan(value) else "not defined" for name, value in found.agreement.items()}
    return (
        f"The two rankings: Kendall's tau-b {a['Kendall tau-b']}, Spearman {a['Spearman']}, mean shift"
        f" {found.agreement['mean shift in rank']:.2f} places, overlap of the first {min(found.top, ranked)}"
        f" {found.agreement['top overlap']:.2f}, rank-biased overlap {a['rank-biased overlap']}."
    )
