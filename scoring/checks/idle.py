"""Warnings about what cannot matter: weights of 0 or that only mark, flat curves, limits that never bite, unused names."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from scoring.blends import Weights
from scoring.checks.choices import Held
from scoring.checks.domain import Domain
from scoring.checks.findings import IDLE, Warning
from scoring.checks.nodes import Enclosure, Own
from scoring.checks.proving import Box, Field, prove
from scoring.form import Form, Output, Part
from scoring.program.program import Program, Step
from scoring.symbolic.functions import Greatest
from scoring.units.role import in_unit

FLAT = 1e-9
MOST_BOXES = 200


def idle_warnings(domain: Domain) -> Iterator[Warning]:
    """All warnings of this module, output by output, then names that nothing uses."""
    for output in domain.program.form.outputs:
        yield from _weights(output)
        for step in domain.steps:
            if step.output == output.name and step.kind == "curve":
                yield from _flat_curve(domain, output, step)
            if step.output == output.name and step.kind == "limit":
                yield from _idle_limit(domain, output, step)
    yield from _unused(domain.program)


def _weights(output: Output) -> Iterator[Warning]:
    weighted = [(part, part.weight) for part in output.parts if part.weight is not None]
    for part, weight in weighted:
        if weight.value == 0:
            says = f"{_called(part)} has the weight 0 in {output.name}: it plays no part"
            yield Warning(weight.place, weight.address, says, IDLE)
    counted = [weight for _, weight in weighted if weight.value > 0]
    blend = output.blending
    if blend is not None and blend.weights is Weights.MARKS and len({weight.value for weight in counted}) > 1:
        texts = ", ".join(weight.text for weight in counted)
        says = f"the weights {texts} of {output.name} play no part under `{blend.name}`, beyond leaving out a 0"
        yield Warning(output.place, output.address, says, IDLE)


def _called(part: Part) -> str:
    return f"the part `{part.source}`"


def _flat_curve(domain: Domain, output: Output, step: Step) -> Iterator[Warning]:
    """A curve that gives one value over the whole range of what it reads."""
    value = domain.room(output.name).root.values[domain.tape.slots[step.symbol]]
    if value.width > FLAT:
        return
    for part in output.parts:
        if part.address == step.address and part.curve is not None:
            says = (
                f"the curve gives {value.middle:.6g} for every {_range_of(domain, part.source)}: it tells nothing apart"
            )
            yield Warning(part.curve.place, part.curve.address, says, IDLE)


def _range_of(domain: Domain, source: str) -> str:
    measure = domain.program.form.measures_by_name.get(source)
    if measure is None or measure.plausible is None:
        return f"`{source}`"
    low, high = measure.plausible
    return f"`{source}` from {low.text} to {in_unit(high.text, measure.unit)}"


def _idle_limit(domain: Domain, output: Output, step: Step) -> Iterator[Warning]:
    """A limit that never bites, for every reading in the box; nothing is said where no work is left to prove it."""
    if domain.purse.is_empty:
        return
    tape, slot = domain.tape, domain.tape.slots[step.symbol]
    node, field = tape.nodes[slot], domain.field([slot], output.name)
    limit = output.limit_at(step.address)
    assert limit is not None  # the step is its own
    bound = limit.bound.text if limit.bound is not None else "its bound"
    if isinstance(node, Held):
        condition = node.args[0]
        written = limit.when.text if limit.when is not None else ""
        if _proved(field, lambda _, at: at.truths[condition] is False):
            yield Warning(limit.place, limit.address, f"the limit never bites: `{written}` never holds", IDLE)
        elif _proved(field, lambda _, at: at.truths[condition] is False or node.gap(at).is_zero):
            beyond = "above" if limit.sense == "at_most" else "below"
            says = f"the limit never bites: where `{written}` holds, {output.name} never lies {beyond} {bound}"
            yield Warning(limit.place, limit.address, says, IDLE)
    elif isinstance(node, Own) and _proved(field, lambda _, at: _is_free(at, node)):
        says = f"the limit never bites: {output.name} never passes the bound that `{limit.on}` gives"
        yield Warning(limit.place, limit.address, says, IDLE)


def _proved(field: Field, holds: Callable[[Box, Enclosure], bool]) -> bool:
    return prove(field, holds, MOST_BOXES).closed


def _is_free(at: Enclosure, node: Own) -> bool:
    """Whether a smooth limit's bound lies beyond the value."""
    value, bound = at.values[node.args[0]], at.values[node.args[1]]
    return bound.high <= value.low if isinstance(node.function, Greatest) else bound.low >= value.high


def _unused(program: Program) -> Iterator[Warning]:
    """Measures and constants that are declared and stand nowhere else; an attribute is declared to be published, too."""
    form: Form = program.form
    for measure in form.measures:
        if measure.name not in program.measures:
            says = f"the measure `{measure.name}` is declared, and nothing uses it"
            yield Warning(measure.place, measure.address, says, IDLE)
    for name, number in form.constants:
        if number.address not in program.parameters:
            yield Warning(number.place, number.address, f"the constant `{name}` is declared, and nothing uses it", IDLE)
