"""Weights that were all multiplied by the same factor: one change to tell of, not one for each weight."""

from __future__ import annotations

import math
from collections.abc import Sequence

from analysis.changes.changed_values import Change
from scoring.blends import Weights
from scoring.form import Form, Output

#: Two factors are the same where they differ by no more than this share: the dust of binary arithmetic.
DUST = 1e-9


def scaled_together(found: Sequence[Change], old: Form, new: Form) -> tuple[Change, ...]:
    """The changes, those of one mean's weights as one "rewired" change where all were multiplied by the same factor.

    Such a change moves no score: a mean depends on the shares of its weights alone. A sum of weighted parts does not, and
    its changes stay as they are.
    """
    changes = list(found)
    before = {one.after: one.before for one in found if one.kind == "renamed"}
    for output in new.outputs:
        other = old.outputs_by_name.get(before.get(output.name, output.name))
        own = [] if other is None else _scaled(changes, output, other)
        if own:
            changes[changes.index(own[0])] = _as_one(own, output)
            changes = [change for change in changes if change not in own[1:]]
    return tuple(changes)


def _scaled(found: Sequence[Change], output: Output, other: Output) -> list[Change]:
    """The changes of an output's weights; [] unless every weight has the same factor, which is not 1."""
    weights = {part.weight.address: part.weight.value for part in output.parts if part.weight is not None}
    count = sum(part.weight is not None for part in other.parts)
    blend = output.blending
    if blend is None or blend.weights is Weights.MULTIPLIERS or len(weights) != count:
        return []
    own = [change for change in found if change.kind == "value" and change.at in weights]
    counting = {address for address, weight in weights.items() if weight != 0}
    if not own or {change.at for change in own} != counting or any(float(change.before) == 0 for change in own):
        return []
    factors = [float(change.after) / float(change.before) for change in own]
    return own if all(math.isclose(factor, factors[0], rel_tol=DUST) for factor in factors) else []


def _as_one(own: Sequence[Change], output: Output) -> Change:
    factor = float(own[0].after) / float(own[0].before)
    says = (
        f"{output.label}: all weights multiplied by the same factor, {factor:.6g}, so that every share stays the same"
    )
    texts = ["{" + ", ".join(f"{one.at}: {getattr(one, side)}" for one in own) + "}" for side in ("before", "after")]
    return Change("rewired", output.address, " ".join(says.split()), *texts)
