"""Ratings and scores: their parts and blend or expression, limits, and what holds where a part is missing."""

from __future__ import annotations

from scoring.blends import BLENDS, NUMBERS, Blend
from scoring.blends import SAYS as BLENDING
from scoring.declaration import Declaration, Key, Noun, OneOf, counted, key, kinds, noun
from scoring.errors import Place
from scoring.form.atoms import Choice, Expression, Number
from scoring.form.band_limit import BAND_LIMIT, BandLimit
from scoring.form.curve import Curve
from scoring.form.scale import BANDS_OF, RANKS, ROUNDING, SCALE, Bands, Ranks, Rounding, Scale
from scoring.units.role import UnitRole


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
        "score": Key(
            kinds.NameOf(("score",)),
            "Or the score; with a curve on the scores of all products, say, or as it is.",
            "score: reading_upright",
        ),
    },
    rules=(OneOf(("measure curve", "rating", "score")),),
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


NAME_IN_LIST = Key(
    kinds.Text(), "A name of its own for its address; its place in the list by default.", "name: weak_edge"
)
_BOUND = kinds.Either((kinds.Number(UnitRole.POINTS), kinds.Curve()))
LIMIT = Declaration(
    Limit,
    "limit",
    title="Limits",
    lead="In the list under `limits`, of a rating or score.",
    more={
        "name": NAME_IN_LIST,
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


#: What is done with a part that does not apply to a product; the first is what holds in a total, the second in any other blend.
NOT_APPLICABLE = {
    "absent": "there is no rating or score for a product that a part does not apply to",
    "reweight": "its weight is shared out among the rest, in proportion; a sum of the rest is scaled up",
    "left out": "it is left out: a sum is that of the rest, a product that of the rest",
}


@noun
class MissingRule:
    """When a rating or score with missing parts is absent, and what happens otherwise.

    not_applicable: None where it is not written, and the blend is no total: then its weight is shared out.
    """

    needs: tuple[str, ...] = key(
        kinds.Several(kinds.Text(), "names", empty=True),
        "Parts without which there is no rating or score: none is given where one is missing, nor where one does not apply.",
        "needs: [edge]",
    )
    absent_above: Number = key(
        kinds.Number(UnitRole.SHARE, least=0, most=1, default=0),
        "The share of the weight that may be missing; where more is, there is no rating or score. With `otherwise: lowest` "
        "the default is 1.",
        "absent_above: 0.2",
    )
    otherwise: Choice = key(kinds.Word(OTHERWISE), "What is done where less is missing.", "otherwise: lowest")
    not_applicable: Choice | None = key(
        kinds.WordIfSaid(NOT_APPLICABLE),
        "What is done with a part that does not apply to a product. Left unsaid it is `absent` in a total (a sum, a product), "
        "and `reweight` in every other blend; `left out` is for totals.",
        "not_applicable: reweight",
    )

    @property
    def leaves_out(self) -> bool:
        """Whether a part that does not apply is left out of a total."""
        return self.not_applicable is not None and self.not_applicable.value == "left out"

    @property
    def is_unsaid_of_a_total(self) -> bool:
        """Whether it says nothing of what does not apply, and a total is absent for that."""
        return self.asks_for_all and self.not_applicable is not None and self.not_applicable.is_unwritten

    @property
    def asks_for_all(self) -> bool:
        """Whether there is nothing for a product that some part does not apply to."""
        return self.not_applicable is not None and self.not_applicable.value == "absent"


MISSING = Declaration(
    MissingRule,
    "missing",
    called="a missing rule",
    title="What is missing",
    lead="Under `missing`, of a rating or score. Left unsaid, whatever is missing makes the whole absent. What does not apply to "
    "a product is no gap: `not_applicable` says what is done with it.",
    short="a rule",
)


#: Where an expression may jump.
JUMPS = {"stated": "where a condition of it compares a reading, rating or score with a written number or constant"}


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
    jumps: Choice | None = key(
        kinds.WordIfSaid(JUMPS),
        "Whether the expression may jump at its thresholds. Left unsaid it may not, and `check` refutes a jump.",
        "jumps: stated",
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
    ranks: Ranks = key(
        Noun(RANKS),
        "How its places are given, and which end of it is best; what is not written there is as in the formula's.",
        "ranks: {best: lowest}",
    )
    bands: Bands = key(
        kinds.Either(
            (kinds.Word(BANDS_OF), kinds.Named(kinds.Number(UnitRole.POINTS), "figures by name", any_text=True)),
            "names of its own with the figures that they begin at, or whose they are",
        ),
        "Its own names for stretches of its scale, or `none`. Left unsaid they are the formula's, also on a scale of its own.",
        "bands: {good: 4, poor: 0}",
    )
    band_limits: tuple[BandLimit, ...] = key(
        kinds.Several(Noun(BAND_LIMIT), "limits of bands", empty=True),
        "Bands that are not given under a condition, whatever the figure says.",
        "band_limits: [{when: noise_dba > 40, no_better_than: fair}]",
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

    @property
    def may_be_none(self) -> bool:
        """Whether its expression gives no value under some condition."""
        return self.value is not None and self.value.may_be_none

    def number(self, name: str) -> Number:
        """The number of a blend that is called `name`."""
        return dict(self.numbers)[name]

    @property
    def asked_for_bands(self) -> tuple[str, ...]:
        """The names that its limits of bands ask for, each once."""
        return tuple(dict.fromkeys(name for limit in self.band_limits for name in limit.when.names))

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


#: What a score says to whoever writes there what belongs to a rating, and the other way round.
_OF_A_RATING = "It is a rating's: make one under `ratings`, and take it here by `parts`, `weights` or `value`."
_OF_A_SCORE = "It is a score's: write `mix: [{rating: NAME, weight: 2}, ...]`, or make a score under `scores`."
_OUTPUT_ORDER = (
    f"label note neutral scale ranks bands band_limits value jumps blend {' '.join(NUMBERS)} missing limits round"
)
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
    instead={"weights": _OF_A_SCORE, "parts": _OF_A_SCORE},
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
    instead=dict.fromkeys(("mix", "measure", "curve"), _OF_A_RATING),
)
