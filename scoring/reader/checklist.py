"""Reading the checklist: the steps that a formula waives, each with its reason."""

from __future__ import annotations

from collections.abc import Iterator

from scoring.form import CHECKLIST, WAIVER, Waiver
from scoring.reader.declared import made
from scoring.reader.fields import Reader
from scoring.texts.document import Node, Scalar


def read_checklist(reader: Reader, node: Node | None) -> Iterator[Waiver]:
    """Every step under `checklist`, written `step: {waived: why}`."""
    steps = reader.fields(node, "checklist", CHECKLIST, "a checklist")
    for step in CHECKLIST if steps is not None else ():
        if steps is None or step not in steps:
            continue
        fields = reader.noun(steps.node_of(step), steps.path(step), WAIVER)
        waiver = made(WAIVER, fields, step=step) if fields is not None else None
        if fields is None or waiver is None:
            continue
        reason = fields.node_of("waived")
        if isinstance(reason, Scalar) and not reason.text.strip():
            reader.fault(reason.place, f"no reason at {fields.path('waived')}", "why the step is waived, in words")
        yield waiver
