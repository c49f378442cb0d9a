"""What the weights of a score are worth, in sentences that their own intervals and certificates carry."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from analysis.weights.importance import FEWEST, Importance
from analysis.weights.parts import WeightedParts
from analysis.weights.study import ScoreWeights
from analysis.weights.wanted import WORST_CONDITION, WantedWeights
from analysis.wording import counted, listed, percent, some

#: So many names are listed in a sentence.
NAMED = 4
#: Fewer products than this make a rough estimate.
ROUGH = 30
#: A variance inflation from here on is spoken of: four fifths of the part follow from the others.
INFLATED = 5.0


def weights_verdict(found: ScoreWeights) -> tuple[str, ...]:
    """Sentences, the first being the one to quote."""
    if found.why_not or found.parts is None or found.importance is None or found.wanted is None:
        return (f"{found.label}: nothing is said of its weights, as {found.why_not}.",)
    return (
        f"{found.label}: {_what_counts(found.parts, found.importance)}",
        *_told_from_stated(found.parts, found.importance),
        *_against(found.parts, found.importance),
        *_discrepancy(found.parts, found.importance),
        _wanted(found, found.parts, found.wanted),
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
    """The parts whose share of the variance their interval tells from the stated weight."""
    value, low, high = found.of("effective")
    if np.isnan(low).any():
        return
    for word, there in (("more", low > parts.shares), ("less", high < parts.shares)):
        names = []
        for i in np.flatnonzero(there):
            stated = weight_percent(float(parts.shares[i]))
            names.append(f"{parts.names[i]} ({stated} stated, {signed_percent(value[i])}, {span(low[i], high[i])})")
        if names:
            yield f"Worth {word} than stated: {some(names, NAMED)}."
    if not ((low > parts.shares) | (high < parts.shares)).any():
        yield f"No part's share is told from its stated weight by {counted(len(parts.ids), 'product')}."


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
    yield (
        f"Main effects and weights differ by {gap:.2f} at most{ends}, in units of {lead}: 0 would be weights that say what"
        " they do (the discrepancy of Paruolo et al.)."
    )


def _wanted(found: ScoreWeights, parts: WeightedParts, solved: WantedWeights) -> str:
    asked = f"with {listed(list(found.named))} as asked" if found.named else "in proportion to the stated weights"
    if solved.state == "refused":
        size = "without bound" if not np.isfinite(solved.condition) else f"{solved.condition:.3g}"
        return (
            f"Which weights would give an importance {asked} is not worked out: the parts all but determine each other"
            f" (condition number {size}, above {WORST_CONDITION:.0e})."
        )
    held = "" if np.isnan(solved.held) else f" Weights exist in {percent(solved.held)} of resamples of products."
    each = zip(parts.names, solved.weights, strict=True)
    if solved.state == "found":
        shown = ", ".join(f"{name} {weight_percent(float(weight))}" for name, weight in each)
        return f"An importance {asked} takes the weights {shown}, and no others while every part goes along with the score.{held}"
    if solved.state == "against":
        against = listed([n for n, s in zip(parts.names, solved.signs, strict=True) if s < 0])
        shown = ", ".join(f"{name} {weight_percent(float(weight))}" for name, weight in each)
        return (
            f"An importance {asked}: no weights do while every part goes along with the score; {shown} do, with {against}"
            f" falling as the score rises.{held}"
        )
    below = [f"{weight:.2f} at {name}" for name, weight in each if weight < 0]
    proof = "" if solved.every_sign else " Weights under which some part falls as the score rises were not looked for."
    return (
        f"An importance {asked}: no weights do; the covariance of the catalogue forbids it: the solution has"
        f" {some(below, NAMED)}.{held}{proof}"
    )


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
        yield verb + (f": a mixture of others is better in every part ({some(never, NAMED)})." if never else ".")
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


def _constant(values: NDArray[np.float64]) -> NDArray[np.bool_]:
    constant: NDArray[np.bool_] = np.ptp(values, axis=0) <= 0
    return constant


def _about(parts: WeightedParts, found: Importance) -> Iterator[str]:
    out = f"; left out: {parts.left_out}" if parts.left_out else ""
    yield f"All of this is of {counted(len(parts.ids), 'product')} with every part{out}."
    if parts.besides:
        near = f"{parts.agreement:.3f}" if parts.agreement < 0.9995 else "over 0.999"
        r = "" if np.isnan(parts.agreement) else f" (correlation with the published score {near})"
        yield (
            f"Effective and Shapley shares, wanted weights and first places are of the weighted mean{r}: {parts.besides}."
            " Main effects are of the published score."
        )
    if found.resamples == 0:
        yield f"Under {FEWEST} products no interval is worked out."
    elif len(parts.ids) < ROUGH:
        yield f"Under {ROUGH} products all of it is rough, and 95 % intervals hold somewhat less often than they say."
