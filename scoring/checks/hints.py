"""Hints: readings at which something may happen, for cutting boxes and for sampling. Nothing is proved from them."""

from __future__ import annotations

from scoring.curves import KINDS
from scoring.form import Curve, Form, Measure


def hints_of(form: Form) -> dict[str, tuple[float, ...]]:
    """For each measure: anchors and edges of its curves, and the numbers that it stands beside in expressions."""
    found: dict[str, set[float]] = {measure.name: set() for measure in form.measures}
    for output in form.outputs:
        for source, curve in output.curves:
            if source in found:
                found[source].update(_readings(curve))
        for expression in (output.value, *(limit.when for limit in output.limits)):
            for name in expression.names if expression is not None else ():
                if name in found and expression is not None:
                    found[name].update(number.value for number in expression.numbers)
    return {m.name: tuple(sorted(value for value in found[m.name] if _is_plausible(m, value))) for m in form.measures}


def _readings(curve: Curve) -> list[float]:
    kind = KINDS[curve.kind]
    return [*(number.value for number in kind.positions(curve)), *kind.bends(curve)]


def _is_plausible(measure: Measure, value: float) -> bool:
    ends = measure.plausible
    return ends is None or ends[0].value <= value <= ends[1].value
