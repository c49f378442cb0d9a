"""Forms made by hand, for tests that need a measure or two and no formula file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from scoring.errors import Place
from scoring.form import Attribute, Choice, ErrorComponent, Form, Measure, Number, Rounding
from scoring.reader import read_sources
from scoring.texts.source import Source, Spot

PLACE = Place("made by hand")
SPOT = Spot(0, 0, 0)
#: A form that says no more than it must.
UNSAID = read_sources([Source("unsaid.yaml", "formula: f\nmeasures: {m: {unit: '1'}}\nratings: {r: {value: m}}\n")])


def number(value: float, address: str = "") -> Number:
    """A number without a text of its own."""
    return Number(value, repr(value), address, PLACE, SPOT)


def choice(value: str, *options: str) -> Choice:
    """A choice among `options`, or of the one value."""
    return Choice(value, options or (value,), "", PLACE, SPOT)


def measure(
    name: str,
    *,
    unit: str = "1",
    plausible: tuple[float, float] | None = None,
    repeats: str = "mean",
    trim: float = 0.0,
    repeatability: tuple[str, float | None] | None = None,
    reporting_limit: float | None = None,
    below_limit: str = "limit",
    step: float | None = None,
    rule: str = "half-up",
) -> Measure:
    """A measure, with plain numbers where the form holds nouns; all that is not told here is as in one that says nothing."""
    return replace(
        UNSAID.measures[0],
        name=name,
        label=name,
        column="",
        unit=unit,
        better=choice("lower"),
        plausible=(number(plausible[0]), number(plausible[1])) if plausible else None,
        repeats=choice(repeats),
        trim=number(trim, f"measures.{name}.trim"),
        repeatability=None if repeatability is None else _error(*repeatability),
        between_sessions=_error("none", None),
        between_specimens=_error("none", None),
        systematic=_error("none", None),
        reporting_limit=None if reporting_limit is None else number(reporting_limit),
        below_limit=choice(below_limit),
        round=None if step is None else Rounding(number(step), choice(rule)),
        address=f"measures.{name}",
        place=PLACE,
    )


def attribute(name: str, *values: str) -> Attribute:
    """A declared attribute, with the words it may take."""
    return Attribute(name, name, values=values, required=False, address=f"attributes.{name}", place=PLACE)


def form(measures: Sequence[Measure], attributes: Sequence[Attribute] = ()) -> Form:
    """A form that reads measures and attributes, and rates nothing."""
    return replace(
        UNSAID,
        name="made-by-hand",
        version="1",
        title="",
        attributes=tuple(attributes),
        measures=tuple(measures),
        ratings=(),
        sources=(),
        sha256="",
    )


def _error(kind: str, amount: float | None) -> ErrorComponent:
    figure = None if amount is None else number(amount)
    return ErrorComponent(choice(kind), figure, None, choice("normal"), False, "", PLACE, SPOT)
