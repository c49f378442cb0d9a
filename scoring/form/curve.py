"""What turns a reading into rating points: a curve, and the population that it may lean on."""

from __future__ import annotations

from scoring.declaration import Declaration, Key, Noun, key, kinds, noun
from scoring.errors import Place
from scoring.form.atoms import Choice, Number
from scoring.texts.source import Spot
from scoring.units.role import UnitRole


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
#: The ends of a curve along its measure, each of which may have a word of its own for what holds beyond it.
ENDS = {"below": "below the lowest anchor", "above": "above the highest"}
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

    @property
    def outside(self) -> tuple[Choice, ...]:
        """What holds below and above the anchors, the same choice twice where one word says both; none without anchors."""
        said = dict(self.choices)
        if "outside" in said:
            return (said["outside"],) * len(ENDS)
        return tuple(said[f"outside.{end}"] for end in ENDS if f"outside.{end}" in said)


#: What may stand beside a kind of curve; the kinds are those of `scoring.curves`.
CURVE = Declaration(
    Curve,
    "curve",
    title="Curves",
    as_in="{line: {worst: 46, best: 22}}",
    more={
        "outside": Key(
            kinds.Word(OUTSIDE),
            "What holds beyond the anchors: one word for both ends, or `{below: held, above: error}`, a word for each.",
            "outside: error",
        )
    },
)
