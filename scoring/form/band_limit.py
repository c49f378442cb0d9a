"""A condition under which a rating or score is given no band better than a named one, whatever its figure says."""

from __future__ import annotations

from scoring.declaration import Declaration, Key, key, kinds, noun
from scoring.errors import Place
from scoring.form.atoms import Choice, Expression

#: What a limit of bands may name, beside a band: no band at all.
NO_BAND = "none"


@noun
class BandLimit:
    """No band better than a named one (`none`: no band) where a condition holds; the figure and its place stay as they are."""

    when: Expression = key(
        kinds.Expression(condition=True),
        "The condition. Where something that it asks for is missing, or it has no value, it is taken to hold: a band is earned.",
        "when: edge < 4",
        required=True,
    )
    no_better_than: Choice = key(
        kinds.Text(fewest=1),
        "The best band that is given there: one of the output's, or `none` for no band.",
        "no_better_than: fair",
        required=True,
    )
    address: str
    place: Place

    @property
    def condition(self) -> str:
        """What the program calls its condition among those of gates; no gate's name holds a `=`."""
        return f"band limit={self.address}"

    def says(self, *, known: bool) -> str:
        """The remark beside a band that it lowers; `known`: whether its condition holds, and is not just taken to."""
        best = self.no_better_than.value
        given = "no band" if best == NO_BAND else f"no band better than {best}"
        when = " ".join(self.when.text.split())
        return f"{given}: {when}" if known else f"{given}: whether {when} is not known"


BAND_LIMIT = Declaration(
    BandLimit,
    "band_limit",
    called="a limit of bands",
    title="Limits of bands",
    lead="In the list under `band_limits`, of a rating or score. They touch the band alone: the figure and its place stay.",
    more={
        "name": Key(
            kinds.Text(), "A name of its own for its address; its place in the list by default.", "name: weak_edge"
        )
    },
    order="name when no_better_than",
)
