"""What every publication warns of."""

from __future__ import annotations

from scoring.form import Form

#: Printed where a formula states no cautions of its own; what its trade must warn of stands in the formula.
CAUTIONS = (
    "These scores compare specimens under one laboratory's conditions. They are no medical advice and no safety certificate;"
    " local law and codes hold beside them.",
)

#: What was printed in its place before, and stands in records of that time.
EARLIER = (
    "These scores compare specimens under one laboratory's conditions. They are no medical advice and no safety certificate.",
    "Fire behaviour, emissions, infant sleep and entrapment are matters of local law, codes and licensed practice.",
)


def cautions(form: Form) -> tuple[str, ...]:
    """The formula's cautions and no others, or the general one where it states none."""
    return form.cautions or CAUTIONS
