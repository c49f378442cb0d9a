"""The form: a formula as frozen, typed nouns, every number and choice with its address and its place.

Each field that is read from a key declares that key: what may stand there, what it is in a sentence, a line in which it is
written. Below each noun stands how it is written as a whole. The reader, the JSON Schema, the reference page and the units
of numbers go by these declarations.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, is_dataclass, replace
from functools import cached_property
from typing import Any

from scoring.blends import BLENDS, NUMBERS, Blend
from scoring.blends import SAYS as BLENDING
from scoring.declaration import Beside, Declaration, Key, Keyed, Noun, OneOf, SomeOf, counted, key, kinds, noun
from scoring.dependencies import Dependencies
from scoring.errors import Place
from scoring.numbers.rounding import FORM_RULES
from scoring.texts.document import Node, read_document
from scoring.texts.source import Source, Spot
from scoring.units.role import UnitRole


@noun
class Number:
    """A number that a person could argue about."""

    value: float
    text: str
    address: str
    place: Place
    spot: Spot


@noun
class Choice:
    """A choice among named options."""

    value: str
    options: tuple[str, ...]
    address: str
    place: Place
    spot: Spot


@noun
class Term:
    """One node of an expression: an operation and what it works on.

    `op` is "number" (args: its index among the numbers), "name", "text" (a quoted word), a function's name,
    an operator sign, or "and", "or", "not".
    """

    op: str
    args: tuple[Term | str | int, ...]


@noun
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


@noun
class Renamed:
    """An old name in a formula: where it stands, the address, and both names."""

    place: Place
    address: str
    old: str
    new: str

    @property
    def says(self) -> str:
        """The note, for whoever keeps the file."""
        return f"`{self.old}` was renamed `{self.new}`; the old name is still read"


SECTIONS = kinds.Sections(
    {
        "constants": "the neighbour's `constants`",
        "attributes": "its `attributes`",
        "measures": "its `measures`",
        "error_correlations": "its `error_correlations`",
        "ratings": "its `ratings`",
    },
    default=("constants", "attributes", "measures"),
)


@noun
class Takes:
    """Sections that stand in a file beside the formula's."""

    file: str = key(
        kinds.Text(),
        "The file, in the folder of this one or below; it cannot itself take from a third.",
        "file: edition-7.yaml",
        required=True,
    )
    sections: tuple[str, ...] = key(
        SECTIONS, "Which sections are taken; what this file adds to them comes after.", "sections: [measures]"
    )


TAKES = Declaration(
    Takes,
    "takes",
    called="`takes`",
    title="Sections from a neighbour",
    lead="Under `takes`, for what several formulas share.",
    short="a file and its sections",
)

# ---- Curves --------------------------------------------------------------------------------------------------------------


@noun
class Reference:
    """The population that a curve leans on: the live catalogue, or frozen figures."""

    live: bool
    figures: tuple[tuple[str, Number], ...]
    values: tuple[Number, ...] = key(
        kinds.Several(kinds.Number(UnitRole.ALONG), "numbers"),
        "Or the value of every member, of which figures are then worked out.",
        "values: [23.1, 30.4, 44]",
    )
    address: str
    place: Place


REFERENCE = Declaration(
    Reference,
    "reference",
    called="`live`, or a frozen reference",
    title="Reference figures",
    lead="Under `reference`, of a curve that leans on a population. `steelyard check FORMULA CATALOGUE --reference` prints those "
    "of a catalogue.",
    short="frozen figures",
    more={
        "mean": Key(kinds.Number(UnitRole.ALONG), "Its mean.", "mean: 31.2"),
        "sd": Key(kinds.Number(UnitRole.LENGTH), "Its standard deviation, on n - 1.", "sd: 4.8"),
        "least": Key(kinds.Number(UnitRole.ALONG), "Its least value.", "least: 23.1"),
        "greatest": Key(kinds.Number(UnitRole.ALONG), "Its greatest value.", "greatest: 44"),
    },
)
OUTSIDE = {
    "held": "the rating at the nearest anchor holds",
    "extended": "the line goes on; a value off the scale is a fault when products are scored",
    "error": "a reading there is a fault when products are scored",
}


@noun
class Curve:
    """What turns a measure into rating points: a kind, its numbers and anchors, and what holds outside the anchors."""

    kind: str
    numbers: tuple[tuple[str, Number], ...]
    anchors: tuple[tuple[Number, Number], ...]
    choices: tuple[tuple[str, Choice], ...]
    reference: Reference | None = key(
        kinds.Either((kinds.Just("live"), Noun(REFERENCE)), default="live"),
        "The population that the curve leans on: `live` is the catalogue that is scored; figures of your own are frozen.",
        "reference: {mean: 31.2, sd: 4.8}",
    )
    address: str
    place: Place
    spot: Spot

    def number(self, name: str) -> Number:
        """The number called `name`."""
        return dict(self.numbers)[name]

    def choice(self, name: str) -> str:
        """The value of the choice called `name`."""
        return dict(self.choices)[name].value


#: What may stand beside a kind of curve; the kinds are those of `scoring.curves`.
CURVE = Declaration(
    Curve,
    "curve",
    title="Curves",
    as_in="{line: {worst: 46, best: 22}}",
    more={"outside": Key(kinds.Word(OUTSIDE), "What holds beyond the anchors.", "outside: error")},
)

# ---- Scales, rounding, ranks, bands --------------------------------------------------------------------------------------


@noun
class Rounding:
    """A rounding step and its rule."""

    step: Number = key(kinds.Number(UnitRole.LENGTH, above=0), "To multiples of what.", "step: 0.5", required=True)
    rule: Choice = key(kinds.Word(FORM_RULES), "Which way.", "rule: half-even")


ROUNDING = Declaration(
    Rounding,
    "rounding",
    title="Rounding",
    lead="Under `round`, or under `show` in a scale. Rounding is exact in decimal: 8.25 shows as 8.3 half-up, whatever binary "
    "fractions make of it.",
)


#: What figures are shown in multiples of, where a scale does not say it.
SHOWN_STEP = 0.1


@noun
class Scale:
    """The scale that ratings and scores are published on; `high` is None where the scale is open at the top."""

    low: Number = key(kinds.Number(UnitRole.POINTS, default=1), "The low end.", "from: 1", name="from")
    high: Number | None = key(
        kinds.Number(UnitRole.POINTS, default=10),
        "The high end. Where `from` is written without `to`, the scale is open at the top: then only curves with points of "
        "their own can be used.",
        "to: 10",
        name="to",
    )
    show: Rounding = key(
        Noun(ROUNDING, default={"step": SHOWN_STEP, "rule": next(iter(FORM_RULES))}),
        "How figures are rounded for show; values keep all their digits.",
        "show: {step: 0.5, rule: half-even}",
    )


SCALE = Declaration(
    Scale,
    "scale",
    title="Scales",
    lead="Under `scale`, of the formula or of one rating or score.",
    as_in="{from: 1, to: 10}",
)
RANKS_ON = {
    "unrounded": "places go by the value before it is rounded for show",
    "shown": "places go by the shown figure, so that equal figures share a place",
}
TIES = {
    "shared-best": "both take the better place, and the next is left out: 1, 2, 2, 4",
    "shared-mean": "both take the mean of their places: 1, 2.5, 2.5, 4",
    "dense": "both take the better place, and none is left out: 1, 2, 2, 3",
}
BEST = {"highest": "the highest score is first", "lowest": "the lowest score is first"}


@noun
class Ranks:
    """What ranks stand on, how ties share a place, and which end is best."""

    on: Choice = key(kinds.Word(RANKS_ON), "Which figure decides the place.", "on: shown")
    ties: Choice = key(kinds.Word(TIES), "What places equal products take.", "ties: dense")
    best: Choice = key(kinds.Word(BEST), "Which end of the scale is first.", "best: lowest")


RANKS = Declaration(
    Ranks, "ranks", called="the rank rule", title="Ranks", lead="Under `ranks`.", short="a rule for ranks"
)
BANDS_ON = {
    "shown": "the band goes by the shown figure, so that a reader can check it",
    "unrounded": "the band goes by the value before it is rounded for show",
}


@noun
class Band:
    """A named stretch of the scale, from its lower edge up to the next band's."""

    name: str
    edge: Number = counted(UnitRole.POINTS)


# ---- Measures, and what their errors are made of -------------------------------------------------------------------------

#: What a component of a measure's errors may be called where no figure stands.
NO_ERROR = {"none": "there is none, or nothing is known of it"}
POOLED = {
    "pooled": "worked out from the catalogue's own repeats, in the unit of the measure",
    "pooled relative": "worked out from the catalogue's own repeats, as a share of the reading",
}
ERROR_WORDS = {**NO_ERROR, **POOLED}
#: How errors that are stated by a half-width are spread; GUM (JCGM 100:2008), 4.3.7 and 4.3.9 (from memory).
DISTRIBUTIONS = {
    "rectangular": "every error within the half-width is as likely as any other: u = half-width / root of 3",
    "triangular": "small errors are likelier than those near the half-width: u = half-width / root of 6",
}
ERROR_COMPONENTS = {
    "repeatability": "errors within a run, new with every reading",
    "between_sessions": "errors that all readings of a measure in one session share",
    "between_specimens": "errors that all readings of one specimen share",
    "systematic": "errors that all readings of a measure share",
}


@noun
class ErrorComponent:
    """One component of the errors of a measure's readings: its size, how well that is known, and how it is spread.

    kind: "none", "absolute" (in the unit), "relative" (a share of the reading), "pooled" or "pooled relative" (from the
    catalogue's own repeats); amount: a standard deviation, or a half-width; None where the kind holds no figure;
    freedom: the degrees of freedom that the amount rests on; None where it is taken as known; distribution: "normal", or
    "rectangular" or "triangular" over a half-width; spot: where all of it is written, or would be.
    """

    kind: Choice
    amount: Number | None = counted(UnitRole.LENGTH)
    freedom: Number | None = counted(UnitRole.COUNT)
    distribution: Choice
    is_half_width: bool
    address: str
    place: Place
    spot: Spot

    @property
    def in_braces(self) -> bool:
        """Whether it is written key by key, and not as one figure or word."""
        return self.address not in (self.kind.address, self.amount.address if self.amount is not None else "")


_AMOUNT = kinds.Either((kinds.Number(above=0), kinds.Share()), "a number above 0, or a share as `8%`")
_FREEDOM = kinds.Number(UnitRole.COUNT, above=0)
SCATTER = Declaration(
    ErrorComponent,
    "scatter",
    called="a component of error",
    title="Scatter",
    lead="Under `repeatability`, `between_sessions` or `between_specimens`, of a measure, where more is to be said than one "
    "figure. The components are those of ISO 5725-3 and ISO 21748 (from memory): within a run, between runs of the same bench, "
    "between specimens; each is an error of one reading, and their variances add up. The words that stand for a figure: "
    f"{'; '.join(f'`{word}`: {says}' for word, says in ERROR_WORDS.items())}.",
    short="`{standard_deviation: ...}`",
    more={
        "standard_deviation": Key(
            _AMOUNT,
            "The standard deviation, in the unit or as a share of the reading (`8%`).",
            "standard_deviation: 0.6",
            required=True,
        ),
        "degrees_of_freedom": Key(
            _FREEDOM,
            "The degrees of freedom that it rests on; where they are left out, it is taken as known. They need not be whole.",
            "degrees_of_freedom: 9",
        ),
    },
)
SYSTEMATIC = Declaration(
    ErrorComponent,
    "systematic",
    called="a systematic error",
    title="Systematic errors",
    lead="Under `systematic`, of a measure, where more is to be said than one standard uncertainty. No repeats can show it, so "
    "that it is never pooled. See the GUM (JCGM 100:2008), 4.3 (from memory).",
    short="`{standard_uncertainty: ...}` or `{half_width: ...}`",
    more={
        "standard_uncertainty": Key(
            _AMOUNT,
            "The standard uncertainty of the error, which is then taken as normal, in the unit or as a share of the reading "
            "(`3%`).",
            "standard_uncertainty: 0.2",
        ),
        "half_width": Key(
            _AMOUNT,
            "Or how far the error goes at most to either side, in the unit or as a share of the reading.",
            "half_width: 0.3",
        ),
        "distribution": Key(
            kinds.Word(DISTRIBUTIONS), "How the error is spread over the half-width.", "distribution: triangular"
        ),
        "degrees_of_freedom": Key(
            _FREEDOM,
            "The degrees of freedom that the standard uncertainty rests on; where they are left out, it is taken as known.",
            "degrees_of_freedom: 8",
        ),
    },
    rules=(
        OneOf(("standard_uncertainty", "half_width")),
        Beside("distribution", "half_width"),
        Beside("degrees_of_freedom", "standard_uncertainty"),
    ),
)


@dataclass(frozen=True, slots=True)
class Error(kinds.Kind):
    """A component of a measure's errors: a figure, one of some words, or a mapping in which all is said."""

    words: tuple[str, ...]
    declaration: Declaration[ErrorComponent]
    expected: str
    may_be_null = True

    def schema(self) -> kinds.Schema:
        figures = [kinds.Null().schema(), kinds.Number(above=0).schema(), kinds.Share().schema()]
        rest = [{"enum": list(self.words)}, Noun(self.declaration).schema()]
        return {"anyOf": [*figures, *rest], "default": "none" if "none" in self.words else None}


_SCATTER_EXPECTED = "a number above 0, a share as `8%`, `pooled`, `pooled relative`, or `{standard_deviation: ...}`"
_SHARED_SCATTER = Error(tuple(ERROR_WORDS), SCATTER, _SCATTER_EXPECTED)


@noun
class Measure:
    """A raw quantity read on the bench; `column` is what a catalogue calls it, empty where that is its name."""

    name: str
    label: str = key(
        kinds.Label(),
        "Its name in print; its own name with blanks for `_` by default.",
        "label: Noise of a scripted roll-over",
    )
    column: str = key(
        kinds.Column(),
        "What the catalogue calls it, where that is not its own name: the column's name without `[unit]` and `#repeat`.",
        'column: "Noise, roll-over (dB)"',
    )
    unit: str = key(
        kinds.Text(or_number=True),
        "The unit that the formula's numbers are in; readings in other units are converted. A plain number has `1`.",
        "unit: dB",
        required=True,
        hint="As in `unit: mm`; a plain number has `unit: 1`.",
    )
    better: Choice = key(
        kinds.Word(
            {
                "unstated": "nothing is claimed here; the direction follows from the curve",
                "higher": "a higher reading is better",
                "lower": "a lower reading is better",
                "neither": "a matter of taste, or best at a target",
            }
        ),
        "Which way is better; `check` holds curves and scores to it.",
        "better: lower",
    )
    plausible: tuple[Number, Number] | None = key(
        kinds.Pair(UnitRole.ALONG),
        "The least and the greatest reading that can be right: `check` proves its claims over it, and a reading beyond it "
        "is a fault.",
        "plausible: [18, 75]",
    )
    repeats: Choice = key(
        kinds.Word(
            {
                "mean": "their mean",
                "median": "the middle one; of an even number, the mean of the middle two",
                "trimmed": "their mean, when the share `trim` of them, rounded down to whole readings, is set aside at "
                "either end",
                "level mean": "the mean of levels in decibels, taken over the powers behind them: 10 log10 of the mean of "
                "10^(L/10)",
            }
        ),
        "How several readings of one product become one value.",
        "repeats: median",
    )
    trim: Number = key(
        kinds.Number(UnitRole.SHARE, least=0, most=0.49, default=0.1),
        "The share of the readings that `repeats: trimmed` sets aside at either end.",
        "trim: 0.2",
    )
    repeatability: ErrorComponent | None = key(
        Error(tuple(POOLED), SCATTER, _SCATTER_EXPECTED),
        "How closely repeats agree, as the standard deviation of one reading: in the unit, as a share of the reading (`8%`), "
        "or pooled from the catalogue's own repeats. Errors within a run are new with every reading.",
        "repeatability: 8%",
    )
    between_sessions: ErrorComponent = key(
        _SHARED_SCATTER,
        "How far sessions differ, as the standard deviation of an error that all readings of the measure in one session "
        "share. It cancels between products of one session, and not between sessions. The catalogue names the sessions.",
        "between_sessions: {standard_deviation: 0.6, degrees_of_freedom: 9}",
    )
    between_specimens: ErrorComponent = key(
        _SHARED_SCATTER,
        "How far specimens of one product differ, as the standard deviation of an error that all readings of one specimen "
        "share. Where the catalogue names no specimens, each product is one.",
        "between_specimens: 1.5",
    )
    systematic: ErrorComponent = key(
        Error(
            tuple(NO_ERROR),
            SYSTEMATIC,
            "a standard uncertainty above 0, a share as `3%`, `{standard_uncertainty: ...}` or `{half_width: ...}`",
        ),
        "An error that all readings of the measure share, as of the calibration or the method, by its standard uncertainty "
        "or by a half-width. It moves all products together.",
        "systematic: {half_width: 0.3, distribution: rectangular}",
    )
    reporting_limit: Number | None = key(
        kinds.NumberOrNull(UnitRole.ALONG),
        "The least that the bench can report; a lower reading is marked as below it.",
        "reporting_limit: 22",
        old="reporting_floor",
    )
    below_limit: Choice = key(
        kinds.Word(
            {
                "limit": "it counts as the reporting limit itself",
                "half": "it counts as half the reporting limit",
                "zero": "it counts as 0",
                "missing": "it is not counted",
            },
            old={"floor": "limit"},
        ),
        "What a reading below the reporting limit counts as.",
        "below_limit: half",
        old="below_floor",
    )
    round: Rounding | None = key(
        Noun(ROUNDING), "Rounds the value of each product, before any curve.", "round: {step: 0.5}"
    )
    note: str = key(
        kinds.Text(), "A remark, for readers of the file and of the appendix.", "note: Read twice on each side."
    )
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


MEASURE = Declaration(
    Measure,
    "measure",
    title="Measures",
    lead="Under `measures`, each as `NAME: {...}`.",
    as_in="{unit: mm, better: lower}",
)


@noun
class ErrorCorrelation:
    """The correlation between the errors of measures that are read in one run, of one component; it holds for every pair.

    coefficient: None where it is estimated from the readings, and `estimated` then is the word that says so.
    """

    name: str
    measures: tuple[str, ...] = key(
        kinds.Several(kinds.NameOf(("measure",)), "two or more measures", fewest=2, once=True),
        "The measures whose errors go together; each declares the component. With more than two, the coefficient holds for "
        "every pair.",
        "measures: [noise_dba, sit_drop]",
        required=True,
        hint="As in `measures: [noise_dba, sit_drop]`.",
    )
    component: Choice = key(
        kinds.Word(ERROR_COMPONENTS), "Which of their errors go together.", "component: between_sessions"
    )
    coefficient: Number | None = key(
        kinds.Either((kinds.Number(UnitRole.COEFFICIENT, least=-1, most=1), kinds.Just("pooled"))),
        "The coefficient of correlation; `pooled` where it is estimated from repeats that were read together, of "
        "`repeatability` alone.",
        "coefficient: 0.8",
        required=True,
        hint="As in `coefficient: 0.8`.",
    )
    estimated: Choice | None
    address: str
    place: Place


ERROR_CORRELATION = Declaration(
    ErrorCorrelation,
    "error_correlation",
    called="a correlation of errors",
    title="Correlations of errors",
    lead="Under `error_correlations`, each as `NAME: {...}`. A pair of measures that is not named is uncorrelated; the "
    "coefficients of one component must make a covariance: no eigenvalue of their matrix is below 0.",
)


@noun
class Attribute:
    """A property of a product that is a word, not a reading; `values` lists what it may be (empty: any text)."""

    name: str
    label: str = key(
        kinds.Label(),
        "Its name in print; its own name with blanks for `_` by default.",
        "label: Evidence of fire behaviour",
    )
    values: tuple[str, ...] = key(
        kinds.Several(kinds.Text(or_number=True), "words", empty=True),
        "The words that it may be; any where none are listed.",
        "values: [on_file, pending, none]",
    )
    address: str
    place: Place


ATTRIBUTE = Declaration(
    Attribute, "attribute", called="an attribute", title="Attributes", lead="Under `attributes`, each as `NAME: {...}`."
)

# ---- Ratings and scores --------------------------------------------------------------------------------------------------


@noun
class Part:
    """One part of a rating or score: what it takes, through which curve, with what weight."""

    source: str
    curve: Curve | None = key(
        kinds.Curve(), "How what it takes becomes a rating.", "curve: {log: {worst: 1.6, best: 0.08}}"
    )
    weight: Number | None = key(
        kinds.Number(UnitRole.SHARE, least=0, default=1), "What the part counts for.", "weight: 2"
    )
    address: str
    place: Place


MIX_PART = Declaration(
    Part,
    "mix_part",
    called="a part",
    title="Parts of a mix",
    lead="In the list under `mix`, of a rating.",
    more={
        "measure": Key(
            kinds.NameOf(("measure",)), "The measure that the part takes; it needs a `curve`.", "measure: noise_dba"
        ),
        "rating": Key(
            kinds.NameOf(("rating",)), "Or the rating that it takes; with a curve, or as it is.", "rating: edge"
        ),
    },
    rules=(OneOf(("measure curve", "rating")),),
    order="weight curve",
)


@noun
class Limit:
    """A poor part holds the whole back (or a strong one holds it up).

    Stepped: `when` and a number `bound`. Smooth: `on` names a part and `curve` gives the bound at its value.
    """

    sense: str
    when: Expression | None = key(
        kinds.Expression(condition=True),
        "The condition under which it holds; there is no rating or score to publish where it has no value.",
        "when: edge < 4",
    )
    bound: Number | None = counted(UnitRole.POINTS)
    on: str | None = key(
        kinds.NameOf(("rating", "score", "measure")),
        "Or the rating, score or measure that the bound goes by, smoothly.",
        "on: edge",
    )
    curve: Curve | None
    apply: Choice = key(
        kinds.Word({"always": "it holds", "never": "it is written, and does not hold"}),
        "Whether it holds at all; studies turn it off and on.",
        "apply: never",
    )
    address: str
    place: Place


_NAME = Key(kinds.Text(), "A name of its own for its address; its place in the list by default.", "name: weak_edge")
_BOUND = kinds.Either((kinds.Number(UnitRole.POINTS), kinds.Curve()))
LIMIT = Declaration(
    Limit,
    "limit",
    title="Limits",
    lead="In the list under `limits`, of a rating or score.",
    more={
        "name": _NAME,
        "at_most": Key(_BOUND, "The bound from above: a number with `when`, a curve with `on`.", "at_most: 6"),
        "at_least": Key(_BOUND, "Or the bound from below.", "at_least: 3"),
    },
    rules=(OneOf(("when", "on")), OneOf(("at_most", "at_least"))),
    order="name when on at_most at_least apply",
)


OTHERWISE = {
    "reweight": "the weight of what is missing is shared out among the rest, in proportion",
    "lowest": "what is missing counts as the low end of the scale",
}


@noun
class MissingRule:
    """When a rating or score with missing parts is absent, and what happens otherwise."""

    needs: tuple[str, ...] = key(
        kinds.Several(kinds.Text(), "names", empty=True),
        "Parts without which there is no rating or score.",
        "needs: [edge]",
    )
    absent_above: Number = key(
        kinds.Number(UnitRole.SHARE, least=0, most=1, default=0),
        "The share of the weight that may be missing; where more is, there is no rating or score. With `otherwise: lowest` "
        "the default is 1.",
        "absent_above: 0.2",
    )
    otherwise: Choice = key(kinds.Word(OTHERWISE), "What is done where less is missing.", "otherwise: lowest")


MISSING = Declaration(
    MissingRule,
    "missing",
    called="a missing rule",
    title="What is missing",
    lead="Under `missing`, of a rating or score. Left unsaid, whatever is missing makes the whole absent. What is not applicable "
    "is no gap: its weight is shared out among the rest.",
    short="a rule",
)


@noun
class Output:
    """A rating or a score: parts under a blend, or an expression; then limits, then rounding.

    numbers: those that blends have of their own, by name: what its blend takes, and what a blend left behind that was set away.
    """

    section: str
    name: str
    label: str = key(
        kinds.Label(capital=True),
        "Its name in print; its own name with a capital and blanks for `_` by default.",
        "label: Reading upright",
    )
    blend: Choice | None = key(
        kinds.Word({name: kind.says for name, kind in BLENDS.items()}),
        BLENDING,
        "blend: geometric mean",
    )
    numbers: tuple[tuple[str, Number], ...]
    parts: tuple[Part, ...]
    value: Expression | None = key(
        kinds.Expression(),
        "Worked out by an expression, in place of parts.",
        'value: "where(noise_dba < 30, 10, 12 - noise_dba / 15)"',
    )
    limits: tuple[Limit, ...] = key(
        kinds.Several(Noun(LIMIT), "limits", empty=True),
        "Bounds that hold under a condition, in the order in which they are worked out.",
        "limits: [{when: noise_dba > 40, at_most: 6}]",
    )
    missing: MissingRule = key(
        Noun(MISSING, always=True), "What is done where a part is missing.", "missing: {absent_above: 0.2}"
    )
    round: Rounding | None = key(
        Noun(ROUNDING),
        "Rounds the value at this stage, before anything is made of it.",
        "round: {step: 0.5, rule: half-even}",
    )
    scale: Scale = key(
        Noun(SCALE),
        "A scale of its own; what is not written there is as in the formula's.",
        "scale: {from: 0, to: 100}",
    )
    neutral: bool = key(
        kinds.Flag(), "Whether it says what a product is like, and not how good it is.", "neutral: true"
    )
    note: str = key(kinds.Text(), "A remark, for readers of the file and of the appendix.", "note: Two adults sharing.")
    address: str
    place: Place

    @property
    def sources(self) -> tuple[str, ...]:
        """The names this output takes its value from, each once, in reading order."""
        named = [part.source for part in self.parts] + list(self.value.names if self.value else ())
        for limit in self.limits:
            named += limit.when.names if limit.when else [limit.on or ""]
        return tuple(dict.fromkeys(named))

    def number(self, name: str) -> Number:
        """The number of a blend that is called `name`."""
        return dict(self.numbers)[name]

    @property
    def blending(self) -> type[Blend] | None:
        """What blends its parts, with its traits; None where it has no parts to blend."""
        return BLENDS[self.blend.value] if self.blend is not None else None

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


_OUTPUT_ORDER = f"label note neutral scale value blend {' '.join(NUMBERS)} missing limits round"
RATING = Declaration(
    Output,
    "rating",
    title="Ratings",
    lead="Under `ratings`, each as `NAME: {...}`. A value is worked out first, then limits, then rounding.",
    as_in="{measure: NAME, curve: {line: {worst: 46, best: 22}}}",
    more={
        "measure": Key(
            kinds.NameOf(("measure",)), "The measure that it is a rating of; with `curve`.", "measure: noise_dba"
        ),
        "curve": Key(
            kinds.Curve(), "How a reading becomes a rating; with `measure`.", "curve: {line: {worst: 46, best: 22}}"
        ),
        "mix": Key(
            kinds.Several(Noun(MIX_PART), "parts"),
            "Several measures or ratings, each with its curve and weight, in place of one measure.",
            "mix: [{measure: noise_dba, weight: 2, curve: {line: {worst: 46, best: 22}}}, {rating: edge}]",
        ),
        **NUMBERS,
    },
    rules=(OneOf(("measure curve", "mix", "value")),),
    order=_OUTPUT_ORDER,
)
SCORE = Declaration(
    Output,
    "score",
    title="Scores",
    lead="Under `scores`, each as `NAME: {...}`.",
    as_in="{weights: {NAME: 2, NAME: 1}}",
    more={
        "weights": Key(
            kinds.Named(
                kinds.Number(UnitRole.SHARE, least=0), "numbers by name, 0 or more, one of them above 0", fewest=1
            ),
            "What each rating or score counts for. Weights are shares, and need not add up to 1.",
            "weights: {edge: 4, quiet: 1}",
        ),
        "parts": Key(
            kinds.Several(kinds.Text(), "names", fewest=1),
            "Ratings or scores that all count alike, in place of `weights`.",
            "parts: [edge, quiet]",
        ),
        **NUMBERS,
    },
    rules=(OneOf(("weights", "parts", "value")),),
    order=_OUTPUT_ORDER,
)

# ---- Gates, and the whole ------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Guard(kinds.Kind):
    """A number of standard uncertainties, with its unit: `1.645 u`."""

    role = UnitRole.UNCERTAINTIES

    def schema(self) -> kinds.Schema:
        return {"type": "string", "pattern": "^[0-9.eE+-]+\\s*u$", "title": "a number above 0 and `u`"}


@noun
class Gate:
    """A condition outside the arithmetic: it withholds scores or attaches a remark.

    unknown: what it does where the condition has no value.
    """

    name: str
    when: Expression = key(
        kinds.Expression(condition=True),
        "The condition, on readings, ratings, scores or the word of an attribute.",
        "when: fire_evidence == pending",
        required=True,
    )
    guard: Number | None = key(
        Guard(),
        "How near to the limit of its one measure counts as near, in standard uncertainties `u` of the product's value; it "
        "needs `near`.",
        "guard: 1.645 u",
    )
    withhold: str = key(
        kinds.Text(), "Withholds the scores where the condition holds, and says why.", "withhold: over the limit"
    )
    remark: str = key(
        kinds.Text(), "Puts a remark beside the scores where the condition holds.", "remark: fire evidence pending"
    )
    near: str = key(
        kinds.Text(),
        "The remark where the condition does not hold, and would within the guard.",
        "near: near the limit",
    )
    missing: str = key(
        kinds.Text(),
        "The remark where a reading or word that it asks for is missing, or the condition has no value (a division by 0); "
        "says which by default.",
        "missing: not assessed",
    )
    unknown: Choice = key(
        kinds.Word({"remark": "they stand, with the remark", "withhold": "they are withheld, with the remark"}),
        "What it does to the scores there, beside that remark.",
        "unknown: withhold",
    )
    scores: tuple[str, ...] = key(
        kinds.Several(kinds.Text(), "names", empty=True),
        "The scores that it is about; all by default.",
        "scores: [reading_upright]",
    )
    address: str
    place: Place


GATE = Declaration(
    Gate,
    "gate",
    title="Gates",
    lead="In the list under `gates`.",
    more={"name": replace(_NAME, example="name: emissions")},
    rules=(SomeOf(("withhold", "remark")), Beside("guard", "near")),
)
#: The ten steps of the OECD/JRC Handbook on Constructing Composite Indicators, 2008, in its order; the words are ours.
CHECKLIST = {
    "theoretical_framework": "what the score is meant to say, and of what parts it is made",
    "data_selection": "which measures stand for those parts, and how good they are",
    "imputation_of_missing_data": "what is done where a reading is missing",
    "multivariate_analysis": "how the measures go together over the products",
    "normalisation": "how readings in different units become ratings on one scale",
    "weighting_and_aggregation": "what each part counts for, and how parts are combined",
    "uncertainty_and_sensitivity_analysis": "how far the ranking hangs on choices and on the noise of the bench",
    "back_to_the_data": "what a score is made of, so that it can be taken apart again",
    "links_to_other_indicators": "how the score compares with other scores of the same thing",
    "visualisation_of_the_results": "how the result is shown",
}


@noun
class Waiver:
    """A step of the methods checklist that the formula leaves out, and why."""

    step: str
    reason: str = key(
        kinds.Text(fewest=1),
        "Why the step is left out.",
        "waived: no other index of guest beds is public",
        name="waived",
        required=True,
    )
    place: Place


WAIVER = Declaration(Waiver, "waiver", called="a step of the checklist", title="Checklist")


@noun(kw_only=True, slots=False)
class Form:
    """A whole formula. What stands under `sources`, `sha256` and `renamed` comes of the texts that it was read from.

    What is looked up in it by name or by address is found in one walk, the first time that it is asked for, and kept with the
    form (so that it has no slots): a form never changes.
    """

    name: str = key(
        kinds.Text(),
        "The name of the formula, in one word; a study names it too.",
        "formula: guest-bed",
        name="formula",
        required=True,
        hint="Its first line names it, as in `formula: beds`.",
    )
    version: str = key(kinds.Text(or_number=True), "The edition, as it is printed with every result.", "version: 1.2.0")
    title: str = key(
        kinds.Text(),
        "The name in full, for headings; the name of the formula by default.",
        "title: Guest beds, edition 1",
    )
    note: str = key(kinds.Text(), "A remark, for readers of the file and of the appendix.", "note: First draft.")
    takes: Takes | None = key(
        Noun(TAKES),
        "Sections that stand in a file beside this one, which several formulas share.",
        "takes: {file: edition-7.yaml, sections: [measures]}",
        default=None,
    )
    product_column: str = key(
        kinds.Column(),
        "What the catalogue calls the column of the products' ids, where that is neither `product` nor `id`.",
        "product_column: Model",
        default="",
    )
    scale: Scale = key(
        Noun(SCALE),
        "The scale that ratings and scores are published on.",
        "scale: {from: 1, to: 10, show: {step: 0.1, rule: half-up}}",
    )
    ranks: Ranks = key(
        Noun(RANKS, always=True),
        "How places in the table are given.",
        "ranks: {on: unrounded, ties: shared-best, best: highest}",
    )
    bands: tuple[Band, ...] = key(
        kinds.Named(kinds.Number(UnitRole.POINTS), "figures by name", any_text=True),
        "Names for stretches of the scale, each with the figure that it begins at; it goes on up to the next.",
        "bands: {strong: 7, fair: 4, weak: 1}",
    )
    bands_on: Choice = key(kinds.Word(BANDS_ON), "Which figure decides the band.", "bands_on: shown")
    constants: tuple[tuple[str, Number], ...] = key(
        kinds.Named(kinds.Number(), "numbers by name"),
        "Numbers with a name, for expressions.",
        "constants: {room_floor: 22}",
    )
    attributes: tuple[Attribute, ...] = key(
        kinds.Named(Noun(ATTRIBUTE), "attributes by name"),
        "What is known of a product in words, not readings, and may be published beside its scores; each by the name of its "
        "column. Columns of words that are not declared here are left out of every result.",
        "attributes: {fire_evidence: {values: [on_file, pending, none]}}",
    )
    measures: tuple[Measure, ...] = key(
        kinds.Named(Noun(MEASURE), "measures by name"),
        "What the bench reads; each by a name of your own.",
        "measures: {noise_dba: {unit: dB, better: lower}}",
    )
    error_correlations: tuple[ErrorCorrelation, ...] = key(
        kinds.Named(Noun(ERROR_CORRELATION), "correlations by name"),
        "Which errors of measures that are read in one run go together; each by a name of your own. What is not named is "
        "uncorrelated.",
        "error_correlations: {plate: {measures: [noise_dba, sit_drop], component: repeatability, coefficient: 0.8}}",
    )
    ratings: tuple[Output, ...] = key(
        kinds.Named(Noun(RATING), "ratings by name"),
        "How readings become ratings on the scale; each by a name of your own.",
        "ratings: {quiet: {measure: noise_dba, curve: {line: {worst: 46, best: 22}}}}",
    )
    scores: tuple[Output, ...] = key(
        kinds.Named(Noun(SCORE), "scores by name"),
        "How ratings are combined; each by a name of your own.",
        "scores: {reading_upright: {weights: {edge: 4, quiet: 1}}}",
    )
    gates: tuple[Gate, ...] = key(
        kinds.Several(Noun(GATE), "gates"),
        "Conditions outside the arithmetic, which withhold a score or put a remark beside it.",
        "gates: [{when: noise_dba > 60, remark: loud}]",
    )
    cautions: tuple[str, ...] = key(
        kinds.Several(kinds.Text(), "texts"),
        "Sentences that are printed with every table.",
        "cautions: [These scores are no medical advice.]",
    )
    checklist: tuple[Waiver, ...] = key(
        Keyed(WAIVER, CHECKLIST, "steps by name"),
        "Steps of the methods checklist that are left out, each with the reason.",
        "checklist: {links_to_other_indicators: {waived: no other index is public}}",
        default=(),
    )
    sources: tuple[Source, ...]
    sha256: str
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
    def addressed(self) -> Mapping[str, Addressed]:
        """Every address and what stands there, in the order of the form."""
        found: dict[str, Addressed] = {}
        for one in addressed(self):
            found.setdefault(one.address, one)
        return found

    @cached_property
    def documents(self) -> tuple[Node, ...]:
        """What the texts were read as; a form that was read holds it, so that a value can be set without reading them again."""
        return tuple(read_document(source.text, source.name) for source in self.sources)

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


FORM = Declaration(
    Form,
    "form",
    called="a formula",
    title="The file",
    as_in="formula: NAME",
    rules=(SomeOf(("ratings", "scores", "takes")),),
)
#: Every noun that is written in a mapping of its own, in the order of the JSON Schema.
DECLARED: tuple[Declaration[Any], ...] = (
    TAKES,
    SCALE,
    RANKS,
    ROUNDING,
    ATTRIBUTE,
    MEASURE,
    SCATTER,
    SYSTEMATIC,
    ERROR_CORRELATION,
    CURVE,
    REFERENCE,
    MIX_PART,
    RATING,
    SCORE,
    LIMIT,
    MISSING,
    GATE,
)

#: What stands at an address.
Addressed = Number | Choice | Expression | Curve | ErrorComponent


def addressed(noun: object) -> Iterator[Addressed]:
    """Every number, choice and expression inside `noun`, in the order of its fields."""
    if isinstance(noun, Number | Choice):
        yield noun
    elif isinstance(noun, Expression):
        yield noun
        yield from noun.numbers
    elif isinstance(noun, Curve):
        yield noun
        yield from addressed((noun.numbers, noun.anchors, noun.choices, noun.reference))
    elif isinstance(noun, ErrorComponent):
        if noun.in_braces:
            yield noun
        yield from addressed((noun.kind, noun.amount, noun.freedom))
        if noun.is_half_width:
            yield noun.distribution
    elif isinstance(noun, tuple):
        for item in noun:
            yield from addressed(item)
    elif is_dataclass(noun) and not isinstance(noun, Place | Spot | Source | Term):
        for field in fields(noun):
            yield from addressed(getattr(noun, field.name))
