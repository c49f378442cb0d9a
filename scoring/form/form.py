"""The whole formula: its sections in their order, what it takes from a neighbour, what it leaves out and why."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from typing import Any

from scoring.declaration import Declaration, Keyed, Noun, SomeOf, key, kinds, noun
from scoring.dependencies import Dependencies
from scoring.errors import Place
from scoring.form.addressed import Addressed, addressed
from scoring.form.atoms import Choice, Number
from scoring.form.band_limit import BAND_LIMIT
from scoring.form.curve import CURVE, REFERENCE
from scoring.form.errors_of_measures import ERROR_CORRELATION, SCATTER, SYSTEMATIC, ErrorCorrelation
from scoring.form.gate import GATE, Gate
from scoring.form.measure import ATTRIBUTE, MEASURE, Attribute, Measure
from scoring.form.output import LIMIT, MISSING, MIX_PART, RATING, SCORE, Output
from scoring.form.scale import BANDS_ON, RANKS, ROUNDING, SCALE, Band, Ranks, Scale
from scoring.texts.document import Node, read_document
from scoring.texts.source import Source
from scoring.units.role import UnitRole


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
    publish_reasons: bool = key(
        kinds.YesOrNo(),
        "Whether publications say why a reading is missing or not applicable, in the words of its cell. They are the "
        "laboratory's own; by default a terminal alone says them.",
        "publish_reasons: yes",
        default=False,
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
    def band_names(self) -> tuple[str, ...]:
        """The name of every band, of the formula and of its ratings and scores, each once."""
        bands = [*self.bands, *(band for output in self.outputs for band in output.bands.edges)]
        return tuple(dict.fromkeys(band.name for band in bands))

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
    BAND_LIMIT,
    MISSING,
    GATE,
)
