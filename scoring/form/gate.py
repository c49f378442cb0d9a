"""Gates: conditions outside the arithmetic."""

from __future__ import annotations

from dataclasses import dataclass, replace

from scoring.declaration import Beside, Declaration, SomeOf, key, kinds, noun
from scoring.errors import Place
from scoring.form.atoms import Choice, Expression, Number
from scoring.form.output import NAME_IN_LIST
from scoring.units.role import UnitRole


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
    more={"name": replace(NAME_IN_LIST, example="name: emissions")},
    rules=(SomeOf(("withhold", "remark")), Beside("guard", "near")),
)
