"""One part's curve by itself: a form that rates by it and nothing else, and what it gives at places along its measure."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from scoring.form import Form, Output, Part
from scoring.numbers.array_types import Array
from scoring.program.program import Program
from scoring.table.evaluate import Inputs, evaluate, kernel_for


def form_of_part(form: Form, output: Output, part: Part) -> Form:
    """A form that rates by this part's curve, before weights, blends, limits and rounding, and by nothing else."""
    alone = replace(
        output,
        section="ratings",
        parts=(replace(part, weight=None),),
        blend=None,
        numbers=(),
        value=None,
        limits=(),
        round=None,
        missing=replace(output.missing, needs=()),
    )
    return replace(form, ratings=(alone,), scores=(), gates=())


def values_along(alone: Program, output: Output, part: Part, places: Array, reference: Inputs | None) -> Array:
    """What the curve gives at each place, through the kernel.

    Parameters
    ----------
    alone : of `form_of_part`
    places : shape (n,), in the measure's unit
    reference : what a live reference leans on, under the name of the part's source

    Returns
    -------
    ndarray, shape (n,), points
    """
    if not places.size:
        return np.zeros(0)
    values = {part.source: places[:, np.newaxis]}
    inputs = Inputs(products=("",), values=values, states={part.source: np.zeros(1, np.uint8)}, words={})
    found: Array = evaluate(kernel_for(alone, inputs, [output.name]), inputs, reference=reference).values[output.name]
    return found[:, 0]
