"""The smallest changes in sentences: no figure is worked out here but shares of weight."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

from analysis.flips.found import ABSOLUTE, MISSING, ONE, READING, SQUARES, Change, Flip, Repeats
from analysis.flips.ways import ANCHOR, EXPONENT, LIMIT, RATING, SHARE, SPREAD, THRESHOLD, WEIGHT, WRITTEN
from analysis.wording import listed
from scoring.units.role import UnitRole, in_unit

#: What each kind of change is called in a sentence.
SINGLE = {
    ONE: "any single weight",
    ANCHOR: "any single anchor",
    RATING: "any single rating at an anchor",
    LIMIT: "any single bound of a limit",
    THRESHOLD: "any single threshold of a limit",
    EXPONENT: "any single exponent",
    SPREAD: "any single spread",
    WEIGHT: "any weight inside a rating",
    SHARE: "any single share that may be missing",
    WRITTEN: "any single number in the arithmetic",
}
#: The kinds of single numbers, besides weights, that a verdict speaks of.
NUMBERS = (ANCHOR, RATING, LIMIT, THRESHOLD, EXPONENT, SPREAD, SHARE, WRITTEN)


def verdict(flip: Flip, repeat_sd: Mapping[str, Repeats]) -> str:
    """What turns the order round, in a few sentences, the smallest change of each kind first.

    Parameters
    ----------
    repeat_sd : measure -> how closely the bench repeats it, where that is known
    """
    label, subject = flip.column.output.label, product_of(flip, flip.subject)
    if flip.state != "behind":
        return f"{label}: {_standing(flip)} Nothing has to change."
    goal = f"{subject} comes first" if flip.rival is None else f"{subject} catches {product_of(flip, flip.rival)}"
    said = list(_sentences(flip, repeat_sd))
    if not said:
        open_ = any(change.verdict not in ("impossible", "proved") for change in flip.changes)
        none = "no change of one kind alone was found" if open_ else "there is no change of one kind alone"
        return f"{label}: {none} by which {goal}. {_never(flip)}".strip()
    return f"{label}: {goal} if {'; or if '.join(said)}. {_never(flip)}".strip()


def _standing(flip: Flip) -> str:
    subject = product_of(flip, flip.subject)
    other = "every other product" if flip.rival is None else product_of(flip, flip.rival)
    if flip.state == "tied":
        return f"{subject} is level with {other if flip.rival is not None else 'the best of the others'} already."
    return f"{subject} stands above {other} already, by {flip.lead:.4g} points."


def _sentences(flip: Flip, repeat_sd: Mapping[str, Repeats]) -> Iterator[str]:
    one = flip.least(ONE)
    if one is not None:
        before, after = shares_of(flip, one)
        way = "rises" if one.change > 0 else "falls"
        ((_, stated, needed),) = one.settings
        yield (
            f"the weight of {part_of(one.name)} {way} from {before:.4g} % to {after:.4g} %, "
            f"{_smallest(flip, ONE)} of {SINGLE[ONE]} (as written, {stated:.7g} to {needed})"
        )
    both = flip.least(ABSOLUTE)
    if both is not None:
        moved = f"{100 * both.share / 2:.3g} % of all weight"
        yield f"{moved} goes from some parts to others" + ("" if both.verdict == "proved" else " (searched)")
    for kind in NUMBERS:
        change = flip.least(kind)
        if change is not None:
            (_, stated, text) = change.settings[0]
            name = change.name.split(".", 1)[-1]
            there = in_unit(text, change.unit)
            yield f"{name} goes from {stated:g} to {there}, {_smallest(flip, kind)} of {SINGLE[kind]}{_within(flip, kind)}"
    reading = flip.least(READING)
    if reading is not None:
        yield reading_in_words(reading, repeat_sd)
    for change in flip.changes:
        if change.kind == MISSING and change.found:
            yield f"{change.product} reads {change.why} for {change.name}, which is missing"


def _smallest(flip: Flip, kind: str) -> str:
    """What may be claimed of the least change of a kind: that it is the smallest only where nothing of the kind is open."""
    settled = all(change.verdict in ("proved", "impossible") for change in flip.changes if change.kind == kind)
    return "the smallest change" if settled else "the smallest change found"


def _within(flip: Flip, kind: str) -> str:
    """What a proof keeps to: each number's room, and the measure of what is small, where a logarithm is meant."""
    of_kind = [change for change in flip.changes if change.kind == kind]
    if not all(change.verdict in ("proved", "impossible") for change in of_kind):
        return ""
    change = flip.least(kind)
    assert change is not None  # only called where there is one
    said = f" (proved within {room_in_words(change)}"
    if any(one.in_ratios for one in of_kind):
        said += ", small being meant by ratio where a curve or a factor counts ratios"
    return said + ")"


def room_in_words(change: Change) -> str:
    """The ends between which a number was looked for."""
    low, high = change.room
    return f"{low:.4g} to {in_unit(f'{high:.4g}', change.unit)}"


def reading_in_words(change: Change, repeat_sd: Mapping[str, Repeats]) -> str:
    """How far one reading has to move, beside what the bench repeats to."""
    way = "more" if change.change > 0 else "less"
    sd = sd_of(change, repeat_sd)
    unit = UnitRole.LENGTH.unit(change.unit)
    known = [f"the bench repeats to {in_unit(f'{sd:.2g}', unit)}"] if sd else []
    known += [f"the value is known to {in_unit(f'{change.u:.2g}', unit)}"] if not math.isnan(change.u) else []
    beside = f" ({', '.join(known)})" if known else ""
    return f"{change.product} reads {in_unit(f'{abs(change.change):.3g}', unit)} {way} {change.name}{beside}"


def sd_of(change: Change, repeat_sd: Mapping[str, Repeats]) -> float | None:
    """The standard deviation of one reading about the stated value, in its unit; None where it is not known."""
    repeats = repeat_sd.get(change.name) if change.kind == READING else None
    if repeats is None or not change.settings:
        return None
    return repeats.sd * (abs(change.settings[0][1]) if repeats.relative else 1.0)


def _never(flip: Flip) -> str:
    """What is proved to do nothing, and what is left open."""
    both = [change for change in flip.changes if change.kind in (SQUARES, ABSOLUTE) and not change.found]
    if both and both[0].verdict == "impossible":
        return f"No weights at all do it, which is proved: {both[0].why}."
    kinds = {change.kind for change in flip.changes}
    barred = [
        SINGLE.get(kind, "any single reading")
        for kind in (ONE, *NUMBERS, READING)
        if kind in kinds and all(c.verdict == "impossible" for c in flip.changes if c.kind == kind)
    ]
    return f"Proved to be out of reach of {listed(barred)} alone." if barred else ""


def part_of(address: str) -> str:
    """What a weight weighs."""
    return address.rsplit(".", 1)[-1]


def shares_of(flip: Flip, change: Change) -> tuple[float, float]:
    """One weight in percent of all weights, as stated and as needed, the others as they stand."""
    weights = [part.weight for part in flip.column.output.parts if part.weight is not None]
    total = sum(weight.value for weight in weights)
    (_, stated, text) = change.settings[0]
    return 100 * stated / total, 100 * float(text) / (total - stated + float(text))


def product_of(flip: Flip, product: int) -> str:
    """The id of a product, by its row in the catalogue."""
    return flip.table.catalogue.products[product]


def named(change: Change) -> str:
    """What changes, without the section of its address."""
    name = change.name.split(".", 1)[-1] if change.kind not in (READING, MISSING) else change.name
    return f"{change.product} {name}".strip() or "all weights"


def beside(flip: Flip, change: Change) -> str:
    """What stands beside a change in a table: shares of weight, standard uncertainties, where it was looked for."""
    if change.kind == MISSING:
        return change.why
    if change.kind == ONE:
        before, after = shares_of(flip, change)
        return f"{before:.3g} % -> {after:.3g} %"
    if change.kind == READING and change.u > 0:
        return f"{abs(change.change) / change.u:.1f} u"
    if change.kind in NUMBERS:
        return f"in {room_in_words(change)}" + (", by ratio" if change.in_ratios else "")
    return ""
