"""What the score table remarks on a product: what is missing of a figure, why there is none, and which limit holds it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np
from numpy.typing import NDArray

from analysis.languages.writing import labels
from analysis.methods_appendix.workings import Workings
from analysis.rankings.told_apart import ToldApart
from scoring.form import Limit, Output
from scoring.program.program import Step
from scoring.table.table import Column

Array = NDArray[np.float64]
#: How the score table's remarks on a source begin, after its name.
SAID = ("is missing", "does not apply", "is itself partial", "has readings below the reporting limit")
#: A limit that moves a figure by less than this is the dust of binary arithmetic.
DUST = 1e-9
UNEVEN = "noise lies unevenly"


def remarks_on(found: Workings, column: Column, worked: Mapping[str, Array], told: ToldApart | None) -> dict[int, str]:
    """Product to everything that is remarked on its figure.

    Parameters
    ----------
    worked : every step of the arithmetic by its symbol, arrays of shape (1, products)
    told : what the bench tells apart in this column; None for nothing
    """
    known = labels(found.form)
    held = held_by(found, column.output, worked)
    uneven = _uneven(found, column.output.name, told)
    made: dict[int, str] = {}
    for product in range(len(column.status)):
        said = [labelled(remark, known) for remark in column.remarks.get(product, ())]
        if column.status_text(product) == "unrated":
            said += why_none(found, column.output, product)
        if column.rank[product] >= 1:
            said += [held[product]] if product in held else []
            said += [UNEVEN] if product in uneven else []
        if said:
            made[product] = "; ".join(said)
    return made


def labelled(remark: str, known: Mapping[str, str]) -> str:
    """A remark that begins with a source's name, with its label instead."""
    source, _, rest = remark.partition(" ")
    return f"{known[source]} {rest}" if source in known and rest.startswith(SAID) else remark


def why_none(found: Workings, output: Output, product: int) -> Iterator[str]:
    """Which rule leaves a product without a figure: what is needed, or the gap against the most that may be missing."""
    known, presence = labels(found.form), found.table.evaluation.presence
    weights = {part.source: part.weight.value if part.weight is not None else 1.0 for part in output.parts}
    if output.value is not None:
        weights = dict.fromkeys(output.value.names, 1.0)

    def at(flags: NDArray[np.bool_]) -> bool:
        return bool(flags[0, product if flags.shape[1] > 1 else 0])

    gone = {s for s in (*weights, *output.missing.needs) if at(presence.applies[s]) and not at(presence.here[s])}
    for needed in output.missing.needs:
        if needed in gone:
            yield f"no figure without {known.get(needed, needed)}"
    total = sum(weight for source, weight in weights.items() if at(presence.applies[source]))
    share = sum(weights.get(source, 0.0) for source in gone) / total if total > 0 else 0.0
    most = output.missing.absent_above.value
    if output.value is not None and output.missing.otherwise.value != "lowest":
        if gone - set(output.missing.needs):
            yield "no figure without all of its expression"
    elif share > most + DUST:
        yield f"gap of {100 * share:.3g} % > {100 * most:.6g} %"


def held_by(found: Workings, output: Output, worked: Mapping[str, Array]) -> dict[int, str]:
    """Product to the limit that its figure stands at: the last that moved it."""
    limits = {limit.address: (number, limit) for number, limit in enumerate(output.limits, start=1)}
    held: dict[int, str] = {}
    before: Array | None = None
    for step in found.program.steps:
        if step.output != output.name or not _carries(step, output):
            continue
        value = np.broadcast_to(worked[str(step.symbol)], (1, len(found.table.catalogue.products)))[0]
        if step.kind == "limit" and before is not None and step.address in limits:
            for product in np.flatnonzero(np.abs(value - before) > DUST).tolist():
                held[product] = _held(*limits[step.address])
        before = value
    return held


def _carries(step: Step, output: Output) -> bool:
    """Whether a step's result is the output's own value so far, and not a bound or one part of several."""
    if step.kind == "curve":
        return len(output.parts) == 1 and step.address == output.parts[0].address
    return step.kind in ("blend", "value", "limit")


def _held(number: int, limit: Limit) -> str:
    sense = "at most" if limit.sense == "at_most" else "at least"
    bound = f"{sense} {limit.bound.text}" if limit.bound is not None else f"{sense} a bound that follows {limit.on}"
    return f"held by limit {number} ({bound})"


def _uneven(found: Workings, score: str, told: ToldApart | None) -> set[int]:
    one = next((one for one in found.stability if one.quantities.output.name == score), None)
    if told is None or one is None:
        return set()
    return {int(one.quantities.products[i]) for i in told.uneven}
