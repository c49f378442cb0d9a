"""The claim that bands cover the scale without gap or overlap, and warnings of bands that a rating or score cannot reach.

A rating or score on a scale of its own has the formula's bands, unless it says otherwise; these are made for another scale.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from scoring.checks.domain import Domain
from scoring.checks.findings import BANDS, PROVED, REFUTED, Case, Finding, Warning
from scoring.checks.wording import listed
from scoring.form import Band, Form, Output, Scale
from scoring.numbers.intervals import Interval, written_fraction
from scoring.numbers.rounding import round_to


def band_findings(form: Form) -> Iterator[Finding]:
    """One finding on the formula's bands, if some score has them, and one on those of each rating or score of its own."""
    follow = [output for output in form.scores or form.ratings if output.bands.inherited]
    if form.bands and follow:
        yield _finding(form.bands, follow, "")
    for output in form.outputs:
        if output.bands.edges and not output.bands.inherited:
            yield _finding(output.bands.edges, [output], output.name)


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


def _banded(outputs: Sequence[Output]) -> tuple[_Stretch, ...]:
    """The scales of some outputs, each once."""
    found: dict[tuple[Fraction, Fraction | None], _Stretch] = {}
    for output in outputs:
        one = _Stretch(output.scale, (output.name,))
        before = found.get((one.low, one.high))
        names = (*before.names, output.name) if before is not None else one.names
        found[one.low, one.high] = _Stretch(output.scale if before is None else before.scale, names)
    return tuple(found.values())


def _finding(written: Sequence[Band], outputs: Sequence[Output], name: str) -> Finding:
    """Bands are lower edges, so that each ends where the next begins: the lowest must reach down to each scale's end."""
    bands = sorted(written, key=lambda band: written_fraction(band.edge.text))
    stretches = _banded(outputs)
    faults = list(_band_faults(stretches, bands))
    if len(stretches) == 1:
        claim = f"{'its ' if name else ''}bands cover the scale {stretches[0].said}"
    else:
        claim = "bands cover the scales of " + "; ".join(f"{', '.join(one.names)} {one.said}" for one in stretches)
    verdict = REFUTED if faults else PROVED
    detail = "; ".join(said for said, _ in faults) or _from_edge_to_edge(len(bands))
    shown = tuple(Case((("value", text, ""),), float(written_fraction(text))) for _, text in faults)
    return Finding(name, "bands", "", claim, verdict, detail, shown, (), 0, bands[0].edge.place)


def _from_edge_to_edge(bands: int) -> str:
    return "1 band, from its edge up" if bands == 1 else f"{bands} bands, each from its edge to the next"


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


def band_warnings(domain: Domain) -> Iterator[Warning]:
    """Bands in no order, and those that a score cannot reach, where it has a scale or bands of its own; or if it keeps to one."""
    form = domain.program.form
    yield from _out_of_order(form.bands, "bands")
    for output in form.outputs:
        if not output.bands.inherited:
            yield from _out_of_order(output.bands.edges, f"{output.address}.bands")
    if form.bands and form.outputs and not any(output.bands.inherited for output in form.scores or form.ratings):
        says = "the formula's bands hold for no score: each has its own, or none"
        yield Warning(form.bands[0].edge.place, "bands", says, BANDS)
    for output in form.outputs:
        own_scale = output.scale != form.scale
        if output.bands.edges and (own_scale or not output.bands.inherited):
            yield from _unreached(domain, output)


def _out_of_order(bands: Sequence[Band], address: str) -> Iterator[Warning]:
    """That the edges neither fall nor rise from the first band named to the last.

    No fault: names may stand in any order, and a formula of before, or a trial of one edge, is read as it was.
    """
    named = sorted(bands, key=lambda band: (band.edge.place.line or 0, band.edge.place.column or 0))
    texts = [band.edge.text for band in named]
    rising = sorted(texts, key=written_fraction)
    if texts in (rising, rising[::-1]):
        return
    falls = written_fraction(texts[0]) > written_fraction(texts[-1])
    ordered = zip(named, rising[::-1] if falls else rising, strict=True)
    tried = ", ".join(f"{band.name}: {edge}" for band, edge in ordered)
    stated = ", ".join(f"{band.name} from {band.edge.text}" for band in named)
    top = max(named, key=lambda band: written_fraction(band.edge.text)).name
    says = (
        f"edges that neither fall nor rise in the order of their names: {stated}, so that the highest figures are `{top}`; "
        f"in that order they would be {{{tried}}}"
    )
    yield Warning(named[0].edge.place, address, says, BANDS)


def _unreached(domain: Domain, output: Output) -> Iterator[Warning]:
    """What is wrong with the bands of one output: `within` holds all that it can be."""
    within = _reached(domain, output)
    edges = [written_fraction(band.edge.text) for band in output.bands.edges]
    ends: list[Fraction | None] = [*edges[1:], None]
    bands = output.bands.edges
    there = [
        band.name
        for band, edge, end in zip(bands, edges, ends, strict=True)
        if float(edge) <= within.high and (end is None or float(end) > within.low)
    ]
    never = [band.name for band in bands if band.name not in there]
    if not never:
        return
    whose = "the formula's bands, of which " if output.bands.inherited else "bands of its own, of which "
    lies = f"it lies between {within.low:.6g} and {within.high:.6g}"
    says = f"it has {whose}{listed(never)} can never be reached: {lies}"
    if len(there) == 1:
        says = f"it has {whose}none but `{there[0]}` can ever be reached: {lies}"
    hint = "" if not output.bands.inherited else f"; write `bands:` at {output.address}, or `bands: none`"
    place = output.place if output.bands.chosen is None else output.bands.chosen.place
    yield Warning(place, f"{output.address}.bands", says + hint, BANDS)


def _reached(domain: Domain, output: Output) -> Interval:
    """All that the bands of an output can be asked of: its enclosure, rounded where they go by the shown figure."""
    found = domain.room(output.name).root.values[domain.outputs[output.name]]
    low = max(found.low, output.scale.low.value)
    high = found.high if output.scale.high is None else min(found.high, output.scale.high.value)
    if domain.program.form.bands_on.value == "shown":
        rule = output.scale.show
        low, high = (float(round_to(end, rule.step.value, rule.rule.value)) for end in (low, high))
    return Interval(low, high)
