"""What every publication warns of."""

from __future__ import annotations

from scoring.form import Form

#: Printed where a formula states no cautions of its own.
CAUTIONS = (
    "These scores compare specimens under one laboratory's conditions. They are no medical advice and no safety certificate.",
    "Fire behaviour, emissions, infant sleep and entrapment are matters of local law, codes and licensed practice.",
)


def cautions(form: Form) -> tuple[str, ...]:
    """The formula's cautions, or the standing ones where it states none."""
    return form.cautions or CAUTIONS
