"""A curve as it runs: its values along the measure, from the kernel, with its anchors, its jumps and the readings it meets."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace

import numpy as np

from analysis.figures.track import CurveTrack
from scoring.curves import KINDS
from scoring.curves.kind import CurveKind
from scoring.door.curve_alone import form_of_part, values_along
from scoring.form import Curve, Output, Part
from scoring.numbers.array_types import Array, Flags
from scoring.numbers.arrays import beside
from scoring.program.program import Program, compile_form
from scoring.program.reference import statistic_of
from scoring.table.table import ScoreTable

GRID = 500
#: So many readings of a live reference are looked at for jumps; a larger population steps too finely to be seen.
MOST_EDGES = 2000
#: How near to an edge, and how far from it, a curve is looked at for a jump, as shares of the track's length.
NEAR, FAR = 1e-15, 1e-6
#: It is one where so much of the change far from the edge is there near it, and is more than binary dust.
STAYS, DUST = 0.9, 1e-9
#: The picture keeps to the anchors and readings where the plausible range is wider than this many times their stretch.
WIDE = 3.0
#: Statistics of a reference population that are places along the measure.
PLACES = ("least", "mean", "median", "greatest")


def can_be_drawn(table: ScoreTable, part: Part) -> bool:
    """Whether a part has a curve, and one that does not lean on readings of a catalogue that has none."""
    if part.curve is None:
        return False
    reference = part.curve.reference
    return reference is None or not reference.live or bool(np.isfinite(_readings_of(table, part.source)).any())


def curve_track(program: Program, table: ScoreTable, output: Output, part: Part) -> CurveTrack:
    """The track of one part's curve, before weights, blends, limits and rounding.

    Parameters
    ----------
    table : gives the readings, and the population that a live reference leans on

    Raises
    ------
    ValueError : the part has no curve, or one that leans on readings that are not there
    """
    if part.curve is None or not can_be_drawn(table, part):
        raise ValueError(f"{part.address} has no curve that can be drawn")
    kind, curve = KINDS[part.curve.kind], part.curve
    every = _readings_of(table, part.source)
    readings = every[np.isfinite(every)]
    figures = _figures(curve, readings)
    ends = _ends(curve, figures)
    places = tuple(sorted({number.value for number in kind.positions(curve)} | set(figures.values())))
    measure = program.form.measures_by_name.get(part.source)
    low, high = measure.plausible if measure is not None and measure.plausible else (None, None)
    plausible = (low.value, high.value) if low is not None and high is not None else None
    unseen = int((readings <= 0).sum()) if kind.ratio_scaled else 0
    readings = readings[readings > 0] if kind.ratio_scaled else readings
    edges = _edges(curve, places, readings)
    window = _window(kind, [*edges.tolist(), *(kind.stretch(curve) or ()), *readings.tolist()], plausible)
    least, most = kind.refused_beyond(curve)
    drawn = max(window[0], least), min(window[1], most)
    alone = compile_form(form_of_part(program.form, output, part))
    readings_of_all = _readings_of(table, part.source)[np.newaxis, :]
    population = replace(table.inputs, values={**table.inputs.values, part.source: readings_of_all})

    def points_at(places: Array) -> Array:
        return values_along(alone, output, part, places, population)

    x, y, jumps = _run(points_at, kind, drawn, edges)
    at = np.array([place for place in places if drawn[0] <= place <= drawn[1]])
    points = points_at(at)
    words = {value: name for name, value in figures.items()}
    return CurveTrack(
        unit=measure.unit if measure is not None else "points",
        x=x,
        y=y,
        anchors=tuple((float(a), float(b), words.get(float(a), "")) for a, b in zip(at, points, strict=True)),
        jumps=jumps,
        ends=ends,
        leans=bool(kind.figures),
        readings=readings,
        plausible=plausible,
        window=window,
        in_ratios=kind.in_ratios,
        unseen=unseen,
    )


def _readings_of(table: ScoreTable, source: str) -> Array:
    """A value a product of a measure, or of a rating that goes through a curve again."""
    if source in table.inputs.values:
        return np.asarray(table.inputs.values[source][0], float)
    found = table.evaluation.values.get(source)
    return np.full(len(table.inputs.products), np.nan) if found is None else np.asarray(found[0], float)


def _figures(curve: Curve, readings: Array) -> dict[str, float]:
    """The statistics that a curve leans on and that are places along the measure."""
    reference = curve.reference
    if reference is None:
        return {}
    written = {name: number.value for name, number in reference.figures}
    population = readings if reference.live else np.array([number.value for number in reference.values])
    found = {}
    for name in KINDS[curve.kind].figures:
        if name in PLACES:
            value = written.get(name, np.nan)
            if name not in written and len(population):
                value = float(statistic_of(name, population)[0])
            if np.isfinite(value):
                found[name] = value
    return found


def _ends(curve: Curve, figures: dict[str, float]) -> tuple[float, float] | None:
    """The outermost anchors, or the ends of the population that the curve leans on."""
    ends = KINDS[curve.kind].ends
    if ends is not None:
        low, high = ends(curve)
        return low.value, high.value
    return (figures["least"], figures["greatest"]) if {"least", "greatest"} <= set(figures) else None


def _window(kind: CurveKind, inner: list[float], plausible: tuple[float, float] | None) -> tuple[float, float]:
    """From where to where the track runs: anchors, readings and the plausible range, unless that is far wider than both."""
    scale, back = (np.log, np.exp) if kind.in_ratios else (np.asarray, np.asarray)

    def places(values: Iterable[float]) -> list[float]:
        drawn = (value for value in values if np.isfinite(value) and (value > 0 or not kind.ratio_scaled))
        return [float(scale(value)) for value in drawn]

    own, wide = places(inner), places(plausible or ())
    if not own + wide:
        raise ValueError("nothing to draw: no anchor, no reading and no plausible range along the measure")
    least, most = min(own or wide), max(own or wide)
    low, high = min(own + wide), max(own + wide)
    if least < most and high - low > WIDE * (most - least):
        low, high = max(low, least - (most - least) / 2), min(high, most + (most - least) / 2)
    # where a curve jumps at the last place of all, there is to be something to either side of it
    room = 0.03 * (high - low) or 0.05 * max(1.0, abs(high))
    if low >= least:
        low = low / 2 if kind.ratio_scaled and not kind.in_ratios and low <= room else low - room
    if high <= most:
        high += room
    return float(back(low)), float(back(high))


def _edges(curve: Curve, places: tuple[float, ...], readings: Array) -> Array:
    """Where a curve may jump or bend: its anchors, and the members of the population that it leans on."""
    members = readings if curve.reference is not None and curve.reference.live else np.zeros(0)
    frozen = [number.value for number in curve.reference.values] if curve.reference is not None else []
    members = np.unique(members)
    return np.unique(np.concatenate([places, frozen, members if len(members) <= MOST_EDGES else []]))


def _run(
    points_at: Callable[[Array], Array], kind: CurveKind, drawn: tuple[float, float], edges: Array
) -> tuple[Array, Array, Array]:
    """Places and points with the pen lifted at jumps, and the jumps."""
    low, high = drawn
    grid = np.geomspace(low, high, GRID) if kind.in_ratios else np.linspace(low, high, GRID)
    grid[[0, -1]] = low, high
    edges = edges[(edges > low) & (edges < high)]
    near = np.maximum(beside(edges), NEAR * (high - low))
    gaps = np.diff(np.concatenate([[low], edges, [high]]))
    far = np.maximum(np.minimum(FAR * (high - low), np.minimum(gaps[:-1], gaps[1:]) / 3), 4 * near)
    sides = [edges - far, edges - near, edges, edges + near, edges + far]
    x = np.unique(np.concatenate([grid, *sides]))
    y = points_at(x)
    at = np.searchsorted(x, edges)
    around = y[np.searchsorted(x, sides)]
    before, after = (_jumps(around[2], around[one], around[other]) for one, other in ((1, 0), (3, 4)))
    jumps = np.stack([edges, *around[1:4]], axis=1)
    lifts = np.concatenate([at[before], at[after] + 1])
    return np.insert(x, lifts, x[lifts - 1]), np.insert(y, lifts, np.nan), jumps[before | after]


def _jumps(here: Array, near: Array, far: Array) -> Flags:
    """Where a curve jumps: what it changes by stays, however near one looks; a steep stretch comes down to nothing."""
    step = np.abs(near - here)
    return np.asarray((step > STAYS * np.abs(far - here)) & (step > DUST * np.maximum(1.0, np.abs(here))))
