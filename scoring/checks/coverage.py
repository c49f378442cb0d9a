"""The claims that bands cover the scale, and that a table of steps covers the readings, without gap or overlap."""

from __future__ import annotations

from collections.abc import Iterator

from scoring.checks.findings import NOT_DECIDED, PROVED, REFUTED, Case, Finding
from scoring.curves.kind import ERROR
from scoring.form import Band, Curve, Form, Measure, Output
from scoring.intervals import written_fraction


def coverage_findings(form: Form) -> Iterator[Finding]:
    """One finding on the bands, if there are any, and one on every table of steps that reads a measure."""
    if form.bands:
        yield _bands(form)
    measures = {measure.name: measure for measure in form.measures}
    for output in form.outputs:
        curves = [(part.source, part.curve) for part in output.parts]
        curves += [(limit.on or "", limit.curve) for limit in output.limits]
        for source, curve in curves:
            if curve is not None and curve.kind == "steps" and source in measures:
                yield _steps(output, measures[source], curve)


def _bands(form: Form) -> Finding:
    """Bands are lower edges, so that each ends where the next begins: the lowest must reach down to the scale's end."""
    bands = sorted(form.bands, key=lambda band: written_fraction(band.edge.text))
    faults = list(_band_faults(form, bands))
    claim = f"bands cover the scale from {form.scale.low.text}" + (
        f" to {form.scale.high.text}" if form.scale.high is not None else " on"
    )
    verdict = REFUTED if faults else PROVED
    detail = "; ".join(said for said, _ in faults) or f"{len(bands)} bands, each from its edge to the next"
    shown = tuple(Case((("value", text, ""),), float(written_fraction(text))) for _, text in faults)
    return Finding("", "bands", "", claim, verdict, detail, shown, (), 0, bands[0].edge.place)


def _band_faults(form: Form, bands: list[Band]) -> Iterator[tuple[str, str]]:
    """What is wrong with the bands, in words, and a value at which it shows."""
    low, high = form.scale.low, form.scale.high
    edges = [written_fraction(band.edge.text) for band in bands]
    bottom = written_fraction(low.text)
    if edges[0] > bottom:
        yield f"from {low.text} to below {bands[0].edge.text} there is no band", low.text
    for band, edge, following in zip(bands, edges, edges[1:], strict=False):
        if edge == following:
            yield f"`{band.name}` begins where the next band begins, and is never reached", band.edge.text
        elif following <= bottom:
            yield f"`{band.name}` ends at or below the scale's low end, and is never reached", band.edge.text
    for band, edge in zip(bands, edges, strict=True):
        if high is not None and edge > written_fraction(high.text):
            yield f"`{band.name}` begins above the scale's high end, and is never reached", band.edge.text


def _steps(output: Output, measure: Measure, curve: Curve) -> Finding:
    """From the first edge on every reading has its step; below it, only what `outside` says, if it is written."""
    claim = f"the steps of {curve.address} cover the plausible range of {measure.name}"
    first, last = curve.anchors[0][0], curve.anchors[-1][0]
    if measure.plausible is None:
        detail = f"give the measure `{measure.name}` a plausible range"
        return Finding(output.name, "steps", measure.name, claim, NOT_DECIDED, detail, (), (), 0, curve.place)
    low, high = measure.plausible
    outside = dict(curve.choices)["outside"]
    gaps = []
    if written_fraction(low.text) < written_fraction(first.text) and (
        outside.value == ERROR or outside.spot.start == outside.spot.end
    ):
        gaps.append((f"from {low.text} to below {first.text} {measure.unit} no step is written", low.text))
    if written_fraction(high.text) > written_fraction(last.text) and outside.value == ERROR:
        gaps.append((f"above {last.text} {measure.unit} a reading is refused (`outside: error`)", high.text))
    if not gaps:
        detail = "every plausible reading has its step"
        return Finding(output.name, "steps", measure.name, claim, PROVED, detail, (), (), 0, curve.place)
    detail = "; ".join(said for said, _ in gaps)
    if outside.value != ERROR:
        detail += f": the first step, {curve.anchors[0][1].text}, is held there; write `outside: held` if that is meant"
    shown = tuple(Case(((measure.name, text, measure.unit),), curve.anchors[0][1].value) for _, text in gaps)
    return Finding(output.name, "steps", measure.name, claim, REFUTED, detail, shown, (), 0, curve.place)
