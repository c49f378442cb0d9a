"""The claim that a table of steps covers the readings, without gap or overlap; and, beside it, that bands cover the scale."""

from __future__ import annotations

from collections.abc import Iterator

from scoring.checks.bands import band_findings
from scoring.checks.findings import NOT_DECIDED, PROVED, REFUTED, Case, Finding
from scoring.curves import KINDS
from scoring.curves.kind import ERROR
from scoring.form import Curve, Form, Measure, Output
from scoring.numbers.intervals import written_fraction
from scoring.units.role import in_unit


def coverage_findings(form: Form) -> Iterator[Finding]:
    """The findings on bands, if there are any, and one on every table of steps that reads a measure."""
    yield from band_findings(form)
    for output in form.outputs:
        for source, curve in output.curves:
            if KINDS[curve.kind].stepped and source in form.measures_by_name:
                yield _steps(output, form.measure(source), curve)


def _steps(output: Output, measure: Measure, curve: Curve) -> Finding:
    """From the first edge on every reading has its step; below it, only what `outside` says, if it is written."""
    claim = f"the steps of {curve.address} cover the plausible range of {measure.name}"
    first, last = curve.anchors[0][0], curve.anchors[-1][0]
    if measure.plausible is None:
        detail = f"give the measure `{measure.name}` a plausible range"
        return Finding(output.name, "steps", measure.name, claim, NOT_DECIDED, detail, (), (), 0, curve.place)
    low, high = measure.plausible
    below, above = curve.outside
    gaps = []
    reaches_below = written_fraction(low.text) < written_fraction(first.text)
    not_said = reaches_below and below.spot.start == below.spot.end
    if not_said or (reaches_below and below.value == ERROR):
        gaps.append((f"from {low.text} to below {in_unit(first.text, measure.unit)} no step is written", low.text))
    if written_fraction(high.text) > written_fraction(last.text) and above.value == ERROR:
        said = "outside: error" if above is below else "outside: {above: error}"
        gaps.append((f"above {in_unit(last.text, measure.unit)} a reading is refused (`{said}`)", high.text))
    if not gaps:
        detail = "every plausible reading has its step"
        return Finding(output.name, "steps", measure.name, claim, PROVED, detail, (), (), 0, curve.place)
    detail = "; ".join(said for said, _ in gaps)
    if not_said:
        detail += f": the first step, {curve.anchors[0][1].text}, is held there; write `outside: held` if that is meant"
    shown = tuple(Case(((measure.name, text, measure.unit),), curve.anchors[0][1].value) for _, text in gaps)
    return Finding(output.name, "steps", measure.name, claim, REFUTED, detail, shown, (), 0, curve.place)
