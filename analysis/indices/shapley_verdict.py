"""What Shapley effects say of one score, in sentences that their own intervals carry."""

from __future__ import annotations

import numpy as np

from analysis.indices.shapley_study import ScoreShapley
from analysis.trials.quantities import SHIFT
from analysis.wording import MANY, between, kind_in_words, percent, some

NAMED = 3


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
            f", though this sample does not tell it from that of {some([_share(found, row) for row in ties], NAMED)}"
        )
    return text + "."


def _share(found: ScoreShapley, row: int) -> str:
    e, shift = found.effects, found.quantities.family(SHIFT).start
    ends = between(e.low[row, shift], e.high[row, shift])
    return f"{kind_in_words(e.groups[row])} ({percent(e.effects[row, shift])}, {ends})"
