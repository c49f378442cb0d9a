"""Where an expression says `none`, what takes it turns: a part goes, and its weight to others, as a reading passes a threshold.

A proof holds presence still while a reading moves, which is right of what stands in a catalogue or does not. What comes and goes
with a reading is looked at here, and claims about it are left to the search.
"""

from __future__ import annotations

from scoring.form import Form, Output


def turned_by_none(form: Form, output: str, measure: str | None = None) -> tuple[str, ...]:
    """The ratings and scores under an output, or it itself, that go on without a part whose expression gives no value there.

    measure : what alone moves; whatever may, by default
    """
    lost = {one.name for one in form.outputs if one.may_be_none}
    if measure is not None:
        lost = {name for name in lost if measure in form.dependencies.with_under(name)}
    turned = []
    for name in form.dependencies.needed_for([output]):
        taker = form.output(name)
        gone = lost.intersection(taker.sources)
        if all(_goes_with(taker, source) for source in gone):
            lost |= {name} if gone else set()
        else:
            turned.append(name)
    return tuple(turned)


def _goes_with(taker: Output, source: str) -> bool:
    """Whether an output is sure to have no value where one of its sources has none."""
    if source in taker.missing.needs:
        return True
    if taker.missing.otherwise.value == "lowest":
        return False
    if taker.value is not None:
        return source in taker.value.names
    weights = [part.weight.value if part.weight is not None else 1.0 for part in taker.parts if part.source == source]
    return taker.missing.absent_above.value == 0 and any(weight > 0 for weight in weights)


def gone_on_without(turned: tuple[str, ...]) -> str:
    """Why a claim is left open."""
    return f"open where a part of {', '.join(turned)} gives no value by its expression: what is left of it turns there"
