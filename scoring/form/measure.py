"""What is known of a product: measures, which the bench reads, and attributes, which are words."""

from __future__ import annotations

from scoring.declaration import Declaration, Noun, key, kinds, noun
from scoring.errors import Place
from scoring.form.atoms import Choice, Number
from scoring.form.errors_of_measures import ERROR_WORDS, NO_ERROR, POOLED, SCATTER, SYSTEMATIC, Error, ErrorComponent
from scoring.form.scale import ROUNDING, Rounding
from scoring.units.role import UnitRole

#: The roles of attributes.
NAME, MAKER = "name", "maker"
NOWHERE = Place("")
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
class Attribute:
    """A property of a product that is a word, not a reading; `values` lists what it may be (empty: any text).

    `column` is what a catalogue calls it, empty where that is its name; `shown_as` the role that it has, empty for none.
    """

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
        default=(),
    )
    column: str = key(
        kinds.Text(),
        "What the catalogue calls it, where that is not its own name.",
        'column: "Type of core"',
        default="",
    )
    shown_as: str = key(
        kinds.Role(
            {
                NAME: "the product's name, which is shown beside its id; one attribute at most",
                MAKER: "who made it; one attribute at most",
            }
        ),
        "What it is to a reader beside the product's id, which stays the key.",
        "shown_as: name",
        default="",
    )
    public: bool = key(
        kinds.YesOrNo(default=True),
        "Whether it is published: `no` for what the formula needs, as in a gate, and does not print.",
        "public: no",
        default=True,
    )
    required: bool = key(
        kinds.YesOrNo(default=True),
        "Whether a catalogue must have the column: `no` for a formula of several catalogues, of which some do not; it is then "
        "empty.",
        "required: no",
        default=True,
    )
    address: str = ""
    place: Place = NOWHERE

    @property
    def heading(self) -> str:
        """What a catalogue calls it."""
        return self.column or self.name


ATTRIBUTE = Declaration(
    Attribute, "attribute", called="an attribute", title="Attributes", lead="Under `attributes`, each as `NAME: {...}`."
)
