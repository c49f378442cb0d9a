"""What ratings and scores are published on: the scale, how figures are rounded, ranks, bands."""

from __future__ import annotations

from scoring.declaration import Declaration, Noun, counted, key, kinds, noun
from scoring.form.atoms import Choice, Number
from scoring.numbers.rounding import FORM_RULES
from scoring.units.role import UnitRole


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
    as_in="{step: 0.5, rule: half-up}",
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
#: What `within` says where places are counted in the whole table alone; no attribute can be asked for by this name.
NO_CLASSES = "none"
BEST = {"highest": "the highest score is first", "lowest": "the lowest score is first"}


@noun
class Ranks:
    """What ranks stand on, how ties share a place, and which end is best."""

    on: Choice = key(kinds.Word(RANKS_ON), "Which figure decides the place.", "on: shown")
    ties: Choice = key(kinds.Word(TIES), "What places equal products take.", "ties: dense")
    best: Choice = key(kinds.Word(BEST), "Which end of the scale is first.", "best: lowest")
    within: Choice = key(
        kinds.AttributeOrNone(NO_CLASSES),
        "The attribute whose words are classes: places within each class are counted too, and published beside the others.",
        "within: fire_evidence",
    )

    @property
    def classes(self) -> str:
        """The attribute that places are counted within, "" for none."""
        return "" if self.within.value == NO_CLASSES else self.within.value


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


#: Whose bands a rating or score has, where it does not write them out.
BANDS_OF = {"formula": "those of the formula", "none": "it has no bands"}
#: What a rating or score has whose bands are written at it.
OWN_BANDS = "own"


@noun
class Bands:
    """The bands of a rating or score, from the lowest edge up.

    chosen: what is written at it (`own` where its edges are); None where nothing is, and those of the formula hold.
    """

    chosen: Choice | None
    edges: tuple[Band, ...]

    @property
    def inherited(self) -> bool:
        """Whether they are those of the formula."""
        return self.chosen is None or self.chosen.value == "formula"
