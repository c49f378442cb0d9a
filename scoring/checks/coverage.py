"""The claims that bands cover the scale, and that a table of steps covers the readings, without gap or overlap."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from scoring.checks.findings import NOT_DECIDED, PROVED, REFUTED, Case, Finding
from scoring.curves import KINDS
from scoring.curves.kind import ERROR
from scoring.form import Band, Curve, Form, Measure, Output, Scale
from scoring.numbers.intervals import written_fraction


def coverage_findings(form: Form) -> Iterator[Finding]:
    """One finding on the bands, if there are any, and one on every table of steps that reads a measure."""
    if form.bands:
        yield _bands(form)
    for output in form.outputs:
        for source, curve in output.curves:
            if KINDS[curve.kind].stepped and source in form.measures_by_name:
                yield _steps(output, form.measure(source), curve)


@dataclass(frozen=True, slots=True)
class _Stretch:
    """A scale that bands are held against, and the scores on it."""

    scale: Scale
    names: tuple[str, ...]

    @property
    def low(self) -> Fraction:
        """Its low end."""
        return written_fraction(self.scale.low.text)

    @property
    def high(self) -> Fraction | None:
        """Its high end, where it has one."""
        return None if self.scale.high is None else written_fraction(self.scale.high.text)

    @property
    def said(self) -> str:
        """From where to where it goes."""
        high = self.scale.high
        return f"from {self.scale.low.text}" + (f" to {high.text}" if high is not None else " on")


def _banded(form: Form) -> tuple[_Stretch, ...]:
    """The scales of the scores, or of the ratings of a form that has none: each once."""
    found: dict[tuple[Fraction, Fraction | None], _Stretch] = {}
    for output in form.scores or form.ratings:
        one = _Stretch(output.scale, (output.name,))
        before = found.get((one.low, one.high))
        names = (*before.names, output.name) if before is not None else one.names
        found[one.low, one.high] = _Stretch(output.scale if before is None else before.scale, names)
    return tuple(found.values())


def _bands(form: Form) -> Finding:
    """Bands are lower edges, so that each ends where the next begins: the lowest must reach down to each scale's end."""
    bands = sorted(form.bands, key=lambda band: written_fraction(band.edge.text))
    stretches = _banded(form)
    faults = list(_band_faults(stretches, bands))
    if len(stretches) == 1:
        claim = f"bands cover the scale {stretches[0].said}"
    else:
        claim = "bands cover the scales of " + "; ".join(f"{', '.join(one.names)} {one.said}" for one in stretches)
    verdict = REFUTED if faults else PROVED
    detail = "; ".join(said for said, _ in faults) or f"{len(bands)} bands, each from its edge to the next"
    shown = tuple(Case((("value", text, ""),), float(written_fraction(text))) for _, text in faults)
    return Finding("", "bands", "", claim, verdict, detail, shown, (), 0, bands[0].edge.place)


def _band_faults(stretches: Sequence[_Stretch], bands: list[Band]) -> Iterator[tuple[str, str]]:
    """What is wrong with the bands, in words, and a value at which it shows; a band is reached if any score reaches it."""
    edges = [written_fraction(band.edge.text) for band in bands]
    several = len(stretches) > 1
    for one in stretches:
        if edges[0] > one.low:
            of = f" for {', '.join(one.names)}" if several else ""
            low = one.scale.low.text
            yield f"from {low} to below {bands[0].edge.text} there is no band{of}", low
    bottom = min(one.low for one in stretches)
    scale = "every scale" if several else "the scale"
    for band, edge, following in zip(bands, edges, edges[1:], strict=False):
        if edge == following:
            yield f"`{band.name}` begins where the next band begins, and is never reached", band.edge.text
        elif following <= bottom:
            yield f"`{band.name}` ends at or below {scale}'s low end, and is never reached", band.edge.text
    tops = [one.high for one in stretches]
    for band, edge in zip(bands, edges, strict=True):
        if all(top is not None and edge > top for top in tops):
            yield f"`{band.name}` begins above {scale}'s high end, and is never reached", band.edge.text


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
