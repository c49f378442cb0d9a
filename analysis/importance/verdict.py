"""What the weights of a score are worth, in sentences that their own intervals and certificates carry."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from analysis.importance.attainable import VARIANCE
from analysis.importance.importance import FEWEST, Importance, discrepancy
from analysis.importance.parts import WeightedParts
from analysis.importance.published import Published
from analysis.importance.sought import (
    FOUND,
    HELD_EFFECTS,
    HELD_NOTHING,
    HELD_WEIGHTS,
    IMPOSSIBLE,
    NOT_FOUND,
    REFUSED,
    WeightsSought,
)
from analysis.importance.study import ScoreWeights
from analysis.importance.wanted import WORST_CONDITION
from analysis.wording import counted, listed, percent, some
from scoring.numbers.array_types import Array, Flags

#: So many names are listed in a sentence.
NAMED = 4
#: Fewer products than this make a rough estimate.
ROUGH = 30
#: A variance inflation from here on is spoken of: four fifths of the part follow from the others.
INFLATED = 5.0
#: What was held while weights were looked for, in words.
HELD = {
    HELD_EFFECTS: "the main effects of the other parts held in the proportions of their weights",
    HELD_WEIGHTS: "the weights of the other parts held in proportion",
    HELD_NOTHING: "nothing held",
}
#: How an attempt that gave no weights came out.
NONE = {
    IMPOSSIBLE: "there are none, which is proved",
    NOT_FOUND: "none were found",
    REFUSED: "none are worked out, as the parts all but determine each other",
}


def weights_verdict(found: ScoreWeights) -> tuple[str, ...]:
    """Sentences, the first being the one to quote."""
    if found.why_not or found.parts is None or found.importance is None or found.sought is None:
        return (f"{found.label}: nothing is said of its weights, as {found.why_not}.",)
    return (
        f"{found.label}: {_what_counts(found.parts, found.importance)}",
        *_told_from_stated(found.parts, found.importance),
        *_against(found.parts, found.importance),
        *_discrepancy(found.parts, found.importance),
        *_sought(found, found.parts, found.sought),
        *_first(found, found.parts),
        *_redundant(found, found.parts),
        *_about(found.parts, found.importance),
    )


def signed_percent(share: float) -> str:
    """A share in percent that may be negative or above 1."""
    return "–" if np.isnan(share) else f"{100 * share:z.0f} %"


def weight_percent(share: float) -> str:
    """A weight's share in percent, to a tenth where that is not nothing: 12.5 %, 20 %."""
    return f"{100 * share:.1f}".removesuffix(".0") + " %"


def span(low: float, high: float) -> str:
    """An interval of such shares, "" where there is none."""
    return "" if np.isnan(low) else f"{100 * low:z.0f} to {100 * high:z.0f} %"


def direction(value: float, low: float, high: float) -> str:
    """Whether a part goes with the score or against it, from its effective share; "(open)" where its interval holds 0."""
    if np.isnan(value) or value == 0:
        return "neither"
    way = "with it" if value > 0 else "against it"
    return f"{way} (open)" if low <= 0 <= high else way


def _what_counts(parts: WeightedParts, found: Importance) -> str:
    value, low, high = found.of("effective")
    order = np.argsort(-value, kind="stable")
    largest = np.flatnonzero(parts.shares >= parts.shares.max() - 1e-12)
    stated = f"{listed([parts.names[i] for i in largest])} has the largest stated weight"
    if len(largest) > 1:
        stated = f"{some([parts.names[i] for i in largest], NAMED)} share the largest stated weight"
    text = f"{stated} ({weight_percent(float(parts.shares[largest[0]]))}{' each' if len(largest) > 1 else ''}); "
    shown = [f"{parts.names[i]} ({_interval(value[i], low[i], high[i])})" for i in order]
    if np.isnan(low).any():
        return f"{text}on these products {shown[0]} carries most of what sets them apart; with so few there is no interval."
    lead = [i for i in order if high[i] >= low[order[0]]]
    if len(lead) == 1:
        return f"{text}what sets the products apart is {shown[0]} more than any other part."
    names = some([f"{parts.names[i]} ({_interval(value[i], low[i], high[i])})" for i in lead], NAMED)
    return f"{text}which part sets the products apart most is open between {names}."


def _interval(value: float, low: float, high: float) -> str:
    ends = span(low, high)
    return f"effective share {signed_percent(value)}" + (f", 95 % interval {ends}" if ends else "")


def _told_from_stated(parts: WeightedParts, found: Importance) -> Iterator[str]:
    """The parts whose share of the variance their interval tells from what the weight gives by itself."""
    value, low, high = found.of("effective")
    if np.isnan(low).any():
        return
    alone = parts.squared
    for word, there in (("more", low > alone), ("less", high < alone)):
        names = [_beyond_the_weight(parts, int(i), value[i], span(low[i], high[i])) for i in np.flatnonzero(there)]
        if names:
            yield f"Worth {word} than with equal spread and no correlation of the parts: {some(names, NAMED)}."
    if not ((low > alone) | (high < alone)).any():
        yield (
            "No part's share is told from what its weight gives with equal spread and no correlation of the parts by"
            f" {counted(len(parts.ids), 'product')}."
        )


def _beyond_the_weight(parts: WeightedParts, i: int, effective: float, ends: str) -> str:
    """A part with its weight, what that gives when squared, its effective share, and what spread and correlation add."""
    squared, spread = float(parts.squared[i]), float(parts.by_spread[i])
    return (
        f"{parts.names[i]} ({weight_percent(float(parts.shares[i]))} stated, {weight_percent(squared)} squared,"
        f" effective share {signed_percent(effective)}, {ends}; spread {_points(spread - squared)},"
        f" correlation {_points(effective - spread)})"
    )


def _points(difference: float) -> str:
    """A difference of shares, in points of percent with its sign."""
    return f"{100 * difference:+.0f}".replace("-0", "+0")


def _against(parts: WeightedParts, found: Importance) -> Iterator[str]:
    """The parts whose share is below nothing: on these products the weighted mean falls where they rise."""
    value, low, high = found.of("effective")
    words = [direction(*three) for three in zip(value, low, high, strict=True)]
    for wanted, tail in (("against it", ""), ("against it (open)", ", the intervals not excluding that it rises")):
        there = [i for i, word in enumerate(words) if word == wanted]
        if not there:
            continue
        each = [f"{parts.names[i]} ({_share_below(value[i], low[i], high[i])})" for i in there]
        verb, it = ("pulls", "it rises") if len(there) == 1 else ("pull", "they rise")
        yield (
            f"{some(each, NAMED)} {verb} against the score: over these products the weighted mean tends to fall where"
            f" {it}{tail if len(there) > 1 else tail.replace('intervals', 'interval')}."
        )


def _share_below(value: float, low: float, high: float) -> str:
    """A share below 0 that is never said as 0 %, which would not be below."""
    share = signed_percent(value) if value <= -0.005 else "just below 0 %"
    ends = span(low, high)
    return f"effective share {share}" + (f", 95 % interval {ends}" if ends else "")


def _discrepancy(parts: WeightedParts, found: Importance) -> Iterator[str]:
    gap, low, high = (float(a[0]) for a in (found.discrepancy, found.discrepancy_low, found.discrepancy_high))
    if np.isnan(gap):
        return
    ends = "" if np.isnan(low) else f" (95 % interval {low:.2f} to {high:.2f})"
    lead = parts.names[int(np.argmax(parts.shares))]
    squared = float(discrepancy(parts.shares, parts.squared))
    yield (
        f"Main effects and weights differ by {gap:.2f} at most{ends}, in units of {lead}: 0 would be weights that say what"
        f" they do (the discrepancy of Paruolo et al.); equal spread and no correlation of the parts would make it {squared:.2f}."
    )


def asked_in_words(found: ScoreWeights, parts: WeightedParts, sought: WeightsSought) -> str:
    """What was asked of the weights, as the subject of a sentence."""
    if not found.named:
        return "Main effects in the proportions of the stated weights"
    shares = dict(zip(parts.names, sought.wanted, strict=True))
    each = [f"{name} at {weight_percent(float(shares[name]))}" for name in found.named]
    if sought.share_of == VARIANCE:
        return f"{listed(each)} of the score's variance" + (", each by itself" if len(each) > 1 else ", by itself")
    return f"{listed(each)} of the summed main effects"


def _sought(found: ScoreWeights, parts: WeightedParts, sought: WeightsSought) -> Iterator[str]:
    """What weights give what was asked: what was held, what is proved, and what they give on the published score."""
    asked = asked_in_words(found, parts, sought)
    if sought.state == REFUSED:
        yield f"{asked}: which weights would give it is not worked out: {_why_refused(parts, sought)}."
        return
    whole = not np.isnan(sought.wanted).any()
    for attempt in sought.attempts[:-1] if sought.state != IMPOSSIBLE else ():
        yield f"{asked}, with {HELD[attempt.held]}: {NONE[attempt.state]}."
    if sought.state != FOUND:
        yield from _no_weights(asked, parts, sought, whole)
        return
    shown = ", ".join(
        f"{name} {weight_percent(float(weight))}" for name, weight in zip(parts.names, sought.weights, strict=True)
    )
    yield f"{asked}: the weights {shown} do that in the weighted mean{_how_found(sought, whole)}.{_resampled(found)}"
    against = [name for name, there in zip(parts.names, sought.against, strict=True) if there]
    if against:
        verb = "falls" if len(against) == 1 else "fall"
        yield f"Under these weights {listed(against)} {verb} as the score rises; there are none under which none does."
    if found.published is not None and found.named:
        yield _on_the_published(found, parts, found.published)


def _how_found(sought: WeightsSought, whole: bool) -> str:
    """What was held, and in what sense the weights are the ones."""
    if sought.held == HELD_EFFECTS:
        only = "" if sought.against.any() else ", and no others while every part goes along with the score"
        return only if whole else f", {HELD[HELD_EFFECTS]}{only}"
    if sought.held == HELD_WEIGHTS:
        return f", {HELD[HELD_WEIGHTS]}"
    return "" if whole else ", nothing held: the least change from the stated weights that a search found"


def _resampled(found: ScoreWeights) -> str:
    if np.isnan(found.in_resamples):
        return ""
    return f" Such weights exist in {percent(found.in_resamples)} of resamples of products."


def _on_the_published(found: ScoreWeights, parts: WeightedParts, scored: Published) -> str:
    """What the weights give once they are set: over the same products, and over all that are published."""
    asked = [parts.names.index(name) for name in found.named]
    each = [
        f"{parts.names[i]} {signed_percent(scored.value[i])}"
        + (f" (95 % interval {span(scored.low[i], scored.high[i])})" if not np.isnan(scored.low[i]) else "")
        for i in asked
    ]
    over = f"over {scored.products} products with every part"
    text = f"Set and scored again, they give {listed(each)} in the published score {over}"
    if scored.published > scored.products:
        every = listed([signed_percent(scored.every[i]) for i in asked])
        text = f"{text}, and {every} over all {scored.published} published"
    return f"{text}: {scored.besides}." if scored.besides else f"{text}."


def _no_weights(asked: str, parts: WeightedParts, sought: WeightsSought, whole: bool) -> Iterator[str]:
    """That none do, in the words that it is known in, and what can be had."""
    free = "" if whole else ", whatever is held"
    if sought.state == IMPOSSIBLE:
        yield (
            f"{asked}: impossible{free}; no weights from 0 up do that in the weighted mean over these products, which is"
            " proved."
        )
    elif sought.held == HELD_EFFECTS:
        yield (
            f"{asked}: no weights do that while every part goes along with the score; those under which some part falls as"
            " the score rises were not looked for."
        )
    else:
        yield f"{asked}: a search from many places found no weights; that there are none is not proved."
    ends = [
        f"{name} {span(low, high)}"
        for name, low, high in zip(parts.names, sought.low, sought.high, strict=True)
        if not np.isnan(low)
    ]
    if ends and not whole:
        yield f"Weights from 0 up can give {listed(ends)}, each with the others free."


def _why_refused(parts: WeightedParts, sought: WeightsSought) -> str:
    still = [name for name, now in zip(parts.names, sought.now, strict=True) if np.isnan(now)]
    if still:
        return f"{listed(still)} {'does' if len(still) == 1 else 'do'} not vary over these products"
    condition = sought.proportional.condition if sought.proportional is not None else np.inf
    size = f"{condition:.3g}" if np.isfinite(condition) else "without bound"
    return f"the parts all but determine each other (condition number {size}, above {WORST_CONDITION:.0e})"


def _first(found: ScoreWeights, parts: WeightedParts) -> Iterator[str]:
    pairs = sum(len(own) for own in found.beats)
    if not parts.linear:
        blend = parts.output.blend.value if parts.output.blend is not None else "blend"
        yield f"Which products no weights could put first is not decided: a {blend} is not linear in its weights."
    else:
        never = [parts.ids[i] for i, one in enumerate(found.first) if one.state == "never"]
        open_ = [parts.ids[i] for i, one in enumerate(found.first) if one.state == "undecided"]
        limits = ", limits left aside" if parts.output.limits else ""
        verb = f"{len(never)} of {counted(len(parts.ids), 'product')} can be put first by no weights at all{limits}"
        each = "a" if len(never) == 1 else "for each, a"
        yield verb + (f" ({some(never, NAMED)}): {each} mixture of others is better in every part." if never else ".")
        if open_:
            yield f"For {some(open_, NAMED)} that is not decided."
    yield f"In {counted(pairs, 'pair')} of products one is at least as good in every part and better in one."


def _redundant(found: ScoreWeights, parts: WeightedParts) -> Iterator[str]:
    same = found.redundancy
    if same is None:
        return
    upper = np.triu(np.nan_to_num(np.abs(same.spearman)), 1)
    a, b = np.unravel_index(int(np.argmax(upper)), upper.shape)
    yield f"The closest two parts are {parts.names[a]} and {parts.names[b]} (Spearman {same.spearman[a, b]:z.2f})."
    high = [
        f"{parts.names[i]} ({same.inflation[i]:.1f})"
        if np.isfinite(same.inflation[i])
        else f"{parts.names[i]} (wholly)"
        for i in np.flatnonzero(np.nan_to_num(same.inflation, posinf=np.inf) >= INFLATED)
    ]
    if high:
        yield f"These follow to four fifths or more from the others (variance inflation): {some(high, NAMED)}."
    idle = [parts.names[i] for i in np.flatnonzero(_constant(parts.values))]
    if idle:
        verb = "does" if len(idle) == 1 else "do"
        yield f"{listed(idle)} {verb} not vary over these products: whatever the weight, nothing is told apart by it."


def _constant(values: Array) -> Flags:
    constant: Flags = np.ptp(values, axis=0) <= 0
    return constant


def _about(parts: WeightedParts, found: Importance) -> Iterator[str]:
    out = f"; left out: {parts.left_out}" if parts.left_out else ""
    yield f"All of this is of {counted(len(parts.ids), 'product')} with every part{out}."
    if parts.besides:
        near = f"{parts.agreement:.3f}" if parts.agreement < 0.9995 else "over 0.999"
        r = "" if np.isnan(parts.agreement) else f" (correlation with the published score {near})"
        yield (
            f"Effective and Shapley shares, weights for wanted shares and first places are of the weighted mean{r}:"
            f" {parts.besides}. Main effects are of the published score."
        )
    if found.resamples == 0:
        yield f"Under {FEWEST} products no interval is worked out."
    elif len(parts.ids) < ROUGH:
        yield f"Under {ROUGH} products all of it is rough, and 95 % intervals hold somewhat less often than they say."
