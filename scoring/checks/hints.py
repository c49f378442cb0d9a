"""Hints: readings at which something may happen, for cutting boxes and for sampling. Nothing is proved from them."""

from __future__ import annotations

from scoring.form import Curve, Form, Measure

NO_READINGS = ("exponent", "per_sd", "centre", "spread", "within")


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
    numbers = dict(curve.numbers)
    readings = [at.value for at, _ in curve.anchors]
    readings += [number.value for name, number in numbers.items() if name not in NO_READINGS]
    if "within" in numbers:
        best, within = numbers["best"].value, numbers["within"].value
        readings += [best - within, best + within]
    return readings


def _is_plausible(measure: Measure, value: float) -> bool:
    ends = measure.plausible
    return ends is None or ends[0].value <= value <= ends[1].value
