"""A part's curve by itself: its ratings at any places, the line it runs along, and its picture as SVG."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from scoring.catalogue import Catalogue
from scoring.curves import KINDS
from scoring.door.curve_alone import form_of_part, values_along
from scoring.door.curve_picture import Axis, Line, curve_svg
from scoring.errors import AddressError, Place, Problem, nearest
from scoring.form import Curve, Form, Measure, Output, Part
from scoring.numbers.array_types import Array
from scoring.numbers.arrays import beside
from scoring.program.program import Program, compile_form
from scoring.table.evaluate import Inputs, inputs_of, population_of

if TYPE_CHECKING:
    import pandas as pd

GRID = 240
#: Ratings at two neighbouring floats differ by less than this on any slope that can be drawn; by more at a jump.
JUMP = 1e-6
#: Room beyond the curve's own stretch, as a share of it: enough to see what holds outside the anchors.
ROOM = 0.12
#: Beyond so many standard deviations a z curve is not drawn.
MOST_SD = 3.0


@dataclass(frozen=True, slots=True, eq=False)
class _Along:
    """One part's curve by itself, and the way through the kernel to what it gives.

    alone : of `form_of_part`; reference : what a live reference leans on, under the name of the part's source
    """

    alone: Program
    output: Output
    part: Part
    curve: Curve
    reference: Inputs | None

    def ratings(self, places: Array) -> Array:
        """What the curve gives at each place, both of shape (n,); NaN beyond the anchors of one that says so."""
        found = values_along(self.alone, self.output, self.part, places, self.reference)
        low, high = KINDS[self.curve.kind].refused_beyond(self.curve)
        return np.where(np.isfinite(places) & (places >= low) & (places <= high), found, np.nan)


@dataclass(frozen=True, slots=True, eq=False)
class DrawnCurve:
    """The curve of one part of a rating, before weights, limits and rounding. A notebook shows its picture.

    Attributes
    ----------
    output, part : the rating that it belongs to, and the part of it
    unit : of the measure; "points" where it takes a rating
    places, ratings : shape (n,), the line in order; a rating is NaN where the pen is lifted, at a jump
    anchors : (place, rating) of each anchor within the picture, in order
    """

    output: Output
    part: Part
    unit: str
    places: Array
    ratings: Array
    anchors: tuple[tuple[float, float], ...]
    _along: _Along
    _label: str

    def __repr__(self) -> str:
        return f"<curve of {self.output.name} over {self.part.source} [{self.unit}]>"

    def at(self, places: ArrayLike) -> Array:
        """The curve's ratings, unrounded.

        Parameters
        ----------
        places : array_like of float, any shape, in the measure's unit

        Returns
        -------
        ndarray of the same shape, points of the scale; NaN where a place is NaN, or lies beyond the anchors of a curve that
            says `outside: error`

        Examples
        --------
        A broken line through 40 mm: 10, 80 mm: 6, 135 mm: 1, held outside them.

        >>> from scoring import read_formula
        >>> read_formula("beds.yaml").curve("edge").at([30, 60, 80, 150])
        array([10.,  8.,  6.,  1.])
        """
        asked = np.asarray(places, float)
        return self._along.ratings(asked.ravel()).reshape(asked.shape)

    def frame(self) -> pd.DataFrame:
        """The line that is drawn, index the measure, column the rating; `attrs` holds their units."""
        import pandas as pd

        name, source = self.output.name, self.part.source
        frame = pd.DataFrame({name: self.ratings.copy()}, index=pd.Index(self.places.copy(), name=source))
        frame.attrs = {"units": {source: self.unit, name: "points"}, "address": self.part.address}
        return frame

    def to_svg(self) -> str:
        """The picture as one `svg` element: axes with their units, the line, its anchors, and a title for screen readers."""
        scale = self.output.scale
        unit = "" if self.unit == "1" else self.unit
        ends = scale.low.value, scale.high.value if scale.high is not None else None
        return curve_svg(
            Line(self.places, self.ratings, self.anchors),
            title=f"{self.output.label or self.output.name}: the rating over {self.part.source}{unit and f' [{unit}]'}",
            along=Axis(self._label, unit, in_ratios=KINDS[self._along.curve.kind].in_ratios),
            up=Axis(self.output.name, "points", *ends),
        )

    def _repr_svg_(self) -> str:
        return self.to_svg()


def drawn_curve(
    program: Program, name: str, measure: str | None = None, catalogue: Catalogue | None = None
) -> DrawnCurve:
    """The curve of a part of a rating or score.

    Parameters
    ----------
    measure : which of its parts, where several have curves
    catalogue : what a live reference leans on

    Raises
    ------
    AddressError : there is no such curve, it could be several, or it leans on a catalogue and none is given
    """
    form = program.form
    output, part = _chosen(form, name, measure)
    assert part.curve is not None  # only parts with a curve are chosen from
    taken = form.measures_by_name.get(part.source)
    population, reference = _population(program, part, catalogue)
    if leans_on_catalogue(part) and not population.size:
        hint = f'Write curve("{name}", catalogue=...), with readings of {part.source}.'
        raise _refused(form, f"{name} leans on the catalogue's own readings", "a catalogue that has some", hint)
    along = _Along(compile_form(form_of_part(form, output, part)), output, part, part.curve, reference)
    window = _window(part.curve, taken, population)
    places, ratings = _line(along, window, population)
    at = np.array(sorted({n.value for n in KINDS[part.curve.kind].positions(part.curve)}), float)
    at = at[(at >= window[0]) & (at <= window[1])]
    return DrawnCurve(
        output=output,
        part=part,
        unit=taken.unit if taken is not None else "points",
        places=places,
        ratings=ratings,
        anchors=tuple(zip(at.tolist(), along.ratings(at).tolist(), strict=True)),
        _along=along,
        _label=(taken.label if taken is not None else "") or part.source,
    )


def _population(program: Program, part: Part, catalogue: Catalogue | None) -> tuple[Array, Inputs | None]:
    """What a curve with a live reference leans on: its values, shape (n,), and the inputs that hold them; else nothing."""
    if catalogue is None or not leans_on_catalogue(part):
        return np.zeros(0), None
    inputs = inputs_of(program.form, catalogue)
    leant_on = population_of(program, inputs, part.source)[:1]
    reference = replace(inputs, values={**inputs.values, part.source: leant_on})
    return leant_on[np.isfinite(leant_on)], reference


def leans_on_catalogue(part: Part) -> bool:
    """Whether a part's curve leans on the readings of the live catalogue."""
    return part.curve is not None and part.curve.reference is not None and part.curve.reference.live


def _chosen(form: Form, name: str, measure: str | None) -> tuple[Output, Part]:
    """The output of that name, and its part with a curve."""
    curves = {
        output.name: {part.source: part for part in output.parts if part.curve is not None} for output in form.outputs
    }
    known = {name: parts for name, parts in curves.items() if parts}
    if name not in known:
        found = f"`{name}`, which has no curve of its own" if name in curves else f"no rating `{name}`"
        raise _refused(form, found, "a rating with a curve", nearest(name, known))
    parts = known[name]
    if measure is None and len(parts) > 1:
        raise _refused(form, f"{name}, which mixes {len(parts)} curves", "which of them", nearest("", parts))
    source = next(iter(parts)) if measure is None else measure
    if source not in parts:
        raise _refused(form, f"no curve of `{source}` in {name}", "one of its measures", nearest(source, parts))
    return form.output(name), parts[source]


def _refused(form: Form, found: str, expected: str, hint: str) -> AddressError:
    return AddressError([Problem(Place(f"the formula {form.name}"), found, expected, hint)])


def _window(curve: Curve, measure: Measure | None, population: Array) -> tuple[float, float]:
    """From where to where the line runs: a little beyond where the curve does its work, within its `outside: error`.

    `population` has the shape (n_members,), as in `_population`.
    """
    kind = KINDS[curve.kind]
    plausible = [one.value for one in measure.plausible] if measure is not None and measure.plausible else []
    own = [*(kind.stretch(curve) or ()), *_leaned_on(curve, population)]
    within = [place for place in own or plausible or (0.0, 1.0) if place > 0 or not kind.ratio_scaled]
    low, high = min(within, default=0.1), max(within, default=1.0)
    if kind.in_ratios:
        room = (high / low) ** ROOM if high > low else 2.0
        wide = low / room, high * room
    else:
        step = ROOM * (high - low) or max(abs(high), 1.0) * ROOM
        wide = low / 2 if kind.ratio_scaled and low <= step else low - step, high + step
    least, most = KINDS[curve.kind].refused_beyond(curve)
    return max(wide[0], least), min(wide[1], most)


def _leaned_on(curve: Curve, population: Array) -> list[float]:
    """Places of the population that a curve leans on: its ends, or so many standard deviations about its mean.

    `population`, shape (n_members,), is a live one.
    """
    reference = curve.reference
    if reference is None:
        return []
    members = population if reference.live else np.array([number.value for number in reference.values])
    stated = {name: number.value for name, number in reference.figures}
    if members.size:
        return [float(members.min()), float(members.max())]
    if {"mean", "sd"} <= set(stated):
        return [stated["mean"] - MOST_SD * stated["sd"], stated["mean"] + MOST_SD * stated["sd"]]
    return [stated[name] for name in ("least", "greatest") if name in stated]


def _line(along: _Along, window: tuple[float, float], population: Array) -> tuple[Array, Array]:
    """The line's places and ratings, shape (n,); NaN between the two sides of a jump. `population` has the shape (n_members,)."""
    curve = along.curve
    kind, frozen = KINDS[curve.kind], curve.reference.values if curve.reference is not None else ()
    grid = np.geomspace(*window, GRID) if kind.in_ratios else np.linspace(*window, GRID)
    grid[[0, -1]] = window
    edges = np.array([number.value for number in (*kind.positions(curve), *frozen)], float)
    edges = np.unique(np.concatenate([edges, population]))
    edges = edges[(edges > window[0]) & (edges < window[1])]
    places = np.unique(np.concatenate([grid, edges, edges - beside(edges), edges + beside(edges)]))
    ratings = along.ratings(places)
    neighbours = np.diff(places) < 2 * beside(places[1:])
    lifts = np.flatnonzero(neighbours & (np.abs(np.diff(ratings)) > JUMP)) + 1
    return np.insert(places, lifts, places[lifts - 1]), np.insert(ratings, lifts, np.nan)
