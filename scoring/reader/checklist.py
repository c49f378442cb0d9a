"""Reading the checklist: the steps that a formula waives, each with its reason."""

from __future__ import annotations

from collections.abc import Iterator

from scoring.document import Node, Scalar
from scoring.form import Waiver
from scoring.reader import keys, options
from scoring.reader.fields import Reader

CHECKLIST = tuple(options.CHECKLIST)
WAIVER_KEYS = tuple(keys.WAIVER)


def read_checklist(reader: Reader, node: Node | None) -> Iterator[Waiver]:
    """Every step under `checklist`, written `step: {waived: why}`."""
    steps = reader.fields(node, "checklist", CHECKLIST, "a checklist")
    for step in CHECKLIST if steps is not None else ():
        if steps is None or step not in steps:
            continue
        fields = reader.fields(steps.node_of(step), steps.path(step), WAIVER_KEYS, "a step of the checklist")
        reason = fields.required("waived") if fields is not None else None
        if fields is None or reason is None:
            continue
        if isinstance(reason, Scalar) and not reason.text.strip():
            reader.fault(reason.place, f"no reason at {fields.path('waived')}", "why the step is waived, in words")
        yield Waiver(step, fields.text("waived"), fields.place)
