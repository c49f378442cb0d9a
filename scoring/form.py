"""The form: a formula as frozen, typed nouns, every number and choice with its address and its place."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

from scoring.dependencies import Dependencies
from scoring.errors import Place
from scoring.renamed import Renamed
from scoring.source import Source, Spot
from scoring.unit_role import UnitRole, counts


@dataclass(frozen=True, slots=True)
class Number:
    """A number that a person could argue about."""

    value: float
    text: str
    address: str
    place: Place
    spot: Spot


@dataclass(frozen=True, slots=True)
class Choice:
    """A choice among named options."""

    value: str
    options: tuple[str, ...]
    address: str
    place: Place
    spot: Spot


@dataclass(frozen=True, slots=True)
class Term:
    """One node of an expression: an operation and what it works on.

    `op` is "number" (args: its index among the numbers), "name", "text" (a quoted word), a function's name,
    an operator sign, or "and", "or", "not".
    """

    op: str
    args: tuple[Term | str | int, ...]


@dataclass(frozen=True, slots=True)
class Expression:
    """A written expression: its text, its tree, its numbers in reading order, and the names it uses."""

    text: str
    term: Term
    numbers: tuple[Number, ...]
    names: tuple[str, ...]
    is_condition: bool
    address: str
    place: Place
    spot: Spot


@dataclass(frozen=True, slots=True)
class Reference:
    """The population that a curve leans on: the live catalogue, or frozen figures."""

    live: bool
    figures: tuple[tuple[str, Number], ...]
    values: tuple[Number, ...] = field(metadata=counts(UnitRole.ALONG))
    address: str
    place: Place


@dataclass(frozen=True, slots=True)
class Curve:
    """What turns a measure into rating points: a kind, its numbers and anchors, and what holds outside the anchors."""

    kind: str
    numbers: tuple[tuple[str, Number], ...]
    anchors: tuple[tuple[Number, Number], ...]
    choices: tuple[tuple[str, Choice], ...]
    reference: Reference | None
    address: str
    place: Place
    spot: Spot

    def number(self, name: str) -> Number:
        """The number called `name`."""
        return dict(self.numbers)[name]

    def choice(self, name: str) -> str:
        """The value of the choice called `name`."""
        return dict(self.choices)[name].value


@dataclass(frozen=True, slots=True)
class Rounding:
    """A rounding step and its rule."""

    step: Number = field(metadata=counts(UnitRole.LENGTH))
    rule: Choice


@dataclass(frozen=True, slots=True)
class Scale:
    """The scale that ratings and scores are published on; `high` is None where the scale is open at the top."""

    low: Number = field(metadata=counts(UnitRole.POINTS))
    high: Number | None = field(metadata=counts(UnitRole.POINTS))
    show: Rounding


@dataclass(frozen=True, slots=True)
class ErrorComponent:
    """One component of the errors of a measure's readings: its size, how well that is known, and how it is spread.

    kind: "none", "absolute" (in the unit), "relative" (a share of the reading), "pooled" or "pooled relative" (from the
    catalogue's own repeats); amount: a standard deviation, or a half-width; None where the kind holds no figure;
    freedom: the degrees of freedom that the amount rests on; None where it is taken as known; distribution: "normal", or
    "rectangular" or "triangular" over a half-width; spot: where all of it is written, or would be.
    """

    kind: Choice
    amount: Number | None = field(metadata=counts(UnitRole.LENGTH))
    freedom: Number | None = field(metadata=counts(UnitRole.COUNT))
    distribution: Choice
    is_half_width: bool
    address: str
    place: Place
    spot: Spot

    @property
    def in_braces(self) -> bool:
        """Whether it is written key by key, and not as one figure or word."""
        return self.address not in (self.kind.address, self.amount.address if self.amount is not None else "")


@dataclass(frozen=True, slots=True)
class Measure:
    """A raw quantity read on the bench; `column` is what a catalogue calls it, empty where that is its name."""

    name: str
    label: str
    column: str
    unit: str
    better: Choice
    plausible: tuple[Number, Number] | None = field(metadata=counts(UnitRole.ALONG))
    repeats: Choice
    trim: Number = field(metadata=counts(UnitRole.SHARE))
    repeatability: ErrorComponent | None
    between_sessions: ErrorComponent
    between_specimens: ErrorComponent
    systematic: ErrorComponent
    reporting_limit: Number | None = field(metadata=counts(UnitRole.ALONG))
    below_limit: Choice
    round: Rounding | None
    note: str
    address: str
    place: Place

    @property
    def heading(self) -> str:
        """What a catalogue calls it."""
        return self.column or self.name

    @property
    def errors(self) -> dict[str, ErrorComponent]:
        """The components of its errors by their keys, those that are not written too, save a repeatability that is not."""
        within = {} if self.repeatability is None else {"repeatability": self.repeatability}
        return within | {
            "between_sessions": self.between_sessions,
            "between_specimens": self.between_specimens,
            "systematic": self.systematic,
        }

    def declares(self, component: str) -> bool:
        """Whether anything is said of a component, by its key, but that there is none."""
        return component in self.errors and self.errors[component].kind.value != "none"


@dataclass(frozen=True, slots=True)
class ErrorCorrelation:
    """The correlation between the errors of measures that are read in one run, of one component; it holds for every pair.

    coefficient: None where it is estimated from the readings, and `estimated` then is the word that says so.
    """

    name: str
    measures: tuple[str, ...]
    component: Choice
    coefficient: Number | None = field(metadata=counts(UnitRole.COEFFICIENT))
    estimated: Choice | None
    address: str
    place: Place


@dataclass(frozen=True, slots=True)
class Attribute:
    """A property of a product that is a word, not a reading; `values` lists what it may be (empty: any text)."""

    name: str
    label: str
    values: tuple[str, ...]
    address: str
    place: Place


@dataclass(frozen=True, slots=True)
class Part:
    """One part of a rating or score: what it takes, through which curve, with what weight."""

    source: str
    curve: Curve | None
    weight: Number | None = field(metadata=counts(UnitRole.SHARE))
    address: str
    place: Place


@dataclass(frozen=True, slots=True)
class Limit:
    """A poor part holds the whole back (or a strong one holds it up).

    Stepped: `when` and a number `bound`. Smooth: `on` names a part and `curve` gives the bound at its value.
    """

    sense: str
    when: Expression | None
    bound: Number | None = field(metadata=counts(UnitRole.POINTS))
    on: str | None
    curve: Curve | None
    apply: Choice
    address: str
    place: Place


@dataclass(frozen=True, slots=True)
class MissingRule:
    """When a rating or score with missing parts is absent, and what happens otherwise."""

    needs: tuple[str, ...]
    absent_above: Number = field(metadata=counts(UnitRole.SHARE))
    otherwise: Choice


@dataclass(frozen=True, slots=True)
class Output:
    """A rating or a score: parts under a blend, or an expression; then limits, then rounding."""

    section: str
    name: str
    label: str
    blend: Choice | None
    exponent: Number | None = field(metadata=counts(UnitRole.EXPONENT))
    parts: tuple[Part, ...]
    value: Expression | None
    limits: tuple[Limit, ...]
    missing: MissingRule
    round: Rounding | None
    scale: Scale
    neutral: bool
    note: str
    address: str
    place: Place

    @property
    def sources(self) -> tuple[str, ...]:
        """The names this output takes its value from, each once, in reading order."""
        named = [part.source for part in self.parts] + list(self.value.names if self.value else ())
        for limit in self.limits:
            named += limit.when.names if limit.when else [limit.on or ""]
        return tuple(dict.fromkeys(named))

    @property
    def curves(self) -> tuple[tuple[str, Curve], ...]:
        """The curves of its parts, then those of its smooth limits, each after the name that goes into it."""
        written = [(part.source, part.curve) for part in self.parts]
        written += [(limit.on or "", limit.curve) for limit in self.limits]
        return tuple((source, curve) for source, curve in written if curve is not None)

    def part_at(self, address: str) -> Part | None:
        """The part that stands at an address, if one does."""
        return next((part for part in self.parts if part.address == address), None)

    def limit_at(self, address: str) -> Limit | None:
        """The limit that stands at an address, if one does."""
        return next((limit for limit in self.limits if limit.address == address), None)


@dataclass(frozen=True, slots=True)
class Gate:
    """A condition outside the arithmetic: it withholds scores or attaches a remark.

    unknown: what it does where the condition has no value.
    """

    name: str
    when: Expression
    guard: Number | None = field(metadata=counts(UnitRole.UNCERTAINTIES))
    withhold: str
    remark: str
    near: str
    missing: str
    unknown: Choice
    scores: tuple[str, ...]
    address: str
    place: Place


@dataclass(frozen=True, slots=True)
class Band:
    """A named stretch of the scale, from its lower edge up to the next band's."""

    name: str
    edge: Number = field(metadata=counts(UnitRole.POINTS))


@dataclass(frozen=True, slots=True)
class Ranks:
    """What ranks stand on, how ties share a place, and which end is best."""

    on: Choice
    ties: Choice
    best: Choice


@dataclass(frozen=True, slots=True)
class Waiver:
    """A step of the methods checklist that the formula leaves out, and why."""

    step: str
    reason: str
    place: Place


@dataclass(frozen=True)
class Form:
    """A whole formula.

    What is looked up in it by name or by address is found in one walk, the first time that it is asked for, and kept with the
    form (so that it has no slots): a form never changes.
    """

    name: str
    version: str
    title: str
    note: str
    scale: Scale
    ranks: Ranks
    bands: tuple[Band, ...]
    bands_on: Choice
    constants: tuple[tuple[str, Number], ...]
    attributes: tuple[Attribute, ...]
    measures: tuple[Measure, ...]
    error_correlations: tuple[ErrorCorrelation, ...]
    ratings: tuple[Output, ...]
    scores: tuple[Output, ...]
    gates: tuple[Gate, ...]
    cautions: tuple[str, ...]
    sources: tuple[Source, ...]
    sha256: str
    checklist: tuple[Waiver, ...] = ()
    product_column: str = ""
    renamed: tuple[Renamed, ...] = ()

    @cached_property
    def outputs(self) -> tuple[Output, ...]:
        """Ratings, then scores, in the order written."""
        return self.ratings + self.scores

    @cached_property
    def outputs_by_name(self) -> Mapping[str, Output]:
        """Ratings, then scores, by their names."""
        return {output.name: output for output in self.outputs}

    @cached_property
    def measures_by_name(self) -> Mapping[str, Measure]:
        """The measures by their names."""
        return {measure.name: measure for measure in self.measures}

    @cached_property
    def attributes_by_name(self) -> Mapping[str, Attribute]:
        """The attributes by their names."""
        return {attribute.name: attribute for attribute in self.attributes}

    @cached_property
    def units(self) -> Mapping[str, str]:
        """The unit of every measure, by its name."""
        return {measure.name: measure.unit for measure in self.measures}

    @cached_property
    def dependencies(self) -> Dependencies:
        """Which outputs stand on what, and what reaches them; its order is a FormulaError where they go round in a circle."""
        sources = {output.name: output.sources for output in self.outputs}
        return Dependencies(sources, {output.name: output.place for output in self.outputs})

    def reached_by(self, address: str) -> tuple[str, ...]:
        """The outputs that what stands at an address can move, in order of need.

        An address inside an output moves it and what stands on it; one of a measure, an attribute or a constant moves what
        takes it; any other, such as the scale's, is taken to move every output.
        """
        own = self.output_at(address)
        if own is not None:
            return self.dependencies.reached_from([own.name])
        section, name = [*address.split("."), ""][:2]
        if section in {"measures", "attributes", "constants"}:
            return self.dependencies.reached_from([name])
        return self.dependencies.order

    def output(self, name: str) -> Output:
        """The rating or score called `name`; a KeyError where there is none."""
        return self.outputs_by_name[name]

    def measure(self, name: str) -> Measure:
        """The measure called `name`; a KeyError where there is none."""
        return self.measures_by_name[name]

    def output_at(self, address: str) -> Output | None:
        """The rating or score inside which an address stands; None for one outside of all, as a constant's."""
        section, _, rest = address.partition(".")
        found = self.outputs_by_name.get(rest.partition(".")[0]) if section in {"ratings", "scores"} else None
        return found if found is not None and address.startswith(found.address + ".") else None
