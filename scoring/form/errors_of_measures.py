"""What the errors of readings are made of: components, and which errors of several measures go together."""

from __future__ import annotations

from dataclasses import dataclass

from scoring.declaration import Beside, Declaration, Key, Noun, OneOf, counted, key, kinds, noun
from scoring.errors import Place
from scoring.form.atoms import Choice, Number
from scoring.texts.source import Spot
from scoring.units.role import UnitRole

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
