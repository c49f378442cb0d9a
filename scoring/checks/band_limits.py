"""Warnings about limits of bands: one that lowers no band, and one that always holds, so that bands are out of reach."""

from __future__ import annotations

from collections.abc import Iterator

from sympy import Basic, Expr
from sympy.logic.boolalg import Boolean

from scoring.checks.domain import Domain
from scoring.checks.findings import BANDS, Warning
from scoring.checks.nodes import Enclosure
from scoring.checks.proving import Box, prove
from scoring.checks.unanswered_gates import field_of
from scoring.checks.wording import listed
from scoring.form import NO_BAND, BandLimit, Output
from scoring.symbolic.branches import Present

MOST_BOXES = 200


def band_limit_warnings(domain: Domain) -> Iterator[Warning]:
    """What is proved of every limit of bands, all that it asks for being read."""
    limits = [(output, limit) for output in domain.program.form.outputs for limit in output.band_limits]
    slots = [domain.tape.slot(domain.on_tape(_condition(domain, limit))) for _, limit in limits]
    root = domain.tape.run(domain.wide.box, range(len(domain.tape.nodes))) if slots else None
    for (output, limit), slot in zip(limits, slots, strict=True):
        assert root is not None  # there is a limit
        says = _says(domain, root, slot, output, limit)
        if says:
            yield Warning(limit.place, limit.address, says, BANDS)


def _condition(domain: Domain, limit: BandLimit) -> Expr | Boolean:
    """The condition where all that it asks for is there."""
    (step,) = (step for step in domain.program.steps if step.output == f"gate {limit.condition}")
    condition = _there(step.expression.args[0])
    assert isinstance(condition, Expr | Boolean)  # a condition stays one
    return condition


def _there(expression: Basic) -> Basic:
    """An expression, all that it names being there."""
    if isinstance(expression, Present):
        return _there(expression.args[1])
    return expression.func(*map(_there, expression.args), evaluate=False) if expression.args else expression


def _says(domain: Domain, root: Enclosure, slot: int, output: Output, limit: BandLimit) -> str:
    beyond = better_bands(output, limit)
    written = " ".join(limit.when.text.split())
    if not beyond:
        return f"the limit of bands lowers none: no band is better than `{limit.no_better_than.value}`"
    if _always(domain, root, slot, holds=False):
        return f"the limit of bands lowers none where all is read: `{written}` never holds"
    if _always(domain, root, slot, holds=True):
        return f"{listed(beyond)} can never be reached: `{written}` always holds"
    return ""


def better_bands(output: Output, limit: BandLimit) -> list[str]:
    """The bands that a limit keeps from its output, by name."""
    names = [band.name for band in output.bands.edges]
    if limit.no_better_than.value == NO_BAND:
        return names
    place = names.index(limit.no_better_than.value)
    return names[place + 1 :] if output.ranks.best.value == "highest" else names[:place]


def _always(domain: Domain, root: Enclosure, slot: int, *, holds: bool) -> bool:
    """Whether it is proved that a condition holds, or fails, for all readings in their ranges."""

    def so(box: Box, at: Enclosure) -> bool:
        del box
        return at.truths[slot] is holds

    return prove(field_of(domain, root, slot), so, MOST_BOXES).closed
